"""Does the estimate of TDC move with the speed within one recording? Each method, pass by pass.

    python tests/benchmarks/speed_trend.py [RECORDING ...] [--pictures FOLDER]

TDC stands still while an engine runs down; what a method makes of it moves with whatever that
method leaves out: losses, the sensor's delay, the encoder's. Printed is how far each method's TDC
moves over the speeds of a recording (slope of a straight line times the range), the fit's beside
the published methods'. Without a recording the bench engine runs down. ``--pictures`` draws what
the fit leaves of each compression. The profile is the recording's own, or NAME.toml beside it.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Recording
from strokewise.analysis.tdc.fit import Fit
from strokewise.analysis.tdc.pass_tdc import tdc_of_each
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.verdict.judge import ZERO_SIGMA_BAR, Judgement
from strokewise.analysis.verdict.methods import BASELINES
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.engine.settings import RunDown
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table, known_engine
from strokewise.daq.recording.read import read_recording
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.gui.sayings import say


def benched() -> tuple[str, Recording, Profile]:
    """Return the bench engine running down, as a recording."""
    bench = scenario("run-down").build({})
    bench = replace(bench, turning=RunDown(start_rpm=1400.0, duration_s=4.0))
    intake = Intake()
    blocks = intake.feed(take(bench).items) + intake.finish()
    profile = check_table(stated_profile(bench)).profile
    return "bench engine", Recording(join(blocks), intake.health), profile


def read(file: Path) -> tuple[str, Recording, Profile]:
    """Return a recording with its own profile, or the one beside it."""
    recording = read_recording(file)
    beside = file.with_suffix(".toml")
    boards = [s.board for s in recording.segments if s.board is not None]
    known = known_engine(
        overrides=[],
        engine=beside if beside.exists() else None,
        header=recording.header,
        board=boards[-1] if boards else None,
    )
    return file.stem, recording, known.profile


def judged(recording: Recording, profile: Profile) -> tuple[Verdict, Judgement | None]:
    """Return the last segment's verdict, and what it rests on."""
    tracker = Tracker(profile)
    for segment in recording.segments:
        tracker.feed(segment)
    return tracker.verdict(closing=True), tracker.judgement


def moves(speed_rpm: np.ndarray, tdc_deg: np.ndarray) -> float:
    """Return how far a straight line through TDC over speed goes over the range, degrees."""
    slope = float(np.polyfit(speed_rpm, tdc_deg, 1)[0])
    return slope * float(np.ptp(speed_rpm))


def scatter(speed_rpm: np.ndarray, tdc_deg: np.ndarray) -> float:
    """Return the standard error of :func:`moves`, from how the passes scatter about the line."""
    if len(speed_rpm) < 3:
        return np.nan
    line = np.polyval(np.polyfit(speed_rpm, tdc_deg, 1), speed_rpm)
    left = float(np.sum((tdc_deg - line) ** 2)) / (len(speed_rpm) - 2)
    away = float(np.sum((speed_rpm - speed_rpm.mean()) ** 2))
    return float(np.sqrt(left / away)) * float(np.ptp(speed_rpm))


def fitted_passes(fit: Fit, passes: tuple[Pass, ...]) -> list[Pass]:
    """Return the passes that the fit was made of; its own may begin later, past an open valve."""
    begun = fit.runs.time_s[:, 0]
    return [p for p in passes if np.any((p.time_s[0] <= begun) & (begun <= p.time_s[-1]))]


def draw(name: str, fit: Fit, folder: Path) -> None:
    """Draw measured less fitted pressure over the crank angle, a line a pass."""
    import matplotlib  # of the extra "pictures": the figures are printed without it

    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    figure, (above, below) = plt.subplots(2, 1, sharex=True, figsize=(9, 6))
    tdc = float(np.median(fit.values["tdc_deg"]))
    for item in range(len(fit.runs.time_s)):
        used = fit.runs.used[item]
        angle = fit.runs.angle_deg[item][used] - tdc
        speed = float(np.median(np.abs(fit.runs.speed_deg_s[item]))) / 6.0
        measured = fit.runs.pressure_bar[item][used]
        above.plot(angle, measured, lw=0.8, label=f"{speed:.0f} rev/min")
        below.plot(angle, 1e3 * (measured - fit.model_bar[item][used]), lw=0.8)
    above.set_ylabel("pressure, bar")
    above.set_title(f"{name}: what the fit leaves")
    above.legend(fontsize=8)
    below.set_ylabel("measured less fitted, mbar")
    below.set_xlabel("crank angle after TDC, degrees")
    figure.tight_layout()
    figure.savefig(folder / f"{name}-residuals.png", dpi=90)
    plt.close(figure)


def show(name: str, recording: Recording, profile: Profile, pictures: Path | None) -> None:
    """Print one recording's row."""
    verdict, judgement = judged(recording, profile)
    if judgement is None or judgement.fit is None or verdict.tdc is None:
        print(f"{name:26} no fit: {say(verdict.reason)}")
        return
    fit = judgement.fit
    passes = fitted_passes(fit, judgement.passes)
    sensor = next(s for s in profile.sensors if s.place == "plug hole")
    each = tdc_of_each(fit, profile, sensor, ZERO_SIGMA_BAR)
    speed = np.array([p.speed_rpm for p in passes])
    cells = [f"{moves(speed, each.off_deg):+8.2f} ±{scatter(speed, each.off_deg):5.2f}"]
    for method in BASELINES.values():
        found = [(p, method((replace(p, turn=0),), profile)) for p in passes]
        kept = [(p.speed_rpm, i.value - p.tdc_deg) for p, i in found if i is not None]
        cells.append(
            f"{moves(*(np.array(column) for column in zip(*kept, strict=True))):+12.2f}"
            if len(kept) > 2
            else f"{'none':>12}"
        )
    angle = verdict.tdc.angle_deg
    print(
        f"{name:26}{angle.value:9.2f}{angle.half_width:7.2f}{speed.min():7.0f}{speed.max():6.0f}"
        + "".join(cells),
        flush=True,
    )
    if pictures is not None:
        draw(name, fit, pictures)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("recordings", nargs="*", type=Path)
    parser.add_argument("--pictures", type=Path, help="folder for plots of the residuals")
    options = parser.parse_args()
    if options.pictures is not None:
        options.pictures.mkdir(parents=True, exist_ok=True)
    print("How far TDC moves over the speeds of a recording, degrees")
    print(
        f"{'recording':26}{'TDC':>9}{'±':>7}{'rev/min':>13}{'fit, s.e.':>15}"
        + "".join(f"{name:>12}" for name in BASELINES)
    )
    for name, recording, profile in (
        map(read, options.recordings) if options.recordings else [benched()]
    ):
        show(name, recording, profile, options.pictures)


if __name__ == "__main__":
    sys.exit(main())
