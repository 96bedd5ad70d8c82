"""Where is TDC, by a joint fit of several compressions?

The closed-cycle model against all passes at once.

What belongs to the engine and the rig is shared by the passes, the trapped charge and the drift of
the sensor's zero belong to each. Residuals are robust, the interval is a Laplace one widened for
residuals that hang together and for what no model of a closed cylinder has right.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray, short_way
from strokewise.analysis.crank.kinematics import stroke_ratio, travel
from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.closed_cycle import Gas, Runs, Surroundings, pressures
from strokewise.analysis.tdc.descent import DONE_GAIN
from strokewise.analysis.tdc.mismatch import BOTH_WAYS, ONE_WAY, RUNNING_DOWN, Mismatch
from strokewise.analysis.tdc.priors import (
    FREED_LAST,
    HOSE_SHARE,
    RAN_FROM_RPM,
    Prior,
    priors_for,
    surroundings_of,
)
from strokewise.analysis.tdc.runs import runs_for
from strokewise.analysis.tdc.shared_fit import (
    ROBUST_AT,
    FitParameter,
    SharedAnswer,
    SharedFit,
    inverse_of,
)
from strokewise.analysis.tdc.shortfall import shortfall_bar
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.trade import AIR_GAMMA, TRAPPED_WARMER_K, WARM_AIR_K

ALL_COUNT = 1e3
"""Residuals of any size count in full."""

SQUEEZED_BEFORE = 0.09
"""ln of how a charge warms from intake closing about 130° to 105° before TDC, adiabatically."""

STOOD_FROM_DEG, STOOD_OVER_DEG = 80.0, 20.0
"""A run that starts nearer TDC than the first began from a standstill; beyond both, none did."""

CAME_SHARE = 0.5
"""Of a run's usual speed: a crank that is as fast at its first node came turning."""

TRAPPED_DEG, POLYTROPIC = 110.0, 1.3
"""Where a charge is trapped, about, and how it is squeezed from there: only to start from."""

SHOWN_FIRST = ("log_start", "log_warm")
"""What a run's first node shows of its charge, which is all that is known of it before."""

TDC = "tdc_deg"

OUT_OF_REACH_SIGMA_DEG = 60.0
"""Of a fit that has left the model's reach: what was known of TDC before; nobody believes it."""

FLANKS_COST = 6.0
"""Of flanks under the sensor's end residuals are a small share of the pressure that was there, and
are large beside the noise of a sensor of a vacuum's range: of 74 (a bench, seeds 84100 to 84173)
those with ten times a sound fit's were off by no more than the others."""

SPEEDS_TELL = 1.3
"""Compressions at speeds so many times apart tell what only delays from where TDC is: half a
millisecond is 2° more at 1,700 rev/min than at 1,000."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a fit, from a start that may be far off to the answer.

    Attributes
    ----------
    model_share : float
        Share of the pressure above the start that the model is not trusted with.
    robust_at : float
        Residuals beyond this many sigma count less and less.
    done_gain : float
        Steps that lessen the sum of squares by less end it.
    shapes : bool
        Whether the shapes of leak and loss are free (``priors.FREED_LAST``), or as usual.
    """

    model_share: float
    robust_at: float
    most_steps: int
    done_gain: float
    shapes: bool = False


FAR = Stage(0.03, ALL_COUNT, 14, 1.0)
NEAR = Stage(0.006, ALL_COUNT, 20, 0.5)
FINAL = Stage(0.0015, ROBUST_AT, 40, 0.1)
SHAPED = Stage(0.0015, ROBUST_AT, 40, DONE_GAIN, shapes=True)
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
    around = surroundings_of(profile)
    nominal_deg = passes[0].tdc_deg
    begun = _begun(runs, priors, around, start, nominal_deg, wanders=zero_sigma_bar > 1.0)
    held = {p.name: np.array([[p.mean]]) for p in priors if _is_held(p, stage, runs)}

    def model(values: Mapping[str, FloatArray]) -> FloatArray:
        return pressures(runs, Gas(**values, **held), around)

    problem = SharedFit(
        _parameters([p for p in priors if p.name not in held], begun),
        model,
        runs.pressure_bar,
        runs.sigma_bar,
        runs.used,
        robust_at=stage.robust_at,
    )
    answer = problem.solve(
        problem.packed(begun), most_steps=stage.most_steps, done_gain=stage.done_gain
    )
    return _answer(problem, answer, runs, held, nominal_deg)


