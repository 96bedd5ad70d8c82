"""Where does each timing mark really stand, measured from true TDC?

A mark is met as an edge on a mark input, as a key pressed while the crank creeps up to it, or as an
angle that somebody read off. Edges met turning forward and turning back are the two sides of a
tooth and are never averaged. Why a mark is off is asked in
:mod:`strokewise.analysis.mark_causes`.

Angles are crank degrees in the encoder frame; positive means later in the engine's own direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, radians, sqrt

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.angle import angle_of_count, deg_per_count, motion_of
from strokewise.analysis.estimate import Z_95, Interval, Notice
from strokewise.analysis.profile import Mark, Profile, Turn
from strokewise.analysis.samples import Segment
from strokewise.analysis.strokes import firing_offsets, nearest, within

EDGE_SCATTER_DEG = 0.2
EDGE_SCATTER_WEIGHT = 2
"""What edges of a pickup wander from pass to pass, and how many passes that prior is worth."""

PLACE_SIGMA_DEG = 1.0
"""How near a person brings a mark to its pointer by eye, one time (common practice, no source)."""

PARALLAX_SIGMA_DEG = 0.3
"""Looking at it aslant is the same every time and does not average out (common practice)."""

REACTION_S = 0.20
REACTION_SIGMA_S = 0.08
REACTION_COMMON_S = 0.05
"""A key is pressed this long after the eye has seen it, give or take, and what of that is the same
for one person every time (simple reaction to sight, from memory)."""

APART_DEG = 5.0
"""Passes further apart than this are different marks under one pickup: no bracket moves so much."""

MOST_OF_THEM = 0.8
"""Share of the passes that must agree before the rest count as strays."""

DRIFT_PASSES = 6
"""From this many passes on the first half is held against the second."""

FIRES_WITHIN_DEG = 30.0
"""A mark this near a firing TDC belongs to that cylinder: the most static advance there is."""


@dataclass(frozen=True, slots=True)
class MarkPass:
    """One edge: unwrapped crank angle, and whether the crank was turning the engine's own way."""

    angle_deg: float
    forward: bool


@dataclass(frozen=True, slots=True)
class MarkPress:
    """One key press at an unwrapped crank angle; ``speed_deg_s`` is 0 when the crank stood."""

    angle_deg: float
    speed_deg_s: float = 0.0


@dataclass(frozen=True, slots=True)
class MarkSeen:
    """Everything seen of one mark; ``cell_deg`` is the width of a count in crank degrees."""

    mark: Mark
    passes: tuple[MarkPass, ...] = ()
    presses: tuple[MarkPress, ...] = ()
    cell_deg: float = 0.0

    def __len__(self) -> int:
        return len(self.passes) + len(self.presses)


@dataclass(frozen=True, slots=True)
class Offset:
    """How late a mark is, in what a person can measure; None where the profile lacks the figure."""

    rim_mm: Interval | None
    flywheel_teeth: Interval | None
    cam_teeth: Interval | None


@dataclass(frozen=True, slots=True)
class MarkPlace:
    """Where one mark stands.

    Attributes
    ----------
    seen : int
        Edges and presses, both directions.
    after_tdc : Interval or None
        Past the nearest TDC of cylinder 1 when it meets its pointer, value in (-180, 180]. None
        when nothing usable was seen.
    late : Interval or None
        That less what the mark states; None when it states nothing.
    turn : {"both", "firing", "overlap"} or None
        On which turn it comes; None for a half-speed mark while the phase is open.
    firing_cylinder : int or None
        The cylinder that fires where the mark comes; None for a mark that comes on both turns.
    late_in_cycle_deg : float or None
        For a half-speed mark whose turn is stated: how late in the whole cycle, (-360, 360].
    backward : Interval or None
        The same as ``after_tdc``, met turning back: the other side of the tooth.
    drift : Interval or None
        How much later it came in the second half of the passes than in the first.
    """

    mark: Mark
    seen: int
    after_tdc: Interval | None = None
    late: Interval | None = None
    turn: Turn | None = None
    firing_cylinder: int | None = None
    late_in_cycle_deg: float | None = None
    backward: Interval | None = None
    drift: Interval | None = None
    offset: Offset = Offset(None, None, None)
    notices: tuple[Notice, ...] = ()


