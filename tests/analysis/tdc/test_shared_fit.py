"""A fit with shared and own parameters, on lines whose slope and heights are known."""

import numpy as np
import pytest

from strokewise.analysis.tdc.shared_fit import FitParameter, SharedFit, inverse_of

X = np.linspace(0.0, 1.0, 40)
SLOPE, HEIGHTS, NOISE = 1.5, np.array([0.3, -0.2, 0.8]), 0.01


def line(values):
    return values["slope"][..., None] * X + values["height"][..., None]


def fit_of(bar, used=None, slope_sigma=10.0):
    parameters = (
        FitParameter("slope", 0.0, slope_sigma, 0.01),
        FitParameter("height", np.zeros(len(bar)), 10.0, 0.01),
    )
    used = np.ones(bar.shape, bool) if used is None else used
    return SharedFit(parameters, line, bar, np.full(bar.shape, NOISE), used)


@pytest.fixture
def bar():
    rng = np.random.default_rng(5)
    return SLOPE * X + HEIGHTS[:, None] + rng.normal(0.0, NOISE, (3, len(X)))


def test_what_is_shared_and_what_is_own_are_found(bar):
    found = fit_of(bar).solve()
    sigma = float(np.sqrt(found.covariance[0, 0]))
    assert abs(found.values["slope"][0] - SLOPE) < 4 * sigma
    np.testing.assert_allclose(found.values["height"], HEIGHTS, atol=0.02)
    # three lines' least squares: the noise over the spread of x
    spread = NOISE / np.sqrt(3 * len(X) * np.var(X))
    assert sigma == pytest.approx(spread, rel=0.3)
    # the mean of a Cauchy loss from three sigmas on over normal noise is 0.89
    assert found.cost == pytest.approx(0.89, abs=0.3)


def test_its_derivative_is_that_of_the_model(bar):
    fit = fit_of(bar)
    x = np.array([1.0, 0.1, 0.2, 0.3])
    here = fit.look(x)
    data = len(here.slope) - len(x)
    for i in range(len(x)):
        moved = x.copy()
        moved[i] += 1e-4
        np.testing.assert_allclose(
            here.slope[data:, i],
            (fit.look(moved).residual - here.residual)[data:] / 1e-4,
            atol=1e-6,
        )
        change = (fit.off(fit.bar(moved[None])[0]) - fit.off(fit.bar(x[None])[0])) / 1e-4
        counted = fit.weight_at(fit.bar(x[None])[0]) * NOISE
        np.testing.assert_allclose(here.slope[:data, i], (change * counted).ravel(), atol=1e-6)


def test_its_derivative_takes_the_robust_sum_down(bar):
    """The gradient of the sum itself, by differences: half of it is the slope on the residuals."""
    fit = fit_of(bar)
    x = np.array([1.4, 0.25, -0.1, 0.7])
    here = fit.look(x)
    for i in range(len(x)):
        moved = x.copy()
        moved[i] += 1e-6
        by_difference = (fit.look(moved).size - here.size) / 1e-6
        assert 2.0 * (here.slope.T @ here.residual)[i] == pytest.approx(by_difference, rel=1e-3)


def test_a_few_wild_nodes_hardly_count_and_unused_ones_not_at_all(bar):
    bar[0, 5] += 5.0
    used = np.ones(bar.shape, bool)
    used[1, :10] = False
    bar[1, :10] = 99.0
    found = fit_of(bar, used).solve()
    assert found.values["slope"][0] == pytest.approx(SLOPE, abs=0.02)


def test_residuals_that_hang_together_widen_the_answer(bar):
    plain = fit_of(bar).solve().covariance[0, 0]
    wavy = bar + 0.03 * np.sin(12.0 * X)
    assert fit_of(wavy).solve().covariance[0, 0] > 5 * plain


def test_a_tight_prior_holds_what_the_data_does_not_outweigh(bar):
    assert abs(fit_of(bar, slope_sigma=1e-5).solve().values["slope"][0]) < 0.01


def test_the_best_of_some_trials_is_the_one_that_fits(bar):
    trials = np.array([[s, *HEIGHTS] for s in (0.0, 1.0, 1.5, 2.0)])
    assert fit_of(bar).best_of(trials)[0] == 1.5


def test_a_covariance_is_right_however_small_some_of_its_units_are():
    """A share of 1e-7 beside a temperature of 1e3: as it stands the inverse has wrong signs."""
    sizes = np.logspace(-9, 4, 14)
    alike = 0.9 ** np.abs(np.subtract.outer(np.arange(14), np.arange(14)))
    covariance = alike * np.outer(sizes, sizes)
    information = np.linalg.inv(alike) / np.outer(sizes, sizes)
    np.testing.assert_allclose(inverse_of(information), covariance, rtol=1e-9)
