"""Which stretches of a recording show a valve event, and what would they show with it shut?"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Literal

import numpy as np

from strokewise.analysis.cam.valve_flow import Cylinder, Spans
from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.kinematics import stroke_ratio, travel
from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.closed_cycle import Gas, Runs, Surroundings, pressures
from strokewise.analysis.tdc.coarse import FINE_PASSES, best_passes
from strokewise.analysis.tdc.fit import FINAL, fit_passes
from strokewise.analysis.tdc.priors import surroundings_of
from strokewise.analysis.trace.nodes import STEP_NOISE_SHARE
from strokewise.analysis.trace.passes import Pass, passes_about
from strokewise.analysis.trade import TRAPPED_WARMER_K, WARM_AIR_K
from strokewise.analysis.valves.base_circle import Kind
from strokewise.analysis.verdict.judge import Judgement

EventName = Literal["intake closes", "exhaust opens"]

KIND_OF: dict[EventName, Kind] = {"intake closes": "inlet", "exhaust opens": "exhaust"}

OPEN_SIDE: dict[EventName, int] = {"intake closes": -1, "exhaust opens": 1}
"""The valve is open before it closes, and after it opens."""

WIDEST_DEG = (45.0, 215.0)
"""Looked at from here to there, away from the firing TDC: from well closed to well open."""

CLOSED_WAY_DEG, OPEN_WAY_DEG = 42.0, 75.0
"""How far on either side of the seat the model is fitted: further into the closed part, heat loss
and leakage change the exponent; further into the open one there is nothing to see."""

LEAST_WAY_DEG = 20.0
"""A pass that does not reach so far on both sides of the seat tells nothing about it."""

INTAKE_EXPONENT: dict[bool, float] = {False: 1.37, True: 1.20}
"""Polytropic exponent of a fresh charge, cranked and by hand: adiabatic less what walls and rings
take (common practice, no source)."""

CARRIED_FROM_DEG = -60.0
"""The closed cycle is carried on from here, where every inlet has shut: later than the latest seat
looked for."""

FRESH_FROM_DEG = 10.0
"""The fresh charge is carried on from so long before the inlet's seat, where it begins to feel
it."""

ADIABATIC = 0.2857
"""(γ - 1) / γ: the power of pressure with which a charge warms when it is squeezed fast."""

CLEAR_DEG = 6.0
"""The closed part ends so far from the valves' seats: they leak a little before."""

RIG_VALUES = (
    "tdc_deg",
    "wobble_deg",
    "delay_s",
    "lag_s",
    "log_gain",
    "zero_bar",
    "drift_bar_s",
)
"""What belongs to encoder and sensor and not to the gas; its angle is corrected already."""

LEAST_AIR_BAR = 0.05
"""No cylinder is emptier: a zero or a fit that says less is off, and has no logarithm."""

SURELY_OPEN_DEG = 120.0
"""Where nothing is known of a seat, the pass must reach here: every valve stands open or opens."""

LOST_AT_DEG = 60.0
"""Shut on both sides, whatever the cam."""

OVERLAP_ENDS_DEG = (50.0, 75.0)
"""So far before and after the overlap TDC one valve alone stands open, whatever the cam."""

LEAST_NODES = 8
"""A stretch of fewer nodes holds no event."""

HAND_RPM = 80.0
"""Below this the gas has time to take the wall's temperature."""

MODEL_SHARE = 0.004
"""Share of the pressure that the model is not trusted with."""


@dataclass(frozen=True, slots=True)
class Cycles:
    """The cycles of one cylinder, from inlet to exhaust, with what the closed parts told.

    Attributes
    ----------
    passes : tuple of Pass
        Compressions turned the engine's own way, out to where the valves stand wide open.
    values : dict of str to float
        The fitted closed cycle's parameters, the median of the passes.
    overlap_fall_bar : float or None
        As :func:`overlap_fall_bar` has it.
    """

    passes: tuple[Pass, ...]
    values: dict[str, float]
    around: Surroundings
    tdc_sigma_deg: float
    overlap_fall_bar: float | None = None

    @property
    def by_hand(self) -> bool:
        """Turned so slowly that the gas takes the wall's temperature."""
        return median([p.speed_rpm for p in self.passes]) < HAND_RPM

    @property
    def lost(self) -> float:
        """How much lower the pressure is after TDC than as far before it, ln, median; 0 unknown.

        Heat and leakage in one figure: a sound cylinder cranked loses 0.2 to 0.4, a worn one 1.
        """
        ratios = []
        for item in self.passes:
            away = item.angle_deg - item.tdc_deg
            if away[0] <= -LOST_AT_DEG and away[-1] >= LOST_AT_DEG:
                pair = np.interp([-LOST_AT_DEG, LOST_AT_DEG], away, item.pressure_bar)
                before, after = np.maximum(pair - self.values["zero_bar"], LEAST_AIR_BAR)
                ratios.append(float(np.log(before / after)))
        return max(0.0, median(ratios)) if ratios else 0.0

    @property
    def cylinder(self) -> Cylinder:
        """The cylinder as the valve's model needs it."""
        return Cylinder(
            rod_ratio=float(np.exp(self.values["log_rod"])),
            pin_offset_ratio=self.values["pin_offset"],
            clearance_share=float(np.exp(-self.values["log_clearance"])),
            lag_s=self.values["lag_s"],
        )


