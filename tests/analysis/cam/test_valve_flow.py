"""The cylinder with one valve shutting or opening, in cases whose answer is known."""

import numpy as np
import pytest

from strokewise.analysis.cam.valve_flow import (
    RISE_OVER_DEG,
    Cylinder,
    Passage,
    Spans,
    passage_pressures,
)
from strokewise.analysis.crank.kinematics import stroke_ratio, travel

CYLINDER = Cylinder(rod_ratio=3.4, pin_offset_ratio=0.0, clearance_share=1 / 8, lag_s=0.0)
SPEED_DEG_S = 1200.0
EXPONENT = 1.35


def volume(angle):
    return travel(angle, rod_ratio=3.4) / stroke_ratio(rod_ratio=3.4) + CYLINDER.clearance_share


def spans(low=-200.0, high=-80.0, step=1.5, speed=SPEED_DEG_S):
    angle = np.arange(low, high, step)[None]
    return Spans(
        time_s=(angle - low) / speed,
        angle_deg=angle,
        log_shut=-EXPONENT * np.log(volume(angle)),
        pressure_bar=np.ones_like(angle),
        sigma_bar=np.ones_like(angle),
        used=np.ones_like(angle, bool),
    )


def passage(seat=-130.0, flow=2.0, tilt=0.0, zero=0.0, port=1.0, rise=0.0, start=1.0):
    values = (seat, np.log(flow), np.log(0.03), tilt, zero, np.log(port), rise, np.log(start))
    return Passage(*(np.full((1, 1), value) for value in values))


def test_a_shut_valve_leaves_the_closed_line():
    made = spans()
    shown = passage_pressures(made, CYLINDER, passage(flow=1e-12), -1)[0, 0]
    line = (volume(made.angle_deg[0, 0]) / volume(made.angle_deg[0])) ** EXPONENT
    np.testing.assert_allclose(shown, line, rtol=1e-9)


def test_a_wide_open_valve_holds_the_port():
    shown = passage_pressures(spans(high=-160.0), CYLINDER, passage(seat=-60.0, port=0.93), -1)
    assert shown[0, 0, -1] == pytest.approx(0.93, abs=0.003)


def test_a_wide_open_valve_follows_a_port_that_rises():
    made = spans(high=-130.0)
    shown = passage_pressures(made, CYLINDER, passage(seat=-60.0, flow=50.0, rise=0.1), -1)[0, 0]
    port = np.exp(0.1 * (made.angle_deg[0] + 60.0) / RISE_OVER_DEG)
    assert shown[-1] == pytest.approx(port[-1], abs=1e-3)
    shut = passage_pressures(made, CYLINDER, passage(flow=1e-12, rise=0.1), -1)[0, 0]
    steady = passage_pressures(made, CYLINDER, passage(flow=1e-12), -1)[0, 0]
    np.testing.assert_allclose(shut, steady, rtol=1e-9)  # what is trapped feels no port


def test_the_faster_the_engine_the_earlier_the_gas_feels_the_seat():
    slow, fast = (
        passage_pressures(spans(speed=s), CYLINDER, passage(), -1)[0, 0, -1] for s in (200, 1500)
    )
    none = (volume(np.array(-130.0)) / volume(np.array(-81.5))) ** EXPONENT
    assert none < slow < fast
    assert slow == pytest.approx(none, rel=0.03)


def test_an_exhaust_that_opens_below_the_port_fills_the_cylinder():
    made = spans(low=60.0, high=200.0)
    shut = passage_pressures(made, CYLINDER, passage(seat=190.0, start=2.0), 1)[0, 0]
    opened = passage_pressures(made, CYLINDER, passage(seat=120.0, start=2.0), 1)[0, 0]
    assert shut[80] < 0.9 < opened[80]
    np.testing.assert_allclose(shut[:38], opened[:38], rtol=1e-9)


def test_zero_tilt_and_lag_act_as_named():
    made = spans()
    plain = passage_pressures(made, CYLINDER, passage(), -1)
    np.testing.assert_allclose(
        passage_pressures(made, CYLINDER, passage(zero=0.05), -1), plain + 0.05
    )
    assert passage_pressures(made, CYLINDER, passage(tilt=0.1), -1)[0, 0, -1] > plain[0, 0, -1]
    lagging = Cylinder(3.4, 0.0, CYLINDER.clearance_share, lag_s=0.001)
    behind = passage_pressures(made, lagging, passage(), -1)[0, 0]
    at = np.interp(made.time_s[0] - 0.001, made.time_s[0], plain[0, 0])
    np.testing.assert_allclose(behind[60:], at[60:], rtol=0.01)