def _is_held(prior: Prior, stage: Stage, runs: Runs) -> bool:
    if prior.name == HOSE_SHARE:
        return not (stage.shapes and _speeds_tell(runs))
    return prior.name in FREED_LAST and not stage.shapes


def _speeds_tell(runs: Runs) -> bool:
    """Return whether what only delays shows: it moves TDC with the speed, and by little if slow."""
    speeds = runs.speeds_deg_s
    return runs.speed_rpm > RAN_FROM_RPM and bool(speeds.max() > SPEEDS_TELL * speeds.min())


def _parameters(free: Iterable[Prior], begun: Mapping[str, FloatArray]) -> tuple[FitParameter, ...]:
    """Return what is to be found, a trapped charge's own about what its first node shows."""

    def mean(prior: Prior) -> FloatArray | float:
        if not prior.per_pass:
            return prior.mean
        return begun[prior.name] if prior.name in SHOWN_FIRST else np.full(count, prior.mean)

    count = len(begun["log_start"])
    return tuple(
        FitParameter(p.name, mean(p), p.sigma, p.step, p.low, p.high)
        for p in sorted(free, key=lambda p: p.per_pass)
    )


def _begun(
    runs: Runs,
    priors: tuple[Prior, ...],
    around: Surroundings,
    earlier: Fit | None,
    nominal_deg: float,
    *,
    wanders: bool,
) -> dict[str, FloatArray]:
    """Return where to begin: at an earlier fit's values, and at what each run's first node shows.

    Where the zero wanders it is what makes of the first node a charge trapped at the atmosphere.
    """
    begun = {p.name: np.array([p.mean]) for p in priors if not p.per_pass}
    if earlier is not None:
        begun |= {name: earlier.values[name][:1] for name in begun}
        off_deg = float(short_way(earlier.tdc_deg.value - nominal_deg, 360.0))
        begun[TDC] = np.array([off_deg])
    first_bar = runs.pressure_bar[:, 0]
    trapped_bar = around.atmosphere_bar * _squeezed(runs, begun) if wanders else first_bar
    begun["log_warm"] = _warm_start(runs, around, trapped_bar)
    begun["zero_bar"] = first_bar - trapped_bar
    begun["log_start"] = np.log(np.clip(trapped_bar, 0.2, 60.0))
    return begun


def _squeezed(runs: Runs, begun: Mapping[str, FloatArray]) -> FloatArray:
    """Return by how much a charge trapped at ``TRAPPED_DEG`` is squeezed at each run's start."""
    clearance = float(np.exp(-begun["log_clearance"][0]))
    first = np.abs(runs.angle_deg[:, 0] - begun[TDC][0])
    rod = float(np.exp(begun["log_rod"][0]))
    places = np.stack([np.minimum(first, TRAPPED_DEG), np.full_like(first, TRAPPED_DEG)])
    volume = travel(places, rod_ratio=rod) / stroke_ratio(rod_ratio=rod) + clearance
    return np.asarray((volume[1] / volume[0]) ** POLYTROPIC, np.float64)


def _loss_angle_deg(runs: Runs, model_bar: FloatArray, tdc_deg: float) -> float:
    """Return how far the pressure peak stands from TDC, median over the passes, always positive.

    The model's own peak, which a sensor that is cut off below it does not show.
    """
    peak = np.argmax(model_bar, axis=1)
    where = np.take_along_axis(runs.angle_deg, peak[:, None], axis=1)[:, 0] - tdc_deg
    return median(np.abs(where))


