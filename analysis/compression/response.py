"""How slow are sensor and hose at the most? Read from pressure let go at the plug end of the hose.

Let go at once, pressure falls off like exp(-t/τ) through a first-order lag τ. A hand or a valve
takes some time of its own, which only makes the fall slower: so each step gives an upper bound, and
the quickest of several the best one.

Where the fall is sampled finely and is of that form, τ is fitted. Where it is not (a hose that
rings, a slow board), the area under the fall is taken from the last sample that had not fallen yet:
it is the mean delay of any chain of lags, the letting go and a part of a sample's time added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.integrate import trapezoid
from scipy.optimize import least_squares
from scipy.signal import find_peaks

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.median import median
from strokewise.analysis.profile import Sensor
from strokewise.analysis.remark import Notice, Remark, remark
from strokewise.analysis.trace.check import Recorded
from strokewise.analysis.trace.nodes import sample_noise_bar
from strokewise.analysis.trace.trace import Trace, trace_of

STEP_S = 0.02
"""A step is over within this: let go by hand it takes some milliseconds."""

PLATEAU_S = 0.05
"""Before it the pressure stands, and after it, for so long at the least."""

APART_S = 0.2
"""Steps closer together than this are one."""

LEAST_SIGMAS = 50.0
"""A step is higher than so many sigmas of a sample, or its foot drowns in noise."""

LEAST_CONVERTER_STEPS = 20.0

STANDING_SHARE = 0.05
"""Share of the step by which pressure before it may creep (a hose held shut by a thumb leaks)."""

SETTLED_SHARE = 0.03
"""And by which the pressure after it may still move."""

FALLEN_SIGMAS, FALLEN_SHARE = 4.0, 0.01
"""What a sample must have fallen by to have left the top: noise, or a hundredth of the step."""

STANDS_WITHIN_DEG = 3.0
"""The crank stands: a fall while it turns is the engine's, not a hand's."""

FINE_SAMPLES = 4
"""Samples on the slope from which its form can be told."""

SLOPE_FROM, SLOPE_TO = 0.95, 0.05
"""Of the step: above and below, noise decides."""

FORM_SHARE = 0.01
"""Share of the step by which samples may miss a first-order fall of the same τ."""


LEAST_SAMPLES = 16
"""Fewer than this hold no step between two standing levels."""


@dataclass(frozen=True, slots=True)
class PressureStep:
    """One letting go.

    Attributes
    ----------
    time_s : float
        Board time of the last sample before the fall.
    from_bar, to_bar : float
        Pressure before and after; a vacuum let go rises.
    tau_s : float
        Fitted time constant, the letting go included.
    bound_s : float
        What the time constant of sensor and hose is at most.
    fine : bool
        The fall was sampled finely enough, and was of the form, to be fitted.
    """

    time_s: float
    from_bar: float
    to_bar: float
    tau_s: float
    bound_s: float
    fine: bool


@dataclass(frozen=True, slots=True)
class Response:
    """What all steps together say.

    Attributes
    ----------
    response_s : Interval or None
        Seconds. ``high`` is the upper bound, of the quickest step; ``low`` is 0, for nothing tells
        how much of the fall was the letting go itself. None without a step.
    reason : Remark
    steps : tuple of Step
    sample_s : float
        Time from sample to sample.
    """

    response_s: Interval | None
    reason: Remark
    steps: tuple[PressureStep, ...]
    sample_s: float = 0.0


def response_of(traces: Sequence[Trace]) -> Response:
    """Return the upper bound of the response time from every step in one sensor's traces.

    Parameters
    ----------
    traces : sequence of Trace
        One for each segment; pressure may be uncalibrated, only its form counts.
    """
    long = [trace for trace in traces if len(trace) >= LEAST_SAMPLES]
    if not long:
        return Response(None, remark("response-no-samples"), ())
    sample_s = max(_sample_s(trace) for trace in long)
    steps = tuple(step for trace in long for step in steps_of(trace))
    if not steps:
        return Response(None, _why_none(max(long, key=len)), (), sample_s)
    best = min(steps, key=lambda step: step.bound_s)
    interval = Interval(min(best.tau_s, best.bound_s), 0.0, best.bound_s)
    reason = remark(
        "response-step",
        steps=len(steps),
        from_bar=best.from_bar,
        to_bar=best.to_bar,
        bound_s=best.bound_s,
        sample_s=None if best.fine else sample_s,
    )
    return Response(interval, reason, steps, sample_s)


def steps_of(trace: Trace) -> tuple[PressureStep, ...]:
    """Return every letting go, in order of time; empty where there is none."""
    if len(trace) < LEAST_SAMPLES:
        return ()
    sample_s = _sample_s(trace)
    pressure = trace.pressure_bar
    sigma = max(sample_noise_bar(pressure, trace.step_bar), 1e-9)
    least = max(LEAST_SIGMAS * sigma, LEAST_CONVERTER_STEPS * trace.step_bar)
    span, plateau = max(2, round(STEP_S / sample_s)), max(4, round(PLATEAU_S / sample_s))
    if len(pressure) < span + 2 * plateau:
        return ()
    change = np.abs(pressure[span:] - pressure[:-span])
    middles, _ = find_peaks(
        change, height=least, distance=max(1, round(APART_S / sample_s)), plateau_size=1
    )
    found = []
    for start in middles.tolist():
        step = _step(trace, start, span, plateau, sigma)
        if step is not None:
            found.append(step)
    return tuple(found)


def _step(trace: Trace, start: int, span: int, plateau: int, sigma: float) -> PressureStep | None:
    """Return the step within ``span`` samples after ``start``; None where it is none."""
    first, last = start - plateau, start + span + plateau
    if first < 0 or last > len(trace):
        return None
    here = slice(first, last)
    before, after = trace.pressure_bar[first:start], trace.pressure_bar[start + span : last]
    top, foot = median(before[-plateau // 2 :]), median(after)
    height = top - foot
    standing = abs(float(np.mean(before[: plateau // 2]) - np.mean(before[plateau // 2 :])))
    settled = abs(float(np.mean(after[: plateau // 2]) - np.mean(after[plateau // 2 :])))
    noise = 4.0 * sigma / np.sqrt(plateau / 2)
    if standing > STANDING_SHARE * abs(height) + noise or settled > (
        SETTLED_SHARE * abs(height) + noise
    ):
        return None
    if np.ptp(trace.angle_deg[here]) > STANDS_WITHIN_DEG or trace.after_gap[here].any():
        return None
    if trace.clipped[here].any():
        return None
    level = (trace.pressure_bar[start:last] - foot) / height
    time_s = trace.time_s[start:last]
    fallen = np.flatnonzero(level < 1.0 - max(FALLEN_SIGMAS * sigma / abs(height), FALLEN_SHARE))
    if not len(fallen):
        return None
    left = max(int(fallen[0]) - 1, 0)
    return _measured(time_s[left:], level[left:], sigma / abs(height), top, foot)


def _measured(
    time_s: FloatArray, level: FloatArray, sigma: float, top_bar: float, foot_bar: float
) -> PressureStep:
    """Measure a fall from 1 to 0 whose first sample has not fallen yet."""
    clock = time_s - time_s[0]
    ends = int(np.searchsorted(clock, STEP_S))
    clock, level = clock[: ends + 1], level[: ends + 1]
    area = float(trapezoid(level, clock)) + _hidden_s(clock, level, sigma)
    area_sigma = sigma * median(np.diff(clock)) * np.sqrt(len(clock))

    def missed(place: FloatArray) -> FloatArray:
        begins, log_tau = place
        fallen = np.exp(-np.maximum(clock - begins, 0.0) / np.exp(log_tau))
        return np.asarray(fallen - level)

    guess = max(area - 0.5 * clock[1], 0.1 * clock[1])
    fitted = least_squares(
        missed,
        [0.5 * clock[1], np.log(guess)],
        bounds=([-clock[1], np.log(1e-6)], [clock[1], np.log(STEP_S)]),
    )
    tau = float(np.exp(fitted.x[1]))
    rest = float(np.sqrt(np.mean(fitted.fun**2)))
    on_slope = int(np.sum((level < SLOPE_FROM) & (level > SLOPE_TO)))
    fine = on_slope >= FINE_SAMPLES and rest < np.hypot(FORM_SHARE, 2.0 * sigma)
    bound = area + Z_95 * area_sigma
    if fine:
        slope = np.asarray(fitted.jac, np.float64)
        spread = np.linalg.pinv(slope.T @ slope) * max(rest, sigma) ** 2
        bound = min(bound, tau * float(np.exp(Z_95 * np.sqrt(spread[1, 1]))))
    return PressureStep(float(time_s[0]), top_bar, foot_bar, tau, bound, fine)


def _hidden_s(clock: FloatArray, level: FloatArray, sigma: float) -> float:
    """Return how long before the first sample the fall may have begun, too small to be seen.

    Through a chain of up to three lags a fall begins like the cube of time at the most: what has
    fallen eight times as far has fallen for twice as long.
    """
    seen = max(FALLEN_SIGMAS * sigma, FALLEN_SHARE)
    lowest = np.minimum.accumulate(level)
    once, eightfold = np.interp([seen, 8.0 * seen], 1.0 - lowest, clock)
    return float(max(0.0, eightfold - 2.0 * once))


def _sample_s(trace: Trace) -> float:
    return median(np.diff(trace.time_s))


def _why_none(trace: Trace) -> Remark:
    moved = float(np.ptp(trace.angle_deg))
    if moved > 180.0:
        return remark("response-crank-turned", turned_deg=moved)
    if trace.clipped.any():
        return remark("response-clipped")
    change = float(np.ptp(trace.pressure_bar))
    return remark("response-no-step", moved_bar=change, within_s=STEP_S)


@dataclass(frozen=True, slots=True)
class ResponseQuestion:
    """Nothing has to be said to have the response time read."""


@dataclass(frozen=True, slots=True)
class ResponseAnswer:
    """How slow sensor and hose are at the most."""

    response: Response
    warnings: tuple[Notice, ...]

    @property
    def decided(self) -> bool:
        """Whether a bound was found."""
        return self.response.response_s is not None


def response_answer(question: ResponseQuestion, recorded: Recorded) -> ResponseAnswer:
    """Return the answer from every step of pressure in a recording, of its first sensor."""
    profile = recorded.profile
    sensor = profile.sensors[0] if profile.sensors else Sensor()
    sampled = [segment for segment in recorded.recording.segments if len(segment.samples)]
    response = response_of([trace_of(segment, profile, sensor) for segment in sampled])
    return ResponseAnswer(response, recorded.notices)
