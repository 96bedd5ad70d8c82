"""How quick is the window? Four figures, each beside a baseline; takes about a minute.

Run it with nothing else going on: ``python tests/benchmarks/window_speed.py``.
"""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as every strokewise command does

import argparse
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from PySide6.QtCore import QEventLoop, QRectF, QTimer
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication, QWidget

from strokewise.analysis.profile import Profile
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.profile.write import profile_to_table
from strokewise.daq.recording.container import Chunk
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.gui.models.figures.units import BAR
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.window.chart.stroke_chart import StrokeChart
from strokewise.gui.window.chart.stroke_painting import paint_moving, paint_still
from strokewise.gui.window.workbench import Workbench

SIZE = (1920, 1080)
START_UPS = 7


@cache
def cranked(rate_hz: int, seconds: float) -> tuple[Profile, tuple[Chunk, ...]]:
    """The bench engine on its starter: what is known of it, and what its board sends when."""
    bench = scenario("cranked").build({"seconds": seconds})
    board = replace(bench.rig.board, sample_rate_hz=float(rate_hz))
    bench = replace(bench, rig=replace(bench.rig, board=board))
    chunks = tuple(item for item in take(bench).items if isinstance(item, Chunk))
    return check_table(stated_profile(bench)).profile, chunks


class PacedBoard:
    """Delivers the blocks when a board would, as a port read every ten milliseconds gives them."""

    def __init__(self, rate_hz: int, seconds: float) -> None:
        self.header: dict[str, object] = {}
        _, self.chunks = cranked(rate_hz, seconds)
        self.stopped = threading.Event()

    def now_us(self) -> int:
        return 0

    def __iter__(self):
        start, sent = time.monotonic(), 0
        while sent < len(self.chunks) and not self.stopped.is_set():
            passed_us = (time.monotonic() - start) * 1e6
            due = sent
            while due < len(self.chunks) and self.chunks[due].host_us <= passed_us:
                due += 1
            yield Chunk(round(passed_us), b"".join(chunk.data for chunk in self.chunks[sent:due]))
            sent = due
            self.stopped.wait(0.01)

    def stop(self) -> None:
        self.stopped.set()

    def close(self) -> None:
        pass


def live_of(rate_hz: int, seconds: float) -> LiveRun:
    known, _ = cranked(rate_hz, seconds)  # simulated before the clock runs
    return LiveRun(
        "benchmark",
        lambda: PacedBoard(rate_hz, seconds),
        lambda board: known,
        Tracker,
    )


def latency(app: QApplication, rate_hz: int, seconds: float) -> tuple[np.ndarray, np.ndarray]:
    """Seconds from each delivery of bytes to the picture that has it, and to the snapshot alone."""
    run = live_of(rate_hz, seconds)
    waiting: dict[int, float] = {}
    computed: list[float] = []
    delays: list[float] = []
    put = run.newest.put

    def noted(snapshot) -> None:
        waiting[snapshot.number] = snapshot.received_s
        computed.append(time.monotonic() - snapshot.received_s)
        put(snapshot)

    run.newest.put = noted
    window = Workbench(run, Settings())
    window.resize(*SIZE)
    paint = StrokeChart.paintEvent

    def painted(chart, event) -> None:
        paint(chart, event)
        now, number = time.monotonic(), window.snapshot.number
        for seen in [n for n in waiting if n <= number]:
            delays.append(now - waiting.pop(seen))

    StrokeChart.paintEvent = painted
    window.show()
    window.begin()
    live_for(seconds)
    StrokeChart.paintEvent = paint
    window.close()
    skip = len(delays) // 10  # the first tenth holds the caches' first filling
    return np.array(delays[skip:]), np.array(computed[skip:])


def frames(app: QApplication, seconds: float) -> tuple[float, float, float]:
    """Frames a second of chart, guide and verdict with full traces: ours, CPU alone, uncached."""
    window = Workbench(live_of(2000, 0.5), Settings())
    window.resize(*SIZE)
    show(app, window)
    feed(window, 4.0)
    snapshot = window.run.snapshot
    window.run._follower.judge()
    snapshot = window.run._follower.snapshot(1, snapshot.link)

    def draw(k: int) -> None:
        now = replace(snapshot.now, angle_deg=snapshot.now.angle_deg + k * 3.7)
        window.draw(replace(snapshot, now=now, number=k))
        for widget in (window.chart_page.chart, window.chart_page.guide, window.band):
            widget.repaint()

    draw(0)
    count, start, cpu = 0, time.monotonic(), time.process_time()
    while time.monotonic() - start < seconds:
        draw(count)
        count += 1
    fps, cpu_fps = count / (time.monotonic() - start), count / (time.process_time() - cpu)
    uncached = fps_uncached(window, seconds / 2)
    window.close()
    app.processEvents()
    return fps, cpu_fps, uncached


def live_for(seconds: float) -> None:
    """Let the window live; quitting the application instead would close it."""
    loop = QEventLoop()
    QTimer.singleShot(round(seconds * 1000), loop.quit)
    loop.exec()


def show(app: QApplication, window: Workbench) -> None:
    """Show a window and wait until it is laid out: before that nothing is painted."""
    window.show()
    for _ in range(20):
        app.processEvents()
        time.sleep(0.01)
    window.settle()
    window.redraw()
    app.processEvents()


def feed(window: Workbench, seconds: float) -> None:
    """Fill the follower with some seconds of cranking, at once."""
    from strokewise.daq.wire.intake import Intake

    follower = window.run._follower
    for block in Intake().feed(list(cranked(2000, seconds)[1])):
        follower.feed(block)


