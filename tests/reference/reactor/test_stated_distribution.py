"""Where does the truth fall in the stated distribution of TDC? Its histogram should be flat.

Probability integral transform: T. Gneiting, F. Balabdaoui and A. E. Raftery, "Probabilistic
forecasts, calibration and sharpness", Journal of the Royal Statistical Society B 69(2), 2007,
after A. P. Dawid, 1984 (both from memory). A forecast that says what it knows gives values that are
uniform from 0 to 1: a hump in the middle is an interval too wide, two heaps at the ends one too
narrow, a slope one that leans.

The engines are Cantera's, drawn at random (the ranges are invented): as many for each of three
laws of heat loss, the constant coefficient from 15 to 80 W/(m² K), leaks from tight to worn, ratio,
wall, speed and its wavering, and a response time that differs from the stated one by as much as the
profile's statement is taken to be right, 20 %. All are turned by the starter.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binomtest, chisquare, norm

from strokewise.analysis.estimate import Z_95
from strokewise.analysis.verdict.find import find

LAWS = ("constant", "hohenberg", "woschni")
SEEDS = range(9000, 9024)  # of each law; nothing was tuned on them
BINS = 6
RARE = 0.001
"""A sound product would fail one histogram or one count of misses in a thousand."""


@pytest.fixture(scope="module")
def fell_at(reactor, rig, one_way, heat_laws, constant_law):
    """The share of the stated distribution below the truth, for each engine of each law."""

    def share(name, seed):
        rng = np.random.default_rng([seed, LAWS.index(name)])
        coefficient = float(rng.uniform(15.0, 80.0))
        engine = reactor(
            constant_law(coefficient) if name == "constant" else heat_laws[name],
            ratio=float(rng.uniform(8.0, 11.0)),
            leak_mm2=float(np.exp(rng.uniform(np.log(0.1), np.log(1.5)))),
            wall_k=float(rng.uniform(288.0, 308.0)),
        )
        turning = one_way(
            float(rng.uniform(140.0, 240.0)), float(rng.uniform(0.05, 0.2)), 2, -200.0, 1640.0
        )
        stated = rig()
        true = rig(
            clamp_deg=float(rng.uniform(0.0, 360.0)),
            lag_s=stated.lag_s * float(rng.uniform(0.8, 1.2)),
            seed=seed,
        )
        profile = replace(stated.profile, compression_ratio=engine.ratio)
        tdc = find(true.recording(engine, turning), profile).tdc
        assert tdc is not None
        off = (tdc.angle_deg.value - true.clamp_deg + 180.0) % 360.0 - 180.0
        return norm.cdf(-off / (tdc.angle_deg.half_width / Z_95))

    return {name: np.array([share(name, seed) for seed in SEEDS]) for name in LAWS}


def pooled(fell_at):
    return np.concatenate([fell_at[name] for name in LAWS])


def histogram_of(shares):
    return np.histogram(shares, BINS, (0.0, 1.0))[0]


@pytest.mark.xfail(
    strict=True,
    reason="by starter the interval is wider than these engines need, as another physics needs it,"
    " and TDC leans some 0.1° early",
)
def test_the_truth_falls_evenly_over_the_stated_distribution(fell_at):
    histogram = histogram_of(pooled(fell_at))
    assert histogram.sum() == len(SEEDS) * len(LAWS)
    assert chisquare(histogram).pvalue > RARE, histogram


@pytest.mark.parametrize("law", ["constant", "hohenberg", "woschni", "all"])
def test_the_95_percent_interval_holds_the_truth_as_often_as_it_says(fell_at, law):
    """Under one law alone the truth may lean, and an interval may hold more than it says."""
    shares = pooled(fell_at) if law == "all" else fell_at[law]
    inside = int(np.sum((shares > 0.025) & (shares < 0.975)))
    assert binomtest(inside, len(shares), 0.95, alternative="less").pvalue > RARE, inside


@pytest.mark.parametrize("factor", [1 / 3, 3.0])
def test_a_width_three_times_off_would_be_noticed(fell_at, factor):
    """What the histogram is for: the same answers with another width do not make a flat one."""
    wrong = norm.cdf(norm.ppf(np.clip(pooled(fell_at), 1e-12, 1 - 1e-12)) / factor)
    assert chisquare(histogram_of(wrong)).pvalue < RARE
