"""When does the inlet shut and the exhaust open? Valve events from the pressure of one cylinder.

Where the valve is open the cylinder follows its port; where it is shut it follows the closed cycle.
Between the two the pressure leaves one line for the other while the valve still has a little lift,
the earlier the faster the engine turns. The model of :mod:`strokewise.analysis.cam.valve_flow` is
fitted to all passes at once, so the angle found is that of the seat, not of the bend in the trace.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.cam.valve_flow import Passage, Spans, passage_pressures
from strokewise.analysis.cam.valve_ramp import Ramp, ramp_of
from strokewise.analysis.cam.valve_spans import (
    INTAKE_EXPONENT,
    KIND_OF,
    LEAST_AIR_BAR,
    OPEN_SIDE,
    WIDEST_DEG,
    Cycles,
    EventName,
    cycles_of,
    log_volume,
    reaching,
    refitted,
    spans_of,
)
from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.shared_fit import FitParameter, SharedFit
from strokewise.analysis.verdict.judge import Judgement

SEATS_DEG = (62.0, 188.0)
"""A valve that seats outside of this would not let the engine run, nor let TDC be found."""

SCAN_DEG = 2.0
"""First guesses are so far apart: the fit finds its way over several degrees."""

SCAN_SHARE = 0.05
"""Share of the pressure that the model is not trusted with while guessing."""

PORT_SIGMA = 0.04
"""Sigma of ln port pressure from pass to pass: waves and a throttle."""

STEADY_SIGMA, RISE_FOR_FALL = 0.002, 2.0
"""Sigma of the port's rise, ln: next to nothing with the throttle open. With it shut, other
cylinders empty the manifold and the throttle fills it while the inlet shuts, by more the deeper the
pressure falls across the overlap, in bar."""

FALL_SIGMA_DEG = 20.0
"""Added in square to the inlet's closing for each bar of that fall, and the most of it with which a
closing is given: measured on bench engines with throttles from shut to open, of which those of one
or two cylinders to a manifold were wrong by tens of degrees beyond."""
MOST_FALL_BAR = 0.06

EVENT_ZERO_SIGMA_BAR = 0.02
"""What the sensor's zero may still be off by after the fit of the closed part."""

TILT_SIGMA: dict[tuple[EventName, bool], float] = {
    ("intake closes", False): 0.05,
    ("exhaust opens", False): 0.03,
    ("intake closes", True): 0.15,
    ("exhaust opens", True): 0.10,
}
"""How far that, or the fitted closed cycle carried on beyond its own passes, may be off."""

BEND_SIGMA = 0.4

SEAT_SIGMA_DEG = 60.0
"""About a first guess: as good as nothing."""

MOST_SIGMA_DEG = 15.0
"""An event less sure than this leaves every tooth open, and says nothing that a prior does not."""

FLOOR_DEG: dict[EventName, float] = {"intake closes": 0.4, "exhaust opens": 0.6}
"""No event is surer than this sigma: lift curves, port waves and losses are simplified. Measured on
bench engines with other lobes, heads and correlations of heat loss."""

HAND_FLOOR_DEG = 0.9
"""Added in square to either by hand: how the charge leaks and takes heat meanwhile. Set on random
bench engines turned by spanner, whose intervals were too narrow by a third where they were
narrow."""

LOST_SIGMA_DEG = 1.0
"""Added in square to the exhaust's for each unit, ln, that the compression has lost: losses are
fitted about TDC and less well known so far down the stroke. Measured in the same way."""

PASSES_MOST = 10

OUTERMOST_DEG = 25.0
"""So much of the open stretch shows the port's pressure."""

FELT_BAR = 0.02
"""What a fair sensor resolves."""

NO_FLOW = -30.0
"""ln F of a valve that stays shut."""


@dataclass(frozen=True, slots=True)
class ValveEvent:
    """One valve event as the pressure shows it.

    Attributes
    ----------
    seat_deg : Interval
        Crank degrees after the firing TDC of the sensed cylinder at which the valve seats.
    felt_deg : float or None
        Where the gas feels it: the closed line of the trapped charge meets the port's pressure, or
        an opening valve has moved the pressure by ``FELT_BAR``. None for passes turned back only.
    sigma_deg : float
        Of the seat, the TDC's own included.
    passes : int
    by_hand : bool
        Turned so slowly that leakage and heat have their time.
    cost : float
        Robust sum of squares for each node; near 1 where the model fits.
    """

    name: EventName
    seat_deg: Interval
    sigma_deg: float
    felt_deg: float | None
    passes: int
    cost: float
    by_hand: bool = False


