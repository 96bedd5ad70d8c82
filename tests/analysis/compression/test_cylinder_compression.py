"""One cylinder's compression at another speed and atmosphere."""

import math

import numpy as np
import pytest

from strokewise.analysis.compression.compression_curve import curves_of
from strokewise.analysis.compression.cylinder_compression import (
    LOSS_RPM,
    CylinderCompression,
    corrected_log,
    loss_from_passes,
    passes_to_reach,
)
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere


def cylinder(peak=12.0, rpm=200.0, air=1.013, loss=None, number=1):
    return CylinderCompression(
        number, Interval(peak, peak - 0.1, peak + 0.1), rpm, Atmosphere(air), 6, loss_rpm=loss
    )


def test_at_its_own_speed_and_atmosphere_nothing_changes():
    value, sigma = corrected_log(cylinder(), 200, 1.013)
    assert math.exp(value) == pytest.approx(12)
    assert sigma == pytest.approx(0.1 / 12 / 1.96, rel=0.01)


def test_a_peak_goes_with_the_atmosphere():
    value, _ = corrected_log(cylinder(air=0.85), 200, 1.013)
    assert math.exp(value) == pytest.approx(12 * 1.013 / 0.85)


def test_slower_cranking_is_lifted_and_less_sure():
    value, sigma = corrected_log(cylinder(rpm=150), 200, 1.013)
    assert value - math.log(12) == pytest.approx(LOSS_RPM * (1 / 150 - 1 / 200))
    assert sigma > corrected_log(cylinder(), 200, 1.013)[1]
    own, own_sigma = corrected_log(cylinder(rpm=150, loss=Interval(50, 49, 51)), 200, 1.013)
    assert own > value
    assert own_sigma < sigma


def test_loss_comes_back_from_passes_at_several_speeds():
    speeds = np.array([120.0, 150, 180, 220, 260])
    loss = loss_from_passes(15 * np.exp(-42 / speeds), speeds)
    assert loss.value == pytest.approx(42)
    assert loss.low < 42 < loss.high


def test_loss_covers_the_truth_under_scatter():
    random = np.random.default_rng(4)
    speeds = np.array([110.0, 140, 170, 200, 230, 260])
    covered = 0
    for _ in range(300):
        peaks = 15 * np.exp(-30 / speeds) * np.exp(random.normal(0, 0.01, len(speeds)))
        loss = loss_from_passes(peaks, speeds)
        covered += loss.low <= 30 <= loss.high
    assert covered >= 0.93 * 300


def test_speeds_too_alike_tell_nothing():
    assert loss_from_passes([12, 12.1, 12.2], [200, 210, 205]) is None
    assert loss_from_passes([12, 13], [100, 200]) is None


def test_passes_to_reach():
    assert passes_to_reach([6, 9, 11.6, 12, 11.9]) == 3
    assert passes_to_reach([12, 12]) == 1
    assert passes_to_reach([]) == 0


def test_what_cannot_be_is_refused():
    with pytest.raises(InputError, match="must be above 0"):
        cylinder(rpm=0)
    with pytest.raises(InputError, match="must be above 0"):
        cylinder(peak=0.05)


class Turned:
    """A compression at one of the turns, its peak a little before TDC."""

    speed_rpm = 190.0

    def __init__(self, turn, tdc_deg=141.0, peak_deg=-6.0):
        self.angle_deg = tdc_deg + 360.0 * turn + np.linspace(-90, 90, 181)
        self.pressure_bar = 0.4 + 9 * np.exp(-((np.linspace(-90, 90, 181) - peak_deg) ** 2) / 900)
        self.peak_angle_deg = float(self.angle_deg[np.argmax(self.pressure_bar)])


@pytest.mark.parametrize("turn", [-3, 0, 5])
def test_a_curve_counts_from_the_tdc_that_it_runs_through(turn):
    one, other = curves_of((Turned(turn), Turned(turn + 2)), 141.0, 0.4, 2)
    for each in (one, other):
        assert each.after_tdc_deg[0] == pytest.approx(-90)
        assert each.after_tdc_deg[np.argmax(each.pressure_bar)] == pytest.approx(-6)
        assert each.peak_bar == pytest.approx(9.0)  # the sensor's own zero is taken off
    assert (one.cylinder, one.number, other.number) == (2, 1, 2)
