"""Where would each compression alone put TDC? What the joint fit leaves, read pass by pass.

What belongs to the engine is taken as fitted; each pass may move its TDC and, within what is
likely, its own trapped state and zero. So a clamp that slips by a degree between two compressions
shows, which in the joint fit would only spoil the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.closed_cycle import Gas, pressures
from strokewise.analysis.tdc.fit import TDC, Fit
from strokewise.analysis.tdc.priors import Prior, priors_for, surroundings_of

ROUNDS = 2
"""Gauss-Newton steps: offsets under a degree need one, larger ones come near enough."""

BEYOND_BAR = 1e4
"""No cylinder comes near it: a pass that a step took there has left the model's reach, and such
nodes say nothing."""

STEP_MOST_DEG = 10.0
"""No step moves a pass by more: further off the model's slope is another."""

COST_LEAST = 1e-3
"""Readings without any noise cost nothing; what is likely for a pass must weigh something still."""

SLIPPED_COST, SLIPPED_TIED = 1.0, 4.0
"""A slip spoils the joint fit's own residuals; a pass's spread is that of a fit without one."""

CAP_DEG = 3.0
"""Passes further off than this from the middle one count as this far: first order, no more."""

STEP_LEAST_DEG = 0.3
"""Steps under this are within what speed and a cheap encoder do from pass to pass."""

STEP_SCATTERS = 6.0
"""A step must be so many times what the passes on its two sides scatter."""

LONE_DEG = 0.5
"""A single pass at either end must be off by so much: a starter's first compression and its last
are met at other speeds, half seen, or with the crank falling back."""


@dataclass(frozen=True, slots=True)
class PassTdc:
    """TDC of each pass against the joint fit's, in the order of ``fit.runs``.

    Attributes
    ----------
    off_deg : (passes,) float64
        Later is positive, in the encoder frame.
    sigma_deg : (passes,) float64
        Spread that the pass's own residuals leave.
    """

    off_deg: FloatArray
    sigma_deg: FloatArray

    def middle_deg(self, stop: int) -> float:
        """Return where the passes before ``stop`` put TDC."""
        return median(self.off_deg[:stop])

    def moved_deg(self, at: int) -> float:
        """Return how far TDC moves from the passes before ``at`` to the others."""
        return median(self.off_deg[at:]) - self.middle_deg(at)


@dataclass(frozen=True, slots=True)
class TdcStep:
    """TDC moves between two passes.

    Attributes
    ----------
    at : int
        First pass after the step.
    by_deg : float
        Roughly by how much, at the most ``CAP_DEG`` either way is told.
    """

    at: int
    by_deg: float


def tdc_of_each(fit: Fit, profile: Profile, sensor: Sensor, zero_sigma_bar: float) -> PassTdc:
    """Return how far each pass by itself would move TDC from the joint fit's."""
    runs = fit.runs
    own = _own(profile, sensor, zero_sigma_bar, runs.speed_rpm)
    start = {name: values.copy() for name, values in fit.values.items()}
    now = {name: values.copy() for name, values in fit.values.items()}
    weight = np.where(runs.used, 1.0 / runs.sigma_bar, 0.0)
    inflate = max(min(fit.cost, SLIPPED_COST), COST_LEAST) * min(fit.tied, SLIPPED_TIED)
    prior = np.diag([inflate / p.sigma**2 for p in own])
    sigma = np.zeros(len(runs.time_s))
    for _ in range(ROUNDS):
        variants = {name: np.repeat(v[None], 1 + len(own), axis=0) for name, v in now.items()}
        for i, p in enumerate(own):
            variants[p.name][1 + i] += p.step
        # A pass may leave the model's reach.
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            model = pressures(runs, Gas(**variants), surroundings_of(profile))
        sound = (np.abs(model) < BEYOND_BAR).all(axis=0)
        within, model = np.where(sound, weight, 0.0), np.where(sound, model, 0.0)
        left = (runs.pressure_bar - model[0]) * within
        for item in range(len(sigma)):
            slope = np.stack(
                [
                    (model[1 + i, item] - model[0, item]) / p.step * within[item]
                    for i, p in enumerate(own)
                ]
            )
            moved = np.array([now[p.name][item] - start[p.name][item] for p in own])
            inverse = np.linalg.inv(slope @ slope.T + prior)
            step = inverse @ (slope @ left[item] - prior @ moved)
            step *= min(1.0, STEP_MOST_DEG / max(abs(float(step[0])), 1e-9))
            for p, by in zip(own, step, strict=True):
                now[p.name][item] += by
            sigma[item] = float(np.sqrt(inflate * inverse[0, 0]))
    return PassTdc(now[TDC] - start[TDC], sigma)


def _own(profile: Profile, sensor: Sensor, zero_sigma_bar: float, speed_rpm: float) -> list[Prior]:
    """Return what a pass may move by itself, TDC first."""
    priors = priors_for(profile, sensor, zero_sigma_bar=zero_sigma_bar, speed_rpm=speed_rpm)
    return sorted((p for p in priors if p.per_pass or p.name == TDC), key=lambda p: p.name != TDC)


def step_in(each: PassTdc) -> TdcStep | None:
    """Return the step that parts the passes best, or None where they hang together.

    Parameters
    ----------
    each : PassTdc
        In time order.
    """
    off = each.off_deg
    if len(off) < 2:
        return None
    off = np.clip(off, median(off) - CAP_DEG, median(off) + CAP_DEG)
    at = min(range(1, len(off)), key=lambda k: _within(off[:k]) + _within(off[k:]))
    by = median(off[at:]) - median(off[:at])
    lone = at in (1, len(off) - 1)
    freedom = len(off) - 2
    scatter = ((_within(off[:at]) + _within(off[at:])) / freedom) ** 0.5 if freedom else 0.0
    spread = max(scatter, median(each.sigma_deg))
    spread *= (1.0 / at + 1.0 / (len(off) - at)) ** 0.5
    least = LONE_DEG if lone else STEP_LEAST_DEG
    return TdcStep(at, by) if abs(by) > max(least, STEP_SCATTERS * spread) else None


def _within(off: FloatArray) -> float:
    return float(np.sum((off - off.mean()) ** 2))
