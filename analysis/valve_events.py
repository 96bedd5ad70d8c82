"""When does the inlet shut and the exhaust open? Valve events from the pressure of one cylinder.

Where the valve is open the cylinder follows its port; where it is shut it follows the closed cycle.
Between the two the pressure leaves one line for the other while the valve still has a little lift,
the earlier the faster the engine turns. The model of :mod:`strokewise.analysis.valve_flow` is
fitted to all passes at once, so the angle found is that of the seat, not of the bend in the trace.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from strokewise.analysis.angle import FloatArray
from strokewise.analysis.estimate import Interval
from strokewise.analysis.judge import Judgement
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.valve_flow import Passage, Spans, passage_pressures
from strokewise.analysis.valve_ramp import Ramp, ramp_of
from strokewise.analysis.valve_spans import (
    INTAKE_EXPONENT,
    KIND_OF,
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

SEATS_DEG = (62.0, 188.0)
"""A valve that seats outside of this would not let the engine run, nor let TDC be found."""

SCAN_DEG = 2.0
"""First guesses are so far apart: the fit finds its way over several degrees."""

SCAN_SHARE = 0.05
"""Share of the pressure that the model is not trusted with while guessing."""

PORT_SIGMA = 0.04
"""Sigma of ln port pressure from pass to pass: waves and a throttle."""

ZERO_SIGMA_BAR = 0.02
"""What the sensor's zero may still be off by after the fit of the closed part."""

TILT_SIGMA: dict[tuple[EventName, bool], float] = {
    ("intake closes", False): 0.05,
    ("exhaust opens", False): 0.03,
    ("intake closes", True): 0.15,
    ("exhaust opens", True): 0.10,
}
"""How far that, or the fitted closed cycle carried on beyond its own passes, may be off."""

BEND_SIGMA = 0.4
ROBUST_AT = 3.0

FLOOR_DEG: dict[EventName, float] = {"intake closes": 0.4, "exhaust opens": 0.6}
"""No event is surer than this sigma: lift curves, port waves and losses are simplified. Measured on
bench engines with other lobes, heads and correlations of heat loss."""

LOST_SIGMA_DEG = 1.0
"""Added in square to the exhaust's for each unit, ln, that the compression has lost: losses are
fitted about TDC and less well known so far down the stroke. Measured in the same way."""

PASSES_MOST = 10

OUTERMOST_DEG = 25.0
"""So much of the open stretch shows the port's pressure."""