def _warm_start(runs: Runs, around: Surroundings, trapped_bar: FloatArray) -> FloatArray:
    """Return ln(temperature / 300 K) expected at each run's first node.

    A run that starts far out has just trapped its charge and squeezed it a little; one that starts
    half way up began from a standstill, in which the gas took the temperature of the wall. Where
    the crank came turning, what lies before was left out (a valve was open, or a release): the gas
    that stayed has followed the pressure, however much of it has gone.
    """
    outside = np.log((around.atmosphere_k + TRAPPED_WARMER_K) / WARM_AIR_K)
    far = np.clip((np.abs(runs.angle_deg[:, 0]) - STOOD_FROM_DEG) / STOOD_OVER_DEG, 0.0, 1.0)
    speed = np.abs(runs.speed_deg_s)
    came = speed[:, 0] > CAME_SHARE * np.median(speed, axis=1)
    over_atmosphere = np.maximum(trapped_bar / around.atmosphere_bar, 1.0)
    adiabatic = (AIR_GAMMA - 1.0) / AIR_GAMMA
    squeezed = np.where(came, adiabatic * np.log(over_atmosphere), 0.0)
    return np.asarray(outside + far * SQUEEZED_BEFORE + (1.0 - far) * squeezed, np.float64)


class _Posterior:
    """The normal posterior about the lowest point, the model's shortfall moving it too."""

    def __init__(self, problem: SharedFit, answer: SharedAnswer, runs: Runs) -> None:
        x, root = answer.x, np.sqrt(answer.inflate)
        self._runs, self._tdc_deg = runs, float(x[0])
        weight = problem.weight_at(answer.there.model_bar) / root
        short = shortfall_bar(runs, float(x[0]), answer.cost) * weight[..., None]
        parts = short.shape[-1]
        self._rows = np.hstack([answer.rows, short.reshape(-1, parts)])
        self._left = answer.there.residual[: -len(x)] / root
        self._prior = np.diag(np.concatenate([1.0 / problem.sigma**2, np.ones(parts)]))
        self._pull = np.concatenate([(x - problem.mean) / problem.sigma**2, np.zeros(parts)])
        inverse = self._inverse(self._rows)
        self.covariance = inverse[: len(x), : len(x)]
        # Not quite none: the descent stops short, or a parameter stands at its bound.
        self._rest_deg = self._step_deg(inverse, self._rows, self._left)

    def _inverse(self, rows: FloatArray) -> FloatArray:
        return inverse_of(rows.T @ rows + self._prior)

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


def _mismatch_of(runs: Runs, problem: SharedFit) -> Mismatch:
    if runs.both_ways:
        return BOTH_WAYS
    return RUNNING_DOWN if HOSE_SHARE in problem.shared else ONE_WAY


def _answer(
    problem: SharedFit,
    answer: SharedAnswer,
    runs: Runs,
    held: Mapping[str, FloatArray],
    nominal_deg: float,
) -> Fit:
    tdc_deg, model = float(answer.x[0]), answer.there.model_bar
    each = {**answer.values, **{name: value[0] for name, value in held.items()}}
    values = {k: np.broadcast_to(v, len(runs.time_s)).copy() for k, v in each.items()}
    if not np.isfinite(answer.cost):
        return _lost(nominal_deg + tdc_deg, values, runs)
    posterior = _Posterior(problem, answer, runs)
    spread = np.sqrt(posterior.covariance.diagonal())
    sigmas = {name: float(spread[problem.place(name).start]) for name in problem.shared}
    cost = min(answer.cost, FLANKS_COST) if runs.cut_off else answer.cost
    mismatch_deg = _mismatch_of(runs, problem).sigma_deg(
        _loss_angle_deg(runs, model, tdc_deg), cost
    )
    sigma = float(np.hypot(sigmas[TDC], mismatch_deg))
    return Fit(
        tdc_deg=Interval.from_sigma(nominal_deg + tdc_deg, sigma),
        sigma_deg=sigma,
        values=values,
        sigmas=sigmas,
        runs=runs,
        model_bar=model,
        cost=answer.cost,
        tied=answer.tied,
        size=answer.there.size,
        parts=_parts(posterior),
    )


def _lost(tdc_deg: float, values: dict[str, FloatArray], runs: Runs) -> Fit:
    """Return a fit that has left the model's reach, as damage leads it: it says nothing."""
    own = Interval.from_sigma(tdc_deg, OUT_OF_REACH_SIGMA_DEG)
    model_bar = np.zeros_like(runs.pressure_bar)
    return Fit(own, OUT_OF_REACH_SIGMA_DEG, values, {}, runs, model_bar, np.inf, 1.0, size=np.inf)
