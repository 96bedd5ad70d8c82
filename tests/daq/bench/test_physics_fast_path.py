"""The fast path held to scipy's solver on the same right-hand side, and to plain Python."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from suite_reference import reference_solution

from strokewise.daq.bench.engine import compiled
from strokewise.daq.bench.engine.burn import Combustion
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    CompressionRelease,
    RockedTurning,
    RunDown,
    Spanner,
    Starter,
    ValveFault,
)
from strokewise.daq.bench.engine.solve import simulate, solve

RATE_HZ = 4000.0
CASES = {
    "starter": (BenchEngine(), Starter(duration_s=1.3, start_deg=20.0)),
    "run-down": (BenchEngine(), RunDown(duration_s=0.4, start_deg=10.0)),
    "spanner": (
        BenchEngine(pin_offset_mm=1.0, valve_faults=(ValveFault(1, "exhaust", 0.0, 0.5),)),
        Spanner(total_deg=700.0, rpm=(20.0, 40.0), pause_s=(0.1, 0.2), start_deg=-200.0),
    ),
    "rocking": (BenchEngine(plugs_out=(2, 3, 4)), RockedTurning(swings=3, rpm=(20.0, 40.0))),
    "burning": (
        BenchEngine(
            cylinders=1,
            firing_order=(1,),
            combustion=Combustion(strength=0.8, cycles=2),
            release=CompressionRelease(6.0, below_rpm=800.0),
        ),
        RunDown(start_rpm=900.0, duration_s=0.5, start_deg=-200.0),
    ),
    "two-stroke": (
        BenchEngine(cylinders=2, firing_order=(1, 2), cycle="two-stroke"),
        Starter(duration_s=0.8, start_deg=40.0),
    ),
}


def peaks(solution, c, cycle_rad):
    """Return (height, angle) of each pressure peak above 3 bar within 60° of a firing TDC."""
    angle, pressure = solution.crank[:, 0], solution.state[:, c, 0]
    higher = (pressure[1:-1] > pressure[:-2]) & (pressure[1:-1] >= pressure[2:])
    found = []
    for i in np.flatnonzero(higher & (pressure[1:-1] > 3e5)) + 1:
        near = slice(max(i - 8, 0), i + 9)
        a, b, top = np.polyfit(angle[near] - angle[i], pressure[near], 2)
        found.append((top - b * b / (4 * a), angle[i] - b / (2 * a)))
    return np.array(found)


@pytest.mark.parametrize(
    ("detail", "pressure_rel", "angle_deg"), [("fine", 1e-3, 0.01), ("coarse", 3e-3, 0.03)]
)
@pytest.mark.parametrize("case", CASES)
def test_peaks_are_those_of_the_reference(reference, case, detail, pressure_rel, angle_deg):
    engine, turning = CASES[case]
    everyone = range(1, engine.cylinders + 1)
    fast = solve(engine, turning, RATE_HZ, 3, everyone, detail)
    found = peaks(fast, 0, np.radians(engine.cycle_deg))
    expected = peaks(reference(case), 0, np.radians(engine.cycle_deg))
    assert len(expected) == len(found) >= 1
    assert found[:, 0] == pytest.approx(expected[:, 0], rel=pressure_rel)
    # The truth of TDC: where the peak stands on the true crank angle.
    assert np.degrees(found[:, 1]) == pytest.approx(np.degrees(expected[:, 1]), abs=angle_deg)


@pytest.mark.parametrize("case", ["spanner", "rocking"])
def test_a_hand_turned_pressure_is_that_of_the_reference_everywhere(reference, case):
    engine, turning = CASES[case]
    fast = solve(engine, turning, RATE_HZ, 3, range(1, engine.cylinders + 1), "fine")
    assert np.array_equal(fast.crank, reference(case).crank)
    assert fast.state[:, :, 0] == pytest.approx(reference(case).state[:, :, 0], rel=1e-3)


@pytest.fixture(scope="module")
def reference():
    solved = {}

    def solution(case):
        if case not in solved:
            engine, turning = CASES[case]
            solved[case] = reference_solution(engine, turning, RATE_HZ, 3, tolerance=1e-7)
        return solved[case]

    return solution


PLAIN = """
import sys
sys.modules["numba"] = None  # as if it were not installed
from strokewise.daq.bench.engine.compiled import COMPILED
from strokewise.daq.bench.engine.settings import BenchEngine, Starter
from strokewise.daq.bench.engine.solve import simulate
assert not COMPILED
run = simulate(BenchEngine(), Starter(duration_s=0.25, start_deg=20.0), 1000.0)
print(*map(float, [run.crank_deg[-1], *run.pressure_bar[-1], *run.temperature_k[-1]]))
"""


def test_plain_python_gives_the_same():
    out = subprocess.run(
        [sys.executable, "-W", "error", "-c", PLAIN], capture_output=True, text=True, check=True
    ).stdout
    run = simulate(BenchEngine(), Starter(duration_s=0.25, start_deg=20.0), 1000.0)
    compiled_values = [run.crank_deg[-1], *run.pressure_bar[-1], *run.temperature_k[-1]]
    assert [float(word) for word in out.split()] == pytest.approx(compiled_values, rel=1e-8)


def test_every_compiled_module_is_in_the_fingerprint():
    """Else a change in it would leave a stale compiled engine on disk."""
    folder = Path(compiled.__file__).parent
    uses = {
        path.stem
        for path in folder.glob("*.py")
        if "engine.compiled import" in path.read_text() or path.stem in ("compiled", "constants")
    }
    assert uses == set(compiled.COMPILED_MODULES)
