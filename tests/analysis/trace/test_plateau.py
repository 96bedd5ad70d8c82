"""A sensor's end is seen at any speed, and no real peak is taken for one."""

import numpy as np
import pytest

from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.plateau import with_plateaus

SPEEDS_RPM = (20.0, 60.0, 200.0, 500.0, 1000.0, 1750.0, 3000.0)


def trace(rpm, *, ratio=9.0, end_bar=np.inf, noise=0.005, every_deg=2.2, step=0.005, seed=0):
    """Four cycles of loss-free compressions, cut off at ``end_bar``."""
    angle = np.arange(-300.0, 4 * 720.0 - 300.0, every_deg)
    after = np.clip((angle + 360.0) % 720.0 - 360.0, -180.0, 180.0)
    rod, theta = 3.5, np.radians(after)
    down = (rod + 1 - np.cos(theta) - np.sqrt(rod**2 - np.sin(theta) ** 2)) / 2
    volume = (1 / (ratio - 1) + down) / (1 / (ratio - 1) + 1.0)
    bar = np.minimum(volume**-1.3, end_bar)
    bar = bar + np.random.default_rng(seed).normal(0.0, noise, len(bar))
    count = len(angle)
    return Nodes(
        angle / (6.0 * rpm), angle, np.full(count, 6.0 * rpm), bar, np.ones(count),
        np.zeros(count, bool), noise, 0.1, step,
    )  # fmt: skip


@pytest.mark.parametrize("rpm", SPEEDS_RPM)
@pytest.mark.parametrize("ratio", [5.0, 9.0, 21.0])
@pytest.mark.parametrize("every_deg", [1.0, 2.2, 3.0])
def test_no_real_peak_is_taken_for_the_sensors_end(rpm, ratio, every_deg):
    assert not with_plateaus(trace(rpm, ratio=ratio, every_deg=every_deg)).clipped.any()


@pytest.mark.parametrize("rpm", SPEEDS_RPM)
@pytest.mark.parametrize("end_bar", [2.0, 6.0])
def test_a_sensors_end_is_seen_at_any_speed(rpm, end_bar):
    nodes = with_plateaus(trace(rpm, end_bar=end_bar))
    at_end = trace(rpm, end_bar=end_bar, noise=1e-9).pressure_bar > end_bar - 1e-6
    assert nodes.clipped[at_end].mean() > 0.7  # its ends are rounded by the averaging
    assert not nodes.clipped[~at_end & (nodes.pressure_bar < 0.8 * end_bar)].any()


@pytest.mark.parametrize("rpm", [500.0, 1000.0, 1750.0, 3000.0])
def test_a_fast_engine_that_only_just_passes_the_sensors_end_is_seen_too(rpm):
    nodes = with_plateaus(trace(rpm, end_bar=15.6, noise=0.01))
    assert nodes.clipped.any()


def test_a_vacuum_sensors_end_hardly_above_the_atmosphere_is_seen_where_its_points_say_so():
    """27 mbar over the usual pressure, in steps of 1 and a noise of 2 mbar."""
    nodes = trace(20.0, end_bar=1.027, noise=0.002, step=0.001)
    at_end = trace(20.0, end_bar=1.027, noise=1e-9).pressure_bar > 1.027 - 1e-6
    assert with_plateaus(nodes, 1.027).clipped[at_end].mean() > 0.7
    # a hump that is as low and wide by itself, with a sensor that goes on to 1.5 bar
    assert not with_plateaus(nodes, 1.5).clipped.any()
