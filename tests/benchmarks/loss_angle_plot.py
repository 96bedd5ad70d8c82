"""How far before TDC does the compression peak stand, from hand speed to starter speed?

    python tests/benchmarks/loss_angle_plot.py [FOLDER]

Turns cylinder 1 of the bench engine through its compression at steady speeds from 3 to 300 rev/min,
forwards and backwards, and draws ``loss-angle.png`` (by default into ``pictures`` beside this
script). The angle comes only from heat and leakage: the physics behind every TDC estimate.
"""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib
import numpy as np

matplotlib.use("Agg")
from matplotlib import pyplot as plt
from matplotlib.ticker import FixedLocator, NullLocator, ScalarFormatter

from strokewise.daq.bench.engine.settings import BenchEngine, HeatTransfer, RecordedTurning
from strokewise.daq.bench.engine.solve import simulate

SPEEDS_RPM = np.geomspace(3.0, 300.0, 25)
RINGS = ((0.0, "no leak at all"), (0.4, "good rings, 0.4 mm²"), (1.5, "worn rings, 1.5 mm²"))
COLOURS = ("#4c78a8", "#54a24b", "#e45756")
CORRELATIONS = ("woschni", "annand", "hohenberg")
STARTER_RPM, SPANNER_RPM = (150.0, 250.0), (5.0, 60.0)


def steadily(rpm: float, way: float) -> RecordedTurning:
    """Turn from rest through the whole compression at one speed."""
    run_up_deg, speed = 5.0, 6.0 * rpm
    early = np.linspace(0.0, 2.0 * run_up_deg / speed, 40)
    later = early[-1] + np.linspace(0.0, (360.0 - run_up_deg) / speed, 400)[1:]
    went = np.concatenate(
        [0.5 * speed * early**2 / early[-1], run_up_deg + speed * (later - early[-1])]
    )
    return RecordedTurning(tuple(np.concatenate([early, later])), tuple(way * (went - 300.0)))


def peak_deg(leak_mm2: float, correlation: str, rpm: float, way: float = 1.0) -> float:
    """Return the crank angle of the highest pressure, true TDC at 0."""
    engine = BenchEngine(
        ring_leak_mm2=leak_mm2,
        heat=HeatTransfer(correlation),
        throttle_area_mm2=2000.0,
    )
    run = simulate(engine, steadily(rpm, way), 8.0 * rpm, cylinders_simulated=[1])
    highest = run.pressure_bar[:, 0].argmax()
    middle = run.crank_deg[highest]
    top = np.abs(run.crank_deg - middle) < 2.0
    a, b, _ = np.polyfit(run.crank_deg[top] - middle, run.pressure_bar[top, 0], 2)
    return middle - b / (2.0 * a)


def curve(leak_mm2: float, correlation: str, way: float = 1.0) -> np.ndarray:
    return np.array([peak_deg(leak_mm2, correlation, rpm, way) for rpm in SPEEDS_RPM])


def draw(folder: Path) -> Path:
    """Draw both panels and return the file."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(12.0, 5.2), layout="constrained")
    for (leak, label), colour in zip(RINGS, COLOURS, strict=True):
        early = np.array([-curve(leak, name) for name in CORRELATIONS])
        left.fill_between(
            SPEEDS_RPM, early.min(axis=0), early.max(axis=0), color=colour, alpha=0.25, lw=0
        )
        left.plot(SPEEDS_RPM, early[-1], color=colour, label=label)
    left.set(
        yscale="log", ylabel="peak before TDC (° crank)", ylim=(0.12, 100.0),
        title="Heat and leakage pull the peak ahead of TDC",
    )  # fmt: skip
    left.yaxis.set_major_locator(FixedLocator([0.2, 0.5, 1, 2, 5, 10, 20, 50]))
    left.legend(
        loc="lower left",
        bbox_to_anchor=(0.0, 0.05),
        title="line: Hohenberg; band: to Annand, Woschni",
    )

    for way, label, colour in ((1.0, "forwards", "#4c78a8"), (-1.0, "backwards", "#e45756")):
        right.plot(SPEEDS_RPM, curve(0.4, "hohenberg", way), color=colour, label=label)
    right.axhline(0.0, color="black", lw=0.8)
    right.text(3.2, 1.5, "true TDC", fontsize=9)
    right.set(
        ylabel="crank angle of the peak (°, true TDC = 0)",
        title="Turned backwards, the same the other way round (good rings)",
    )
    right.legend(loc="upper right")
    for axes in (left, right):
        axes.set(xscale="log", xlabel="speed (rev/min)", xlim=(3.0, 300.0))
        axes.xaxis.set_major_locator(FixedLocator([3, 5, 10, 20, 50, 100, 200, 300]))
        axes.grid(alpha=0.3)
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter(ScalarFormatter())
            axis.set_minor_locator(NullLocator())
        for low, high, name in ((*SPANNER_RPM, "spanner"), (*STARTER_RPM, "starter")):
            axes.axvspan(low, high, color="gray", alpha=0.10, lw=0)
            axes.text(
                np.sqrt(low * high), 0.02, name, transform=axes.get_xaxis_transform(), ha="center"
            )
    figure.suptitle(
        "Simulated bench engine, invented: 86 × 86 mm, 9:1 less a 3 cm³ adaptor, walls 25 °C"
    )
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "loss-angle.png"
    figure.savefig(path, dpi=110)
    return path


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "pictures"
    print(draw(target))
