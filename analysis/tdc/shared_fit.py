"""Which parameters fit several stretches best, some shared by all and some each stretch's own?

Robust least squares with priors, for TDC and for the valves' events alike. A stretch's own
parameters touch no other stretch, so all of one kind are moved together for their derivatives. The
interval is a Laplace one, widened for residuals that are large or hang together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.tdc.autocorrelation import LEAST_COST, tied
from strokewise.analysis.tdc.descent import DONE_GAIN, Look, descend

ROBUST_AT = 3.0
"""Sigmas from which a residual counts less than its square."""

MOST_STEPS = 40

RUNAWAY = 1e8
"""A derivative beyond this, in sigmas a unit, comes from a variant that left the model's reach."""

Model = Callable[[Mapping[str, FloatArray]], FloatArray]
"""From parameters by name, (variants, 1) or (variants, spans), to bar, (variants, spans, k)."""


@dataclass(frozen=True, slots=True)
class FitParameter:
    """A parameter with its prior.

    Attributes
    ----------
    mean : (spans,) float64 or float
        An array: each span has its own.
    sigma, step : float
        Of the prior; and what it is moved by for a derivative.
    low, high : float
        Bounds that it keeps inside.
    """

    name: str
    mean: FloatArray | float
    sigma: float
    step: float
    low: float = -np.inf
    high: float = np.inf


@dataclass(frozen=True, slots=True)
class SharedAnswer:
    """What came of a fit.

    Attributes
    ----------
    values : dict of str to (1,) or (spans,) float64
    there : Look
        What the problem shows at the answer.
    cost : float
        Robust sum of squares for each node; near 1 where the model fits.
    tied : float
        How many neighbouring residuals speak as one.
    """

    x: FloatArray
    values: dict[str, FloatArray]
    there: Look
    cost: float
    tied: float

    @property
    def inflate(self) -> float:
        """What the residuals' variance is taken to be more than their sigmas say."""
        return max(self.cost, LEAST_COST) * self.tied

    @property
    def rows(self) -> FloatArray:
        """Derivatives of the residuals, in their widened sigmas, (spans * k, parameters)."""
        return np.asarray(self.there.slope[: -len(self.x)] / np.sqrt(self.inflate))

    @property
    def known(self) -> FloatArray:
        """Information of the priors, (parameters, parameters)."""
        prior = self.there.slope[-len(self.x) :]
        return np.asarray(prior.T @ prior)

    @property
    def covariance(self) -> FloatArray:
        """Posterior covariance, (parameters, parameters)."""
        rows = self.rows
        return inverse_of(rows.T @ rows + self.known)


def inverse_of(information: FloatArray) -> FloatArray:
    """Return the covariance that an information stands for.

    Its parameters differ in size by a million, which an inverse as it stands pays for with
    variances under nothing: each is first taken in units of its own.
    """
    unit = 1.0 / np.sqrt(information.diagonal())
    scale = np.outer(unit, unit)
    return np.asarray(np.linalg.inv(information * scale) * scale, np.float64)


