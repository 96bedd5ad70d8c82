"""Does the bench engine behave as published and practised engines do?

These are ranges and single published values, not laws: they say that nothing is grossly wrong.
"""

from __future__ import annotations

import numpy as np
import pytest

from strokewise.analysis.profile import Atmosphere, ValveTiming
from strokewise.daq.bench.engine.settings import BenchEngine, HeatTransfer, Starter, ValveSet
from strokewise.daq.bench.engine.solve import simulate

PSI_BAR = 0.06894757
WIDE_OPEN_MM2 = 2000.0


def peak(run, near_deg=0.0):
    """Return angle and height of the highest pressure in cylinder 1 within 100° of an angle."""
    near = np.flatnonzero(np.abs(run.crank_deg - near_deg) < 100.0)
    crank, pressure = run.crank_deg[near], run.pressure_bar[near, 0]
    top = np.abs(crank - crank[pressure.argmax()]) < 2.0
    middle = crank[pressure.argmax()]
    a, b, _ = np.polyfit(crank[top] - middle, pressure[top], 2)
    return middle - b / (2 * a), pressure.max()


@pytest.mark.parametrize("correlation", ["hohenberg", "annand"])
@pytest.mark.parametrize("rpm", [1000.0, 2000.0])
def test_loss_angle_at_running_speed(constant_speed, correlation, rpm):
    """0.4° to 1.3° before TDC by engine and condition: a thesis with a microwave probe (KAIST, read
    in the abstract). Warm walls, throttle open, good rings."""
    engine = BenchEngine(
        adaptor_cylinder=None,
        throttle_area_mm2=WIDE_OPEN_MM2,
        heat=HeatTransfer(correlation, wall_temperature_c=120.0),
    )
    turning = constant_speed(-720.0, 60.0, rpm, run_up_deg=60.0)
    angle, _ = peak(simulate(engine, turning, 12.0 * rpm, cylinders_simulated=[1]))
    assert 0.4 < -angle < 1.3


@pytest.mark.parametrize(
    ("correlation", "low", "high"),
    [("woschni", 0.3, 1.0), ("annand", 1.0, 1.9), ("hohenberg", 1.2, 2.2)],
)
def test_correlations_disagree_at_cranking_speed_as_calculated_elsewhere(
    constant_speed, correlation, low, high
):
    """At 200 rev/min, 10:1, no leak, separate calculations gave 0.5° (Woschni), 1.4° (Annand) and
    1.7° (Hohenberg) before TDC: an unpublished calculation of another hand."""
    engine = BenchEngine(
        compression_ratio=10.0,
        adaptor_cylinder=None,
        ring_leak_mm2=0.0,
        throttle_area_mm2=WIDE_OPEN_MM2,
        heat=HeatTransfer(correlation),
    )
    turning = constant_speed(-400.0, 60.0, 200.0)
    angle, _ = peak(simulate(engine, turning, 4000.0, cylinders_simulated=[1]))
    assert low < -angle < high


@pytest.mark.parametrize(("ratio", "gauge_psi"), [(6.64, 169.0), (8.51, 241.0)])
def test_compression_of_the_motored_research_engine(constant_speed, ratio, gauge_psi):
    """ASTM D2699, table A2.2 (second hand): at 600 rev/min the research engine shows 169 ± 2 and
    241 ± 4 psi gauge, at about 6.64:1 and 8.51:1. Its dimensions (3.25 x 4.5 in, rod 10 in), valve
    timing, intake air of 52 °C and jacket of 100 °C are from memory; the walls a little above the
    jacket, rings and valve sizes are our guess, hence 5 %."""
    engine = BenchEngine(
        cylinders=1,
        firing_order=(1,),
        bore_mm=82.55,
        stroke_mm=114.3,
        rod_length_mm=254.0,
        compression_ratio=ratio,
        adaptor_cylinder=None,
        valve_timing=ValveTiming(-10.0, 34.0, 40.0, 15.0),
        intake=ValveSet(30.0, 6.0, 0.2),
        exhaust=ValveSet(30.0, 6.0, 0.2),
        ring_leak_mm2=0.3,
        throttle_area_mm2=160.0,
        plenum_volume_cm3=1000.0,
        heat=HeatTransfer(wall_temperature_c=120.0),
        atmosphere=Atmosphere(1.01325, 52.0),
    )
    turning = constant_speed(-1440.0, 60.0, 600.0, run_up_deg=60.0)
    _, highest = peak(simulate(engine, turning, 6000.0))
    assert (highest - 1.01325) / PSI_BAR == pytest.approx(gauge_psi, rel=0.05)


