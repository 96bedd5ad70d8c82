"""Where is TDC, by a joint fit of several compressions? The closed-cycle model against all passes at once.

What belongs to the engine and the rig is shared by the passes, the trapped charge and the drift of
the sensor's zero belong to each. Residuals are robust, the interval is a Laplace one widened for
residuals that hang together and for what no model of a closed cylinder has right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.angle import FloatArray
from strokewise.analysis.closed_cycle import Gas, Runs, Surroundings, pressures
from strokewise.analysis.estimate import Interval
from strokewise.analysis.passes import Pass
from strokewise.analysis.priors import Prior, priors_for, surroundings_of
from strokewise.analysis.profile import Profile, Sensor

MODEL_SHARE = 0.004
"""Share of the pressure above the start that no simple closed-cycle model gets right."""

ROBUST_AT = 3.0
"""Residuals beyond this many sigma count less and less."""

STILL_MODEL = 0.06
"""Sigma of TDC per degree of loss angle: losses of a real cylinder are never quite the model's shape."""

DONE_DEG = 0.003
"""A step that moves TDC by less, and the sum of squares by less than ``DONE_GAIN`` of it, is the last."""

DONE_GAIN = 1e-3

TDC_FLOOR_DEG = 0.03
"""No interval is surer than this sigma: laboratory probes reach a tenth of a degree (SAE 2007-24-0052)."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A joint fit.

    Attributes
    ----------
    tdc_deg : Interval
        TDC of the sensed cylinder in the encoder frame, beside the passes' nominal one.
    values : dict of str to (passes,) float64
        Fitted parameters by name, as in :class:`closed_cycle.Gas`, one for each pass.
    sigmas : dict of str to float
        Posterior standard deviation of the shared parameters.
    runs : Runs
        What was fitted.
    model_bar : (passes, k) float64
    cost : float
        Robust sum of squares for each used node; near 1 where the model fits.
    correlation : float
        How much neighbouring residuals hang together, 0 to 1.
    """

    tdc_deg: Interval
    sigma_deg: float
    values: dict[str, FloatArray]
    sigmas: dict[str, float]
    runs: Runs
    model_bar: FloatArray
    cost: float
    correlation: float


def runs_for(passes: tuple[Pass, ...]) -> Runs:
    """Lay passes side by side, with the standard deviation expected of each node."""
    longest = max(len(p.nodes) for p in passes)

    def padded(rows: list[FloatArray]) -> FloatArray:
        return np.stack([np.pad(row, (0, longest - len(row)), mode="edge") for row in rows])

    used = np.stack([np.pad(~p.nodes.clipped, (0, longest - len(p.nodes))) for p in passes])
    return Runs(
        time_s=padded([p.time_s for p in passes]),
        angle_deg=padded([p.angle_deg - p.tdc_deg for p in passes]),
        speed_deg_s=padded([p.nodes.speed_deg_s for p in passes]),
        pressure_bar=padded([p.pressure_bar for p in passes]),
        sigma_bar=padded([_sigma_bar(p) for p in passes]),
        used=used,
    )


def _sigma_bar(item: Pass) -> FloatArray:
    """Return a node's expected spread: sensor, converter, the width of a count, the model's own."""
    nodes = item.nodes
    white = np.hypot(nodes.noise_bar, 0.3 * nodes.step_bar)
    slope = np.abs(np.gradient(nodes.pressure_bar, np.arange(len(nodes))))
    per_node_deg = np.maximum(np.abs(np.gradient(nodes.angle_deg)), 0.05)
    angle_sigma = nodes.cell_deg / np.sqrt(12.0) / np.sqrt(1.0 + per_node_deg / nodes.cell_deg)
    above = nodes.pressure_bar - nodes.pressure_bar.min()
    return np.asarray(
        np.sqrt(
            white**2 / nodes.count
            + (0.1 * nodes.step_bar) ** 2
            + (slope / per_node_deg * angle_sigma * 0.5) ** 2
            + (MODEL_SHARE * above) ** 2
        )
    )