def turns_at_half_speed(mark: Mark, profile: Profile) -> bool:
    """Return whether a mark comes once in two turns: on cam or distributor, or stated for one."""
    slow_place = mark.on in ("cam sprocket", "distributor")
    return profile.cycle == "four-stroke" and (slow_place or mark.turn != "both")


def seen_in(segment: Segment, mark: Mark, profile: Profile) -> MarkSeen:
    """Return every edge and press of one mark in one start of the board.

    Edges and presses outside of the samples, or while the crank stood (edges only), tell no
    direction and are left out. Empty when the mark was not met.
    """
    cell_deg = abs(deg_per_count(profile.encoder))
    samples, events = segment.samples, segment.events
    if len(samples) < 2:
        return MarkSeen(mark, cell_deg=cell_deg)
    time_us = samples.time_us
    motion = motion_of(time_us, samples.count, profile.encoder)
    inside = (events.time_us >= time_us[0]) & (events.time_us <= time_us[-1])
    own = inside & (events.input == mark.input) if mark.input else np.zeros(len(events), bool)
    angles = angle_of_count(events.count[own], profile.encoder)
    speeds = np.interp(events.time_us[own], time_us, motion.speed_deg_s)
    pressed_us = [
        p.time_us for p in segment.presses if p.name == mark.name and p.time_us >= time_us[0]
    ]
    return MarkSeen(
        mark,
        passes=tuple(
            MarkPass(float(angle), bool(speed > 0))
            for angle, speed in zip(angles, speeds, strict=True)
            if speed != 0
        ),
        presses=tuple(
            MarkPress(
                float(np.interp(at_us, time_us, motion.angle_deg)),
                float(np.interp(at_us, time_us, motion.speed_deg_s)),
            )
            for at_us in pressed_us
            if at_us <= time_us[-1]
        ),
        cell_deg=cell_deg,
    )


def place_mark(
    seen: MarkSeen, profile: Profile, tdc_1: Interval, firing_1_deg: float | None
) -> MarkPlace:
    """Return where a mark stands from true TDC.

    Parameters
    ----------
    tdc_1 : Interval
        TDC of cylinder 1 in the encoder frame, either of its two.
    firing_1_deg : float or None
        Its firing TDC in [0, cycle), None while the phase is open.
    """
    mark = seen.mark
    slow = turns_at_half_speed(mark, profile)
    period_deg = 720.0 if slow and firing_1_deg is not None else 360.0
    found, notices = _found(seen, period_deg)
    if found is None:
        return MarkPlace(mark, len(seen), notices=notices)
    centre_deg, sigma_deg, backward = found
    spread_deg = hypot(sigma_deg, tdc_1.half_width / Z_95)
    after = Interval.from_sigma(nearest(centre_deg - tdc_1.value, 360), spread_deg)
    place = MarkPlace(mark, len(seen), after_tdc=after, notices=notices)
    turn, cylinder, in_cycle_deg = _turn(mark, profile, centre_deg, firing_1_deg, slow)
    place = replace(place, turn=turn, firing_cylinder=cylinder, late_in_cycle_deg=in_cycle_deg)
    if mark.stated_atdc_deg is not None:
        late_deg = nearest(after.value - mark.stated_atdc_deg, 360)
        late = after.shifted(late_deg - after.value)
        place = replace(place, late=late, offset=_offset(late, profile))
    if backward is not None:
        back_deg = nearest(backward[0] - tdc_1.value, 360)
        back_sigma = hypot(backward[1], tdc_1.half_width / Z_95)
        place = replace(place, backward=Interval.from_sigma(back_deg, back_sigma))
    forward = np.array([p.angle_deg for p in seen.passes if p.forward])
    return replace(place, drift=_drift(forward, period_deg, seen.cell_deg))


