"""Two answers that fit equally well are both in the interval."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.tdc.closed_cycle import Runs
from strokewise.analysis.tdc.fit import Fit
from strokewise.analysis.tdc.modes import (
    LAG_ENDS_S,
    NO_OTHER,
    PLACES_COST,
    RULED_OUT,
    other_answers,
    other_places,
    starts,
)

SIGMA_DEG = 0.2
FLAT = np.ones((3, 4))
RUNS = Runs(FLAT, FLAT, FLAT, FLAT, FLAT, FLAT > 0)


def answer(tdc_deg: float, lag_s: float, size: float = 100.0) -> Fit:
    values = {"lag_s": np.full(3, lag_s), "log_leak": np.zeros(3), "log_heat": np.zeros(3)}
    return Fit(
        Interval.from_sigma(tdc_deg, SIGMA_DEG), SIGMA_DEG, values, {}, RUNS, FLAT, 1.0, 1.0,
        size=size,
    )  # fmt: skip


def two_valleys(second_size: float):
    """A descent that ends in the valley of the lag that it began in: 0.34 or 0.06 ms."""

    def refit(start: Fit) -> Fit:
        if start.values["lag_s"][0] > 0.2e-3:
            return answer(90.0, 0.34e-3)
        return answer(88.6, 0.06e-3, second_size)

    return refit


@pytest.mark.parametrize("begun_in", [0.34e-3, 0.06e-3])
def test_both_valleys_of_the_lag_are_in_the_interval(begun_in):
    refit = two_valleys(100.0 + 0.5 * RULED_OUT)
    fit, other = other_answers(refit(answer(0.0, begun_in)), refit)
    assert fit.tdc_deg.value == 90.0  # the better of the two, wherever it began
    wide = other.held_by(fit).tdc_deg
    assert wide.low == pytest.approx(answer(88.6, 0.0).tdc_deg.low)
    assert wide.high == pytest.approx(answer(90.0, 0.0).tdc_deg.high)
    assert other.sought_in == 3


def test_a_valley_that_the_data_rule_out_is_left_out():
    refit = two_valleys(100.0 + 1.1 * RULED_OUT)
    fit, other = other_answers(answer(90.0, 0.34e-3), refit)
    assert other.held_by(fit).tdc_deg == fit.tdc_deg


def test_where_residuals_hang_together_less_is_ruled_out():
    def refit(start: Fit) -> Fit:
        return replace(two_valleys(100.0 + 2.0 * RULED_OUT)(start), tied=3.0)

    fit, other = other_answers(refit(answer(0.0, 0.34e-3)), refit)
    assert other.held_by(fit).tdc_deg.low < 88.6


def test_it_begins_again_from_either_end_of_the_lag():
    ends = [float(fit.values["lag_s"][0]) for fit in starts(answer(90.0, 3e-4))]
    assert ends == pytest.approx(list(LAG_ENDS_S))


def test_one_valley_leaves_the_interval_alone():
    fit, other = other_answers(answer(90.0, 3e-4), lambda start: answer(90.02, 3e-4, 100.1))
    assert (other.before_deg, other.after_deg) == (NO_OTHER.before_deg, NO_OTHER.after_deg)
    assert fit.tdc_deg.value == 90.0


def flanks(tdc_deg: float, cost: float) -> Fit:
    return replace(answer(tdc_deg, 0.1e-3), cost=cost)


def test_of_flanks_the_place_with_the_least_left_over_is_the_answer_and_holds_those_as_good():
    at, other = other_places(
        [flanks(24.0, 1.2), flanks(722.0, 1.0), flanks(40.0, 1.1 * PLACES_COST)]
    )
    assert at == 1
    wide = other.held_by(flanks(722.0, 1.0)).tdc_deg
    assert wide.low == pytest.approx(722.0 - Z_95 * SIGMA_DEG)
    assert wide.high == pytest.approx(744.0 + Z_95 * SIGMA_DEG)
    assert other.sought_in == 3