class _Problem:
    """The least-squares problem: packs parameters, predicts all variants of a derivative in one march."""

    def __init__(self, runs: Runs, priors: tuple[Prior, ...], around: Surroundings) -> None:
        self.runs, self.around = runs, around
        self.shared = [p for p in priors if not p.per_pass]
        self.own = [p for p in priors if p.per_pass]
        self.passes = len(runs.time_s)
        self.mean = self._spread([p.mean for p in self.shared], [p.mean for p in self.own])
        self.sigma = self._spread([p.sigma for p in self.shared], [p.sigma for p in self.own])
        low = self._spread([p.low for p in self.shared], [p.low for p in self.own])
        high = self._spread([p.high for p in self.shared], [p.high for p in self.own])
        self.bounds = (low, high)
        self.weight = np.where(runs.used, 1.0 / runs.sigma_bar, 0.0)

    def _spread(self, shared: list[float], own: list[float]) -> FloatArray:
        return np.concatenate([np.array(shared), np.repeat(np.array(own), self.passes)])

    def gas(self, x: FloatArray) -> Gas:
        """Return the parameters of every variant in the rows of ``x`` (variants, parameters)."""
        k = len(self.shared)
        values = {p.name: x[:, i : i + 1] for i, p in enumerate(self.shared)}
        for j, p in enumerate(self.own):
            values[p.name] = x[:, k + j * self.passes : k + (j + 1) * self.passes]
        return Gas(**values)

    def model(self, x: FloatArray) -> FloatArray:
        return pressures(self.runs, self.gas(x), self.around)

    def residuals(self, x: FloatArray) -> FloatArray:
        data = (self.model(x[None])[0] - self.runs.pressure_bar) * self.weight
        return np.concatenate([_soften(data).ravel(), (x - self.mean) / self.sigma])

    def jacobian(self, x: FloatArray) -> FloatArray:
        """Return the derivative by forward differences, each pass's own parameters moved together."""
        steps = [p.step for p in self.shared] + [p.step for p in self.own]
        k, n = len(self.shared), self.passes
        variants = np.repeat(x[None], 1 + len(steps), axis=0)
        for i, step in enumerate(steps):
            columns = slice(i, i + 1) if i < k else slice(k + (i - k) * n, k + (i - k + 1) * n)
            variants[1 + i, columns] += step
        model = self.model(variants)
        data = (model[0] - self.runs.pressure_bar) * self.weight
        slope = _soften_slope(data) * self.weight
        rows = np.zeros((n, data.shape[1], len(x)))
        for i, step in enumerate(steps):
            change = (model[1 + i] - model[0]) / step * slope
            if i < k:
                rows[:, :, i] = change
            else:
                for item in range(n):
                    rows[item, :, k + (i - k) * n + item] = change[item]
        return np.vstack([rows.reshape(-1, len(x)), np.diag(1.0 / self.sigma)])


def _soften(z: FloatArray) -> FloatArray:
    """Bend residuals so that their squares grow like a Cauchy loss beyond ``ROBUST_AT``."""
    return np.asarray(np.sign(z) * ROBUST_AT * np.sqrt(np.log1p((z / ROBUST_AT) ** 2)))


def _soften_slope(z: FloatArray) -> FloatArray:
    u2 = (z / ROBUST_AT) ** 2
    bent = np.sqrt(np.log1p(u2))
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.sqrt(u2) / ((1.0 + u2) * bent)
    return np.where(u2 < 1e-8, 1.0, slope)


def fit_passes(
    passes: tuple[Pass, ...],
    profile: Profile,
    sensor: Sensor,
    *,
    zero_sigma_bar: float = 0.05,
    start_deg: float = 0.0,
    most_steps: int = 30,
) -> Fit:
    """Fit TDC to passes that share their nominal TDC modulo 360°.

    Parameters
    ----------
    passes : tuple of Pass
        At least one; ``tdc_deg`` of each is the nominal TDC that the answer is counted from.
    start_deg : float
        Where to start, after the nominal TDC.
    """
    if not passes:
        raise ValueError("no passes to fit")
    runs = runs_for(passes)
    around = surroundings_of(profile)
    problem = _Problem(runs, priors_for(profile, sensor, zero_sigma_bar=zero_sigma_bar), around)
    x = _start(problem, start_deg, zero_sigma_bar)
    x = _descend(problem, x, most_steps)
    return _answer(problem, x, passes[0].tdc_deg)


