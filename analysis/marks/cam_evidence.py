"""How do cam, the marks on its sprocket, and what it drives stand to each other?

One unknown runs through all of it: how late the cam itself is. Pressure shows it, blind to half a
turn; a dot on the sprocket goes with it, as long as dot and sprocket are this engine's; and what
the cam drives goes with it too. A dot that stands elsewhere than the cam that pressure shows is no
late cam. Angles are crank degrees, late positive.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.marks.mark_evidence import (
    FOREIGN,
    HALF,
    MARK_RIGHT,
    ON_TOOTH,
    OTHER,
    ROTOR,
    FloatArray,
    Part,
    agreeing,
    late_deg,
    sigma_of,
)
from strokewise.analysis.marks.marks import MarkPlace, turns_at_half_speed
from strokewise.analysis.marks.rig_states import RigStates
from strokewise.analysis.profile import Profile

CAM_TEETH_PRIORS = {0: 0.84, 1: 0.06, 2: 0.015, 3: 0.004, 4: 0.001}
"""Each way, of a rebuild whose history is unknown (our judgement, no source)."""

CAM_OFF_SHARE = 0.03
"""Cams that belong to no tooth: a slipped sprocket, another grind."""

OFF_SIGMA_DEG, OFF_FAR_SHARE = 10.0, 0.1
"""How far those stand off, and the share of them that may stand anywhere (our judgement)."""

FITTED_SIGMA_DEG = 2.5
"""How near a cam on the right tooth is: chain, keyway and grinding (common practice, no source)."""

CAM_TEETH_UNKNOWN = (34, 36, 38, 40, 42, 44, 46, 48)
"""Cam sprockets met in practice, tried alike where the profile names none (no source)."""

DOT_SIGMA_DEG = 1.0
"""How near a dot and its pointer are to the cam they show (common practice, no source)."""

ROTOR_SIGMA_DEG = 4.0
"""A right rotor mark: two degrees of the distributor (common practice, no source)."""

DOT_PRIORS = {HALF: 0.05, FOREIGN: 0.12, OTHER: 0.005}
ROTOR_PRIORS = {HALF: 0.10, ROTOR: 0.03, OTHER: 0.02}
DRIVE_TEETH_PRIORS = {1: 0.04, 2: 0.01}  # each way

FOREIGN_NEAR_SHARE, FOREIGN_NEAR_DEG = 0.5, 40.0
"""Of another engine's dots, half stand some teeth from where this one's would, the rest anywhere:
sprockets are marked near the same place, and by whole or half teeth they look alike."""

SHIFT_STEP_DEG = 0.5
SHIFT_MOST_DEG = 90.0
"""A cam further out does not let the engine be turned."""

STATED_ASTRAY_SHARE = 0.002
"""How often a shift that somebody states is wrong altogether."""


@dataclass(frozen=True, slots=True)
class ShiftChance:
    """What pressure says of the cam's shift: its likelihood but for a constant, both (n,)."""

    shift_deg: FloatArray
    chance: FloatArray


@dataclass(frozen=True, slots=True)
class TrainCase:
    """One state of cam, sprocket marks and drive together; causes by part."""

    causes: tuple[tuple[Part, str, tuple[str, ...]], ...]
    fit: FloatArray


@dataclass(frozen=True, slots=True)
class _State:
    """One state of cam, dots or drive: its weight at every shift of the cam.

    ``weight`` is (n,) for the cam, (states of the rig, n) or a number for marks.
    """

    cause: str
    marks: tuple[str, ...]
    weight: FloatArray


def chance_of(shift: Interval) -> ShiftChance:
    """Return what a shift that was stated says, its two sides as wide as they are."""
    grid = shift_grid()
    side = np.where(grid < shift.value, shift.value - shift.low, shift.high - shift.value)
    sigma = np.maximum(side / Z_95, SHIFT_STEP_DEG)
    likely = np.exp(-0.5 * ((grid - shift.value) / sigma) ** 2)
    chance = (1 - STATED_ASTRAY_SHARE) * likely / likely.sum() + STATED_ASTRAY_SHARE / len(grid)
    return ShiftChance(grid, np.asarray(chance, np.float64))