def valve_events(
    judgement: Judgement, profile: Profile, sensor: Sensor, *, most_passes: int = PASSES_MOST
) -> tuple[ValveEvent, ...]:
    """Return the valve events that the compressions of a judgement show, one of a kind.

    Where a valve turns out open in the part that the TDC was fitted to, as with a cam teeth out,
    the closed cycle is fitted again between the valves, and the events with it.

    Returns
    -------
    tuple of ValveEvent
        Empty where TDC is not fitted, or no pass turned the engine's own way reaches from the
        closed part to the open one. Without the inlet's closing where the throttle is shut.
    """
    whole = cycles_of(judgement, profile, most_passes)
    if whole is None:
        return ()
    found = _events_in(whole, profile)
    closed = refitted(judgement, whole, profile, sensor, *_seats(found))
    if closed is not None:
        found = _events_in(closed, profile)
    if throttled(whole.overlap_fall_bar):
        return tuple(event for event in found if event.name != "intake closes")
    return found


def throttled(overlap_fall_bar: float | None) -> bool:
    """Return whether the manifold stands too low, and so moves too much, for the inlet's closing.

    Where no overlap is seen it is taken as open.
    """
    return overlap_fall_bar is not None and overlap_fall_bar > MOST_FALL_BAR


def _events_in(whole: Cycles, profile: Profile) -> tuple[ValveEvent, ...]:
    events = (_event(whole, profile, name) for name in OPEN_SIDE)
    return tuple(event for event in events if event is not None)


def _seats(events: tuple[ValveEvent, ...]) -> tuple[float | None, float | None]:
    at = {event.name: event.seat_deg.value for event in events}
    return at.get("intake closes"), at.get("exhaust opens")


def _event(whole: Cycles, profile: Profile, name: EventName) -> ValveEvent | None:
    near = reaching(whole, name, None)
    if near is None:
        return None
    ramp = ramp_of(profile, KIND_OF[name])
    seat = _scan(near, name, ramp)
    event = None
    for _ in range(2):  # the second time about the seat found the first time
        near = None if seat is None else reaching(whole, name, seat)
        spans = None if near is None else spans_of(near, name, seat)
        if near is None or spans is None or seat is None:
            return None
        problem = _EventProblem(spans, near, name, ramp, seat)
        event = problem.answer(near.tdc_sigma_deg)
        seat = event.seat_deg.value
    # a fit that ran out of the range in which valves seat, or to its prior, has found nothing
    if event is None or event.sigma_deg > MOST_SIGMA_DEG:
        return None
    return event if SEATS_DEG[0] <= abs(event.seat_deg.value) <= SEATS_DEG[1] else None


def _open_level_bar(spans: Spans, side: int) -> FloatArray:
    """Median pressure on the outermost stretch of each span, where its valve is open."""
    away = side * spans.angle_deg
    outer = away >= away.max(axis=1, keepdims=True) - OUTERMOST_DEG
    level = [median(bar[row]) for bar, row in zip(spans.pressure_bar, outer, strict=True)]
    return np.maximum(np.asarray(level, np.float64), LEAST_AIR_BAR)


def _scan(cycles: Cycles, name: EventName, ramp: Ramp) -> float | None:
    """Return the seat that fits best with everything else at its prior, by plain trial."""
    spans = spans_of(cycles, name, None, SCAN_SHARE)
    if spans is None:
        return None
    seats = OPEN_SIDE[name] * np.arange(SEATS_DEG[0], SEATS_DEG[1] + SCAN_DEG / 2, SCAN_DEG)
    fit = _EventProblem(spans, cycles, name, ramp, 0.0).fit
    trials = np.repeat(fit.mean[None], len(seats), axis=0)
    trials[:, 0] = seats
    return float(fit.best_of(trials)[0])


