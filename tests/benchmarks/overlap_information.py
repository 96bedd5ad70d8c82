"""Could the overlap show when the exhaust shuts and the inlet opens? By throttle, over engines.

    python tests/benchmarks/overlap_information.py [engines] [--first SEED]

Engines of random_benches, cranked, with the throttle from shut to open. How far the pressure falls
across the overlap, by how much a degree of either valve moves it at the most, and how surely the
valve could be placed at the very best: from ten cycles sampled at each degree with 10 mbar of
noise, flow through both valves known to a third, the manifold's level free. No estimator is in it,
and the manifold's own swing, which makes it worse, is taken as known.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent))
from random_benches import draw

from strokewise.daq.bench.engine.settings import BenchEngine, Starter
from strokewise.daq.bench.engine.solve import simulate

Floats = NDArray[np.float64]

THROTTLES = (6.0, 15.0, 40.0, 150.0, 500.0)  # mm² for each litre: shut to open
AFTER_FIRING_DEG = np.arange(300.0, 461.0)
RATE_HZ = 5000.0
TURNING_RPM = 100.0
CYCLES_AVERAGED = 6
CYCLES, NOISE_BAR = 10, 0.01
SEAT_STEP_DEG, LOG_STEP = 2.0, np.log(1.1)
PRIORS = {"exhaust closes": 60.0, "inlet opens": 60.0, "flow out": 0.35, "flow in": 0.35,
          "manifold": 2.0, "zero": 0.05}  # fmt: skip


def overlap_of(engine: BenchEngine, turning: Starter, seed: int) -> Floats | None:
    """Return the mean pressure of cylinder 1 over its last overlaps, bar."""
    run = simulate(engine, turning, RATE_HZ, seed)
    crank, bar = run.crank_deg, run.pressure_bar[:, 0]
    found = []
    for cycle in range(int(crank[0] // 720), int(crank[-1] // 720) + 1):
        at = AFTER_FIRING_DEG + 720.0 * cycle
        inside = (crank >= at[0]) & (crank <= at[-1])
        if crank[0] < at[0] and crank[-1] > at[-1] and run.speed_rpm[inside].min() > TURNING_RPM:
            found.append(np.interp(at, crank, bar))
    return np.mean(found[-CYCLES_AVERAGED:], axis=0) if found else None


def derivatives(engine: BenchEngine, turning: Starter, seed: int) -> dict[str, Floats]:
    """Return how the overlap's pressure changes with each unknown, by central differences."""
    timing = engine.valve_timing

    def seats(out_deg: float, in_deg: float) -> BenchEngine:
        moved = replace(
            timing,
            exhaust_closes_atdc_deg=timing.exhaust_closes_atdc_deg + out_deg,
            intake_opens_btdc_deg=timing.intake_opens_btdc_deg - in_deg,
        )
        return replace(engine, valve_timing=moved)

    def flows(out: float, into: float, throttle: float) -> BenchEngine:
        return replace(
            engine,
            exhaust=replace(engine.exhaust, discharge=engine.exhaust.discharge * np.exp(out)),
            intake=replace(engine.intake, discharge=engine.intake.discharge * np.exp(into)),
            throttle_area_mm2=engine.throttle_area_mm2 * float(np.exp(throttle)),
        )

    def slope(more: BenchEngine, less: BenchEngine, step: float) -> Floats:
        high, low = overlap_of(more, turning, seed), overlap_of(less, turning, seed)
        assert high is not None
        assert low is not None
        return (high - low) / (2.0 * step)

    d, h = SEAT_STEP_DEG, LOG_STEP
    return {
        "exhaust closes": slope(seats(d, 0.0), seats(-d, 0.0), d),
        "inlet opens": slope(seats(0.0, d), seats(0.0, -d), d),
        "flow out": slope(flows(h, 0.0, 0.0), flows(-h, 0.0, 0.0), h),
        "flow in": slope(flows(0.0, h, 0.0), flows(0.0, -h, 0.0), h),
        "manifold": slope(flows(0.0, 0.0, h), flows(0.0, 0.0, -h), h),
        "zero": np.ones(len(AFTER_FIRING_DEG)),
    }


def best_sigmas_deg(change: dict[str, Floats]) -> Floats:
    """Return the least standard deviation of both seats (Cramér and Rao), degrees."""
    rows = np.stack([change[name] for name in PRIORS])
    known = np.diag([1.0 / PRIORS[name] ** 2 for name in PRIORS])
    information = rows @ rows.T * CYCLES / NOISE_BAR**2 + known
    return np.sqrt(np.diag(np.linalg.inv(information))[:2])


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("engines", type=int, nargs="?", default=6)
    parser.add_argument("--first", type=int, default=0, help="seed of the first engine")
    args = parser.parse_args()
    print("medians over engines       exhaust closes      inlet opens")
    print("throttle    pressure     mbar for best        mbar for best")
    print("mm²/litre   falls, mbar  a degree sigma, deg  a degree sigma, deg")
    for throttle in THROTTLES:
        rows = []
        for seed in range(args.first, args.first + args.engines):
            drawn = draw(seed, "starter", lag_known=True)
            engine, turning = drawn.bench.engine, drawn.bench.turning
            assert isinstance(turning, Starter)
            litres = engine.bore_mm**2 * engine.stroke_mm * np.pi / 4e6 * engine.cylinders
            engine = replace(engine, throttle_area_mm2=throttle * litres)
            bar = overlap_of(engine, turning, seed)
            if bar is None:
                continue
            change = derivatives(engine, turning, seed)
            out, into = (1e3 * np.abs(change[n]).max() for n in ("exhaust closes", "inlet opens"))
            sigma_out, sigma_in = best_sigmas_deg(change)
            rows.append((1e3 * (bar[0] - bar[-1]), out, sigma_out, into, sigma_in))
        fall, *rest = np.median(rows, axis=0)
        print(f"{throttle:9.0f}   {fall:11.1f}  ", end="")
        print(
            "   ".join(
                f"{moved:8.2f} {sigma:8.1f}"
                for moved, sigma in zip(rest[::2], rest[1::2], strict=True)
            )
        )


if __name__ == "__main__":
    main()
