"""A sensor driven past its end: how far, and that it is said with what can hurt somebody."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from suite_bench import tdc_off_deg
from suite_turned import ENGINE
from suite_turned import turned as modelled

from strokewise.analysis.trace.at_end import FAR_TIMES, OVERRANGED, overranged
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.plateau import with_plateaus
from strokewise.analysis.verdict.find import find
from strokewise.gui.pages.cautions import after_finding
from strokewise.gui.sayings import say

Decide = Callable[..., Any]


def ended(end_bar: float) -> Nodes:
    """Whole turns at starter speed, seen by a sensor that ends there."""
    nodes = modelled(4, 230.0)
    return with_plateaus(replace(nodes, pressure_bar=np.minimum(nodes.pressure_bar, end_bar)))


@pytest.mark.parametrize("end_bar", [1.2, 1.5, 2.0])
def test_how_far_past_its_end_is_told_by_how_long_it_stood_there(end_bar: float):
    true = float(modelled(4, 230.0).pressure_bar.max()) / end_bar
    (warned,) = overranged(ended(end_bar), ENGINE)
    assert warned.code == OVERRANGED
    assert warned.remark.figure("times") == pytest.approx(true, rel=0.4)


def test_a_top_that_is_cut_off_harms_no_sensor():
    highest = float(modelled(4, 230.0).pressure_bar.max())
    assert overranged(ended(0.7 * highest), ENGINE) == ()
    assert overranged(modelled(4, 230.0), ENGINE) == ()


def test_a_wire_that_came_off_is_no_compression():
    nodes = modelled(4, 230.0)
    after = np.arange(len(nodes)) > 20
    assert overranged(replace(nodes, clipped=after), ENGINE) == ()


def test_pressure_that_a_valve_in_the_hose_holds_up_is_no_sensors_end():
    nodes = modelled(2, 230.0)
    held = np.maximum.accumulate(nodes.pressure_bar)
    flat = replace(nodes, pressure_bar=held, clipped=held >= held.max())
    assert overranged(flat, ENGINE) == ()


@pytest.mark.parametrize(("name", "told"), [("vacuum-sensor", True), ("cranked", False)])
def test_cranked_with_a_vacuum_sensor_it_is_warned_of(
    name: str, told: bool, turned: Callable[..., Any], phase_of: Decide
):
    made = turned(name)
    warned = [w for w in phase_of(made.recording, made.profile).warnings if w.code == OVERRANGED]
    assert bool(warned) == told
    for each in warned:
        assert each.remark.figure("times") >= FAR_TIMES
        assert "Do not crank with it" in say(each.remark)


def test_cranked_with_a_vacuum_sensor_tdc_is_rough_for_its_flanks_pass_too_quickly(
    turned: Callable[..., Any],
):
    """Fits of such flanks were up to 65° off, at ± 21° (benches 84235 and 84242, by starter)."""
    made = turned("vacuum-sensor")
    verdict = find(made.recording, made.profile)
    assert verdict.decided
    assert verdict.tdc is not None
    assert verdict.tdc.method == "rough"
    off_deg = abs(tdc_off_deg(verdict.tdc.angle_deg.value, made.truth))
    assert off_deg <= verdict.tdc.angle_deg.half_width <= 30.0


def test_its_caution_comes_before_those_of_the_next_step():
    first = after_finding(ENGINE, decided=True, method="fit", warned=[OVERRANGED])[0]
    assert first.code == OVERRANGED
    assert "stop cranking" in first.text
