"""Where does each timing mark really stand, measured from true TDC?

How marks are met is read in :mod:`strokewise.analysis.trace.marks_met`. Edges met turning forward
and turning back are the two sides of a tooth and are never averaged. Why a mark is off is asked in
:mod:`strokewise.analysis.marks.mark_causes`.

Angles are crank degrees in the encoder frame; positive means later in the engine's own direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, radians, sqrt

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.strokes import firing_offsets, nearest
from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.marks.mark_edges import (
    EDGE_SCATTER_DEG,
    Agreed,
    edges_agree,
    pressed_agree,
)
from strokewise.analysis.median import median
from strokewise.analysis.profile import Mark, Profile, Turn
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.trace.marks_met import MarkSeen

MARK_DRIFT_PASSES = 6
"""From this many passes on the first half is held against the second."""

JUMPED_LEAST_DEG = 2.0
"""Less between the first edge of a mark and its last is what edges scatter, and an encoder."""

STEPS_ALIKE_DEG = 1.5
"""Marks jumped alike when their steps agree to this: what a few passes scatter."""

TOOTH_WIDEST_DEG, SLOW_TOOTH_WIDEST_DEG = 10.0, 16.0
"""Crank degrees from one side of a mark's tooth, pin or notch to the other, at the most, on the
crank and on what turns at half speed (common practice, no source). Met turning back only, a mark
may really stand anywhere so much earlier."""

FIRES_WITHIN_DEG = 30.0
"""A mark this near a firing TDC belongs to that cylinder: the most static advance there is."""


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
    step_deg : float or None
        How far it jumped, where it stood at one place and then at another.
    backward_only : bool
        Met turning back only: the tooth's other side was read, and ``after_tdc`` is as wide as
        teeth are.
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
    step_deg: float | None = None
    backward_only: bool = False
    offset: Offset = Offset(None, None, None)
    notices: tuple[Notice, ...] = ()


def turns_at_half_speed(mark: Mark, profile: Profile) -> bool:
    """Return whether a mark comes once in two turns: on cam or distributor, or stated for one."""
    slow_place = mark.on in ("cam sprocket", "distributor")
    return profile.cycle == "four-stroke" and (slow_place or mark.turn != "both")


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
    met, notices = _met(seen, period_deg)
    if met is None:
        return MarkPlace(mark, len(seen), notices=notices)
    own, backward = met.own_way, met.backward
    after = _after_tdc(own, tdc_1)
    if met.backward_only:
        after = _this_side(after, SLOW_TOOTH_WIDEST_DEG if slow else TOOTH_WIDEST_DEG)
    place = MarkPlace(
        mark,
        len(seen),
        after_tdc=after,
        step_deg=own.step_deg,
        backward_only=met.backward_only,
        notices=notices,
    )
    centre_deg = own.centre_deg + after.value - _after_tdc(own, tdc_1).value
    turn, cylinder, in_cycle_deg = _turn(mark, profile, centre_deg, firing_1_deg, slow)
    place = replace(place, turn=turn, firing_cylinder=cylinder, late_in_cycle_deg=in_cycle_deg)
    if mark.stated_atdc_deg is not None:
        late_deg = nearest(after.value - mark.stated_atdc_deg, 360)
        late = after.shifted(late_deg - after.value)
        place = replace(place, late=late, offset=_offset(late, profile))
    if backward is not None:
        place = replace(place, backward=_after_tdc(backward, tdc_1))
    return replace(place, drift=_drift(own.kept_deg, period_deg, seen.cell_deg))


def shared_step_deg(places: Sequence[MarkPlace]) -> float | None:
    """Return how far marks on different parts jumped alike, which only the encoder's clamp can do.

    None where no mark jumped, or only marks of one part, or not all by the same.
    """
    steps = [place.step_deg for place in places if place.step_deg is not None]
    parts = {place.mark.on for place in places if place.step_deg is not None}
    if len(parts) < 2 or max(steps) - min(steps) > STEPS_ALIKE_DEG:
        return None
    return median(steps)


def shared_jump_deg(seen: Sequence[MarkSeen]) -> float | None:
    """Return how far all marks moved alike from their first edge to their last.

    Turned by hand there are too few of them for a step of each; but what moves marks on different
    parts by one angle is the encoder. None where not all moved, or not by the same.
    """
    moved = {}
    for mark in seen:
        own_way = [met.angle_deg for met in mark.passes if met.forward]
        if len(own_way) > 1:
            moved[mark.mark.name] = nearest(own_way[-1] - own_way[0], 360.0), mark.mark.on
    jumps = [by for by, _ in moved.values()]
    if len({on for _, on in moved.values()}) < 2 or min(map(abs, jumps)) < JUMPED_LEAST_DEG:
        return None
    return median(jumps) if max(jumps) - min(jumps) <= STEPS_ALIKE_DEG else None


def _after_tdc(agreed: Agreed, tdc_1: Interval) -> Interval:
    sigma_deg = hypot(agreed.sigma_deg, tdc_1.half_width / Z_95)
    return Interval.from_sigma(nearest(agreed.centre_deg - tdc_1.value, 360), sigma_deg)


def _this_side(other_side: Interval, widest_deg: float) -> Interval:
    """Return where a mark stands whose other side was read, and nobody knows how wide it is."""
    return Interval(other_side.value - widest_deg / 2, other_side.low - widest_deg, other_side.high)


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


@dataclass(frozen=True, slots=True)
class _Met:
    """Where a mark was met: the engine's own way if it was, and turning back."""

    own_way: Agreed
    backward: Agreed | None
    backward_only: bool = False


def _met(seen: MarkSeen, period_deg: float) -> tuple[_Met | None, tuple[Notice, ...]]:
    name = seen.mark.name
    notices: list[Notice] = []
    sides: list[Agreed | None] = []
    for way in (True, False):
        angles = np.array([p.angle_deg for p in seen.passes if p.forward is way])
        agreed, said = edges_agree(name, angles, period_deg, seen.cell_deg)
        sides.append(agreed)
        notices += said
    forward, backward = sides
    if forward is None and seen.presses:
        forward, said = pressed_agree(name, seen.presses, period_deg)
        notices += said
    if forward is not None:
        return _Met(forward, backward), tuple(notices)
    if backward is not None:
        met_back = _Met(backward, backward, backward_only=True)
        return met_back, (*notices, notice("mark-backward", mark=name))
    if not notices:
        notices.append(notice("mark-not-seen", mark=name))
    return None, tuple(notices)


def _drift(angles: NDArray[np.float64], period_deg: float, cell_deg: float) -> Interval | None:
    """Second half of the passes less the first; None for too few of them."""
    if len(angles) < MARK_DRIFT_PASSES:
        return None
    away = np.array([nearest(a - angles[0], period_deg) for a in angles])
    early, late = np.array_split(away, 2)
    spread = sqrt(
        max(float(np.var(early, ddof=1)), EDGE_SCATTER_DEG**2) / len(early)
        + max(float(np.var(late, ddof=1)), EDGE_SCATTER_DEG**2) / len(late)
        + cell_deg**2 / 6
    )
    return Interval.from_sigma(median(late) - median(early), spread)