def _offset(late: Interval, profile: Profile) -> Offset:
    radius, flywheel, drive = profile.pulley_radius_mm, profile.flywheel_teeth, profile.cam_drive
    return Offset(
        rim_mm=None if radius is None else late.scaled(radians(radius)),
        flywheel_teeth=None if flywheel is None else late.scaled(flywheel / 360),
        cam_teeth=None if drive is None else late.scaled(drive.cam_teeth / 720),
    )


def _turn(
    mark: Mark, profile: Profile, centre_deg: float, firing_1_deg: float | None, slow: bool
) -> tuple[Turn | None, int | None, float | None]:
    """Turn, firing cylinder and lateness in the whole cycle, as far as they can be told."""
    if profile.cycle == "two-stroke":
        fires = None if firing_1_deg is None else _fires_at(profile, centre_deg - firing_1_deg)
        return "firing", fires, None
    if not slow:
        return "both", None, None
    if firing_1_deg is None:
        return None, None, None
    after_firing_deg = nearest(centre_deg - firing_1_deg, 720)
    late_deg = None
    if mark.stated_atdc_deg is not None and mark.turn != "both":
        meant_deg = mark.stated_atdc_deg + (360 if mark.turn == "overlap" else 0)
        late_deg = nearest(after_firing_deg - meant_deg, 720)
    turn: Turn = "firing" if -180 < after_firing_deg <= 180 else "overlap"
    return turn, _fires_at(profile, after_firing_deg), late_deg


def _fires_at(profile: Profile, after_firing_1_deg: float) -> int | None:
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    away = {
        cylinder: abs(nearest(after_firing_1_deg - offset, profile.cycle_deg))
        for cylinder, offset in offsets.items()
    }
    cylinder = min(away, key=lambda c: away[c])
    return cylinder if away[cylinder] <= FIRES_WITHIN_DEG else None


Centre = tuple[float, float]  # angle and its sigma, degrees
Found = tuple[float, float, Centre | None]  # centre, sigma, and those met backward


def _found(seen: MarkSeen, period_deg: float) -> tuple[Found | None, tuple[Notice, ...]]:
    name = seen.mark.name
    notices: list[Notice] = []
    sides: list[Centre | None] = []
    for way in (True, False):
        angles = np.array([p.angle_deg for p in seen.passes if p.forward is way])
        centre, said = _edges(name, angles, period_deg, seen.cell_deg)
        sides.append(centre)
        notices += said
    forward, backward = sides
    if forward is None and seen.presses:
        forward, said = _pressed(name, seen.presses, period_deg)
        notices += said
    if forward is not None:
        return (*forward, backward), tuple(notices)
    if backward is not None:
        text = (
            f"{name}: met only turning back, which is the other side of its tooth; turn the"
            " engine's own way past it"
        )
        return (*backward, backward), (*notices, Notice("mark-backward", text))
    if not notices:
        text = f"{name}: not met; turn the crank right past it, or press its key at the pointer"
        notices.append(Notice("mark-not-seen", text))
    return None, tuple(notices)


