"""The weighing of the stroke recomputed with scipy.stats.

Densities and Bayes' rule are scipy's; the sizes that go into them (how high a compression rises,
how valves breathe) are the tool's own and named constants. A compression's rise is log-normal, what
overlap shows is Student's t folded at zero, a rise whose top was cut off counts by what is left
above it, and what the two ways of turning showed of one compression is log-normal about each other.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import softmax
from scipy.stats import lognorm, t

from strokewise.analysis.stroke.passages import Visit
from strokewise.analysis.stroke.phase import (
    CLEAR,
    PRIOR_EVERY,
    PRIOR_EVERY_ONE_WAY,
    PRIOR_NONE,
    PRIOR_OTHER_CYCLE,
    UNCLEAR_SHARE,
    weigh,
)
from strokewise.analysis.stroke.rises import (
    BOTH_WAYS_SPREAD,
    BREATHING_BAR,
    BREATHING_FREEDOM,
    BREATHING_PER_RPM,
    RISE_SPREAD,
    RISE_TYPICAL_BAR,
)

NOISE_BAR = 0.01


def visit(turn, rise_bar, *, at_s=None, rpm=200.0, forward=True, clipped=False):
    return Visit(
        turn=turn,
        time_s=0.3 * turn if at_s is None else at_s,
        rise_bar=rise_bar,
        noise_bar=0.0,
        fell=True,
        clipped=clipped,
        level_bar=1.0,
        top_share=0.0,
        lingered=False,
        speed_rpm=rpm,
        forward=forward,
    )


def squeezed(bar, *, at_least=False):
    law = lognorm(s=RISE_SPREAD, scale=RISE_TYPICAL_BAR)
    return law.logsf(bar) if at_least else law.logpdf(bar)


def breathed(bar, rpm, looks, *, at_least=False):
    """Breathing and the noise of as many looks, which is averaged over no more than four."""
    noise = 2.0 * NOISE_BAR / np.sqrt(min(looks, 4))
    law = t(BREATHING_FREEDOM, scale=np.hypot(BREATHING_BAR + BREATHING_PER_RPM * rpm, noise))
    return np.log(2.0) + (law.logsf(bar) if at_least else law.logpdf(bar))


def posterior(even, odd, every=PRIOR_EVERY):
    """Bayes' rule over even, odd, every and none, from (squeezed, breathed) of the two kinds."""
    either = 0.5 * (1.0 - every - PRIOR_NONE)
    prior = np.log([either, either, every, PRIOR_NONE])
    seen = [even[0] + odd[1], even[1] + odd[0], even[0] + odd[0], even[1] + odd[1]]
    return softmax(prior + seen)


def four(phase):
    return [phase.even, phase.odd, phase.every, phase.none]


PAIRS = [(0.5, 0.1), (0.9, 0.3), (2.0, 0.6), (6.0, 0.02), (0.05, 1.1), (3.0, 2.5), (0.4, 0.38)]


@pytest.mark.parametrize("rpm", [20.0, 200.0, 700.0])
@pytest.mark.parametrize(("even_bar", "odd_bar"), PAIRS)
def test_one_rise_at_each_tdc(even_bar, odd_bar, rpm):
    """Of two rises the lower must be clear, or small beside the other: else the prior stays."""
    phase = weigh((visit(0, even_bar, rpm=rpm), visit(1, odd_bar, rpm=rpm)), noise_bar=NOISE_BAR)
    seen = [(squeezed(bar), breathed(bar, rpm, 1)) for bar in (even_bar, odd_bar)]
    low_bar, high_bar = sorted((even_bar, odd_bar))
    odds = squeezed(low_bar) - breathed(low_bar, rpm, 1)
    unclear = abs(odds) < CLEAR and low_bar > UNCLEAR_SHARE * high_bar
    expected = posterior(*([(0.0, 0.0)] * 2 if unclear else seen))
    assert four(phase) == pytest.approx(expected, rel=1e-9)


def test_a_kind_counts_once_by_its_middle():
    rises = [(0.55, 0.14), (0.6, 0.2), (0.7, 0.1)]
    visits = [visit(2 * i + k, bar) for i, pair in enumerate(rises) for k, bar in enumerate(pair)]
    phase = weigh(tuple(visits), noise_bar=NOISE_BAR)
    expected = posterior(
        (squeezed(0.6), breathed(0.6, 200.0, 3)), (squeezed(0.14), breathed(0.14, 200.0, 3))
    )
    assert four(phase) == pytest.approx(expected, rel=1e-9)


def test_a_top_cut_off_counts_as_at_least_that_much():
    phase = weigh((visit(0, 0.7, clipped=True), visit(1, 0.15)), noise_bar=NOISE_BAR)
    expected = posterior(
        (squeezed(0.7, at_least=True), breathed(0.7, 200.0, 1, at_least=True)),
        (squeezed(0.15), breathed(0.15, 200.0, 1)),
    )
    assert four(phase) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("forth_bar", "back_bar"), [(0.5, 0.8), (0.9, 0.4), (0.6, 0.6)])
def test_both_ways_through_one_tdc(forth_bar, back_bar):
    """One cause of a compression's two rises, two of breathing's; the other TDC was not met."""
    visits = (visit(0, forth_bar, at_s=0.0, rpm=25.0),
              visit(0, back_bar, at_s=1.0, rpm=25.0, forward=False))  # fmt: skip
    low, high = sorted((forth_bar, back_bar))
    together = squeezed(low) + lognorm(s=BOTH_WAYS_SPREAD, scale=low).logpdf(high)
    apart = breathed(low, 25.0, 2) + breathed(high, 25.0, 2)
    phase = weigh(visits, noise_bar=NOISE_BAR)
    assert four(phase) == pytest.approx(posterior((together, apart), (0.0, 0.0)), rel=1e-9)


def test_one_way_through_one_tdc_waits_for_the_other():
    phase = weigh((visit(0, 0.8),), noise_bar=NOISE_BAR)
    seen = squeezed(0.8), breathed(0.8, 200.0, 1)
    expected = posterior(seen, (0.0, 0.0), every=PRIOR_EVERY_ONE_WAY)
    assert four(phase) == pytest.approx(expected, rel=1e-9)


def test_a_two_stroke_begins_from_compression_at_every_turn():
    phase = weigh((visit(0, 0.6), visit(1, 0.5)), noise_bar=NOISE_BAR, cycle="two-stroke")
    seen = [(squeezed(bar), breathed(bar, 200.0, 1)) for bar in (0.6, 0.5)]
    sums = [seen[0][i] + seen[1][j] for i, j in ((0, 1), (1, 0), (0, 0), (1, 1))]
    every = 1.0 - 2.0 * PRIOR_OTHER_CYCLE - PRIOR_NONE
    prior = np.log([PRIOR_OTHER_CYCLE, PRIOR_OTHER_CYCLE, every, PRIOR_NONE])
    assert four(phase) == pytest.approx(softmax(prior + sums), rel=1e-9)
