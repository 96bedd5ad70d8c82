"""How long does the bench engine take to make a recording? Prints figures side by side.

    python tests/benchmarks/bench_engine_speed.py

The demand: ten seconds of cranking in under ten seconds, after warm-up. The baselines are scipy's
``solve_ivp`` on the same right-hand side, and the same code without numba.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from strokewise.daq.bench.engine.compiled import COMPILED
from strokewise.daq.bench.engine.settings import BenchEngine, RockedTurning, Spanner, Starter
from strokewise.daq.bench.engine.solve import simulate, solve

sys.path.insert(0, str(Path(__file__).parents[1] / "suite"))
from suite_reference import reference_solution

RATE_HZ = 2000.0
ENGINE = BenchEngine()
CRANKED = Starter(duration_s=10.0, start_deg=20.0)
SHORT = Starter(duration_s=2.0, start_deg=20.0)

PLAIN = """
import sys, time
sys.modules["numba"] = None
from strokewise.daq.bench.engine.settings import BenchEngine, Starter
from strokewise.daq.bench.engine.solve import simulate
begin = time.perf_counter()
simulate(BenchEngine(), Starter(duration_s=2.0, start_deg=20.0), 2000.0)
print(time.perf_counter() - begin)
"""


def best_s(work, tries: int = 5) -> float:
    """Return the shortest time of some tries."""
    times = []
    for _ in range(tries):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def say(what: str, took_s: float, recorded_s: float) -> None:
    print(f"{what:58s} {took_s:9.3f} s   {recorded_s / took_s:8.1f} x real time")


def main() -> None:
    begin = time.perf_counter()
    simulate(ENGINE, RockedTurning(swings=1), RATE_HZ)
    print(f"numba: {COMPILED}; first run of this process {time.perf_counter() - begin:.1f} s\n")

    say("10 s cranked, 4 cylinders, fine", best_s(lambda: simulate(ENGINE, CRANKED, RATE_HZ)), 10)
    say(
        "10 s cranked, 4 cylinders, coarse",
        best_s(lambda: simulate(ENGINE, CRANKED, RATE_HZ, detail="coarse")),
        10,
    )
    say(
        "10 s cranked, 4 cylinders, solve_ivp (LSODA, 1e-8)",
        best_s(lambda: reference_solution(ENGINE, CRANKED, RATE_HZ), 1),
        10,
    )
    say("2 s cranked, 4 cylinders, fine", best_s(lambda: simulate(ENGINE, SHORT, RATE_HZ)), 2)
    say(
        "2 s cranked, 4 cylinders, coarse",
        best_s(lambda: simulate(ENGINE, SHORT, RATE_HZ, detail="coarse")),
        2,
    )
    plain = subprocess.run(
        [sys.executable, "-c", PLAIN], capture_output=True, text=True, check=True
    )
    say("2 s cranked, 4 cylinders, fine, plain Python", float(plain.stdout), 2)

    for name, turning in (("spanner", Spanner()), ("rocking", RockedTurning())):
        seconds = simulate(ENGINE, turning, RATE_HZ, detail="coarse").time_s[-1]
        for detail in ("fine", "coarse"):
            for cylinders in (None, [1]):
                took = best_s(
                    lambda t=turning, d=detail, c=cylinders: simulate(
                        ENGINE, t, RATE_HZ, cylinders_simulated=c, detail=d
                    )
                )
                many = "4 cylinders" if cylinders is None else "1 cylinder"
                say(f"{seconds:.1f} s {name}, {many}, {detail}", took, seconds)

    print("\nHow close to solve_ivp (1e-8) the 2 s cranked are, cylinder 1:")
    judge = reference_solution(ENGINE, SHORT, RATE_HZ)
    for detail in ("fine", "coarse"):
        fast = solve(ENGINE, SHORT, RATE_HZ, 0, range(1, 5), detail)
        height = fast.state[:, 0, 0].max() / judge.state[:, 0, 0].max() - 1.0
        drift = np.degrees(np.abs(fast.crank[:, 0] - judge.crank[:, 0]).max())
        print(
            f"  {detail:8s} peak pressure {height:+.1e} relative, crank angle within {drift:.3f}°"
        )


if __name__ == "__main__":
    main()
