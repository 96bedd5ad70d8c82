"""How well does each cause fit the marks on pulley and flywheel? Priors and likelihoods.

Parts fail one by one: what turns the pulley's ring does not move the cam's sprocket. So pulley,
flywheel, and the cam with what it drives (:mod:`~strokewise.analysis.marks.cam_evidence`) are
weighed each on its own; only what the rig did (:mod:`~strokewise.analysis.marks.rig_states`) moves
all marks alike. Priors and spreads are our own judgement of an engine whose history is unknown and
have no source, unless said.
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
from strokewise.analysis.marks.rig_states import RigStates
from strokewise.analysis.profile import Profile

FloatArray = NDArray[np.float64]

Part = Literal["pulley", "flywheel", "cam sprocket", "distributor", "cam", "sensor", "encoder"]

MARK_RIGHT = "mark right"
POINTER = "pointer or pulley for another engine"
WHEEL = "pointer or flywheel for another engine"
RING = "outer ring of the pulley slipped"
CYLINDER = "mark at another cylinder's TDC"
STATIC = "mark stands for another angle"
HALF = "mark set at the overlap TDC"
FOREIGN = "dot, pointer or sprocket for another engine"
ROTOR = "rotor, mark or pointer for another engine"
ON_TOOTH = "cam on its tooth"
CLAMP_HELD = "encoder clamp held"
HELD_SINCE = "encoder clamp slipped and held since"
CLAMP = "encoder clamp slipped"
AS_STATED = "sensor in the cylinder stated"
REORDERED = "firing order other than stated"
OTHER = "something else"

SOUND = frozenset({MARK_RIGHT, ON_TOOTH, CLAMP_HELD, AS_STATED})
"""Nothing is wrong with the part."""

PULLEY_PRIORS = {
    MARK_RIGHT: 0.70,
    POINTER: 0.10,
    RING: 0.10,
    CYLINDER: 0.05,
    STATIC: 0.03,
    OTHER: 0.02,
}
FLYWHEEL_PRIORS = {MARK_RIGHT: 0.88, WHEEL: 0.05, CYLINDER: 0.03, STATIC: 0.02, OTHER: 0.02}

CRANK_MARK_SIGMA_DEG = 1.0
"""How near a right mark and pointer are to TDC (common practice, no source)."""

MOVING_SIGMA_DEG = 5.0
"""How far a part that is slipping may move between two looks."""

MOVES_AT_ONCE, MOVES_BETWEEN = 0.2, 0.5
"""How often a loose part moves within one recording, and between two with running in between."""


def elsewhere_words(cylinder: int, taken_for: int) -> str:
    """Return ``"sensor in cylinder 3, not in 1"``."""
    return f"sensor in cylinder {cylinder}, not in {taken_for}"


@dataclass(frozen=True, slots=True)
class Case:
    """One state of one part: its cause, of which marks, and how well it fits.

    ``fit`` holds the log of prior and likelihood at every state of the rig.
    """

    cause: str
    marks: tuple[str, ...]
    fit: FloatArray


def log_sum(part: FloatArray) -> FloatArray:
    """Return the log of the summed likelihoods along the first axis."""
    return np.asarray(np.logaddexp.reduce(part, axis=0), np.float64)


def log_normal(
    away: FloatArray | float, sigma_deg: float, period_deg: float | None = None
) -> FloatArray:
    """Return the log density of a normal distribution, the short way round where wrapped."""
    off = np.asarray(away, np.float64)
    if period_deg is not None:
        off = short_way(off, period_deg)
    return np.asarray(-0.5 * (off / sigma_deg) ** 2 - np.log(sigma_deg * np.sqrt(2 * np.pi)))


def sigma_of(interval: Interval, also_deg: float) -> float:
    """Return the sigma of an interval with another one added in square."""
    return float(np.hypot(interval.half_width / Z_95, also_deg))


def crank_parts(
    places: Sequence[MarkPlace], profile: Profile, earlier: Mapping[str, Interval], rig: RigStates
) -> dict[Part, list[Case]]:
    """Return the cases of pulley and flywheel, as far as marks on them were met."""
    parts: dict[Part, list[Case]] = {}
    all_priors: tuple[tuple[Part, Mapping[str, float]], ...] = (
        ("pulley", PULLEY_PRIORS),
        ("flywheel", FLYWHEEL_PRIORS),
    )
    for part, priors in all_priors:
        own = [p for p in places if p.mark.on == part and not turns_at_half_speed(p.mark, profile)]
        groups = [
            _crank_cases(group, profile, priors, earlier, rig) for group in agreeing(own, 360.0)
        ]
        if groups:
            parts[part] = together(groups)
    return parts


def agreeing(places: Sequence[MarkPlace], period_deg: float) -> list[list[MarkPlace]]:
    """Return marks of one part in groups that are equally late."""
    groups: list[list[MarkPlace]] = []
    for place in places:
        assert place.late is not None
        for group in groups:
            first = group[0].late
            assert first is not None
            apart_deg = abs(nearest(late_deg(place) - late_deg(group[0]), period_deg))
            if apart_deg <= 3 * np.hypot(
                sigma_of(place.late, CRANK_MARK_SIGMA_DEG), sigma_of(first, CRANK_MARK_SIGMA_DEG)
            ):
                group.append(place)
                break
        else:
            groups.append([place])
    return groups


def late_deg(place: MarkPlace) -> float:
    """Return how late a mark is, in the whole cycle where its turn is known."""
    assert place.late is not None
    return place.late.value if place.late_in_cycle_deg is None else place.late_in_cycle_deg


def together(groups: Sequence[Sequence[Case]]) -> list[Case]:
    """Return one list of cases for a part whose marks disagree among themselves.

    A case names the marks that it accuses; two that are off for different causes are ``OTHER``.
    """
    whole = list(groups[0])
    for group in groups[1:]:
        merged: dict[tuple[str, tuple[str, ...]], FloatArray] = {}
        for one, other in product(whole, group):
            key = _merged(one, other)
            fit = one.fit + other.fit
            merged[key] = np.logaddexp(merged[key], fit) if key in merged else fit
        whole = [Case(cause, marks, fit) for (cause, marks), fit in merged.items()]
    return whole


def _merged(one: Case, other: Case) -> tuple[str, tuple[str, ...]]:
    if one.cause == other.cause:
        return one.cause, (*one.marks, *other.marks)
    if one.cause == MARK_RIGHT:
        return other.cause, other.marks
    if other.cause == MARK_RIGHT:
        return one.cause, one.marks
    return OTHER, (*one.marks, *other.marks)


def _crank_cases(
    group: Sequence[MarkPlace],
    profile: Profile,
    priors: Mapping[str, float],
    earlier: Mapping[str, Interval],
    rig: RigStates,
) -> list[Case]:
    names = tuple(place.mark.name for place in group)
    # marks on one part share where it went: the first is free, the others must follow it
    free = np.full_like(rig.moved_deg, -np.log(360.0))
    first = group[0].late
    assert first is not None
    for place in group[1:]:
        assert place.late is not None
        sigma = float(np.hypot(sigma_of(place.late, CRANK_MARK_SIGMA_DEG), sigma_of(first, 0.0)))
        free = free + log_normal(place.late.value - first.value, sigma, 360)
    still, moving = _change_fits(group, earlier, rig)
    kept = np.where(rig.slipped, moving, still)  # a clamp that slips also moves between two looks
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
            fit = _at_targets(group, targets[cause], rig.moved_deg) + kept
        else:
            fit = free + (moving if cause == RING else kept)
        cases.append(Case(cause, names, np.log(prior) + fit))
    return cases


def _at_targets(
    group: Sequence[MarkPlace], targets: Sequence[float], moved_deg: FloatArray
) -> FloatArray:
    fits = []
    for target in targets:
        fit = np.zeros_like(moved_deg)
        for place in group:
            assert place.late is not None
            sigma = sigma_of(place.late, CRANK_MARK_SIGMA_DEG)
            fit = fit + log_normal(place.late.value - target - moved_deg, sigma, 360)
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
    group: Sequence[MarkPlace], earlier: Mapping[str, Interval], rig: RigStates
) -> tuple[FloatArray, FloatArray]:
    """How well changes seen between two looks fit a part that stays, and one that may slip on.

    The sensor may have sat elsewhere at the later look alone.
    """
    still, moving = np.zeros_like(rig.moved_deg), np.zeros_like(rig.moved_deg)
    elsewhere = np.where(rig.cylinder > 0, rig.moved_deg, 0.0)
    for place in group:
        changes = [] if place.drift is None else [(place.drift, 0.0 * elsewhere, MOVES_AT_ONCE)]
        before = earlier.get(place.mark.name)
        if before is not None and place.late is not None:
            moved_deg = nearest(place.late.value - before.value, 360)
            sigma_deg = sigma_of(place.late, sigma_of(before, 0.0))
            between = Interval.from_sigma(moved_deg, sigma_deg)
            changes.append((between, elsewhere, MOVES_BETWEEN))
        for change, off_deg, share in changes:
            away = change.value - off_deg
            stays = log_normal(away, sigma_of(change, 0.1), 360)
            moves = log_normal(away, sigma_of(change, MOVING_SIGMA_DEG), 360)
            still = still + stays
            moving = moving + np.logaddexp(stays + np.log(1 - share), moves + np.log(share))
    return still, moving
