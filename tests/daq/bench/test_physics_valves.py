"""Valve lift: the stated timing is met at the stated lift, and clearance moves it as it should."""

from __future__ import annotations

from math import radians

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import ValveTiming
from strokewise.daq.bench.engine.constants import constants_of
from strokewise.daq.bench.engine.cylinder import opening_areas
from strokewise.daq.bench.engine.settings import BenchEngine, ValveFault, ValveSet
from strokewise.daq.bench.engine.slider import bdc_after_tdc_rad
from strokewise.daq.bench.engine.valves import valve_area, valve_lift


def openings(engine, cylinder=1):
    """Return the crank angles (own firing TDC = 0) at which the valves are open."""
    k = constants_of(engine)
    angles = np.arange(0.0, 720.0, 0.05)
    crank = np.radians(angles) + k.firing_rad[cylinder - 1]
    areas = np.array([opening_areas(k, cylinder - 1, c) for c in crank])
    shut = k.intake_leak_m2[cylinder - 1], k.outside_leak_m2[cylinder - 1]
    return angles[areas[:, 0] > shut[0]], angles[areas[:, 1] > shut[1]]


@pytest.mark.parametrize("cylinder", [1, 4])
def test_events_of_the_manual(cylinder):
    timing = ValveTiming(12.0, 48.0, 46.0, 14.0)
    intake, exhaust = openings(BenchEngine(valve_timing=timing), cylinder)
    assert intake[0] == pytest.approx(360.0 - 12.0, abs=0.1)
    assert intake[-1] == pytest.approx(540.0 + 48.0, abs=0.1)
    assert exhaust[0] == pytest.approx(180.0 - 46.0, abs=0.1)
    assert exhaust[-1] == pytest.approx(360.0 + 14.0, abs=0.1)


def test_bdc_is_the_lowest_piston_place_of_an_offset_pin():
    engine = BenchEngine(pin_offset_mm=-0.9, bore_mm=80.0, stroke_mm=86.7016, rod_length_mm=152.68)
    k = constants_of(engine)
    # Published example: radius 43.35, rod 152.68, d 0.9 mm: TDC at 0.2631°, BDC at 180.4717°.
    assert k.radius_m == pytest.approx(43.35e-3, abs=3e-8)  # the stroke is rounded
    assert k.tdc_rad == pytest.approx(radians(0.2631), abs=radians(6e-5))
    bdc = bdc_after_tdc_rad(k.radius_m, k.rod_m, k.pin_offset_m)
    assert bdc + k.tdc_rad == pytest.approx(radians(180.4717), abs=radians(6e-5))
    intake, _ = openings(engine)
    closes = np.degrees(bdc) + 360.0 + engine.valve_timing.intake_closes_abdc_deg
    assert intake[-1] == pytest.approx(closes, abs=0.1)


def test_timing_stated_at_a_lift_has_that_lift_there():
    timing = ValveTiming(0.0, 30.0, 30.0, 0.0, at_lift_mm=1.0)
    k = constants_of(BenchEngine(valve_timing=timing))
    for opens in (360.0, 540.0 + 30.0):
        lift = valve_lift(
            opens - k.intake_middle_deg,
            k.intake_half_deg,
            k.intake_cam_lift_m,
            k.intake_clearance_m[0],
        )
        assert lift == pytest.approx(1.0e-3, rel=1e-6)
    highest = valve_lift(0.0, k.intake_half_deg, k.intake_cam_lift_m, k.intake_clearance_m[0])
    assert highest == pytest.approx(9.0e-3)


def test_clearance_moves_the_events():
    usual = openings(BenchEngine())[1]
    wide = openings(BenchEngine(valve_faults=(ValveFault(1, "exhaust", 1.0),)))[1]
    tight = openings(BenchEngine(valve_faults=(ValveFault(1, "exhaust", 0.0),)))[1]
    never_shut = openings(BenchEngine(valve_faults=(ValveFault(1, "exhaust", -0.1),)))[1]
    assert tight[0] < usual[0] - 5.0 < wide[0] - 10.0
    assert tight[-1] > usual[-1] + 5.0 > wide[-1] + 10.0
    assert never_shut[0] == 0.0
    assert never_shut[-1] == pytest.approx(719.95)
    other = openings(BenchEngine(valve_faults=(ValveFault(1, "exhaust", -0.1),)), cylinder=2)[1]
    assert other[0] == pytest.approx(usual[0], abs=0.06)


def test_a_late_cam_is_late_and_each_side_moves_alone():
    usual = openings(BenchEngine())
    late = openings(BenchEngine(intake_shift_deg=17.1))
    assert late[0][0] - usual[0][0] == pytest.approx(17.1, abs=0.06)
    assert late[1][0] == usual[1][0]


def test_a_valve_of_no_lift_never_opens():
    engine = BenchEngine(intake=ValveSet(40.0, 0.0, 0.3), exhaust=ValveSet(34.0, 0.0, 0.3))
    assert [found.size for found in openings(engine)] == [0, 0]


def test_area_is_the_curtain_until_the_throat_is_smaller():
    assert valve_area(1e-3, 40e-3, 0.5) == pytest.approx(0.5 * np.pi * 40e-3 * 1e-3)
    throat = 0.5 * np.pi / 4 * 40e-3**2
    assert valve_area(15e-3, 40e-3, 0.5) == pytest.approx(throat)


def test_timing_at_more_than_the_lift_is_refused():
    with pytest.raises(InputError, match="lifts higher than its 1 mm"):
        BenchEngine(
            valve_timing=ValveTiming(0.0, 30.0, 30.0, 0.0, at_lift_mm=1.0),
            intake=ValveSet(40.0, 1.0, 0.3),
        )
