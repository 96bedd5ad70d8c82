"""How near the best that the noise allows is the fit? Its error over the Cramér-Rao bound.

    python tests/benchmarks/cramer_rao.py [trials]

The matched case: pressure made by the fit's own model, plus white noise, over an angle that is
known exactly. The bound comes from the slopes of the model at the truth, priors included, and the
truths are drawn from those very priors: drawn more narrowly, the fit would seem to beat the bound.
Beside it stands the plain peak of the same passes.
"""

from __future__ import annotations

import argparse
from dataclasses import fields, replace

import numpy as np
from scipy.stats import truncnorm

from strokewise.analysis.profile import Encoder, Profile, Sensor
from strokewise.analysis.tdc.baselines import peak
from strokewise.analysis.tdc.closed_cycle import Gas, Runs, Surroundings, pressures
from strokewise.analysis.tdc.fit import FAR, FINAL, NEAR, fit_passes
from strokewise.analysis.tdc.priors import Prior, priors_for, surroundings_of
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Pass

SEED = 5
NOISE_BAR = 0.02
PASSES = 8
PROFILE = Profile(
    1, (1,), (720.0,), compression_ratio=9.0, stroke_mm=85.0, bore_mm=85.0, rod_length_mm=148.0,
    encoder=Encoder(3600, 1.0, 1),
    sensors=(Sensor(response_time_s=0.4e-3, points=((0.0, 0.0), (4095.0, 20.0))),),
)  # fmt: skip


DRAWN = {"tdc_deg": (0.0, 2.0), "log_start": (np.log(1.4), 0.05), "log_warm": (0.08, 0.03)}
"""Mean and sigma of what the fit hardly knows beforehand and a cylinder does: where TDC is near a
peak, and the charge at the first node. Narrower for the draw and for the bound alike; the fit keeps
its own."""


def trial_priors() -> tuple[Prior, ...]:
    """Return the priors that truths are drawn from and that go into the bound."""
    priors = priors_for(PROFILE, PROFILE.sensors[0], zero_sigma_bar=0.03)
    return tuple(
        replace(prior, mean=DRAWN[prior.name][0], sigma=DRAWN[prior.name][1])
        if prior.name in DRAWN
        else prior
        for prior in priors
    )


def drawn(rng: np.random.Generator, prior: Prior, size: int) -> np.ndarray:
    """Draw from a normal prior cut at its bounds."""
    low, high = ((end - prior.mean) / prior.sigma for end in (prior.low, prior.high))
    return truncnorm.rvs(low, high, prior.mean, prior.sigma, size, random_state=rng)


def truth(rng: np.random.Generator) -> tuple[dict[str, np.ndarray], Runs]:
    """Draw the true parameters from their priors, and the way the crank went."""
    values = {}
    for prior in trial_priors():
        size = PASSES if prior.per_pass else 1
        values[prior.name] = drawn(rng, prior, size).reshape(1, size)
    angle = np.tile(np.arange(-105.0, 105.0, 1.2), (PASSES, 1))
    rpm = rng.uniform(120.0, 260.0, PASSES)[:, None]
    speed = rpm * 6.0 * (1.0 - 0.25 * np.exp(-(((angle + 5.0) / 40.0) ** 2)))
    time = np.concatenate(
        [np.zeros((PASSES, 1)), np.cumsum(1.2 / (0.5 * (speed[:, 1:] + speed[:, :-1])), axis=1)], 1
    )
    ones = np.ones_like(angle)
    return values, Runs(time, angle, speed, ones, ones * NOISE_BAR, np.ones(angle.shape, bool))


def bound_deg(values: dict[str, np.ndarray], runs: Runs, around: Surroundings) -> float:
    """Return the Cramér-Rao bound of TDC's standard deviation at the truth."""
    priors = trial_priors()
    base = pressures(runs, Gas(**values), around)[0]
    rows, weights = [], []
    for prior in priors:
        for item in range(PASSES) if prior.per_pass else (None,):
            moved = {k: v.copy() for k, v in values.items()}
            moved[prior.name][0, slice(None) if item is None else item] += prior.step
            change = (pressures(runs, Gas(**moved), around)[0] - base) / prior.step
            rows.append(change.ravel() / NOISE_BAR)
            weights.append(1.0 / prior.sigma**2)
    slopes = np.array(rows)
    information = slopes @ slopes.T + np.diag(weights)
    return float(np.sqrt(np.linalg.inv(information)[0, 0]))


def passes_of(bar: np.ndarray, runs: Runs) -> tuple[Pass, ...]:
    """Dress noisy pressures as passes a whole cycle apart."""
    made = []
    for i in range(PASSES):
        nodes = Nodes(
            runs.time_s[i], runs.angle_deg[i] + 720.0 * i, runs.speed_deg_s[i], bar[i],
            np.ones(bar.shape[1]), np.zeros(bar.shape[1], bool), NOISE_BAR, 0.01, 1e-4,
        )  # fmt: skip
        made.append(Pass(nodes, 720.0 * i, 2 * i, True))
    return tuple(made)


def main() -> None:
    """Print the ratio of error to bound, and the peak's beside it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("trials", nargs="?", type=int, default=60)
    rng = np.random.default_rng(SEED)
    around = surroundings_of(PROFILE)
    errors, bounds, peaks = [], [], []
    for _ in range(parser.parse_args().trials):
        values, runs = truth(rng)
        bar = pressures(runs, Gas(**values), around)[0]
        passes = passes_of(bar + rng.normal(0.0, NOISE_BAR, bar.shape), runs)
        fit = None
        for stage in (FAR, NEAR, replace(FINAL, model_share=0.0)):
            fit = fit_passes(
                passes, PROFILE, PROFILE.sensors[0], zero_sigma_bar=0.03, start=fit, stage=stage
            )
        true = float(values["tdc_deg"][0, 0])
        errors.append(fit.tdc_deg.value - true)
        peaks.append(peak(passes).value - true)
        bounds.append(bound_deg(values, runs, around))
    ratio = np.sqrt(np.mean(np.square(errors) / np.square(bounds)))
    print(f"simulated by the fit's own model, seed {SEED}")
    print(f"trials {len(errors)}, noise {NOISE_BAR} bar, {PASSES} passes at 120 to 260 rev/min")
    print(f"bound, median          {np.median(bounds):8.4f} deg")
    print(f"fit, rms error         {np.sqrt(np.mean(np.square(errors))):8.4f} deg")
    print(f"fit, rms of error/bound{ratio:8.2f}   (goal 1.5 or less)")
    print(f"plain peak, rms error  {np.sqrt(np.mean(np.square(peaks))):8.4f} deg")


if __name__ == "__main__":
    assert {f.name for f in fields(Gas)} == {
        p.name for p in priors_for(PROFILE, PROFILE.sensors[0], zero_sigma_bar=0.03)
    }
    main()