def _descend(problem: _Problem, x: FloatArray, most_steps: int) -> FloatArray:
    """Levenberg's damped Gauss-Newton on the normal equations, kept inside the bounds.

    scipy's ``least_squares`` finds the same point; its decompositions of the tall matrix take longer
    than the model itself.
    """
    damping = 1e-3
    residual = problem.residuals(x)
    best = float(residual @ residual)
    for _ in range(most_steps):
        slope = problem.jacobian(x)
        curvature = slope.T @ slope
        pull = slope.T @ residual
        moved = False
        for _ in range(6):
            step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), -pull)
            trial = np.clip(x + step, *problem.bounds)
            residual_there = problem.residuals(trial)
            there = float(residual_there @ residual_there)
            if np.isfinite(there) and there < best:
                moved = True
                break
            damping *= 8.0
        if not moved:
            return x
        gained, tdc_moved = best - there, abs(trial[0] - x[0])
        x, residual, best = trial, residual_there, there
        damping = max(damping / 10.0, 1e-9)
        if gained < DONE_GAIN * best and tdc_moved < DONE_DEG:
            return x
    return x


def _start(problem: _Problem, start_deg: float, zero_sigma_bar: float) -> FloatArray:
    x = problem.mean.copy()
    k, n = len(problem.shared), problem.passes
    x[0] = start_deg
    first = problem.runs.pressure_bar[:, 0]
    own = [p.name for p in problem.own]
    guess = first.copy()
    if zero_sigma_bar > 1.0:  # a zero that wanders: take the charge for atmospheric
        guess[:] = problem.around.atmosphere_bar
        x[k + own.index("zero_bar") * n :][:n] = first - guess
    starts = np.log(np.clip(guess, 0.2, 60.0))
    x[k + own.index("log_start") * n :][:n] = starts
    problem.mean[k + own.index("log_start") * n :][:n] = starts
    return x


def _answer(problem: _Problem, x: FloatArray, nominal_deg: float) -> Fit:
    jacobian = problem.jacobian(x)
    model = problem.model(x[None])[0]
    z = (model - problem.runs.pressure_bar) * problem.weight
    bent = _soften(z)
    used = problem.runs.used
    cost = float(np.sum(bent**2) / max(1, used.sum()))
    pair = used[:, 1:] & used[:, :-1]
    power = float(np.sum(bent[used] ** 2))
    correlation = float(np.sum((bent[:, 1:] * bent[:, :-1])[pair]) / power) if power > 0 else 0.0
    correlation = float(np.clip(correlation, 0.0, 0.95))
    # Residuals that hang together carry less: fewer independent nodes by (1-r)/(1+r).
    inflate = max(cost, 0.3) * (1.0 + correlation) / (1.0 - correlation)
    data_rows = jacobian[: -len(x)]
    information = data_rows.T @ data_rows / inflate + np.diag(1.0 / problem.sigma**2)
    covariance = np.linalg.inv(information)
    sigmas = {
        p.name: float(np.sqrt(covariance[i, i])) for i, p in enumerate(problem.shared)
    }
    sigma = float(np.hypot(sigmas["tdc_deg"], TDC_FLOOR_DEG))
    gas = problem.gas(x[None])
    values = {
        p.name: np.broadcast_to(getattr(gas, p.name)[0], (problem.passes,)).copy()
        for p in (*problem.shared, *problem.own)
    }
    return Fit(
        tdc_deg=Interval.from_sigma(nominal_deg + float(x[0]), sigma),
        sigma_deg=sigma,
        values=values,
        sigmas=sigmas,
        runs=problem.runs,
        model_bar=model,
        cost=cost,
        correlation=correlation,
    )
