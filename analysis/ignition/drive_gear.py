"""How does the distributor's drive turn as it slides into mesh, and where must it start?

A helical gear that is pushed along its axis past a fixed tooth turns like a screw in a fixed
thread: the hand of the helix alone gives the direction, lead and travel give the amount.

Angles of the rotor are degrees of the distributor's shaft, seen on its cap, clockwise positive,
from any line the person chooses (usually the lead of cylinder 1).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isclose, pi, radians, tan

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.strokes import companions, firing_offsets, nearest, within
from strokewise.analysis.errors import InputError, NotStatedError
from strokewise.analysis.profile import DriveGear, Profile
from strokewise.analysis.remark import Remark, remark

GEAR_KEYS = tuple(
    f"drive_gear.{key}" for key in ("teeth", "helix_angle", "pitch_diameter", "engagement", "hand")
)
"""What the profile must say of a gear."""

BODY_REACH_DEG = 15.0
"""What turning the distributor's body in its clamp commonly takes up, either way (no source)."""

TOWER_ROUNDING_DEG = 0.5  # cap towers are never this close, printed intervals may differ by less


@dataclass(frozen=True, slots=True)
class Meshing:
    """How the gear goes in.

    Attributes
    ----------
    turn_deg : float
        Turn while the teeth slide into mesh; positive is clockwise seen on the cap.
    turn_teeth : float
        The same in teeth of the gear.
    start_deg, end_deg : float
        Where the rotor must point as the teeth first touch, and where it then ends, [0, 360).
    tooth_deg : float
        One tooth, in degrees of the distributor.
    tooth_crank_deg : float
        What one tooth wrong does to the ignition, in crank degrees.
    """

    turn_deg: float
    turn_teeth: float
    start_deg: float
    end_deg: float
    tooth_deg: float
    tooth_crank_deg: float

    @property
    def direction(self) -> str:
        """Which way it turns going in, seen on the cap."""
        return "clockwise" if self.turn_deg > 0 else "counter-clockwise"


@dataclass(frozen=True, slots=True)
class Lead:
    """Where a plug lead sits on the cap: degrees clockwise, [0, 360)."""

    cylinder: int
    cap_deg: float


@dataclass(frozen=True, slots=True)
class DriveDrawing:
    """Angles that a view needs to draw the drive going in, all clockwise seen on the cap.

    Attributes
    ----------
    depth_mm : (n,) ndarray
        Travel after the first touch of the teeth, from 0 to the full engagement.
    rotor_deg : (n,) ndarray
        Where the rotor points at that depth, unwrapped.
    teeth_deg : (teeth,) ndarray
        The other places the rotor could end at, one tooth apart, the wanted one first.
    leads : tuple of Lead
        Towers of the cap; empty when the distributor's rotation is unknown.
    """

    depth_mm: NDArray[np.float64]
    rotor_deg: NDArray[np.float64]
    teeth_deg: NDArray[np.float64]
    leads: tuple[Lead, ...]


@dataclass(frozen=True, slots=True)
class DriveError:
    """A drive found away from where it belongs, and what puts it right.

    Attributes
    ----------
    error_deg : float
        Rotor found less rotor wanted, (-180, 180], clockwise positive.
    crank_deg : float or None
        What that does to the ignition: positive is late. None where the rotation is unknown.
    teeth : int
        Whole teeth to turn the gear the other way (positive: counter-clockwise).
    rest_deg : float
        What then remains for the distributor's body.
    half_turn : bool
        Nearest to half a turn out.
    lead_moves : dict
        For half a turn: the lead now on the tower of cylinder k moves to that of the value. Empty
        where leads cannot mend it.
    ways : tuple of Remark
        The ways to put it right, the least work first.
    """

    error_deg: float
    crank_deg: float | None
    teeth: int
    rest_deg: float
    half_turn: bool
    lead_moves: Mapping[int, int]
    ways: tuple[Remark, ...]


def mesh_turn_deg(gear: DriveGear, travel_mm: float | None = None) -> float:
    """Return how far the gear turns over an axial travel, clockwise seen on the cap positive.

    Lead = π·d / tan(helix), turn = travel / lead: any textbook on helical gears or screws. A
    right-hand gear turns clockwise going in, as a right-hand screw does.

    Parameters
    ----------
    travel_mm : float, optional
        The whole engagement when left out; negative for pulling it out.
    """
    _check(gear)
    travel = gear.engagement_mm if travel_mm is None else travel_mm
    turn_deg = 360 * travel * tan(radians(gear.helix_angle_deg)) / (pi * gear.pitch_diameter_mm)
    return turn_deg if gear.hand == "right" else -turn_deg


def meshing(gear: DriveGear, end_deg: float, *, crank_per_turn: float = 2.0) -> Meshing:
    """Return where to start the rotor so that it ends where wanted, with the crank standing still.

    Parameters
    ----------
    end_deg : float
        Where the rotor must point with the gear home.
    crank_per_turn : float
        Crank turns for one turn of the distributor: 2 on a four-stroke, 1 on a two-stroke.
    """
    turn_deg = mesh_turn_deg(gear)
    tooth_deg = 360 / gear.teeth
    return Meshing(
        turn_deg=turn_deg,
        turn_teeth=turn_deg / tooth_deg,
        start_deg=within(end_deg - turn_deg, 360),
        end_deg=within(end_deg, 360),
        tooth_deg=tooth_deg,
        tooth_crank_deg=tooth_deg * crank_per_turn,
    )


def crank_per_turn(profile: Profile) -> float:
    """Return crank turns for one turn of the distributor, which turns once a working cycle."""
    return profile.cycle_deg / 360


