"""Where is TDC, by a joint fit of several compressions?

The closed-cycle model against all passes at once.

What belongs to the engine and the rig is shared by the passes, the trapped charge and the drift of
the sensor's zero belong to each. Residuals are robust, the interval is a Laplace one widened for
residuals that hang together and for what no model of a closed cylinder has right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray, short_way
from strokewise.analysis.crank.kinematics import stroke_ratio, travel
from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.autocorrelation import LEAST_COST, tied
from strokewise.analysis.tdc.closed_cycle import Gas, Runs, Surroundings, pressures
from strokewise.analysis.tdc.descent import Look, descend
from strokewise.analysis.tdc.mismatch import BOTH_WAYS, ONE_WAY
from strokewise.analysis.tdc.priors import FREED_LAST, Prior, priors_for, surroundings_of
from strokewise.analysis.tdc.runs import runs_for
from strokewise.analysis.tdc.shortfall import shortfall_bar
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.trade import TRAPPED_WARMER_K, WARM_AIR_K

ALL_COUNT = 1e3
"""Residuals of any size count in full."""

SQUEEZED_BEFORE = 0.09
"""ln of how a charge warms from intake closing about 130° to 105° before TDC, adiabatically."""

STOOD_FROM_DEG, STOOD_OVER_DEG = 80.0, 20.0
"""A run that starts nearer TDC than the first began from a standstill; beyond both, none did."""

TRAPPED_DEG, POLYTROPIC = 110.0, 1.3
"""Where a charge is trapped, about, and how it is squeezed from there: only to start from."""

RUNAWAY = 1e8
"""A derivative beyond this, in sigmas a unit, comes from a variant that left the model's reach."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a fit, from a start that may be far off to the answer.

    Attributes
    ----------
    model_share : float
        Share of the pressure above the start that the model is not trusted with.
    robust_at : float
        Residuals beyond this many sigma count less and less.
    shapes : bool
        Whether the shapes of leak and loss are free (``priors.FREED_LAST``), or as usual.
    """

    model_share: float
    robust_at: float
    most_steps: int
    shapes: bool = False


FAR = Stage(0.03, ALL_COUNT, 14)
NEAR = Stage(0.006, ALL_COUNT, 20)
FINAL = Stage(0.0015, 3.0, 40)
SHAPED = Stage(0.0015, 3.0, 40, shapes=True)
"""Stages that each bring the next to where it is sure to run to the right minimum: robust
residuals far from it would call the flanks of a compression outliers. Which compressions belong
together is judged by a final one, before shapes that are free could bend to a small slip."""


PARTS = (
    ("within 45° of TDC", -45.0, 45.0),
    ("within 70° of TDC", -70.0, 70.0),
    ("on the way up", -180.0, 0.0),
    ("on the way down", 0.0, 180.0),
)


@dataclass(frozen=True, slots=True)
class Part:
    """TDC of some of the nodes alone.

    Attributes
    ----------
    off_deg : float
        Against the TDC of all of them.
    sigma_deg : float
        What the difference would scatter by were the model right.
    """

    name: str
    off_deg: float
    sigma_deg: float


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
    tied : float
        How many neighbouring residuals speak as one.
    parts : tuple of Part
        What some of the nodes alone make of TDC.
    size : float
        Robust sum of squares, the priors' with it.
    """

    tdc_deg: Interval
    sigma_deg: float
    values: dict[str, FloatArray]
    sigmas: dict[str, float]
    runs: Runs
    model_bar: FloatArray
    cost: float
    tied: float
    parts: tuple[Part, ...] = ()
    size: float = 0.0

    @property
    def zero_bar(self) -> float:
        """What the sensor shows at no pressure, median over the passes."""
        return median(self.values["zero_bar"])


