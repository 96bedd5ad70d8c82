"""How late is the cam, and how many teeth? Valve events against the timing of the profile.

A late cam moves all events the same way. A wide clearance moves the two ends of one valve in
opposite ways: it opens later and shuts earlier. So with one event a valve, the inlet's closing and
the exhaust's opening, clearance is a nuisance with a prior of its own, and what is called shift is
what both share. Crank degrees, positive late.

Half a turn of the cam is not seen here at all: compression follows the cam.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from strokewise.analysis.cam.cam_correction import tooth_crank_deg
from strokewise.analysis.cam.valve_events import ValveEvent
from strokewise.analysis.cam.valve_ramp import Ramp, ramp_of
from strokewise.analysis.cam.valve_spans import KIND_OF, OPEN_SIDE, EventName
from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.estimate import TAILS_95, Interval
from strokewise.analysis.marks.cam_evidence import (
    CAM_OFF_SHARE,
    CAM_TEETH_PRIORS,
    FITTED_SIGMA_DEG,
    ShiftChance,
)
from strokewise.analysis.profile import Profile, ValveTiming
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.valves.base_circle import Kind

SHIFT_REACH_DEG = 90.0
SHIFT_GRID_DEG = 0.05
"""Shifts are summed over to here, in steps well below any interval."""

SET_SIGMA_MM = 0.02
"""A clearance just set: what feeler gauges leave."""

STATED_SIGMA_MM, UNKNOWN_SIGMA_MM = 0.05, 0.12
"""A clearance that the profile states, but nobody has measured; and one that nobody states."""

ASTRAY_SHARE, ASTRAY_SIGMA_MM = 0.10, 0.25
"""One gap in ten of a rebuild that nobody has measured is far off (our judgement, no source)."""

ASTRAY_EVENTS: dict[tuple[EventName, bool], float] = {
    ("intake closes", False): 0.01,
    ("exhaust opens", False): 0.01,
    ("intake closes", True): 0.20,
    ("exhaust opens", True): 0.02,
}
"""How often an event is not what it was taken for, cranked and by hand. Pulled by hand, the engine
often pauses just where the inlet shuts, and the charge leaks away: measured on bench engines."""

APART_SIGMAS = 2.5
"""The two valves disagree by so much before clearance is spoken of."""


@dataclass(frozen=True, slots=True)
class Teeth:
    """Whole teeth of the cam's sprocket, positive late, and their probability."""

    value: int
    probability: float


@dataclass(frozen=True, slots=True)
class CamShift:
    """How late the cam is.

    Attributes
    ----------
    shift : Interval or None
        Of the one cam, from all events; None with separate cams, or where no event was found.
    intake, exhaust : Interval or None
        From the inlet's closing and the exhaust's opening alone, clearance as uncertain as it is.
    teeth, teeth_intake, teeth_exhaust : Teeth or None
        None without ``cam_drive``; the latter two with separate cams only.
    chance : ShiftChance or None
        The likelihood behind ``shift``; with separate cams, of the one that a mark's sprocket may
        sit on, either alike. None where no event was found.
    notices : tuple of Notice
        ``"clearance"`` where the two valves disagree as clearance would make them.
    """

    shift: Interval | None
    intake: Interval | None
    exhaust: Interval | None
    teeth: Teeth | None
    teeth_intake: Teeth | None = None
    teeth_exhaust: Teeth | None = None
    chance: ShiftChance | None = field(default=None, compare=False)
    notices: tuple[Notice, ...] = ()


def stated_seat_deg(timing: ValveTiming, event: ValveEvent, ramp: Ramp) -> float:
    """Return where the profile has the valve seat, crank degrees after firing TDC.

    Timing given at a lift is taken down to the seat by the ramp.
    """
    off_deg = ramp.off_seat_deg(timing.at_lift_mm)
    if event.name == "intake closes":
        return -180.0 + timing.intake_closes_abdc_deg + off_deg
    return 180.0 - timing.exhaust_opens_bbdc_deg - off_deg


def manual_figure(event: ValveEvent, profile: Profile) -> Interval:
    """Return the event as a manual prints it, at the lift of the profile's timing.

    After BDC for the inlet's closing, before BDC for the exhaust's opening.
    """
    kind = KIND_OF[event.name]
    ramp = ramp_of(profile, kind)
    lift = profile.valve_timing.at_lift_mm if profile.valve_timing else 0.0
    sigma = float(np.hypot(event.sigma_deg, ramp.off_seat_sigma_deg(lift)))
    before_bdc = 180.0 - abs(event.seat_deg.value)  # both count towards BDC's far side
    return Interval.from_sigma(before_bdc - ramp.off_seat_deg(lift), sigma)


