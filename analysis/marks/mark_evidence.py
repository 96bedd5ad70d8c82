"""How well does each cause fit the marks as measured? Priors and likelihoods, part by part.

Parts fail one by one: what turns the pulley's ring does not move the cam's sprocket. So pulley,
flywheel, and the cam with what it drives, are weighed each on its own; only a slipped encoder clamp
moves all marks alike. Priors and spreads are our own judgement of an engine whose history is
unknown and have no source, unless said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.angle import short_way
from strokewise.analysis.crank.strokes import companions, firing_offsets, nearest
from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.marks.marks import MarkPlace, turns_at_half_speed
from strokewise.analysis.profile import Profile

FloatArray = NDArray[np.float64]

MARK_RIGHT = "mark right"
POINTER = "pointer or pulley for another engine"
RING = "outer ring of the pulley slipped"
CYLINDER = "mark at another cylinder's TDC"
STATIC = "mark stands for another angle"
HALF = "mark set at the overlap TDC"
CLAMP = "encoder clamp slipped"
OTHER = "something else"

PULLEY_PRIORS = {
    MARK_RIGHT: 0.70,
    POINTER: 0.10,
    RING: 0.10,
    CYLINDER: 0.05,
    STATIC: 0.03,
    OTHER: 0.02,
}
FLYWHEEL_PRIORS = {MARK_RIGHT: 0.88, POINTER: 0.05, CYLINDER: 0.03, STATIC: 0.02, OTHER: 0.02}
CAM_TEETH_PRIORS = {1: 0.05, 2: 0.015, 3: 0.005}  # each way
CAM_HALF_PRIOR, CAM_OTHER_PRIOR = 0.05, 0.02
DRIVE_TEETH_PRIORS = {1: 0.04, 2: 0.01}  # each way
DRIVE_HALF_PRIOR, DRIVE_OTHER_PRIOR = 0.10, 0.04
CLAMP_PRIORS = {"steady": 0.003, "unknown": 0.03, "slipped": 0.5}
"""Before any figure is seen. A clamp is "steady" when TDC came out the same all through the
recording that also met the marks."""

CRANK_MARK_SIGMA_DEG = 1.0
"""How near a right mark and pointer are to TDC (common practice, no source)."""

CAM_MARK_SIGMA_DEG = 2.0
"""A right cam mark: one cam degree of chain and keyway (common practice, no source)."""

DRIVE_MARK_SIGMA_DEG = 4.0
"""A right rotor mark: two degrees of the distributor (common practice, no source)."""

MOVING_SIGMA_DEG = 5.0
"""How far a part that is slipping may move between two looks."""

MOVES_AT_ONCE, MOVES_BETWEEN = 0.2, 0.5
"""How often a loose part moves within one recording, and between two with running in between."""

SLIP_LEAST_DEG = 2.0  # a clamp that slipped by less changes no conclusion
SLIP_GRID_DEG = 0.25  # a quarter of the sharpest likelihood
CAM_TEETH_UNKNOWN = (34, 36, 38, 40, 42, 44, 46, 48)
"""Cam sprockets met in practice, tried alike where the profile names none (no source)."""

Clamp = Literal["steady", "unknown", "slipped"]


@dataclass(frozen=True, slots=True)
class Case:
    """One state of one part: which causes hold, how probable before, how well it fits.

    ``fit`` holds the log likelihood at every step of the clamp's slip, the first for no slip.
    """

    causes: tuple[tuple[str, tuple[str, ...]], ...]
    prior: float
    fit: FloatArray


def slip_steps() -> FloatArray:
    """Return the clamp's slips that are summed over, in degrees, no slip first."""
    most = 180.0 - SLIP_GRID_DEG
    grid = np.arange(-most, 180.0 + SLIP_GRID_DEG / 2, SLIP_GRID_DEG)
    return np.concatenate([[0.0], grid[np.abs(grid) >= SLIP_LEAST_DEG]])


def log_sum(part: FloatArray) -> FloatArray:
    """Return the log of the summed likelihoods along the first axis."""
    return np.asarray(np.logaddexp.reduce(part, axis=0), np.float64)


def _log_normal(
    away: FloatArray | float, sigma_deg: float, period_deg: float | None = None
) -> FloatArray:
    off = np.asarray(away, np.float64)
    if period_deg is not None:
        off = short_way(off, period_deg)
    return np.asarray(-0.5 * (off / sigma_deg) ** 2 - np.log(sigma_deg * np.sqrt(2 * np.pi)))


def _sigma(interval: Interval, also_deg: float) -> float:
    return float(np.hypot(interval.half_width / Z_95, also_deg))


def crank_parts(
    places: Sequence[MarkPlace],
    profile: Profile,
    earlier: Mapping[str, Interval],
    slips: FloatArray,
) -> list[list[Case]]:
    """Cases of pulley and flywheel; marks of one part that disagree are parts of their own."""
    parts = []
    for place_name, priors in (("pulley", PULLEY_PRIORS), ("flywheel", FLYWHEEL_PRIORS)):
        own = [
            p
            for p in places
            if p.mark.on == place_name and not turns_at_half_speed(p.mark, profile)
        ]
        for group in _agreeing(own):
            parts.append(_crank_cases(group, profile, priors, earlier, slips))
    return parts