class _Problem:
    """The least-squares problem: packs parameters, predicts all variants of a derivative in one
    march."""

    def __init__(
        self, runs: Runs, priors: tuple[Prior, ...], around: Surroundings, stage: Stage
    ) -> None:
        self.runs, self.around, self.robust_at = runs, around, stage.robust_at
        held = () if stage.shapes else FREED_LAST
        self.held = {p.name: np.array([[p.mean]]) for p in priors if p.name in held}
        self.shared = [p for p in priors if not p.per_pass and p.name not in held]
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
        return Gas(**values, **self.held)

    def model(self, x: FloatArray) -> FloatArray:
        return pressures(self.runs, self.gas(x), self.around)

    def look(self, x: FloatArray) -> Look:
        """Return residuals and their derivative by forward differences, from one march.

        Each pass's own parameters are moved together. A march of all variants takes little longer
        than one of a single one, so that a trial brings the slope for the next step with it.
        """
        steps = [p.step for p in self.shared] + [p.step for p in self.own]
        k, n = len(self.shared), self.passes
        variants = np.repeat(x[None], 1 + len(steps), axis=0)
        for i, step in enumerate(steps):
            columns = slice(i, i + 1) if i < k else slice(k + (i - k) * n, k + (i - k + 1) * n)
            variants[1 + i, columns] += step
        with np.errstate(over="ignore", invalid="ignore"):  # a variant may leave the model's reach
            model = self.model(variants)
            data = (model[0] - self.runs.pressure_bar) * self.weight
            weight = 1.0 / np.sqrt(1.0 + (data / self.robust_at) ** 2)
            slope = weight * self.weight
            rows = np.zeros((n, data.shape[1], len(x)))
            for i, step in enumerate(steps):
                change = (model[1 + i] - model[0]) / step * slope
                change[~(np.abs(change) < RUNAWAY)] = 0.0
                if i < k:
                    rows[:, :, i] = change
                else:
                    for item in range(n):
                        rows[item, :, k + (i - k) * n + item] = change[item]
            bent = _soften(data, self.robust_at)
        prior = (x - self.mean) / self.sigma
        return Look(
            size=float(np.sum(bent**2) + prior @ prior),
            residual=np.concatenate([(data * weight).ravel(), prior]),
            slope=np.vstack([rows.reshape(-1, len(x)), np.diag(1.0 / self.sigma)]),
            model_bar=model[0],
        )


def _soften(z: FloatArray, at: float) -> FloatArray:
    """Bend residuals so that their squares grow like a Cauchy loss beyond ``at``."""
    return np.asarray(np.sign(z) * at * np.sqrt(np.log1p((z / at) ** 2)))


def fit_passes(
    passes: tuple[Pass, ...],
    profile: Profile,
    sensor: Sensor,
    *,
    zero_sigma_bar: float = 0.05,
    start: Fit | None = None,
    stage: Stage = FINAL,
) -> Fit:
    """Fit TDC to passes that share their nominal TDC modulo 360°.

    Parameters
    ----------
    passes : tuple of Pass
        At least one; ``tdc_deg`` of each is the nominal TDC that the answer is counted from.
    start : Fit, optional
        An earlier stage whose shared values to start from.
    """
    if not passes:
        raise ValueError("no passes to fit")
    runs = runs_for(passes, stage.model_share)
    priors = priors_for(profile, sensor, zero_sigma_bar=zero_sigma_bar, speed_rpm=runs.speed_rpm)
    problem = _Problem(runs, priors, surroundings_of(profile), stage)
    x = _start(problem, start, passes[0].tdc_deg, zero_sigma_bar)
    x, there = descend(problem.look, x, problem.bounds, stage.most_steps)
    return _answer(problem, x, there, passes[0].tdc_deg)


def _start(
    problem: _Problem, earlier: Fit | None, nominal_deg: float, zero_sigma_bar: float
) -> FloatArray:
    x = problem.mean.copy()
    k, n = len(problem.shared), problem.passes
    if earlier is not None:
        x[:k] = [earlier.values[p.name][0] for p in problem.shared]
        x[0] = short_way(earlier.tdc_deg.value - nominal_deg, 360.0)
    first = problem.runs.pressure_bar[:, 0]
    own = [p.name for p in problem.own]
    guess = first.copy()
    if zero_sigma_bar > 1.0:  # a zero that wanders: take the charge as trapped at the atmosphere
        guess[:] = problem.around.atmosphere_bar * _squeezed(problem, x)
        x[k + own.index("zero_bar") * n :][:n] = first - guess
    for name, values in (
        ("log_start", np.log(np.clip(guess, 0.2, 60.0))),
        ("log_warm", _warm_start(problem.runs, problem.around)),
    ):
        place = k + own.index(name) * n
        x[place : place + n] = problem.mean[place : place + n] = values
    return x


def _squeezed(problem: _Problem, x: FloatArray) -> FloatArray:
    """Return by how much a charge trapped at ``TRAPPED_DEG`` is squeezed at each run's start."""
    gas = problem.gas(x[None])
    clearance = float(np.exp(-gas.log_clearance[0, 0]))
    first = np.abs(problem.runs.angle_deg[:, 0] - x[0])
    rod = float(np.exp(gas.log_rod[0, 0]))
    places = np.stack([np.minimum(first, TRAPPED_DEG), np.full_like(first, TRAPPED_DEG)])
    volume = travel(places, rod_ratio=rod) / stroke_ratio(rod_ratio=rod) + clearance
    return np.asarray((volume[1] / volume[0]) ** POLYTROPIC, np.float64)


def _loss_angle_deg(runs: Runs, model_bar: FloatArray, tdc_deg: float) -> float:
    """Return how far the pressure peak stands from TDC, median over the passes, always positive."""
    peak = np.argmax(np.where(runs.used, model_bar, -np.inf), axis=1)
    where = np.take_along_axis(runs.angle_deg, peak[:, None], axis=1)[:, 0] - tdc_deg
    return median(np.abs(where))