def shift_grid() -> FloatArray:
    """Return the shifts of the cam that are summed over."""
    return np.arange(-SHIFT_MOST_DEG, SHIFT_MOST_DEG + SHIFT_STEP_DEG / 2, SHIFT_STEP_DEG)


def teeth_words(part: str, teeth: int) -> str:
    """Return ``"cam sprocket 1 tooth late"`` and its like."""
    count = abs(teeth)
    return f"{part} {count} {'tooth' if count == 1 else 'teeth'} {'late' if teeth > 0 else 'early'}"


def cam_cause(teeth: int) -> str:
    """Return the cause of a cam so many teeth late."""
    return ON_TOOTH if teeth == 0 else teeth_words("cam sprocket", teeth)


def train_cases(
    places: Sequence[MarkPlace], profile: Profile, seen: ShiftChance | None, rig: RigStates
) -> list[TrainCase]:
    """Return the states of cam, dots and drive, none where nothing tells of them.

    Parameters
    ----------
    seen : ShiftChance, optional
        What pressure says of the cam, blind to half a turn.
    """
    slow = [place for place in places if turns_at_half_speed(place.mark, profile)]
    dots = [place for place in slow if place.mark.on != "distributor"]
    rotors = [place for place in slow if place.mark.on == "distributor"]
    if not slow and seen is None:
        return []
    grid = shift_grid()
    cam = _cam_states(profile, seen, tuple(place.mark.name for place in dots), grid)
    cam_weights = np.stack([state.weight for state in cam], axis=1)
    cases = []
    for dot in _dot_states(dots, rig, grid):
        for rotor in _rotor_states(rotors, profile, rig, grid):
            marks = np.broadcast_to(dot.weight * rotor.weight, (len(rig.moved_deg), len(grid)))
            whole = np.maximum(marks @ cam_weights, np.finfo(float).tiny)
            for column, state in enumerate(cam):
                causes: list[tuple[Part, str, tuple[str, ...]]] = [
                    ("cam", state.cause, state.marks)
                ]
                if dots:
                    causes.append(("cam sprocket", dot.cause, dot.marks))
                if rotors:
                    causes.append(("distributor", rotor.cause, rotor.marks))
                cases.append(TrainCase(tuple(causes), np.log(whole[:, column])))
    return cases


def _cam_states(
    profile: Profile, seen: ShiftChance | None, names: tuple[str, ...], grid: FloatArray
) -> list[_State]:
    drive = profile.cam_drive
    tooth_deg = [720 / n for n in ((drive.cam_teeth,) if drive else CAM_TEETH_UNKNOWN)]
    shown = np.ones_like(grid)
    if seen is not None:
        shown = np.interp(grid, seen.shift_deg, seen.chance, left=0.0, right=0.0)
        shown = shown / shown.sum()
    states = []
    for count, prior in CAM_TEETH_PRIORS.items():
        for teeth in sorted({count, -count}):
            shape = np.mean([_normal(grid - teeth * t, FITTED_SIGMA_DEG) for t in tooth_deg], 0)
            weight = (1 - CAM_OFF_SHARE) * prior * shape * shown
            states.append(_State(cam_cause(teeth), names, np.asarray(weight)))
    off = (1 - OFF_FAR_SHARE) * _normal(grid, OFF_SIGMA_DEG) + OFF_FAR_SHARE / (2 * SHIFT_MOST_DEG)
    return [*states, _State(OTHER, names, np.asarray(CAM_OFF_SHARE * off * shown))]


def _dot_states(places: Sequence[MarkPlace], rig: RigStates, grid: FloatArray) -> list[_State]:
    whole = [_State(MARK_RIGHT, (), np.ones((1, 1)))]
    for group in agreeing(places, 720.0):
        whole = _joined(whole, _dots_alike(group, rig, grid))
    return whole


