"""Is the cam half a turn out? Not seen in pressure; answered from a mark at half speed, if any.

Compression follows the cam, so a cam half a turn out shows the same trace a turn of the crank
later. What tells is something else that turns at half speed and states its turn: a mark on cam
sprocket or distributor, a rotor or pump reference brought in as a mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from strokewise.analysis.marks.marks import MarkPlace

SAME_TURN_DEG = 120.0
"""A mark this near its place, or a place one turn on, has said which; a cam out by more than a few
teeth does not let the engine be turned."""


@dataclass(frozen=True, slots=True)
class HalfTurn:
    """Whether cam and mark stand half a turn of the cam apart, by the marks that tell.

    Attributes
    ----------
    near, away : tuple of str
        Names of the marks that come on the turn they state, and of those that come on the other.
    """

    near: tuple[str, ...] = ()
    away: tuple[str, ...] = ()

    @property
    def out(self) -> bool | None:
        """Half a turn out; None where nothing recorded can tell, or the marks disagree."""
        return bool(self.away) if bool(self.near) != bool(self.away) else None


def half_turn_from(places: Sequence[MarkPlace]) -> HalfTurn:
    """Return what the marks tell; nothing without a half-speed mark whose turn is stated."""
    told = [
        (place.mark.name, place.late_in_cycle_deg)
        for place in places
        if place.late_in_cycle_deg is not None
    ]
    return HalfTurn(
        near=tuple(name for name, late in told if abs(late) < SAME_TURN_DEG),
        away=tuple(name for name, late in told if abs(late) > 360.0 - SAME_TURN_DEG),
    )
