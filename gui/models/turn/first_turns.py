"""Has the engine been turned two full turns by hand before the starter?

With the timing under suspicion a piston may meet a valve. So the order is: two full turns by hand,
stop at any resistance, only then the starter. The encoder sees whether that was done.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from strokewise.gui.models.turn.guide import BY_HAND_DEG_S

NEEDED_DEG = 720.0


@dataclass(frozen=True, slots=True)
class FirstTurns:
    """How far the engine has been turned by hand, and whether the starter came too early.

    Attributes
    ----------
    suspect : bool
        The timing is under suspicion: a rebuild, or a cam drive that was moved.
    turned_deg : float
        The longest way turned on by hand in one direction of turning, without the starter.
    too_early : bool
        The engine was spun faster than by hand before the two turns were done.
    """

    suspect: bool = True
    turned_deg: float = 0.0
    too_early: bool = False
    lowest_deg: float | None = None

    @property
    def done(self) -> bool:
        """True once the two turns have been made by hand."""
        return self.turned_deg >= NEEDED_DEG

    def follow(self, angle_deg: float, speed_deg_s: float) -> FirstTurns:
        """Return the state after the crank has come to an unwrapped angle at a speed."""
        if self.done or self.too_early:
            return self
        if abs(speed_deg_s) > BY_HAND_DEG_S:
            return replace(self, too_early=self.suspect)
        lowest = angle_deg if self.lowest_deg is None else min(self.lowest_deg, angle_deg)
        turned = max(self.turned_deg, angle_deg - lowest)
        return replace(self, lowest_deg=lowest, turned_deg=turned)

    def new_segment(self) -> FirstTurns:
        """Return the state after the board started anew: the angle begins somewhere else."""
        return replace(self, lowest_deg=None)

    @property
    def words(self) -> str:
        """What to say; empty when nothing needs saying."""
        if not self.suspect or self.done:
            return ""
        if self.too_early:
            return (
                "Starter used before two full turns by hand. Stop: turn it by hand first, "
                "and stop at any resistance"
            )
        turns = self.turned_deg / 360.0
        return (
            f"First two full turns by hand ({turns:.1f} done). Stop at any resistance. "
            "Only then the starter"
        )
