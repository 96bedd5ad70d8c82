"""Nothing is made or lost: mass and energy over whole cycles, to a millionth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import simpson

from strokewise.daq.bench.engine.burn import Combustion
from strokewise.daq.bench.engine.constants import constants_of
from strokewise.daq.bench.engine.cylinder import cylinder_volume
from strokewise.daq.bench.engine.gas import AIR_J_KG_K, internal_energy
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    CompressionRelease,
    HeatTransfer,
    RecordedTurning,
    ValveSet,
)
from strokewise.daq.bench.engine.solve import solve

RPM, RATE_HZ = 200.0, 40_000.0


def steadily(from_deg, to_deg, rpm=RPM):
    times = np.linspace(0.0, abs(to_deg - from_deg) / (6.0 * rpm), 50)
    return RecordedTurning(tuple(times), tuple(np.linspace(from_deg, to_deg, 50)))


def one_cycle(engine, way=1.0, detail="fine"):
    everyone = range(1, engine.cylinders + 1)
    turning = steadily(0.0, way * engine.cycle_deg)
    return solve(engine, turning, RATE_HZ, 0, everyone, detail)


@pytest.fixture(
    scope="module",
    params=["sound", "leaking", "backwards", "two-stroke", "burning", "released"],
)
def cycle(request):
    engine = {
        "leaking": BenchEngine(
            ring_leak_mm2=(0.4, 3.0, 0.4, 1.0),
            intake=ValveSet(40.0, 9.0, 0.3, leak_area_mm2=1.0),
            exhaust=ValveSet(34.0, 9.0, 0.35, leak_area_mm2=0.5),
            plugs_out=(3,),
        ),
        "two-stroke": BenchEngine(cylinders=2, firing_order=(1, 2), cycle="two-stroke"),
        "burning": BenchEngine(combustion=Combustion(strength=0.8)),
        "released": BenchEngine(release=CompressionRelease(8.0)),
    }.get(request.param, BenchEngine())
    return engine, one_cycle(engine, -1.0 if request.param == "backwards" else 1.0)


def test_mass_in_and_out_is_the_change_of_mass(cycle):
    engine, solution = cycle
    went = solution.accounts[-1] - solution.accounts[0]
    change = solution.gas[-1, :, 0] - solution.gas[0, :, 0]
    most = solution.gas[:, :, 0].max(axis=0)
    assert np.abs(change[:-1] - went[:-1, 0] - went[:-1, 2]).max() < 1e-6 * most[:-1].min()
    # What the cylinders drew, the plenum lost.
    assert abs(change[-1] - went[-1, 2] + went[:-1, 0].sum()) < 1e-6 * most[-1]
    # And it breathed: more than a tenth of a filling went through. (A two-stroke without crankcase
    # pumping has nothing to drive its scavenging.)
    if engine.cycle == "four-stroke":
        assert np.ptp(solution.accounts[:, 0, 0]) > 0.1 * most[0]


def test_heat_work_and_flows_are_the_change_of_energy(cycle):
    _, solution = cycle
    went = solution.accounts[-1] - solution.accounts[0]
    change = solution.gas[-1, :, 1] - solution.gas[0, :, 1]
    turnover = np.ptp(solution.accounts[:, 0, 5])  # the work of a compression
    gained = went[:-1, 1] + went[:-1, 3] + went[:-1, 4] + went[:-1, 6] - went[:-1, 5]
    assert np.abs(change[:-1] - gained).max() < 1e-6 * turnover
    assert abs(change[-1] - went[-1, 3] + went[:-1, 1].sum()) < 1e-6 * turnover


def test_work_is_the_area_under_the_indicator_diagram(cycle):
    """∮ p dV from pressures and volumes alone, by Simpson's rule."""
    engine, solution = cycle
    k = constants_of(engine)
    for c in range(engine.cylinders):
        slope = np.array([cylinder_volume(k, c, angle)[1] for angle in solution.crank[:, 0]])
        area = simpson(solution.state[:, c, 0] * slope, x=solution.crank[:, 0])
        done = solution.accounts[-1, c, 5] - solution.accounts[0, c, 5]
        turnover = np.ptp(solution.accounts[:, c, 5])
        assert done == pytest.approx(area, abs=1e-6 * max(turnover, 50.0))


def test_states_obey_the_gas_law_and_the_heat_capacity(cycle):
    engine, solution = cycle
    k = constants_of(engine)
    for j in range(0, solution.time_s.size, 997):
        for c in range(engine.cylinders):
            mass, energy = solution.gas[j, c]
            pressure, temperature = solution.state[j, c]
            volume, _ = cylinder_volume(k, c, solution.crank[j, 0])
            assert pressure * volume == pytest.approx(mass * AIR_J_KG_K * temperature, rel=1e-9)
            assert energy == pytest.approx(mass * internal_energy(temperature), rel=1e-6, abs=1e-6)


def test_a_closed_engine_keeps_its_air():
    """Throttle shut, exhaust never opens, tight: plenum and cylinders share what they began with.

    Walls as warm as the air, no heat loss counted: every joule is work."""
    engine = BenchEngine(
        exhaust=ValveSet(34.0, 0.0, 0.35),
        ring_leak_mm2=0.0,
        throttle_area_mm2=0.0,
        heat=HeatTransfer("none", still_gas=False, wall_temperature_c=20.0),
    )
    solution = one_cycle(engine)
    mass = solution.gas[:, :, 0].sum(axis=1)
    energy = solution.gas[:, :, 1].sum(axis=1) + solution.accounts[:, :, 5].sum(axis=1)
    assert np.ptp(mass) < 1e-12 * mass[0]
    assert np.ptp(energy) < 1e-9 * np.ptp(solution.accounts[:, 0, 5])


def test_a_finer_step_changes_little():
    fine, finest = one_cycle(BenchEngine()), one_cycle(BenchEngine(), detail="finest")
    assert fine.state[:, :, 0].max(axis=0) == pytest.approx(
        finest.state[:, :, 0].max(axis=0), rel=5e-5
    )
