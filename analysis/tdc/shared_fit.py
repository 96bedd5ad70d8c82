"""Which parameters fit several stretches best, some shared by all and some each stretch's own?

Robust least squares with priors. A stretch's own parameters touch no other stretch, so all of one
kind are moved together for their derivatives.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.tdc.autocorrelation import LEAST_COST

ROBUST_AT = 3.0
"""Sigmas from which a residual counts less than its square."""

MOST_EVALUATIONS = 40

MOST_TIED = 0.95
"""Neighbouring residuals are never taken as tied more closely."""

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
    """

    name: str
    mean: FloatArray | float
    sigma: float
    step: float


@dataclass(frozen=True, slots=True)
class SharedAnswer:
    """What came of a fit.

    Attributes
    ----------
    values : dict of str to (1,) or (spans,) float64
    covariance : (parameters, parameters) float64
        Widened where residuals are large or hang together.
    cost : float
        Robust sum of squares for each node; near 1 where the model fits.
    """

    x: FloatArray
    values: dict[str, FloatArray]
    covariance: FloatArray
    cost: float


class SharedFit:
    """The least-squares problem of some stretches.

    Parameters
    ----------
    parameters : sequence of Parameter
        Shared ones first.
    model : callable
    pressure_bar, sigma_bar : (spans, k) float64
    used : (spans, k) bool
    """

    def __init__(
        self,
        parameters: tuple[FitParameter, ...],
        model: Model,
        pressure_bar: FloatArray,
        sigma_bar: FloatArray,
        used: BoolArray,
    ) -> None:
        self._parameters, self._model = parameters, model
        self._bar, self._sigma_bar, self._used = pressure_bar, sigma_bar, used
        means = [np.atleast_1d(np.asarray(p.mean, np.float64)) for p in parameters]
        ends = np.cumsum([0, *map(len, means)])
        self._places = {
            p.name: slice(int(a), int(b))
            for p, a, b in zip(parameters, ends[:-1], ends[1:], strict=True)
        }
        self.mean = np.concatenate(means)
        self.sigma = np.concatenate(
            [np.full(len(m), p.sigma) for m, p in zip(means, parameters, strict=True)]
        )

    def place(self, name: str) -> slice:
        """Return where a parameter stands among all."""
        return self._places[name]

    def bar(self, x: FloatArray) -> FloatArray:
        """Return the model's pressures for each row of parameters, (variants, spans, k)."""
        return self._model({name: x[:, place] for name, place in self._places.items()})

    def off(self, x: FloatArray) -> FloatArray:
        """Return the residuals in sigmas for each row, nothing where a node is not used."""
        off = (self.bar(x) - self._bar) / self._sigma_bar
        return np.where(self._used, off, 0.0)

    def best_of(self, trials: FloatArray) -> FloatArray:
        """Return the row that fits best by plain trial, priors left aside."""
        cost = np.sum(np.log1p((self.off(trials) / ROBUST_AT) ** 2), axis=(1, 2))
        return np.asarray(trials[int(np.argmin(cost))])

    def residuals(self, x: FloatArray) -> FloatArray:
        """Return data's and priors' residuals, one after the other."""
        return np.concatenate([self.off(x[None]).ravel(), (x - self.mean) / self.sigma])

    def jacobian(self, x: FloatArray) -> FloatArray:
        """Derivative by forward differences, the spans' own parameters of a kind together."""
        variants = np.repeat(x[None], 1 + len(self._parameters), axis=0)
        for i, parameter in enumerate(self._parameters):
            variants[1 + i, self._places[parameter.name]] += parameter.step
        model = self.bar(variants)
        weight = np.where(self._used, 1.0 / self._sigma_bar, 0.0)
        rows = np.zeros((*weight.shape, len(x)))
        for i, parameter in enumerate(self._parameters):
            change = (model[1 + i] - model[0]) / parameter.step * weight
            place = self._places[parameter.name]
            if np.ndim(parameter.mean) == 0:
                rows[:, :, place.start] = change
            else:
                own = np.arange(len(change))
                rows[own, :, place.start + own] = change
        return np.vstack([rows.reshape(-1, len(x)), np.diag(1.0 / self.sigma)])

    def solve(self, start: FloatArray | None = None) -> SharedAnswer:
        """Return the best fit, from the priors' means where no start is given."""
        found = least_squares(
            self.residuals,
            self.mean if start is None else start,
            jac=self.jacobian,
            loss="soft_l1",
            f_scale=ROBUST_AT,
            x_scale=self.sigma,
            max_nfev=MOST_EVALUATIONS,
        )
        return self._fitted(np.asarray(found.x))

    def _fitted(self, x: FloatArray) -> SharedAnswer:
        off, used = self.off(x[None])[0], self._used
        bent = np.sign(off) * np.sqrt(2.0 * (np.sqrt(1.0 + (off / ROBUST_AT) ** 2) - 1.0))
        bent *= ROBUST_AT
        power = float(np.sum(bent[used] ** 2))
        cost = power / max(1, int(used.sum()))
        pair = used[:, 1:] & used[:, :-1]
        tied = float(np.sum((bent[:, 1:] * bent[:, :-1])[pair]) / power) if power > 0 else 0.0
        tied = float(np.clip(tied, 0.0, MOST_TIED))
        # residuals that hang together carry less: fewer independent nodes by (1-r)/(1+r)
        inflate = max(cost, LEAST_COST) * (1.0 + tied) / (1.0 - tied)
        rows = self.jacobian(x)[: -len(x)]
        told = rows.T @ rows / inflate + np.diag(1.0 / self.sigma**2)
        covariance = np.asarray(np.linalg.inv(told), np.float64)
        values = {name: x[place] for name, place in self._places.items()}
        return SharedAnswer(x, values, covariance, cost)