def cycles_of(judgement: Judgement, profile: Profile, most: int) -> Cycles | None:
    """Return the last cycles of a judgement; None where TDC is not fitted, or only turned back."""
    fit = judgement.fit
    if fit is None:
        return None
    tdc = fit.tdc_deg.value
    turns = {round((p.tdc_deg - tdc) / 360.0) for p in judgement.passes}
    found = passes_about(
        judgement.nodes, judgement.runs, tdc, before_deg=WIDEST_DEG[1], after_deg=WIDEST_DEG[1]
    )
    own_way = [p for p in found if p.forward and round((p.tdc_deg - tdc) / 360.0) in turns]
    if not own_way:
        return None
    values = {name: median(each) for name, each in fit.values.items()}
    return Cycles(
        tuple(own_way)[-most:],
        values,
        surroundings_of(profile),
        fit.sigma_deg,
        overlap_fall_bar(judgement),
    )


def overlap_fall_bar(judgement: Judgement) -> float | None:
    """Return by how much the pressure falls across the overlap, median; None where none is seen.

    From the exhaust's port to the inlet's: next to nothing with the throttle open.
    """
    fit = judgement.fit
    if fit is None or not judgement.passes:
        return None
    near, far = OVERLAP_ENDS_DEG
    found = passes_about(
        judgement.nodes,
        judgement.runs,
        judgement.passes[-1].tdc_deg + 360.0,
        before_deg=far,
        after_deg=far,
    )
    falls = []
    for item in found:
        away = item.angle_deg - item.tdc_deg
        before, after = away <= -near, away >= near
        if item.forward and item.turn % 2 == 0 and before.any() and after.any():
            bar = item.pressure_bar
            falls.append(median(bar[before]) - median(bar[after]))
    return median(falls) if falls else None


def refitted(
    judgement: Judgement,
    cycles: Cycles,
    profile: Profile,
    sensor: Sensor,
    closes_deg: float | None,
    opens_deg: float | None,
) -> Cycles | None:
    """Return the cycles with the closed part fitted again between the valves' seats.

    None where the first fit kept clear of the valves already.
    """
    fit = judgement.fit
    if fit is None:
        return None
    used = fit.runs.angle_deg
    before, after = -float(used.min()), float(used.max())
    clear_before = before if closes_deg is None else min(before, -closes_deg - CLEAR_DEG)
    clear_after = after if opens_deg is None else min(after, opens_deg - CLEAR_DEG)
    if clear_before > before - 1.0 and clear_after > after - 1.0:
        return None
    tdc = fit.tdc_deg.value
    turns = {round((p.tdc_deg - tdc) / 360.0) for p in cycles.passes}
    found = passes_about(
        judgement.nodes, judgement.runs, tdc, before_deg=clear_before, after_deg=clear_after
    )
    closed = tuple(p for p in found if p.forward and round((p.tdc_deg - tdc) / 360.0) in turns)
    if not closed:
        return None
    again = fit_passes(best_passes(closed, FINE_PASSES), profile, sensor, start=fit, stage=FINAL)
    moved = nearest(again.tdc_deg.value - tdc, 360.0)  # the fit may speak of another turn
    passes = tuple(replace(p, tdc_deg=p.tdc_deg + moved) for p in cycles.passes)
    values = {name: median(each) for name, each in again.values.items()}
    return replace(cycles, passes=passes, values=values, tdc_sigma_deg=again.sigma_deg)


def reaching(cycles: Cycles, name: EventName, seat_deg: float | None) -> Cycles | None:
    """Return the cycles that reach far enough on both sides of a seat, None where none does."""
    seat = OPEN_SIDE[name] * SURELY_OPEN_DEG if seat_deg is None else seat_deg
    kept = []
    for item in cycles.passes:
        away = item.angle_deg - item.tdc_deg
        if away.min() <= seat - LEAST_WAY_DEG and away.max() >= seat + LEAST_WAY_DEG:
            kept.append(item)
    return replace(cycles, passes=tuple(kept)) if kept else None


