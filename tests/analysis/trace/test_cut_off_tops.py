"""Tops that the sensor's end cuts off: where they are, and that no clamp slips by them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from suite_turned import turned

from strokewise.analysis.tdc.rough import rough_tdc
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import humps_of
from strokewise.analysis.trace.plateau import centred, cut_off, end_met_bar, with_plateaus
from strokewise.analysis.trace.steady import steady_part

TDC_DEG = 40.0


def overshot(end_bar: float, at_begin_bar: float) -> Nodes:
    """Whole turns at starter speed; where it comes to its end the sensor goes a little over it."""
    nodes = turned(5, 230.0)
    over = nodes.pressure_bar >= end_bar
    comes = over & ~np.concatenate([over[:1], over[:-1]])
    pressure = np.minimum(nodes.pressure_bar, end_bar) + at_begin_bar * comes
    return with_plateaus(replace(nodes, pressure_bar=pressure))


@pytest.mark.parametrize("end_bar", [1.6, 2.5, 4.0])
def test_a_peak_beside_the_stretch_at_the_end_is_on_the_same_top(end_bar: float):
    nodes = overshot(end_bar, 0.004)
    humps = humps_of(nodes)
    assert len(humps) >= 4
    assert all(cut_off(nodes, hump) for hump in humps)
    middles = [hump.angle_deg for hump in centred(nodes, humps)]
    assert np.ptp((np.array(middles) + 180.0) % 360.0) < 5.0
    assert not steady_part(nodes, humps, centred(nodes, humps)).changed
    rough = rough_tdc(nodes, centred(nodes, humps))
    assert abs((rough.value - TDC_DEG + 180.0) % 360.0 - 180.0) <= rough.half_width <= 35.0


def test_what_stays_under_the_end_is_cut_off_by_nothing():
    nodes = overshot(2.5, 0.004)
    assert end_met_bar(nodes) == pytest.approx(2.5, abs=0.01)
    begin = int(np.flatnonzero(np.diff(nodes.clipped.astype(int)) > 0)[0]) + 1
    lower = replace(humps_of(nodes)[0], pressure_bar=2.3, at=begin - 8)
    assert not cut_off(nodes, lower)
    assert cut_off(nodes, replace(lower, pressure_bar=2.5))
    assert end_met_bar(turned(2, 230.0)) == np.inf
