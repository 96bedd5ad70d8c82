"""Where must the oil pump's slot stand before the drive gear goes in, and when is the gear home?

Three things come right at once: the teeth mesh, the tongue below meets the pump's slot, and the
keyed end above stops at its angle. From the moment in which the tongue is in the slot, the slot
turns along with the gear; so it must stand as far short of its last place as the gear still turns.

Angles are as in :mod:`~strokewise.analysis.ignition.drive_gear`. A slot through the middle looks
the same after half a turn, so its angles lie in [0, 180).
"""

from __future__ import annotations

from dataclasses import dataclass

from strokewise.analysis.crank.strokes import nearest, within
from strokewise.analysis.ignition.drive_gear import mesh_turn_deg, meshing
from strokewise.analysis.profile import DriveGear

SLOT_PLAY_DEG = 5.0
"""A tongue finds its slot within so much either way (common practice, no source)."""
TEETH_ROUND = 2
"""So many teeth either way are told: who is further out has begun at a wrong place."""
HALF_TURN_DEG = 180.0


@dataclass(frozen=True, slots=True)
class ToothChoice:
    """What comes of going in at another tooth, all three at once.

    Attributes
    ----------
    teeth : int
        More than wanted, clockwise positive; 0 is the wanted one.
    start_deg, end_deg : float
        Where the rotor points as the teeth first touch, and with the gear home, [0, 360).
    crank_deg : float or None
        What that does to the ignition, late positive; None where the rotor's way is unknown.
    slot_deg : float or None
        Where the slot must stand beforehand; None where that is not known.
    seats : bool or None
        Whether the gear goes home with the slot as it stands; None where nobody said or knows.
    """

    teeth: int
    start_deg: float
    end_deg: float
    crank_deg: float | None
    slot_deg: float | None
    seats: bool | None


@dataclass(frozen=True, slots=True)
class Seating:
    """The oil pump's slot below the gear, and how it is seen that the gear is home.

    Attributes
    ----------
    short_deg_per_mm : float
        Where the rotor points for each mm that the gear stands too high, from its end; clockwise
        positive.
    home_deg : float or None
        Where the slot stands with the gear home; None where the profile does not tell it.
    before_deg : float or None
        Where it must stand beforehand; None without the depth of the tongue.
    high_mm, riding_deg : float or None
        A gear whose tongue rides on the slot's edge: how high it stands, where the rotor points.
    turns : bool or None
        Whether the slot can be turned beforehand; None where nobody said.
    stands_deg, off_deg : float or None
        Where the slot stands as said, and how far that is from where it must, clockwise positive.
    choices : tuple of ToothChoice
        From the most teeth counter-clockwise to the most clockwise.
    """

    short_deg_per_mm: float
    home_deg: float | None
    before_deg: float | None
    high_mm: float | None
    riding_deg: float | None
    turns: bool | None
    stands_deg: float | None
    off_deg: float | None
    choices: tuple[ToothChoice, ...]

    @property
    def off(self) -> bool:
        """Whether the slot stands where the wanted tooth cannot go home."""
        return self.off_deg is not None and abs(self.off_deg) > SLOT_PLAY_DEG


def seating(
    gear: DriveGear,
    end_deg: float,
    *,
    crank_per_turn: float = 2.0,
    way: int | None = None,
    slot_deg: float | None = None,
) -> Seating:
    """Return where the slot must stand for a rotor that is to end at an angle.

    Parameters
    ----------
    way : int, optional
        +1 where the rotor turns clockwise, -1 where counter-clockwise.
    slot_deg : float, optional
        Where the slot stands now.

    Raises
    ------
    InputError
        A gear that cannot be.
    """
    depth_mm = gear.slot_depth_mm
    along_deg = None if depth_mm is None else _along_deg(gear, depth_mm)

    def before(end: float) -> float | None:
        if gear.slot_angle_deg is None or along_deg is None:
            return None
        return within(end + gear.slot_angle_deg - along_deg, HALF_TURN_DEG)

    def choice(teeth: int) -> ToothChoice:
        entry = meshing(gear, end_deg + teeth * 360 / gear.teeth, crank_per_turn=crank_per_turn)
        off = _off_deg(slot_deg, before(entry.end_deg))
        return ToothChoice(
            teeth,
            entry.start_deg,
            entry.end_deg,
            # A rotor ahead of its place in its own way of turning sparks early.
            0.0 if not teeth else None if way is None else -way * teeth * entry.tooth_crank_deg,
            before(entry.end_deg),
            None if off is None else abs(off) <= SLOT_PLAY_DEG,
        )

    most = min(TEETH_ROUND, (gear.teeth - 1) // 2)
    home = None if gear.slot_angle_deg is None else end_deg + gear.slot_angle_deg
    return Seating(
        short_deg_per_mm=-mesh_turn_deg(gear, 1.0),
        home_deg=None if home is None else within(home, HALF_TURN_DEG),
        before_deg=before(end_deg),
        high_mm=depth_mm,
        riding_deg=None if along_deg is None else within(end_deg - along_deg, 360),
        turns=None if gear.slot is None else gear.slot == "turns",
        stands_deg=None if slot_deg is None else within(slot_deg, HALF_TURN_DEG),
        off_deg=_off_deg(slot_deg, before(end_deg)),
        choices=tuple(choice(teeth) for teeth in range(-most, most + 1)),
    )


def _along_deg(gear: DriveGear, depth_mm: float) -> float:
    """How far the gear turns with its tongue in the slot: not before its teeth touch."""
    return mesh_turn_deg(gear, min(depth_mm, gear.engagement_mm))


def _off_deg(stands_deg: float | None, wanted_deg: float | None) -> float | None:
    if stands_deg is None or wanted_deg is None:
        return None
    return nearest(stands_deg - wanted_deg, HALF_TURN_DEG)