def _edges(
    name: str, angles: NDArray[np.float64], period_deg: float, cell_deg: float
) -> tuple[Centre | None, list[Notice]]:
    """Centre and sigma of edges that agree; None for no edges, or where they come at several."""
    if not len(angles):
        return None, []
    away = np.array([nearest(a - angles[0], period_deg) for a in angles])
    groups = _groups(away, period_deg)
    most = max(groups, key=len)
    notices = []
    if len(groups) > 1:
        places = ", ".join(
            f"{within(angles[0] + float(np.median(group)), period_deg):.1f}°" for group in groups
        )
        if len(most) < MOST_OF_THEM * len(angles):
            text = (
                f"{name}: its input comes at {len(groups)} places ({places}): two marks under one"
                " pickup, or noise; cover all but one and turn again"
            )
            return None, [Notice("mark-several", text)]
        text = f"{name}: {len(angles) - len(most)} of {len(angles)} edges came elsewhere; left out"
        notices.append(Notice("mark-strays", text))
    centre = float(np.median(most))
    rest = float(np.sum((most - centre) ** 2))
    freedom = len(most) - 1
    prior = EDGE_SCATTER_WEIGHT * EDGE_SCATTER_DEG**2
    scatter_square = (prior + rest) / (EDGE_SCATTER_WEIGHT + freedom)
    if len(most) > 2:
        scatter_square *= np.pi / 2  # of a median, over that of a mean
    # the width of a count is the same every time and does not average out
    sigma = sqrt(scatter_square / len(most) + cell_deg**2 / 12)
    return (float(angles[0]) + centre, sigma), notices


def _groups(away: NDArray[np.float64], period_deg: float) -> list[NDArray[np.float64]]:
    """Part angles where neighbours on the circle lie further apart than one mark can."""
    ordered = np.sort(away)
    gaps = np.diff(ordered, append=ordered[0] + period_deg)
    cuts = np.flatnonzero(gaps > APART_DEG)
    if len(cuts) < 2:
        return [away]
    rolled = np.roll(ordered, -(int(cuts[-1]) + 1))
    rolled = np.where(rolled < rolled[0], rolled + period_deg, rolled)
    bounds = np.flatnonzero(np.diff(rolled) > APART_DEG) + 1
    return list(np.split(rolled, bounds))


def _pressed(
    name: str, presses: Sequence[MarkPress], period_deg: float
) -> tuple[Centre | None, list[Notice]]:
    """Centre and sigma of presses made while creeping up or standing."""
    own_way = [p for p in presses if p.speed_deg_s > -1.0]
    notices = []
    if len(own_way) < len(presses):
        text = f"{name}: {len(presses) - len(own_way)} presses made turning back are left out"
        notices.append(Notice("press-backward", text))
    if not own_way:
        return None, notices
    if len(own_way) < 3:
        text = (
            f"{name}: pressed {len(own_way)} time{'s' if len(own_way) > 1 else ''}; creep up from"
            " the same side and press three times or more"
        )
        notices.append(Notice("press-few", text))
    speeds = np.array([max(p.speed_deg_s, 0.0) for p in own_way])
    angles = np.array([p.angle_deg for p in own_way]) - speeds * REACTION_S
    away = np.array([nearest(a - angles[0], period_deg) for a in angles])
    weights = 1 / (PLACE_SIGMA_DEG**2 + (speeds * REACTION_SIGMA_S) ** 2)
    centre = float(np.average(away, weights=weights))
    # presses that scatter more than expected widen the answer
    worse = 1.0
    if len(away) > 1:
        worse = max(1.0, float(np.sum(weights * (away - centre) ** 2)) / (len(away) - 1))
    common = hypot(PARALLAX_SIGMA_DEG, float(np.mean(speeds)) * REACTION_COMMON_S)
    sigma = hypot(sqrt(worse / float(weights.sum())), common)
    return (float(angles[0]) + centre, sigma), notices


def _drift(angles: NDArray[np.float64], period_deg: float, cell_deg: float) -> Interval | None:
    """Second half of the passes less the first; None for too few of them."""
    if len(angles) < DRIFT_PASSES:
        return None
    away = np.array([nearest(a - angles[0], period_deg) for a in angles])
    early, late = np.array_split(away, 2)
    spread = sqrt(
        max(float(np.var(early, ddof=1)), EDGE_SCATTER_DEG**2) / len(early)
        + max(float(np.var(late, ddof=1)), EDGE_SCATTER_DEG**2) / len(late)
        + cell_deg**2 / 6
    )
    return Interval.from_sigma(float(np.median(late) - np.median(early)), spread)