LEAST_BAR = 0.05
"""No port and no cylinder stands lower; a zero that is off could say so."""

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
        closed part to the open one.
    """
    whole = cycles_of(judgement, profile, most_passes)
    if whole is None:
        return ()
    found = _events_in(whole, profile)
    closed = refitted(judgement, whole, profile, sensor, *_seats(found))
    return found if closed is None else _events_in(closed, profile)


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
        problem = _Problem(spans, near, name, ramp, seat)
        event = problem.answer(problem.solve(), near.tdc_sigma_deg)
        seat = event.seat_deg.value
    # a fit that ran out of the range in which valves seat has found nothing
    return event if event and SEATS_DEG[0] <= abs(event.seat_deg.value) <= SEATS_DEG[1] else None


def _open_level_bar(spans: Spans, side: int) -> FloatArray:
    """Median pressure on the outermost stretch of each span, where its valve is open."""
    away = side * spans.angle_deg
    outer = away >= away.max(axis=1, keepdims=True) - OUTERMOST_DEG
    level = [np.median(bar[row]) for bar, row in zip(spans.pressure_bar, outer, strict=True)]
    return np.maximum(np.asarray(level, np.float64), LEAST_BAR)


def _scan(cycles: Cycles, name: EventName, ramp: Ramp) -> float | None:
    """Return the seat that fits best with everything else at its prior, by plain trial."""
    spans = spans_of(cycles, name, None, SCAN_SHARE)
    if spans is None:
        return None
    seats = OPEN_SIDE[name] * np.arange(SEATS_DEG[0], SEATS_DEG[1] + SCAN_DEG / 2, SCAN_DEG)
    problem = _Problem(spans, cycles, name, ramp, 0.0)
    trials = np.repeat(problem.mean[None], len(seats), axis=0)
    trials[:, 0] = seats
    off = (problem.model(trials) - spans.pressure_bar) / spans.sigma_bar
    off = np.where(spans.used, off, 0.0)
    cost = np.sum(np.log1p((off / ROBUST_AT) ** 2), axis=(1, 2))
    return float(seats[int(np.argmin(cost))])


SHARED = ("seat_deg", "log_flow", "log_bend", "tilt", "zero_bar")
OWN = ("log_port", "log_start")
STEPS = {"seat_deg": 0.05, "log_flow": 0.02, "log_bend": 0.02, "tilt": 0.002,
         "zero_bar": 0.002, "log_port": 0.002, "log_start": 0.002}  # fmt: skip


class _Problem:
    """The least-squares problem of one event: what all spans share, and what is their own."""

    def __init__(
        self, spans: Spans, cycles: Cycles, name: EventName, ramp: Ramp, seat_deg: float
    ) -> None:
        self.spans, self.cylinder, self.name = spans, cycles.cylinder, name
        self.side = OPEN_SIDE[name]
        self.by_hand = cycles.by_hand
        self.exponent = INTAKE_EXPONENT[cycles.by_hand]
        level = np.log(_open_level_bar(spans, self.side))
        start = np.log(np.maximum(spans.pressure_bar[:, 0], LEAST_BAR))
        shared = [seat_deg, np.log(ramp.flow), np.log(ramp.bend), 0.0, 0.0]
        self.mean = np.concatenate([shared, level, start])
        tilt = TILT_SIGMA[name, cycles.by_hand]
        self.floor_deg = FLOOR_DEG[name]
        if name == "exhaust opens":
            self.floor_deg = float(np.hypot(self.floor_deg, LOST_SIGMA_DEG * cycles.lost))
        spread = [60.0, ramp.flow_sigma, BEND_SIGMA, tilt, ZERO_SIGMA_BAR]
        self.sigma = np.concatenate([spread, np.full(2 * len(level), PORT_SIGMA)])

    def passage(self, x: FloatArray) -> Passage:
        count = len(self.spans.time_s)
        values = {name: x[:, i : i + 1] for i, name in enumerate(SHARED)}
        for j, name in enumerate(OWN):
            begin = len(SHARED) + j * count
            values[name] = x[:, begin : begin + count]
        return Passage(**values)

    def model(self, x: FloatArray) -> FloatArray:
        return passage_pressures(self.spans, self.cylinder, self.passage(x), self.side)

    def residuals(self, x: FloatArray) -> FloatArray:
        off = (self.model(x[None])[0] - self.spans.pressure_bar) / self.spans.sigma_bar
        data = np.where(self.spans.used, off, 0.0)
        return np.concatenate([data.ravel(), (x - self.mean) / self.sigma])

    def jacobian(self, x: FloatArray) -> FloatArray:
        """Derivative by forward differences, each span's own parameters moved together."""
        count, names = len(self.spans.time_s), (*SHARED, *OWN)
        variants = np.repeat(x[None], 1 + len(names), axis=0)
        places = [slice(i, i + 1) for i in range(len(SHARED))]
        places += [
            slice(len(SHARED) + j * count, len(SHARED) + (j + 1) * count) for j in range(len(OWN))
        ]
        for i, (name, place) in enumerate(zip(names, places, strict=True)):
            variants[1 + i, place] += STEPS[name]
        model = self.model(variants)
        weight = np.where(self.spans.used, 1.0 / self.spans.sigma_bar, 0.0)
        rows = np.zeros((*weight.shape, len(x)))
        for i, name in enumerate(names):
            change = (model[1 + i] - model[0]) / STEPS[name] * weight
            if i < len(SHARED):
                rows[:, :, i] = change
            else:
                for item in range(count):
                    rows[item, :, places[i].start + item] = change[item]
        return np.vstack([rows.reshape(-1, len(x)), np.diag(1.0 / self.sigma)])

    def solve(self) -> FloatArray:
        found = least_squares(
            self.residuals,
            self.mean,
            jac=self.jacobian,
            loss="soft_l1",
            f_scale=ROBUST_AT,
            x_scale=self.sigma,
            max_nfev=40,
        )
        return np.asarray(found.x)

    def answer(self, x: FloatArray, tdc_sigma_deg: float) -> ValveEvent:
        off = self.residuals(x)[: -len(x)].reshape(self.spans.used.shape)
        bent = np.sign(off) * np.sqrt(2.0 * (np.sqrt(1.0 + (off / ROBUST_AT) ** 2) - 1.0))
        bent *= ROBUST_AT
        used = self.spans.used
        power = float(np.sum(bent[used] ** 2))
        cost = power / max(1, int(used.sum()))
        pair = used[:, 1:] & used[:, :-1]
        tied = float(np.sum((bent[:, 1:] * bent[:, :-1])[pair]) / power) if power > 0 else 0.0
        tied = float(np.clip(tied, 0.0, 0.95))
        # residuals that hang together carry less: fewer independent nodes by (1-r)/(1+r)
        inflate = max(cost, 0.3) * (1.0 + tied) / (1.0 - tied)
        rows = self.jacobian(x)[: -len(x)]
        covariance = np.linalg.inv(rows.T @ rows / inflate + np.diag(1.0 / self.sigma**2))
        sigma = float(np.sqrt(covariance[0, 0] + self.floor_deg**2 + tdc_sigma_deg**2))
        return ValveEvent(
            name=self.name,
            seat_deg=Interval.from_sigma(float(x[0]), sigma),
            sigma_deg=sigma,
            felt_deg=self._felt_deg(x),
            passes=len(self.spans.time_s),
            by_hand=self.by_hand,
            cost=cost,
        )

    def _felt_deg(self, x: FloatArray) -> float | None:
        """Median over the spans turned the engine's own way of where the event is felt."""
        flow = self.model(x[None])[0] - x[4]
        if self.side < 0:
            found = self._trapped_deg(x, flow)
        else:
            shut = x.copy()
            shut[1] = NO_FLOW
            gone = np.abs(flow - (self.model(shut[None])[0] - x[4])) >= FELT_BAR
            found = [
                float(angle[int(np.argmax(row))])
                for angle, row in zip(self.spans.angle_deg, gone, strict=True)
                if row.any() and angle[-1] > angle[0]
            ]
        return float(np.median(found)) if found else None

    def _trapped_deg(self, x: FloatArray, true_bar: FloatArray) -> list[float]:
        """Where the closed line, followed back from well after closing, meets the port."""
        ports = np.exp(x[len(SHARED) :][: len(true_bar)])
        grid = np.arange(-180.0, -WIDEST_DEG[0], 0.1)
        space = log_volume(grid, self.cylinder)
        found = []
        for angle, bar, port in zip(self.spans.angle_deg, true_bar, ports, strict=True):
            if angle[-1] < angle[0]:
                continue
            end = float(np.interp(angle[-1], grid, space))
            line = np.log(bar[-1]) + (self.exponent + x[3]) * (end - space)
            found.append(float(np.interp(np.log(port), line, grid)))
        return found