def spans_of(
    cycles: Cycles, name: EventName, seat_deg: float | None, share: float = MODEL_SHARE
) -> Spans | None:
    """Lay the stretches about an event side by side; the whole way where no seat is given yet."""
    side = OPEN_SIDE[name]
    low, high = sorted(side * edge for edge in WIDEST_DEG)
    if seat_deg is not None:
        ends = sorted((seat_deg - side * CLOSED_WAY_DEG, seat_deg + side * OPEN_WAY_DEG))
        low, high = max(low, ends[0]), min(high, ends[1])
    rows: list[tuple[FloatArray, ...]] = []
    for item in cycles.passes:
        angle = _crank_deg(item, cycles)
        inside = np.flatnonzero((angle >= low) & (angle <= high))
        if len(inside) < LEAST_NODES:
            continue
        part = slice(int(inside[0]), int(inside[-1]) + 1)
        nodes = item.nodes
        pressure = nodes.pressure_bar[part]
        white = np.hypot(nodes.noise_bar, STEP_NOISE_SHARE * nodes.step_bar) / np.sqrt(
            nodes.count[part]
        )
        sigma = np.sqrt(white**2 + (0.1 * nodes.step_bar) ** 2 + (share * pressure) ** 2)
        line = _shut_line(item, angle, cycles, name, seat_deg)
        used = (~nodes.clipped[part]).astype(np.float64)
        rows.append((nodes.time_s[part], angle[part], line[part], pressure, sigma, used))
    if not rows:
        return None
    longest = max(len(row[0]) for row in rows)

    def padded(at: int, mode: Literal["edge", "constant"] = "edge") -> FloatArray:
        return np.stack([np.pad(row[at], (0, longest - len(row[at])), mode=mode) for row in rows])

    return Spans(
        time_s=padded(0),
        angle_deg=padded(1),
        log_shut=padded(2),
        pressure_bar=padded(3),
        sigma_bar=padded(4),
        used=padded(5, "constant") > 0,
    )


def log_volume(angle_deg: FloatArray, cylinder: Cylinder) -> FloatArray:
    """Return ln of the volume over the displacement."""
    shape = {"rod_ratio": cylinder.rod_ratio, "pin_offset_ratio": cylinder.pin_offset_ratio}
    down = travel(angle_deg, **shape) / stroke_ratio(**shape)
    return np.asarray(np.log(down + cylinder.clearance_share))


def _crank_deg(item: Pass, cycles: Cycles) -> FloatArray:
    """True crank angle after TDC: the angle's delay and the clamp's wobble taken out as fitted."""
    seen = item.angle_deg - item.tdc_deg
    wobble = cycles.values["wobble_deg"] * (1.0 - np.cos(np.radians(seen)))
    return np.asarray(seen - item.nodes.speed_deg_s * cycles.values["delay_s"] + wobble)


def _shut_line(
    item: Pass, angle_deg: FloatArray, cycles: Cycles, name: EventName, seat_deg: float | None
) -> FloatArray:
    """ln pressure with the valve shut, but for a constant.

    After a compression the fitted closed cycle is carried on to beyond the exhaust's opening. A
    fresh charge is carried on from about its trapping, once that is roughly known; before, and
    while guessing, a polytrope does.
    """
    if name == "exhaust opens":
        first = _first_after(angle_deg, CARRIED_FROM_DEG)
        hot = 0.0 if cycles.by_hand else ADIABATIC
        carried = _carried(item, angle_deg, cycles, first, hot)
        return np.concatenate([np.full(first, carried[0]), carried])
    line = -INTAKE_EXPONENT[cycles.by_hand] * log_volume(angle_deg, cycles.cylinder)
    if seat_deg is None:
        return line
    first = _first_after(angle_deg, seat_deg - FRESH_FROM_DEG)
    carried = _carried(item, angle_deg, cycles, first, 0.0)
    return np.concatenate([line[:first] - line[first] + carried[0], carried])


def _first_after(angle_deg: FloatArray, at_deg: float) -> int:
    return min(int(np.argmax(angle_deg >= at_deg)), len(angle_deg) - 2)


def _carried(
    item: Pass, angle_deg: FloatArray, cycles: Cycles, first: int, hot: float
) -> FloatArray:
    """ln pressure of the fitted closed cycle from node ``first`` on, with the pressure there.

    ``hot`` is the power of that pressure with which the gas has warmed up until then.
    """
    start_bar = max(float(item.pressure_bar[first]) - cycles.values["zero_bar"], 0.1)
    fresh_k = cycles.around.atmosphere_k + TRAPPED_WARMER_K
    warm = np.log(fresh_k / WARM_AIR_K) + hot * max(np.log(start_bar), 0.0)
    values = cycles.values | dict.fromkeys(RIG_VALUES, 0.0)
    one = {each.name: np.array([[values.get(each.name, 0.0)]]) for each in fields(Gas)}
    one |= {"log_start": np.full((1, 1), np.log(start_bar)), "log_warm": np.full((1, 1), warm)}
    part = slice(first, None)
    runs = Runs(
        time_s=item.time_s[None, part],
        angle_deg=angle_deg[None, part],
        speed_deg_s=item.nodes.speed_deg_s[None, part],
        pressure_bar=item.pressure_bar[None, part],
        sigma_bar=np.ones((1, len(angle_deg) - first)),
        used=np.ones((1, len(angle_deg) - first), np.bool_),
    )
    shown = pressures(runs, Gas(**one), cycles.around)[0, 0]
    return np.asarray(np.log(np.maximum(shown, 1e-3)))
