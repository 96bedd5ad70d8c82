"""The bench engine's settings: firing places, and errors a person can mend."""

from __future__ import annotations

import pytest

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.engine.constants import constants_of
from strokewise.daq.bench.engine.settings import BenchEngine, RockedTurning, ValveFault, ValveSet
from strokewise.daq.bench.engine.solve import simulate


def test_firing_places_follow_order_and_intervals():
    even = BenchEngine()
    assert [even.firing_deg(n) for n in (1, 2, 3, 4)] == [0.0, 540.0, 180.0, 360.0]
    # Written from another cylinder on, the same engine.
    turned = BenchEngine(firing_order=(4, 2, 1, 3))
    assert [turned.firing_deg(n) for n in (1, 2, 3, 4)] == [0.0, 540.0, 180.0, 360.0]
    vee = BenchEngine(cylinders=2, firing_order=(2, 1), firing_intervals_deg=(270.0, 450.0))
    assert [vee.firing_deg(n) for n in (1, 2)] == [0.0, 450.0]
    two_stroke = BenchEngine(cylinders=3, firing_order=(1, 3, 2), cycle="two-stroke")
    assert [two_stroke.firing_deg(n) for n in (1, 2, 3)] == pytest.approx([0.0, 240.0, 120.0])


def test_the_adaptor_lowers_the_compression_of_its_cylinder_only():
    engine = BenchEngine(compression_ratio=10.0, adaptor_volume_cm3=5.0, adaptor_cylinder=3)
    k = constants_of(engine)
    swept = k.piston_m2 * 0.086
    assert k.clearance_m3[0] == pytest.approx(swept / 9.0)
    assert k.clearance_m3[2] - k.clearance_m3[0] == pytest.approx(5e-6)


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"firing_order": (1, 2, 3, 3)}, "each of the 4 cylinders once"),
        ({"firing_intervals_deg": (180.0,) * 3}, "4 angles that sum to 720"),
        ({"firing_intervals_deg": (90.0,) * 4}, "4 angles that sum to 720"),
        ({"compression_ratio": 1.0}, "must be above 1"),
        ({"rod_length_mm": 40.0}, "too short for a stroke of 86 mm"),
        ({"ring_leak_mm2": (1.0, 2.0)}, "has 2 values"),
        ({"plugs_out": (5,)}, "no cylinder 5"),
        ({"valve_faults": (ValveFault(0, "intake"),)}, "no cylinder 0"),
        ({"adaptor_cylinder": 9}, "no cylinder 9"),
    ],
)
def test_an_engine_that_cannot_be_is_refused(settings, message):
    with pytest.raises(InputError, match=message):
        BenchEngine(**settings)


def test_a_valve_that_cannot_be_is_refused():
    with pytest.raises(InputError, match="give sizes above 0"):
        ValveSet(0.0, 9.0, 0.3)


def test_a_cylinder_filled_to_the_top_is_refused():
    with pytest.raises(InputError, match="could not pass TDC"):
        constants_of(BenchEngine(adaptor_volume_cm3=-80.0))


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"sample_rate_hz": 0.0}, "must be above 0"),
        ({"cylinders_simulated": [7]}, "from 1 to 4"),
        ({"cylinders_simulated": []}, "from 1 to 4"),
    ],
)
def test_a_run_that_cannot_be_is_refused(options, message):
    with pytest.raises(InputError, match=message):
        simulate(BenchEngine(), RockedTurning(), **options)
