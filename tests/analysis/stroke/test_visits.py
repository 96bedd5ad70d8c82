"""What one passage through a TDC showed, on nodes made up by hand."""

from __future__ import annotations

import numpy as np
import pytest

from strokewise.analysis.stroke.passages import Visit, visits_of
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import runs_of

TDC_DEG = 360.0


def seen(
    peak_deg: float, rise_bar: float, wide_deg: float = 25.0, way: int = 1
) -> tuple[Visit, ...]:
    """Turn once through a TDC with a hump beside it."""
    angle = np.arange(180.0, 540.0, 2.0)[::way]
    return visits_of(*turned(angle, 1.0 + rise_bar * bell(angle, peak_deg, wide_deg)), TDC_DEG)


def bell(angle: np.ndarray, at_deg: float, wide_deg: float) -> np.ndarray:
    return np.exp(-0.5 * ((angle - at_deg) / wide_deg) ** 2)


def turned(angle: np.ndarray, pressure: np.ndarray):
    time_s = np.arange(len(angle)) * 0.01
    nodes = Nodes(
        time_s, angle, np.gradient(angle, time_s), pressure, np.full(len(angle), 10.0),
        np.zeros(len(angle), np.bool_), 0.005, 0.15, 0.005,
    )  # fmt: skip
    return nodes, runs_of(nodes)


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("off_deg", [-30.0, 0.0, 20.0])
def test_a_compression_near_tdc_shows_its_rise(off_deg: float, way: int):
    (visit,) = seen(TDC_DEG + off_deg, 4.0, way=way)
    assert visit.rise_bar == pytest.approx(4.0, rel=0.25)
    assert visit.fell
    assert visit.forward == (way > 0)


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("off_deg", [-90.0, 90.0])
def test_a_compression_beside_the_rough_tdc_is_not_taken_for_a_quiet_turn(off_deg: float, way: int):
    assert seen(TDC_DEG + off_deg, 3.0, way=way) == ()


def test_a_quiet_turn_is_a_visit_without_a_rise():
    (visit,) = seen(TDC_DEG, 0.0)
    assert visit.rise_bar == pytest.approx(0.0, abs=1e-9)
    assert visit.step_bar == 0.005
    assert visit.height_bar == pytest.approx(0.0, abs=1e-9)


def test_a_pause_on_the_way_up_leaves_its_top_high_over_the_lowest():
    """What leaked away is missing from the rise, and not from how high the charge stood."""
    angle = np.arange(270.0, 450.0, 2.0)
    pressure = 1.0 + 1.6 * bell(angle, TDC_DEG, 60.0)
    pressure[angle > TDC_DEG + 60.0] = 0.6
    (visit,) = visits_of(*turned(angle, pressure), TDC_DEG)
    assert visit.height_bar == pytest.approx(2.0, abs=0.1)
    assert visit.rise_bar < 0.8 * visit.height_bar