class _EventProblem:
    """One event on its stretches: what is unknown of it, with its priors."""

    def __init__(
        self, spans: Spans, cycles: Cycles, name: EventName, ramp: Ramp, seat_deg: float
    ) -> None:
        self.spans, self.cylinder, self.name = spans, cycles.cylinder, name
        self.side = OPEN_SIDE[name]
        self.by_hand = cycles.by_hand
        self.exponent = INTAKE_EXPONENT[cycles.by_hand]
        level = np.log(_open_level_bar(spans, self.side))
        start = np.log(np.maximum(spans.pressure_bar[:, 0], LEAST_AIR_BAR))
        self.floor_deg = FLOOR_DEG[name]
        if cycles.by_hand:
            self.floor_deg = float(np.hypot(self.floor_deg, HAND_FLOOR_DEG))
        if name == "exhaust opens":
            self.floor_deg = float(np.hypot(self.floor_deg, LOST_SIGMA_DEG * cycles.lost))
        rise = STEADY_SIGMA
        if name == "intake closes":
            fall = max(0.0, cycles.overlap_fall_bar or 0.0)
            rise += RISE_FOR_FALL * fall
            self.floor_deg = float(np.hypot(self.floor_deg, FALL_SIGMA_DEG * fall))
        parameters = (
            FitParameter("seat_deg", seat_deg, SEAT_SIGMA_DEG, 0.05),
            FitParameter("log_flow", np.log(ramp.flow), ramp.flow_sigma, 0.02),
            FitParameter("log_bend", np.log(ramp.bend), BEND_SIGMA, 0.02),
            FitParameter("tilt", 0.0, TILT_SIGMA[name, cycles.by_hand], 0.002),
            FitParameter("zero_bar", 0.0, EVENT_ZERO_SIGMA_BAR, 0.002),
            FitParameter("port_rise", 0.0, rise, 0.002),
            FitParameter("log_port", level, PORT_SIGMA, 0.002),
            FitParameter("log_start", start, PORT_SIGMA, 0.002),
        )
        self.fit = SharedFit(
            parameters, self.model, spans.pressure_bar, spans.sigma_bar, spans.used
        )

    def model(self, values: Mapping[str, FloatArray]) -> FloatArray:
        return passage_pressures(self.spans, self.cylinder, Passage(**values), self.side)

    def answer(self, tdc_sigma_deg: float) -> ValveEvent:
        fitted = self.fit.solve()
        sigma = float(np.sqrt(fitted.covariance[0, 0] + self.floor_deg**2 + tdc_sigma_deg**2))
        return ValveEvent(
            name=self.name,
            seat_deg=Interval.from_sigma(float(fitted.x[0]), sigma),
            sigma_deg=sigma,
            felt_deg=self._felt_deg(fitted.values),
            passes=len(self.spans.time_s),
            by_hand=self.by_hand,
            cost=fitted.cost,
        )

    def true_bar(self, values: Mapping[str, FloatArray]) -> FloatArray:
        """Pressure as fitted, the sensor's zero taken out, (spans, k)."""
        one = {name: each[None] for name, each in values.items()}
        return np.asarray(self.model(one)[0] - values["zero_bar"])

    def _felt_deg(self, values: Mapping[str, FloatArray]) -> float | None:
        """Median over the spans turned the engine's own way of where the event is felt."""
        flow = self.true_bar(values)
        if self.side < 0:
            found = self._trapped_deg(values, flow)
        else:
            shut = {**values, "log_flow": np.array([NO_FLOW])}
            gone = np.abs(flow - self.true_bar(shut)) >= FELT_BAR
            found = [
                float(angle[int(np.argmax(row))])
                for angle, row in zip(self.spans.angle_deg, gone, strict=True)
                if row.any() and angle[-1] > angle[0]
            ]
        return median(found) if found else None

    def _trapped_deg(self, values: Mapping[str, FloatArray], true_bar: FloatArray) -> list[float]:
        """Where the closed line, followed back from well after closing, meets the port."""
        ports, exponent = np.exp(values["log_port"]), self.exponent + values["tilt"][0]
        grid = np.arange(-180.0, -WIDEST_DEG[0], 0.1)
        space = log_volume(grid, self.cylinder)
        found = []
        for angle, bar, port in zip(self.spans.angle_deg, true_bar, ports, strict=True):
            if angle[-1] < angle[0]:
                continue
            end = float(np.interp(angle[-1], grid, space))
            line = np.log(bar[-1]) + exponent * (end - space)
            found.append(float(np.interp(np.log(port), line, grid)))
        return found
