"""Where does TDC lie when all that is seen is where the sensor stood at its end?

The charge is scipy's: air between the adiabatic and the isothermal law that leaks away, taken over
a piston by the integrator of ``scipy.integrate`` and not by the product's march.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from strokewise.analysis.tdc.cut_off import (
    SHUT_DEG,
    WARMED_DEG,
    squeezed_within_deg,
    tdc_while_shut,
)
from strokewise.analysis.tdc.rough import rough_tdc
from strokewise.analysis.trace.at_end import AtEnd, stretches_at_end
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import humps_of

TDC_DEG = 47.0
SHUT_BEFORE_DEG = 130.0
STEP_S = 0.01


def space(after_deg: float, ratio: float = 9.0, rod: float = 3.4) -> float:
    """Volume over the greatest, of a piston on a rod (the textbook's slider and crank)."""
    a = np.radians(after_deg)
    down = 0.5 * (1.0 + rod - np.cos(a) - np.sqrt(rod**2 - np.sin(a) ** 2))
    return float((1.0 + (ratio - 1.0) * down) / ratio)


@cache
def turned(leak_per_s: float, rpm: float, pause_deg: float, pause_s: float, law: float) -> Nodes:
    """One compression by hand from 200° before TDC, with a pause somewhere on its way."""
    before_s = (pause_deg + 200.0) / (6.0 * rpm)
    whole_s = 400.0 / (6.0 * rpm) + pause_s

    def after_deg(t: float) -> float:
        moving_s = t if t < before_s else before_s if t < before_s + pause_s else t - pause_s
        return -200.0 + 6.0 * rpm * moving_s

    def rate(t: float, bar: np.ndarray) -> list[float]:
        now = after_deg(t)
        if abs(now) > SHUT_BEFORE_DEG:
            return [float((1.0 - bar[0]) / 0.02)]
        slope = (np.log(space(after_deg(t + 1e-4))) - np.log(space(now))) / 1e-4
        return [float(-law * bar[0] * slope - leak_per_s * (bar[0] - 1.0))]

    time_s = np.arange(0.0, whole_s, STEP_S)
    run = solve_ivp(rate, (0.0, whole_s), [1.0], t_eval=time_s, max_step=0.02, rtol=1e-7)
    angle = np.array([after_deg(t) for t in time_s]) + TDC_DEG
    one = np.ones_like(time_s)
    speed = np.gradient(angle, time_s)
    return Nodes(time_s, angle, speed, run.y[0], one, one < 0, 0.002, 0.15, 0.001)


def cut_off(nodes: Nodes, end_bar: float) -> Nodes:
    at_end = nodes.pressure_bar >= end_bar
    return replace(nodes, pressure_bar=np.minimum(nodes.pressure_bar, end_bar), clipped=at_end)


def mirrored(nodes: Nodes) -> Nodes:
    """The same, turned the other way."""
    return replace(nodes, angle_deg=-nodes.angle_deg, speed_deg_s=-nodes.speed_deg_s)


def off_deg(angle_deg: float, tdc_deg: float = TDC_DEG) -> float:
    return (angle_deg - tdc_deg + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize("end_bar", [1.05, 1.2, 1.5, 2.5])
@pytest.mark.parametrize("leak_per_s", [0.02, 0.5, 3.0])
@pytest.mark.parametrize("pause_deg", [-90.0, -30.0, 25.0])
@pytest.mark.parametrize("law", [1.02, 1.38])
def test_tdc_lies_where_the_sensors_end_allows_it(
    end_bar: float, leak_per_s: float, pause_deg: float, law: float
):
    nodes = cut_off(turned(leak_per_s, 15.0, pause_deg, 1.0, law), end_bar)
    for seen, tdc_deg in ((nodes, TDC_DEG), (mirrored(nodes), -TDC_DEG)):
        allowed = tdc_while_shut(stretches_at_end(seen), squeezed_within_deg(end_bar))
        if allowed is not None:
            assert abs(off_deg(allowed.value, tdc_deg)) <= allowed.half_width
            assert allowed.half_width < 100.0


def test_a_leaky_charge_that_was_held_before_tdc_is_no_reason_to_place_it_there():
    nodes = cut_off(turned(3.0, 15.0, -90.0, 1.0, 1.2), 1.05)
    middle = np.median(nodes.angle_deg[nodes.clipped]) - TDC_DEG
    assert middle < -60.0  # so far before TDC is it at the sensor's end
    rough = rough_tdc(nodes, humps_of(nodes))
    assert abs(off_deg(rough.value)) <= rough.half_width


def test_two_ways_bound_it_from_both_sides():
    there = AtEnd(-80.0, 30.0, -80.0, 30.0, True)
    back = AtEnd(-20.0, 90.0, 90.0, -20.0, True)
    allowed = tdc_while_shut((there, back))
    assert allowed is not None
    assert allowed.low == pytest.approx(-25.0 - WARMED_DEG)
    assert allowed.high == pytest.approx(35.0 + WARMED_DEG)


def test_a_stretch_with_which_the_trace_begins_does_not_tell_by_its_middle():
    cut = AtEnd(60.0, 110.0, 60.0, 110.0, False)
    whole = replace(cut, came=True)
    loose, tight = tdc_while_shut((cut,)), tdc_while_shut((whole,))
    assert loose is not None
    assert tight is not None
    assert loose.low == pytest.approx(110.0 - SHUT_DEG)
    assert tight.low == pytest.approx(85.0 - WARMED_DEG)


def test_only_the_first_leg_tells_by_its_middle():
    angle = np.concatenate([np.arange(-150.0, 20.0, 2.0), np.arange(20.0, -60.0, -2.0)])
    one = np.ones_like(angle)
    clipped = (np.arange(len(angle)) > 40) & (np.arange(len(angle)) < 120)
    nodes = Nodes(0.01 * np.arange(len(angle)), angle, one, one, one, clipped, 0.01, 0.15, 0.01)
    (stretch,) = stretches_at_end(nodes)
    assert stretch == AtEnd(-68.0, 20.0, -68.0, 20.0, True)
    (back,) = stretches_at_end(mirrored(nodes))
    assert back == AtEnd(-20.0, 68.0, 68.0, -20.0, True)


def test_turns_that_contradict_each_other_leave_what_each_allows_last():
    one, other = AtEnd(-40.0, 40.0, -40.0, 40.0, True), AtEnd(440.0, 490.0, 440.0, 490.0, True)
    allowed = tdc_while_shut((one, other), 60.0)
    assert allowed is not None
    assert allowed.low == pytest.approx(-40.0 + 60.0)
    assert allowed.high == pytest.approx(105.0 - WARMED_DEG)


def test_nothing_at_the_end_and_too_little_of_it_tell_nothing():
    nodes = turned(0.5, 15.0, 25.0, 1.0, 1.2)
    assert stretches_at_end(nodes) == ()
    assert tdc_while_shut(()) is None
    assert tdc_while_shut((AtEnd(-5.0, 5.0, -5.0, 5.0, True),)) is None


@pytest.mark.parametrize("end_bar", [1.3, 2.0, 5.0, 12.0])
@pytest.mark.parametrize("ratio", [6.0, 9.0, 16.0, 22.0])
@pytest.mark.parametrize("rod", [2.6, 3.4, 4.5])
def test_no_engine_squeezes_to_the_end_further_from_tdc(end_bar: float, ratio: float, rod: float):
    """Adiabatic air from BDC on, found by ``scipy.optimize``: γ = 1.4 from memory."""

    def above(before_deg: float) -> float:
        return space(before_deg, ratio, rod) ** -1.4 - end_bar

    if above(0.0) > 0.0:
        assert brentq(above, 0.0, 180.0) <= squeezed_within_deg(end_bar)


def test_near_the_atmosphere_the_valves_bound_it():
    assert squeezed_within_deg(1.05) == SHUT_DEG
    assert squeezed_within_deg(0.4) == SHUT_DEG
    assert squeezed_within_deg(60.0) < 16.0