class SharedFit:
    """The least-squares problem of some stretches.

    Parameters
    ----------
    parameters : tuple of FitParameter
    model : callable
    pressure_bar, sigma_bar : (spans, k) float64
    used : (spans, k) bool
    robust_at : float
        Sigmas from which a residual counts less than its square.

    Attributes
    ----------
    shared : tuple of str
        Parameters that all stretches have together.
    mean, sigma : (parameters,) float64
        Of the priors, a stretch's own one after the other.
    """

    def __init__(
        self,
        parameters: tuple[FitParameter, ...],
        model: Model,
        pressure_bar: FloatArray,
        sigma_bar: FloatArray,
        used: BoolArray,
        *,
        robust_at: float = ROBUST_AT,
    ) -> None:
        self._parameters, self._model, self._robust_at = parameters, model, robust_at
        self._bar, self._used = pressure_bar, used
        self._weight = np.where(used, 1.0 / sigma_bar, 0.0)
        means = [np.atleast_1d(np.asarray(p.mean, np.float64)) for p in parameters]
        ends = np.cumsum([0, *map(len, means)])
        self._places = {
            p.name: slice(int(a), int(b))
            for p, a, b in zip(parameters, ends[:-1], ends[1:], strict=True)
        }
        self.shared = tuple(p.name for p in parameters if np.ndim(p.mean) == 0)
        self.mean = np.concatenate(means)
        self.sigma = self._of_each("sigma")
        self._bounds = self._of_each("low"), self._of_each("high")

    def _of_each(self, what: str) -> FloatArray:
        return np.concatenate(
            [np.full(np.size(p.mean), float(getattr(p, what))) for p in self._parameters]
        )

    def place(self, name: str) -> slice:
        """Return where a parameter stands among all."""
        return self._places[name]

    def values(self, x: FloatArray) -> dict[str, FloatArray]:
        """Return parameters by name, of one row or of several."""
        return {name: x[..., place] for name, place in self._places.items()}

    def packed(self, values: Mapping[str, FloatArray]) -> FloatArray:
        """Return parameters as one row, those that are not named at their priors' means."""
        x = self.mean.copy()
        for name, value in values.items():
            if name in self._places:
                x[self._places[name]] = value
        return x

    def bar(self, x: FloatArray) -> FloatArray:
        """Return the model's pressures for each row of parameters, (variants, spans, k)."""
        return self._model(self.values(x))

    def off(self, model_bar: FloatArray) -> FloatArray:
        """Return by how many sigmas a model misses, nothing where a node is not used."""
        return np.asarray((model_bar - self._bar) * self._weight)

    def best_of(self, trials: FloatArray) -> FloatArray:
        """Return the row that fits best by plain trial, priors left aside."""
        cost = np.sum(np.square(self._soften(self.off(self.bar(trials)))), axis=(1, 2))
        return np.asarray(trials[int(np.argmin(cost))])

    def _soften(self, z: FloatArray) -> FloatArray:
        """Bend residuals so that their squares grow like a Cauchy loss beyond ``robust_at``."""
        at = self._robust_at
        return np.asarray(np.sign(z) * at * np.sqrt(np.log1p((z / at) ** 2)))

    def weight_at(self, model_bar: FloatArray) -> FloatArray:
        """Return what a bar counts at each node, in sigmas, (spans, k)."""
        counts = 1.0 / np.sqrt(1.0 + (self.off(model_bar) / self._robust_at) ** 2)
        return np.asarray(counts * self._weight)

    def look(self, x: FloatArray) -> Look:
        """Return residuals and their derivative by forward differences, from one call of the model.

        A model of all variants takes little longer than one of a single one, so that a trial brings
        the slope for the next step with it.
        """
        variants = np.repeat(x[None], 1 + len(self._parameters), axis=0)
        for i, parameter in enumerate(self._parameters):
            variants[1 + i, self._places[parameter.name]] += parameter.step
        # A variant may leave the model's reach.
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            model = self.bar(variants)
            off = self.off(model[0])
            weight = self.weight_at(model[0])
            rows = np.zeros((*weight.shape, len(x)))
            for i, parameter in enumerate(self._parameters):
                change = (model[1 + i] - model[0]) / parameter.step * weight
                change[~(np.abs(change) < RUNAWAY)] = 0.0
                place = self._places[parameter.name]
                if np.ndim(parameter.mean) == 0:
                    rows[:, :, place.start] = change
                else:
                    own = np.arange(len(change))
                    rows[own, :, place.start + own] = change
            bent = self._soften(off)
            counted = (model[0] - self._bar) * weight
        prior = (x - self.mean) / self.sigma
        return Look(
            size=float(np.sum(bent**2) + prior @ prior),
            residual=np.concatenate([counted.ravel(), prior]),
            slope=np.vstack([rows.reshape(-1, len(x)), np.diag(1.0 / self.sigma)]),
            model_bar=model[0],
        )

    def solve(
        self,
        start: FloatArray | None = None,
        *,
        most_steps: int = MOST_STEPS,
        done_gain: float = DONE_GAIN,
    ) -> SharedAnswer:
        """Return the best fit, from the priors' means where no start is given."""
        start = self.mean if start is None else start
        x, there = descend(self.look, start, self._bounds, self.sigma, most_steps, done_gain)
        left = self._soften(self.off(there.model_bar))
        return SharedAnswer(
            x=x,
            values=self.values(x),
            there=there,
            cost=float(np.sum(left**2) / max(1, int(self._used.sum()))),
            tied=tied(left, self._used),
        )