def leads(profile: Profile, lead_1_deg: float = 0.0) -> tuple[Lead, ...]:
    """Return where each plug lead goes on the cap, in firing order from cylinder 1.

    Raises
    ------
    InputError
        When nobody said which way the rotor turns.
    """
    way = _known_way(profile)
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    return tuple(
        Lead(cylinder, within(lead_1_deg + way * offset / crank_per_turn(profile), 360))
        for cylinder, offset in offsets.items()
    )


def rotor_deg(profile: Profile, after_firing_1_deg: float, lead_1_deg: float = 0.0) -> float:
    """Return where the rotor must point, so many crank degrees after cylinder 1's firing TDC.

    At that TDC it points at the lead of cylinder 1. Raises as :func:`leads` does.
    """
    return within(
        lead_1_deg + _known_way(profile) * after_firing_1_deg / crank_per_turn(profile), 360
    )


def drawing(
    profile: Profile, end_deg: float, *, lead_1_deg: float = 0.0, points: int = 25
) -> DriveDrawing:
    """Return the angles for a drawing of the gear going in and ending at ``end_deg``.

    Raises
    ------
    InputError
        When the profile has no drive gear.
    """
    gear = gear_of(profile)
    depth_mm = np.linspace(0, gear.engagement_mm, points)
    left_deg = np.array([mesh_turn_deg(gear, gear.engagement_mm - depth) for depth in depth_mm])
    spokes = (end_deg + np.arange(gear.teeth) * 360 / gear.teeth) % 360
    known = profile.distributor_rotation is not None
    return DriveDrawing(
        depth_mm, end_deg - left_deg, spokes, leads(profile, lead_1_deg) if known else ()
    )


def gear_of(profile: Profile) -> DriveGear:
    """Return the drive gear of a profile, or raise ``InputError`` that says what is missing."""
    if profile.drive_gear is None:
        raise NotStatedError(
            "drive_gear is missing in the profile: teeth, helix_angle, pitch_diameter, engagement"
            " and hand are needed",
            GEAR_KEYS,
        )
    return profile.drive_gear


def found_at(profile: Profile, found_deg: float, wanted_deg: float) -> DriveError:
    """Return what is wrong with a drive whose rotor was found at one angle and belongs at another.

    The crank stands still at a known place meanwhile, cylinder 1 on its *firing* stroke: at the
    overlap TDC a right drive looks half a turn out.
    """
    gear = gear_of(profile)
    _check(gear)
    tooth_deg = 360 / gear.teeth
    error_deg = nearest(found_deg - wanted_deg, 360)
    teeth = round(error_deg / tooth_deg)
    rest_deg = error_deg - teeth * tooth_deg
    half_turn = abs(error_deg) > 180 - tooth_deg / 2
    way, per_turn = way_round(profile), crank_per_turn(profile)
    moves = _half_turn_moves(profile) if half_turn else {}
    return DriveError(
        error_deg=error_deg,
        # a shaft ahead of its place in its own rotation sparks early
        crank_deg=None if way is None else -way * error_deg * per_turn,
        teeth=teeth,
        rest_deg=rest_deg,
        half_turn=half_turn,
        lead_moves=moves,
        ways=_remedies(gear, teeth, rest_deg, half_turn, moves),
    )


def _remedies(
    gear: DriveGear, teeth: int, rest_deg: float, half_turn: bool, moves: Mapping[int, int]
) -> tuple[Remark, ...]:
    reach = abs(rest_deg) <= BODY_REACH_DEG
    body = remark("turn-body", rest_deg=abs(rest_deg), in_reach=reach)
    if teeth == 0:
        return (body,) if abs(rest_deg) > 1 else (remark("drive-in-place"),)
    lift = remark(
        "lift-drive",
        teeth=teeth,
        then=body if abs(rest_deg) > 1 else None,
        odd_teeth=gear.teeth if half_turn and gear.teeth % 2 else None,
    )
    if not half_turn:
        return (lift,)
    leads = (remark("move-leads-opposite"),) if moves and reach else ()
    return (remark("firing-not-overlap"), *leads, lift)


def _half_turn_moves(profile: Profile) -> dict[int, int]:
    """Where each lead goes when all move half a turn; empty when some tower has none opposite."""
    if profile.cycle == "two-stroke":
        offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
        across = {
            one: [
                other
                for other in offsets
                if isclose(
                    within(offsets[other] - offsets[one], 360), 180, abs_tol=TOWER_ROUNDING_DEG
                )
            ]
            for one in offsets
        }
        opposite = {one: tuple(others) for one, others in across.items()}
    else:
        opposite = companions(profile)
    if not all(opposite.values()):
        return {}
    return {one: others[0] for one, others in opposite.items()}


def way_round(profile: Profile) -> int | None:
    """Return +1 for a rotor that turns clockwise, -1 the other way, None where nobody said."""
    if profile.distributor_rotation is None:
        return None
    return 1 if profile.distributor_rotation == "clockwise" else -1


def _known_way(profile: Profile) -> int:
    way = way_round(profile)
    if way is None:
        raise NotStatedError(
            'distributor.rotation is missing: "clockwise" or "counter-clockwise", seen on its cap',
            ("distributor.rotation",),
        )
    return way


def _check(gear: DriveGear) -> None:
    if gear.teeth < 1 or gear.pitch_diameter_mm <= 0 or gear.engagement_mm < 0:
        raise InputError(
            "drive_gear: teeth and pitch_diameter must be above 0, engagement 0 or more"
        )
    if not 0 <= gear.helix_angle_deg < 90:
        raise InputError(
            f"drive_gear.helix_angle must lie from 0 to below 90 deg, not {gear.helix_angle_deg:g}"
        )