def _warm_start(runs: Runs, around: Surroundings) -> FloatArray:
    """Return ln(temperature / 300 K) expected at each run's first node.

    A run that starts far out has just trapped its charge and squeezed it a little; one that starts
    half way up began from a standstill, in which the gas took the temperature of the wall.
    """
    outside = np.log((around.atmosphere_k + TRAPPED_WARMER_K) / WARM_AIR_K)
    far = np.clip((np.abs(runs.angle_deg[:, 0]) - STOOD_FROM_DEG) / STOOD_OVER_DEG, 0.0, 1.0)
    return np.asarray(outside + far * SQUEEZED_BEFORE, np.float64)


class _Posterior:
    """The normal posterior about the lowest point, the model's shortfall moving it too."""

    def __init__(
        self, problem: _Problem, x: FloatArray, there: Look, cost: float, together: float
    ) -> None:
        inflate = max(cost, LEAST_COST) * together
        runs = problem.runs
        rows = there.slope[: -len(x)]
        z = (there.model_bar - runs.pressure_bar) * problem.weight
        weight = problem.weight / np.sqrt(1.0 + (z / problem.robust_at) ** 2)
        short = shortfall_bar(runs, float(x[0]), cost) * weight[..., None]
        self._runs, self._tdc_deg = runs, float(x[0])
        self._rows = np.hstack([rows, short.reshape(len(rows), -1)]) / np.sqrt(inflate)
        self._left = there.residual[: -len(x)] / np.sqrt(inflate)
        parts = short.shape[-1]
        self._prior = np.diag(np.concatenate([1.0 / problem.sigma**2, np.ones(parts)]))
        self._pull = np.concatenate([(x - problem.mean) / problem.sigma**2, np.zeros(parts)])
        inverse = self._inverse(self._rows)
        self.covariance = inverse[: len(x), : len(x)]
        # Not quite none: the descent stops short, or a parameter stands at its bound.
        self._rest_deg = self._step_deg(inverse, self._rows, self._left)

    def _inverse(self, rows: FloatArray) -> FloatArray:
        return np.asarray(np.linalg.inv(rows.T @ rows + self._prior), np.float64)

    def _step_deg(self, inverse: FloatArray, rows: FloatArray, left: FloatArray) -> float:
        return -float(inverse[0] @ (rows.T @ left + self._pull))

    def part(self, name: str, low_deg: float, high_deg: float) -> Part:
        """Return what the nodes within an angle about TDC, in the direction of turning, say."""
        after = (self._runs.angle_deg - self._tdc_deg) * self._runs.turning[:, None]
        inside = ((after >= low_deg) & (after <= high_deg)).ravel()
        rows, left = self._rows[inside], self._left[inside]
        inverse = self._inverse(rows)
        off_deg = self._step_deg(inverse, rows, left) - self._rest_deg
        # What a part says beyond the whole is as unsure as its variance is greater (Hausman 1978,
        # "Specification tests in econometrics", Econometrica 46, from memory).
        more = float(inverse[0, 0] - self.covariance[0, 0])
        return Part(name, off_deg, float(np.sqrt(max(more, 0.0))))


def _parts(posterior: _Posterior) -> tuple[Part, ...]:
    """Return what windows of several widths and the two sides of TDC say alone."""
    return tuple(posterior.part(name, low, high) for name, low, high in PARTS)


def _answer(problem: _Problem, x: FloatArray, there: Look, nominal_deg: float) -> Fit:
    model = there.model_bar
    z = (model - problem.runs.pressure_bar) * problem.weight
    bent = _soften(z, problem.robust_at)
    used = problem.runs.used
    cost = float(np.sum(bent**2) / max(1, used.sum()))
    together = tied(bent, used)
    posterior = _Posterior(problem, x, there, cost, together)
    covariance = posterior.covariance
    sigmas = {p.name: float(np.sqrt(covariance[i, i])) for i, p in enumerate(problem.shared)}
    lost_deg = _loss_angle_deg(problem.runs, model, float(x[0]))
    mismatch = BOTH_WAYS if problem.runs.both_ways else ONE_WAY
    mismatch_deg = mismatch.sigma_deg(lost_deg, cost)
    sigma = float(np.hypot(sigmas["tdc_deg"], mismatch_deg))
    gas = problem.gas(x[None])
    values = {
        name: np.broadcast_to(getattr(gas, name)[0], (problem.passes,)).copy()
        for name in (*(p.name for p in (*problem.shared, *problem.own)), *problem.held)
    }
    return Fit(
        tdc_deg=Interval.from_sigma(nominal_deg + float(x[0]), sigma),
        sigma_deg=sigma,
        values=values,
        sigmas=sigmas,
        runs=problem.runs,
        model_bar=model,
        cost=cost,
        tied=together,
        size=there.size,
        parts=_parts(posterior),
    )