def fps_uncached(window: Workbench, seconds: float) -> float:
    """The baseline: the chart alone, everything painted anew each time."""
    snapshot = window.run._follower.snapshot(1, window.run.snapshot.link)
    image = QImage(*SIZE, QImage.Format.Format_RGB32)
    box = QRectF(0, 0, *SIZE)
    count, start = 0, time.monotonic()
    while time.monotonic() - start < seconds:
        chart = snapshot.chart()
        painter = QPainter(image)
        paint_still(painter, box, chart, window.colours)
        stretches = snapshot.trail.stretches(chart.zero_deg, chart.span_deg)
        paint_moving(painter, box, chart, stretches, BAR, window.colours)
        painter.end()
        count += 1
    return count / (time.monotonic() - start)


def cpu_share(rate_hz: int, seconds: float, drawn: bool) -> tuple[float, float]:
    """Share of one core that a live run takes, with the window or without, and its drawing."""
    run = live_of(rate_hz, seconds + 5)
    window = Workbench(run, Settings()) if drawn else None
    if window is not None:
        window.resize(*SIZE)
        window.show()
        window.begin()
    else:
        run.start()
    live_for(3.0)  # the first verdicts come while it starts
    start, cpu, own = time.monotonic(), time.process_time(), time.thread_time()
    live_for(seconds)
    lasted = time.monotonic() - start
    share = (time.process_time() - cpu) / lasted
    drawing = (time.thread_time() - own) / lasted  # this thread does nothing but draw
    if window is not None:
        window.close()
    run.stop()
    return share, drawing


CHILD = """
import sys, time
from strokewise.gui.window import launch
from strokewise.gui.window import verdict_band
paint = verdict_band.VerdictBand.paintEvent
def first(self, event):
    paint(self, event)
    print(time.time(), time.process_time(), flush=True)
    import os; os._exit(0)
verdict_band.VerdictBand.paintEvent = first
from strokewise.gui.cli import main
main(["replay", sys.argv[1]])
"""
EMPTY = """
import time
from PySide6.QtWidgets import QApplication, QWidget
app = QApplication([])
class W(QWidget):
    def paintEvent(self, event):
        print(time.time(), time.process_time(), flush=True)
        import os; os._exit(0)
w = W(); w.show(); app.exec()
"""


def start_up(code: str, *args: str) -> tuple[float, float]:
    """Seconds from starting Python to the first drawn frame, and of the processor until then."""
    kept = {name: said for name, said in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    began = time.time()
    out = subprocess.run(
        [sys.executable, "-c", code, *args],
        capture_output=True,
        text=True,
        check=True,
        env=kept,  # an installed program is compiled once and not at each start
    )
    drawn_s, took_s = map(float, out.stdout.split()[:2])
    return drawn_s - began, took_s


def start_ups(path: Path) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Start-up of ours and of an empty window in turn, so that both meet the same load.

    The first of each is left out: it also reads the libraries from the disk.
    """
    ours, empty = [], []
    for _ in range(START_UPS + 1):
        ours.append(start_up(CHILD, str(path)))
        empty.append(start_up(EMPTY))
    return ours[1:], empty[1:]


def recording(folder: Path) -> Path:
    path = folder / "bench.swr"
    known, chunks = cranked(2000, 10.0)
    with RecordingWriter(path, {"engine": profile_to_table(known)}) as writer:
        for chunk in chunks:
            writer.append(chunk)
    return path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=12.0, help="for each live figure")
    seconds = parser.parse_args().seconds
    app = QApplication([])
    keeper = QWidget()  # so that closing a window does not end the application
    keeper.setWindowTitle("benchmark")
    app.setQuitOnLastWindowClosed(False)
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    print(f"window speed, {SIZE[0]}x{SIZE[1]} offscreen, load before the run {load:.1f}\n")
    drawn, computed = (1e3 * part for part in latency(app, 5000, seconds))
    print("bytes in to verdict drawn, 5,000 samples/s    median    99 %   (goal: 99 % < 50 ms)")
    print(
        f"  drawn                                       {np.median(drawn):6.1f}  "
        f"{np.percentile(drawn, 99):6.1f} ms, {len(drawn)} deliveries"
    )
    print(
        f"  baseline: computed, not drawn               {np.median(computed):6.1f}  "
        f"{np.percentile(computed, 99):6.1f} ms\n"
    )
    fps, cpu_fps, uncached = frames(app, min(seconds, 6.0))
    print("frames a second with full traces              (goal: 30 or more)")
    print(
        f"  window                                      {fps:6.0f}   by its own CPU time "
        f"{cpu_fps:.0f}"
    )
    print(f"  baseline: chart alone, nothing kept         {uncached:6.0f}\n")
    with_window, drawing = cpu_share(5000, seconds, drawn=True)
    without, _ = cpu_share(5000, seconds, drawn=False)
    print("CPU of one core, live at 5,000 samples/s      (goal: under 40 %)")
    print(f"  window                                      {with_window:6.0%}")
    print(f"    of it drawing                             {drawing:6.0%}")
    print(f"    of it analysis                            {with_window - drawing:6.0%}")
    print(f"  baseline: the same run without a window     {without:6.0%}\n")
    with tempfile.TemporaryDirectory() as folder:
        ours, empty = start_ups(recording(Path(folder)))
    print("start-up to first drawn frame                 median    best   (goal: under 1.0 s)")
    for name, times in (
        ("the window, on a recording", ours),
        ("baseline: an empty Qt window", empty),
    ):
        wall_s, took_s = zip(*times, strict=True)
        print(
            f"  {name:43s} {np.median(wall_s):6.2f}  {min(wall_s):6.2f} s, of {len(times)} times;"
            f" of the processor {np.median(took_s):.2f}  {min(took_s):.2f} s"
        )


if __name__ == "__main__":
    main()