def cam_shift(
    events: Sequence[ValveEvent],
    profile: Profile,
    *,
    separate_cams: bool = False,
    clearances_set: bool = False,
) -> CamShift:
    """Return the shift of cam or cams against the profile's timing.

    Parameters
    ----------
    events : sequence of ValveEvent
        One of a kind at most.
    separate_cams : bool
        Inlet and exhaust have cams of their own: their shifts say nothing of each other.
    clearances_set : bool
        The clearances have just been set to the profile's figures.

    Raises
    ------
    ValueError
        Without valve timing in the profile.
    """
    timing = profile.valve_timing
    if timing is None:
        raise ValueError("no valve timing to hold the events against")
    grid = np.arange(-SHIFT_REACH_DEG, SHIFT_REACH_DEG + SHIFT_GRID_DEG / 2, SHIFT_GRID_DEG)
    chances: dict[Kind, FloatArray] = {}
    plain: dict[Kind, tuple[float, float]] = {}
    for event in events:
        kind = KIND_OF[event.name]
        ramp = ramp_of(profile, kind)
        seen_deg = event.seat_deg.value - stated_seat_deg(timing, event, ramp)
        sigma = float(np.hypot(event.sigma_deg, ramp.off_seat_sigma_deg(timing.at_lift_mm)))
        gaps, weights = _gap_prior(profile, kind, ramp, clearances_set=clearances_set)
        # an opening comes later, a closing earlier by what the gap takes off the lobe's end
        moved = OPEN_SIDE[event.name] * ramp.shorter_deg(gaps)
        likely = _chances(grid, seen_deg - moved, weights, sigma)
        astray = ASTRAY_EVENTS[event.name, event.by_hand]
        chances[kind] = (1 - astray) * likely / likely.sum() + astray / len(grid)
        plain[kind] = seen_deg, sigma
    single = {kind: _interval(grid, chance) for kind, chance in chances.items()}
    if not chances:
        return NO_SHIFT
    teeth = {kind: _teeth(grid, chance, profile) for kind, chance in chances.items()}
    if separate_cams:
        return CamShift(
            shift=None,
            intake=single.get("inlet"),
            exhaust=single.get("exhaust"),
            teeth=None,
            teeth_intake=teeth.get("inlet"),
            teeth_exhaust=teeth.get("exhaust"),
            chance=ShiftChance(grid, np.mean([c / c.sum() for c in chances.values()], axis=0)),
        )
    together = np.prod(np.stack(list(chances.values())), axis=0)
    return CamShift(
        shift=_interval(grid, together),
        intake=single.get("inlet"),
        exhaust=single.get("exhaust"),
        teeth=_teeth(grid, together, profile),
        chance=ShiftChance(grid, np.asarray(together)),
        notices=_apart(plain),
    )


def _gap_prior(
    profile: Profile, kind: Kind, ramp: Ramp, *, clearances_set: bool
) -> tuple[FloatArray, FloatArray]:
    """How much wider than stated the gap may be, mm, and with what weight."""
    valves = profile.valves
    said = None
    if valves is not None:
        said = valves.clearance_inlet_mm if kind == "inlet" else valves.clearance_exhaust_mm
    hydraulic = valves is not None and valves.lifters == "hydraulic"
    gaps = np.linspace(-ramp.clearance_mm, 4 * ASTRAY_SIGMA_MM, 400)
    if hydraulic or clearances_set:
        weights = _normal(gaps, SET_SIGMA_MM)
    else:
        near = UNKNOWN_SIGMA_MM if said is None else STATED_SIGMA_MM
        weights = (1 - ASTRAY_SHARE) * _normal(gaps, near)
        weights += ASTRAY_SHARE * _normal(gaps, ASTRAY_SIGMA_MM)
    return gaps, weights / weights.sum()


def _normal(away: FloatArray, sigma: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (away / sigma) ** 2) / sigma)


def _chances(
    grid: FloatArray, at_deg: FloatArray, weights: FloatArray, sigma_deg: float
) -> FloatArray:
    """Likelihood of each shift, summed over the gap, but for a constant."""
    kept = weights > weights.max() * 1e-6
    each = _normal(grid[:, None] - at_deg[None, kept], sigma_deg)
    return np.asarray(each @ weights[kept])


def _interval(grid: FloatArray, chance: FloatArray) -> Interval:
    """Median and 95 % interval for a shift of which nothing was known before."""
    below = np.cumsum(chance) / chance.sum()
    low, high = np.interp(TAILS_95, below, grid)
    value = np.interp(0.5, below, grid)
    return Interval(float(value), float(low), float(high))


def _teeth(grid: FloatArray, chance: FloatArray, profile: Profile) -> Teeth | None:
    """Return the most probable whole teeth.

    The probability is the lesser of two: with what is known of sprockets before, and from the
    measured shift alone, whose interval has to carry it.
    """
    if profile.cam_drive is None:
        return None
    tooth_deg = tooth_crank_deg(profile.cam_drive)
    each: dict[int, float] = {}
    for count, prior in CAM_TEETH_PRIORS.items():
        for teeth in {count, -count}:
            away = grid - teeth * tooth_deg
            fitted = _normal(away, FITTED_SIGMA_DEG) / np.sqrt(2 * np.pi)
            anywhere = (np.abs(away) <= tooth_deg / 2) / tooth_deg
            shape = (1 - CAM_OFF_SHARE) * fitted + CAM_OFF_SHARE * anywhere
            each[teeth] = prior * float(np.sum(chance * shape))
    best = max(each, key=lambda teeth: each[teeth])
    known = each[best] / sum(each.values())
    inside = np.abs(grid - best * tooth_deg) <= tooth_deg / 2
    measured = float(chance[inside].sum() / chance.sum())
    return Teeth(best, min(known, measured))


def _apart(plain: dict[Kind, tuple[float, float]]) -> tuple[Notice, ...]:
    """Say so where the two valves disagree as wide or tight clearance makes them."""
    if len(plain) < 2:
        return ()
    (inlet, inlet_sigma), (exhaust, exhaust_sigma) = plain["inlet"], plain["exhaust"]
    apart = exhaust - inlet
    if abs(apart) <= APART_SIGMAS * np.hypot(inlet_sigma, exhaust_sigma):
        return ()
    return (notice("clearance", inlet_deg=inlet, exhaust_deg=exhaust),)


ANSWER_DEG = 5.0
"""Wider than this nobody could act on it."""


def wanted_half_width_deg(profile: Profile) -> float:
    """Return the half width up to which a shift is an answer: a third of a tooth, or 5 degrees."""
    if profile.cam_drive is None:
        return ANSWER_DEG
    return tooth_crank_deg(profile.cam_drive) / 3


NO_SHIFT = CamShift(None, None, None, None)
"""No event, or nothing to hold it against."""
