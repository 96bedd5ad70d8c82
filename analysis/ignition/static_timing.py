"""Where must the crank stand for the static timing, in whatever a person can measure?

Degrees before top dead centre (BTDC) to millimetres on the pulley's rim, teeth of the flywheel and
travel of the piston, and back; and how to come up to an angle so that the play is taken up.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, degrees, inf, radians, sin
from typing import Literal

from strokewise.analysis.crank.kinematics import crank_of
from strokewise.analysis.crank.strokes import firing_tdcs, within
from strokewise.analysis.errors import InputError, NotStatedError
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Remark, remark

BACKLASH_DEG = 30.0
"""How far to go back past the target so that chain, belt and gears hang on the running side again:
a worn chain and skew gear have up to some ten crank degrees of play (from memory), thrice that."""

THERE_DEG = 0.5  # nobody turns a spanner finer than this


@dataclass(frozen=True, slots=True)
class TimingPoint:
    """One crank angle in everything that can be measured; None where the profile lacks the figure.

    Attributes
    ----------
    btdc_deg : float
        Crank degrees before the nearest TDC of the cylinder; negative is after.
    rim_arc_mm : float or None
        Along the pulley's rim, with a tape.
    rim_chord_mm : float or None
        Straight across, with dividers.
    flywheel_teeth : float or None
    piston_travel_mm : float or None
        Down from the highest point, pin offset included; the same figure comes again on the other
        side of TDC (with an offset at a slightly different angle).
    """

    btdc_deg: float
    rim_arc_mm: float | None
    rim_chord_mm: float | None
    flywheel_teeth: float | None
    piston_travel_mm: float | None


def timing_point(profile: Profile, btdc_deg: float) -> TimingPoint:
    """Return an angle before TDC in everything the profile has the figures for."""
    if not abs(btdc_deg) <= 180:
        raise InputError(f"an angle before TDC lies from -180 to 180 deg, not {btdc_deg:g} deg")
    radius, teeth, crank = profile.pulley_radius_mm, profile.flywheel_teeth, crank_of(profile)
    return TimingPoint(
        btdc_deg=btdc_deg,
        rim_arc_mm=None if radius is None else radius * radians(btdc_deg),
        rim_chord_mm=None if radius is None else 2 * radius * sin(radians(btdc_deg) / 2),
        flywheel_teeth=None if teeth is None else teeth * btdc_deg / 360,
        piston_travel_mm=None if crank is None else float(crank.travel_mm(-btdc_deg)),
    )


def btdc_from_arc(profile: Profile, arc_mm: float) -> float:
    """Return degrees BTDC from a tape along the rim; negative millimetres are after TDC."""
    return degrees(arc_mm / _radius(profile))


def btdc_from_chord(profile: Profile, chord_mm: float) -> float:
    """Return degrees BTDC from dividers across the rim; negative millimetres are after TDC."""
    half = chord_mm / (2 * _radius(profile))
    if abs(half) > 1:
        raise InputError(f"{chord_mm:g} mm is longer than the pulley is wide")
    return 2 * degrees(asin(half))


def btdc_from_teeth(profile: Profile, teeth: float) -> float:
    """Return degrees BTDC from teeth of the flywheel; negative teeth are after TDC."""
    if profile.flywheel_teeth is None:
        raise NotStatedError("flywheel.teeth is missing in the profile", ("flywheel.teeth",))
    return 360 * teeth / profile.flywheel_teeth


def btdc_from_travel(profile: Profile, travel_mm: float) -> float:
    """Return degrees BTDC from the piston's way down from its highest point.

    Raises
    ------
    InputError
        When stroke or rod length is unknown, or the travel is longer than the stroke.
    """
    crank = crank_of(profile)
    if crank is None:
        raise NotStatedError(
            "stroke and rod_length are needed in the profile for piston travel",
            ("stroke", "rod_length"),
        )
    if not 0 <= travel_mm <= crank.stroke_mm:
        raise InputError(
            f"piston travel of {travel_mm:g} mm does not lie within the stroke of"
            f" {crank.stroke_mm:g} mm"
        )
    return -float(crank.angle_of_travel_deg(travel_mm, "before"))


def static_target(
    profile: Profile, firing_1_deg: float, cylinder: int = 1, advance_btdc_deg: float | None = None
) -> float:
    """Return the crank angle of the static timing, [0, cycle), for the turn guide to aim at.

    Parameters
    ----------
    advance_btdc_deg : float, optional
        Instead of the profile's ``static_timing.advance``.

    Raises
    ------
    InputError
        When no advance is known or there is no such cylinder.
    """
    advance = profile.static_advance_btdc_deg if advance_btdc_deg is None else advance_btdc_deg
    if advance is None:
        raise NotStatedError(
            "static_timing.advance is missing in the profile: say it, or {advance}",
            ("static_timing.advance",),
        )
    tdcs = firing_tdcs(profile, firing_1_deg)
    if cylinder not in tdcs:
        raise InputError(f"there is no cylinder {cylinder}: this engine has {profile.cylinders}")
    return within(tdcs[cylinder] - advance, profile.cycle_deg)


@dataclass(frozen=True, slots=True)
class Move:
    """One turn of the spanner: degrees, and the way, 1 the engine's own or -1 back."""

    degrees: float
    way: Literal[1, -1]
    said: Remark


def approach(
    angle_deg: float,
    target_deg: float,
    *,
    cycle_deg: float = 720.0,
    turning_back: Literal["allowed", "never"] | None = None,
    turned_on_deg: float = inf,
    backlash_deg: float = BACKLASH_DEG,
) -> tuple[Move, ...]:
    """Return how to come to a crank angle so that the play is taken up on the running side.

    The last move always goes the engine's own way, and far enough to take up the play. Gone past
    by no more than the play, an engine that may be turned back goes back past it and comes up
    again; further past it goes on round, as does one that may not be turned back, or of which
    nobody said. Empty when it stands there with the play taken up.

    Parameters
    ----------
    cycle_deg : float
        After how many degrees the target comes again: 720, or 360 where either turn will do.
    turning_back : {"allowed", "never"}, optional
        As in the profile.
    turned_on_deg : float
        How far it has been turned its own way since it last went back; left out, far enough.
    """
    ahead_deg = within(target_deg - angle_deg, cycle_deg)
    past_deg = cycle_deg - ahead_deg
    play_deg = max(0.0, backlash_deg - turned_on_deg)
    there = min(ahead_deg, past_deg) <= THERE_DEG
    if there and play_deg == 0:
        return ()
    if there:
        ahead_deg, past_deg = 0.0, 0.0
    gone_past = not there and past_deg < ahead_deg
    taken_up = ahead_deg >= play_deg
    short = past_deg <= backlash_deg if gone_past else not taken_up
    if turning_back == "allowed" and short:
        back_deg = backlash_deg + (past_deg if gone_past else -ahead_deg)
        return (
            Move(back_deg, -1, remark("go-back", by_deg=back_deg)),
            Move(backlash_deg, 1, remark("come-up-again", by_deg=backlash_deg)),
        )
    on_deg = ahead_deg if taken_up else ahead_deg + cycle_deg
    if gone_past or not taken_up:
        return (Move(on_deg, 1, remark("turn-on-round", by_deg=on_deg, turning_back=turning_back)),)
    return (Move(on_deg, 1, remark("turn-on", by_deg=on_deg)),)


def _radius(profile: Profile) -> float:
    if profile.pulley_radius_mm is None:
        raise NotStatedError("pulley.radius is missing in the profile", ("pulley.radius",))
    return profile.pulley_radius_mm