def _agreeing(places: Sequence[MarkPlace]) -> list[list[MarkPlace]]:
    groups: list[list[MarkPlace]] = []
    for place in places:
        assert place.late is not None
        for group in groups:
            first = group[0].late
            assert first is not None
            apart_deg = abs(nearest(place.late.value - first.value, 360))
            if apart_deg <= 3 * np.hypot(
                _sigma(place.late, CRANK_MARK_SIGMA_DEG), _sigma(first, CRANK_MARK_SIGMA_DEG)
            ):
                group.append(place)
                break
        else:
            groups.append([place])
    return groups


def _crank_cases(
    group: Sequence[MarkPlace],
    profile: Profile,
    priors: Mapping[str, float],
    earlier: Mapping[str, Interval],
    slips: FloatArray,
) -> list[Case]:
    names = tuple(place.mark.name for place in group)
    anywhere = np.full_like(slips, -np.log(360.0))
    # marks on one part share where it went: the first is free, the others must follow it
    follow = np.zeros_like(slips)
    first = group[0].late
    assert first is not None
    for place in group[1:]:
        assert place.late is not None
        sigma = float(np.hypot(_sigma(place.late, CRANK_MARK_SIGMA_DEG), _sigma(first, 0.0)))
        follow = follow + _log_normal(place.late.value - first.value, sigma, 360)
    free = anywhere + follow
    still, moving = _change_fits(group, earlier)
    kept = np.where(slips == 0, still, moving)  # a clamp that slips also moves between two looks
    targets: dict[str, list[float]] = {
        MARK_RIGHT: [0.0],
        CYLINDER: _other_cylinders(profile),
        STATIC: _other_meaning(group[0], profile),
    }
    cases = []
    for cause, prior in priors.items():
        if cause in targets:
            if not targets[cause]:
                continue
            fit = _at_targets(group, targets[cause], slips) + kept
        else:
            fit = free + (moving if cause == RING else kept)
        cases.append(Case(((cause, names),), prior, fit))
    return cases


def _at_targets(
    group: Sequence[MarkPlace], targets: Sequence[float], slips: FloatArray
) -> FloatArray:
    fits = []
    for target in targets:
        fit = np.zeros_like(slips)
        for place in group:
            assert place.late is not None
            sigma = _sigma(place.late, CRANK_MARK_SIGMA_DEG)
            fit = fit + _log_normal(place.late.value - target - slips, sigma, 360)
        fits.append(fit)
    return np.asarray(log_sum(np.stack(fits)) - np.log(len(targets)), np.float64)


def _other_cylinders(profile: Profile) -> list[float]:
    """Where other cylinders' TDCs lie, those that move with cylinder 1 left out."""
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    along = {1, *companions(profile)[1]}
    return sorted(
        {round(nearest(offset, 360), 3) for c, offset in offsets.items() if c not in along} - {0.0}
    )


def _other_meaning(place: MarkPlace, profile: Profile) -> list[float]:
    """How late the mark seems if it is really the TDC mark, or the static timing mark."""
    stated, static = place.mark.stated_atdc_deg or 0.0, profile.static_advance_btdc_deg
    meanings = {0.0} | (set() if static is None else {-static})
    return sorted(m - stated for m in meanings if abs(m - stated) > 2 * CRANK_MARK_SIGMA_DEG)


def _change_fits(
    group: Sequence[MarkPlace], earlier: Mapping[str, Interval]
) -> tuple[float, float]:
    """How well changes seen between two looks fit a part that stays, and one that may slip on."""
    still = moving = 0.0
    for change, share in _changes(group, earlier):
        stays = float(_log_normal(change.value, _sigma(change, 0.1)))
        moves = float(_log_normal(change.value, _sigma(change, MOVING_SIGMA_DEG)))
        still += stays
        moving += float(np.logaddexp(stays + np.log(1 - share), moves + np.log(share)))
    return still, moving


def _changes(
    group: Sequence[MarkPlace], earlier: Mapping[str, Interval]
) -> list[tuple[Interval, float]]:
    """What each mark moved by between two looks, and how often a loose part would have moved."""
    changes = [(place.drift, MOVES_AT_ONCE) for place in group if place.drift is not None]
    for place in group:
        before = earlier.get(place.mark.name)
        if before is not None and place.late is not None:
            moved_deg = nearest(place.late.value - before.value, 360)
            sigma_deg = _sigma(place.late, _sigma(before, 0.0))
            changes.append((Interval.from_sigma(moved_deg, sigma_deg), MOVES_BETWEEN))
    return changes