def _dots_alike(group: Sequence[MarkPlace], rig: RigStates, grid: FloatArray) -> list[_State]:
    """States of dots that stand alike: with the cam, half a turn from it, or anyhow."""
    names = tuple(place.mark.name for place in group)
    near, half = (_with_cam(group, turn, DOT_SIGMA_DEG, rig, grid) for turn in (0.0, 360.0))
    anywhere, foreign = 1.0, 1.0
    for place in group:
        period, late = _period(place), late_deg(place)
        anywhere *= 1 / period
        nearby = float(_normal(np.array(late), FOREIGN_NEAR_DEG))
        foreign *= FOREIGN_NEAR_SHARE * nearby + (1 - FOREIGN_NEAR_SHARE) / period
    told = all(place.late_in_cycle_deg is not None for place in group)
    priors = {cause: prior for cause, prior in DOT_PRIORS.items() if told or cause != HALF}
    fits = {HALF: half, FOREIGN: np.full((1, 1), foreign), OTHER: np.full((1, 1), anywhere)}
    states = [_State(cause, names, prior * fits[cause]) for cause, prior in priors.items()]
    return [_State(MARK_RIGHT, names, (1 - sum(priors.values())) * near), *states]


def _rotor_states(
    places: Sequence[MarkPlace], profile: Profile, rig: RigStates, grid: FloatArray
) -> list[_State]:
    if not places:
        return [_State(MARK_RIGHT, (), np.ones((1, 1)))]
    names = tuple(place.mark.name for place in places)
    told = all(place.late_in_cycle_deg is not None for place in places)
    moved: dict[str, tuple[float, float]] = {HALF: (ROTOR_PRIORS[HALF], 360.0)} if told else {}
    if profile.drive_gear is not None:
        tooth_deg = 720 / profile.drive_gear.teeth
        moved |= {
            teeth_words("drive gear", way * count): (prior, way * count * tooth_deg)
            for count, prior in DRIVE_TEETH_PRIORS.items()
            for way in (1, -1)
        }
    anywhere = np.full((1, 1), float(np.prod([1 / _period(place) for place in places])))
    states = [_State(cause, names, ROTOR_PRIORS[cause] * anywhere) for cause in (ROTOR, OTHER)]
    states += [
        _State(cause, names, prior * _with_cam(places, by_deg, ROTOR_SIGMA_DEG, rig, grid))
        for cause, (prior, by_deg) in moved.items()
    ]
    rest = 1 - ROTOR_PRIORS[ROTOR] - ROTOR_PRIORS[OTHER] - sum(p for p, _ in moved.values())
    near = _with_cam(places, 0.0, ROTOR_SIGMA_DEG, rig, grid)
    return [_State(MARK_RIGHT, names, rest * near), *states]


def _joined(whole: list[_State], group: list[_State]) -> list[_State]:
    """States of dots that disagree among themselves, named by those that are accused."""
    merged: dict[tuple[str, tuple[str, ...]], FloatArray] = {}
    for one in whole:
        for other in group:
            if one.cause == other.cause:
                key = one.cause, (*one.marks, *other.marks)
            elif MARK_RIGHT in (one.cause, other.cause):
                accused = other if one.cause == MARK_RIGHT else one
                key = accused.cause, accused.marks
            else:
                key = OTHER, (*one.marks, *other.marks)
            weight = one.weight * other.weight
            merged[key] = merged[key] + weight if key in merged else weight
    return [_State(cause, marks, weight) for (cause, marks), weight in merged.items()]


def _with_cam(
    places: Sequence[MarkPlace],
    by_deg: float,
    mark_sigma_deg: float,
    rig: RigStates,
    grid: FloatArray,
) -> FloatArray:
    """Likelihood of marks that go with the cam but for ``by_deg``, (states of the rig, shifts)."""
    fit = np.ones((len(rig.moved_deg), len(grid)))
    at = by_deg + rig.moved_deg[:, None] + grid[None, :]
    for place in places:
        assert place.late is not None
        period, sigma = _period(place), sigma_of(place.late, mark_sigma_deg)
        away = (late_deg(place) - at + period / 2) % period - period / 2
        fit = fit * _normal(away, sigma)
    return fit


def _period(place: MarkPlace) -> float:
    return 720.0 if place.late_in_cycle_deg is not None else 360.0


def _normal(away: FloatArray, sigma: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (away / sigma) ** 2) / (sigma * np.sqrt(2 * np.pi)))