@pytest.fixture(scope="module")
def cranked():
    return simulate(BenchEngine(), Starter(duration_s=3.0, start_deg=200.0), 4000.0)


def test_cranking_speed_and_compression(cranked):
    """150 to 250 rev/min petrol; compression 9 to 14 bar gauge for a sound 9:1 engine: common
    practice, no source."""
    steady = cranked.time_s > 1.0
    assert 150.0 < cranked.speed_rpm[steady].mean() < 250.0
    highest = cranked.pressure_bar[steady].max(axis=0) - 1.013
    assert np.all((highest > 9.0) & (highest < 14.0))
    # Good engines spread under 10 % (common practice); here only the adaptor's volume differs.
    assert np.ptp(highest) < 0.10 * highest.max()


def test_peak_before_tdc_at_starter_speed(cranked):
    """Our own expectation: 1° to 5° before TDC at starter speed."""
    turns = np.arange(1, int(cranked.crank_deg[-1] // 720.0)) * 720.0
    assert turns.size >= 3
    for turn in turns:
        angle, _ = peak(cranked, turn)
        assert 1.0 < turn - angle < 5.0


def test_speed_dips_before_each_tdc(cranked):
    """Each compression slows the crank until its TDC: the lowest speed comes a little before TDC
    and the highest between two of them."""
    steady = cranked.time_s > 1.0
    crank, speed = cranked.crank_deg[steady], cranked.speed_rpm[steady]
    middle = (crank + 90.0) % 180.0 - 90.0
    lowest = [crank[i] for i in _turning_points(-speed)]
    highest = [crank[i] for i in _turning_points(speed)]
    assert len(lowest) >= 4
    assert all(-20.0 < (angle + 90.0) % 180.0 - 90.0 < 15.0 for angle in lowest)
    assert all(abs((angle + 90.0) % 180.0 - 90.0) > 20.0 for angle in highest)
    near, far = speed[np.abs(middle) < 10.0].mean(), speed[np.abs(middle) > 60.0].mean()
    assert near < 0.9 * far


def _turning_points(values):
    inner = (values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:])
    return np.flatnonzero(inner) + 1


def test_manifold_pulses_at_the_firing_frequency(constant_speed):
    """Four strokes of suction in two turns: the plenum's pressure pulses twice a turn (Heywood,
    ch. 6 on intake flow, from memory)."""
    rpm = 200.0
    turning = constant_speed(0.0, 720.0 * 8, rpm)
    run = simulate(BenchEngine(), turning, 2000.0, detail="coarse")
    steady = run.crank_deg > 720.0
    even_deg = np.arange(run.crank_deg[steady][0], run.crank_deg[steady][-1], 1.0)
    even_deg = even_deg[: even_deg.size // 720 * 720]
    pulses = np.interp(even_deg, run.crank_deg, run.manifold_bar)
    spectrum = np.abs(np.fft.rfft(pulses - pulses.mean()))
    per_turn = np.fft.rfftfreq(even_deg.size, 1.0 / 360.0)
    assert per_turn[spectrum.argmax()] == pytest.approx(2.0, abs=0.05)
    assert run.manifold_bar[steady].mean() < run.engine.atmosphere.pressure_bar