def cam_parts(
    places: Sequence[MarkPlace], profile: Profile, cam_shift: Interval | None, slips: FloatArray
) -> list[list[Case]]:
    """Cases of the cam and what it drives, together: a cam that is late makes the drive late."""
    slow = [place for place in places if turns_at_half_speed(place.mark, profile)]
    cam = [place for place in slow if place.mark.on != "distributor"]
    drive = [place for place in slow if place.mark.on == "distributor"]
    if not slow and cam_shift is None:
        return []
    cam_states = _cam_states(profile, whole_cycle=_whole(cam))
    drive_states = _drive_states(profile, whole_cycle=_whole(drive)) if drive else [_NO_DRIVE]
    cam_names = tuple(place.mark.name for place in cam)
    drive_names = tuple(place.mark.name for place in drive)
    cases = []
    for one, other in product(cam_states, drive_states):
        fit = _cam_fit(cam, one, CAM_MARK_SIGMA_DEG, slips)
        if cam_shift is not None:
            fit = fit + _shift_fit(cam_shift, one)
        if drive:
            both = _State(
                other.cause, 1.0, None if other.late_deg is None else _sum(one, other), None
            )
            fit = fit + _cam_fit(drive, both, DRIVE_MARK_SIGMA_DEG, slips)
        causes = [(one.cause, cam_names)]
        causes += [(other.cause, drive_names)] if drive else []
        cases.append(Case(tuple(causes), one.prior * other.prior, fit))
    return [cases]


@dataclass(frozen=True, slots=True)
class _State:
    """How a part of the cam's train stands: places and the cam's shift, None for anywhere."""

    cause: str
    prior: float
    late_deg: tuple[float, ...] | None
    shift_deg: tuple[float, ...] | None


_NO_DRIVE = _State(MARK_RIGHT, 1.0, (0.0,), (0.0,))


def _sum(one: _State, other: _State) -> tuple[float, ...]:
    """Where the drive stands: with the cam's shift, not its half turn, which moves the phase."""
    shifts = one.shift_deg or (0.0,)
    return tuple(a + b for a in shifts for b in other.late_deg or (0.0,))


def _whole(places: Sequence[MarkPlace]) -> bool:
    return any(place.late_in_cycle_deg is not None for place in places)


def teeth_words(part: str, teeth: int) -> str:
    """Return ``"cam sprocket 1 tooth late"`` and its like."""
    count = abs(teeth)
    return f"{part} {count} {'tooth' if count == 1 else 'teeth'} {'late' if teeth > 0 else 'early'}"


def _cam_states(profile: Profile, *, whole_cycle: bool) -> list[_State]:
    drive = profile.cam_drive
    tooth_deg = [720 / n for n in ((drive.cam_teeth,) if drive else CAM_TEETH_UNKNOWN)]
    states = [
        _State(
            teeth_words("cam sprocket", way * count),
            prior,
            tuple(way * count * t for t in tooth_deg),
            tuple(way * count * t for t in tooth_deg),
        )
        for count, prior in CAM_TEETH_PRIORS.items()
        for way in (1, -1)
    ]
    states.append(_State(OTHER, CAM_OTHER_PRIOR, None, None))
    if whole_cycle:
        states.append(_State(HALF, CAM_HALF_PRIOR, (360.0,), (0.0,)))
    rest = 1 - sum(state.prior for state in states)
    return [_State(MARK_RIGHT, rest, (0.0,), (0.0,)), *states]


def _drive_states(profile: Profile, *, whole_cycle: bool) -> list[_State]:
    states = [_State(OTHER, DRIVE_OTHER_PRIOR, None, None)]
    if profile.drive_gear is not None:
        tooth_deg = 720 / profile.drive_gear.teeth
        states += [
            _State(teeth_words("drive gear", n * way), prior, (n * way * tooth_deg,), None)
            for n, prior in DRIVE_TEETH_PRIORS.items()
            for way in (1, -1)
        ]
    if whole_cycle:
        states.append(_State(HALF, DRIVE_HALF_PRIOR, (360.0,), None))
    rest = 1 - sum(state.prior for state in states)
    return [_State(MARK_RIGHT, rest, (0.0,), None), *states]


def _cam_fit(
    places: Sequence[MarkPlace], state: _State, mark_sigma_deg: float, slips: FloatArray
) -> FloatArray:
    fit = np.zeros_like(slips)
    for place in places:
        assert place.late is not None
        in_cycle = place.late_in_cycle_deg is not None
        period = 720.0 if in_cycle else 360.0
        late = place.late_in_cycle_deg if place.late_in_cycle_deg is not None else place.late.value
        if state.late_deg is None:
            fit = fit - np.log(period)
            continue
        sigma = _sigma(place.late, mark_sigma_deg)
        at = np.stack([_log_normal(late - t - slips, sigma, period) for t in state.late_deg])
        fit = fit + log_sum(at) - np.log(len(at))
    return fit


CAM_SHIFT_MOST_DEG = (
    120.0  # a cam further out than 60° either way does not let the engine be turned
)


def _shift_fit(shift: Interval, state: _State) -> float:
    if state.shift_deg is None:
        return -float(np.log(CAM_SHIFT_MOST_DEG))
    sigma = _sigma(shift, CAM_MARK_SIGMA_DEG)
    fits = [float(_log_normal(shift.value - target, sigma)) for target in state.shift_deg]
    return float(np.logaddexp.reduce(fits)) - float(np.log(len(fits)))
