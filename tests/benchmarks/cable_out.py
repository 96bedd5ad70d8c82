"""How long does an answer stand after the cable is out? In the window of ``live`` and in ``watch``.

    python tests/benchmarks/cable_out.py [--times 40]

A board sends in real time until its answer is sure; then the cable goes out, at a random moment:
either nothing comes any more, or the port goes away. Measured is the time to the first picture, or
the first line, without the answer. It must be 0.6 s for 95 of a hundred.
"""

from __future__ import annotations

import argparse
import os
import pty
import select
import subprocess
import sys
import threading
import time
from collections.abc import Iterator

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import contextlib

import numpy as np
from live_truth import base_of

from strokewise.analysis.errors import PortError
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.recording.container import Chunk, Item
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, SampleBlock
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.sentence import Certainty
from strokewise.gui.models.setup.settings import Settings

BLOCK = 16
MOST_S, LENGTH_S = 30.0, 32.0
LIMIT_S = 0.6


def frames() -> Iterator[tuple[float, bytes]]:
    """Yield what a board sends, with the second at which it is ready."""
    base, encoder = base_of("cranked", 700, LENGTH_S), FrameEncoder()
    s, t = base.samples, base.time_s
    period = int(np.median(np.diff(s.time_us)))
    yield 0.0, encoder.encode(Hello(base.board))
    for at in range(0, len(s) - BLOCK, BLOCK):
        own = slice(at, at + BLOCK)
        block = SampleBlock.pack(int(s.time_us[at]), period, s.count[own], s.readings[own])
        yield float(t[own][-1]), encoder.encode(block)


class Board:
    """A port on which a board sends in real time until its cable is out."""

    def __init__(self, *, gone: bool) -> None:
        self.gone, self.out_s, self.stopped = gone, None, threading.Event()
        self.cut = threading.Event()

    def __iter__(self) -> Iterator[Item]:
        begin = time.monotonic()
        for due, data in frames():
            while (wait := begin + due - time.monotonic()) > 0 and not self.cut.is_set():
                time.sleep(min(wait, 0.005))
            if self.cut.is_set() or self.stopped.is_set():
                break
            yield Chunk(self.now_us(), data)
        if self.gone:
            raise PortError("the port went away")
        while not self.stopped.wait(0.05):
            yield Chunk(self.now_us(), b"")

    def now_us(self) -> int:
        """Return the time."""
        return round(time.monotonic() * 1e6)

    def stop(self) -> None:
        """End."""
        self.stopped.set()

    def close(self) -> None:
        """Nothing is held open."""


def window_s(rng: np.random.Generator, *, gone: bool) -> float:
    """Return the seconds from the cable out to a window without the answer."""
    from strokewise.gui.window.launch import application
    from strokewise.gui.window.workbench import Workbench

    app = application()
    base, board = base_of("cranked", 700, LENGTH_S), Board(gone=gone)
    ports = [board]

    def open_port() -> Board:
        if not ports:
            raise PortError("no port")
        return ports.pop()

    run = LiveRun("a port", open_port, lambda said: base.profile, Tracker)
    window = Workbench(run, Settings())
    window.show()
    window.begin()
    wait = rng.uniform(0.3, 1.5)
    sure_s, end_s, took = None, time.monotonic() + MOST_S, float("nan")
    while time.monotonic() < end_s:
        app.processEvents()
        time.sleep(0.002)
        sure = window.band.sentence.certainty is Certainty.SURE
        now_s = time.monotonic()
        if not board.cut.is_set():
            sure_s = now_s if sure and sure_s is None else sure_s
            if sure_s is not None and now_s > sure_s + wait:
                board.cut.set()
                cut_s = now_s
        elif not sure:
            took = now_s - cut_s
            break
    window._closing = True
    window.close()
    return took


def watch_s(rng: np.random.Generator) -> float:
    """Return the seconds from the cable out to a line of ``watch`` without the answer."""
    host, device = pty.openpty()
    os.set_blocking(host, False)
    import termios
    import tty

    tty.setraw(device, termios.TCSANOW)
    name = os.ttyname(device)
    base = base_of("cranked", 700, LENGTH_S)
    order = "-".join(map(str, base.profile.firing_order))
    points = ", ".join(f'[{raw:g}, "{bar} bar"]' for raw, bar in base.profile.sensors[0].points)
    command = [
        sys.executable, "-m", "strokewise.gui", "watch", name,
        "--set", f"cylinders={base.profile.cylinders}", "--set", f"firing_order={order}",
        "--set", "sensor.cylinder=1", "--set", f"sensor.points=[{points}]",
    ]  # fmt: skip
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert process.stdout is not None
    took, sure_s, cut_s, said = float("nan"), None, None, b""
    select.select([process.stdout], [], [], MOST_S)  # its port is open, and it waits
    begin, wait = time.monotonic(), rng.uniform(0.3, 1.5)
    sending = frames()
    due, data = next(sending)
    while time.monotonic() < begin + MOST_S:
        now_s = time.monotonic()
        while cut_s is None and now_s >= begin + due:
            with contextlib.suppress(BlockingIOError):
                os.write(host, data)
            due, data = next(sending)
        ready, _, _ = select.select([process.stdout], [], [], 0.004)
        if ready:
            said = os.read(process.stdout.fileno(), 65_536)
        last = said.strip().rsplit(b"\n", 1)[-1]
        sure = last.startswith((b"SURE", b"STROKE SURE"))
        if cut_s is None:
            sure_s = now_s if sure and sure_s is None else sure_s
            if sure_s is not None and now_s > sure_s + wait:
                cut_s = time.monotonic()
        elif ready and not sure:
            took = time.monotonic() - cut_s
            break
    process.terminate()
    process.wait()
    os.close(host)
    os.close(device)
    return took


def table(name: str, took: list[float]) -> None:
    """Print one line of the table."""
    known = np.array([t for t in took if np.isfinite(t)])
    if not len(known):
        print(f"{name:24s} never seen in {len(took)}")
        return
    print(
        f"{name:24s} n {len(known):3d}  not seen {len(took) - len(known):2d}  median"
        f" {np.median(known):.3f} s  95 % {np.percentile(known, 95):.3f} s  most"
        f" {known.max():.3f} s  under {LIMIT_S} s {np.mean(known < LIMIT_S):.1%}",
        flush=True,
    )


def main() -> None:
    """Print the times."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--times", type=int, default=40)
    args = parser.parse_args()
    rng = np.random.default_rng(7)
    table("window, nothing comes", [window_s(rng, gone=False) for _ in range(args.times)])
    table("window, port gone", [window_s(rng, gone=True) for _ in range(args.times)])
    table("watch, nothing comes", [watch_s(rng) for _ in range(args.times)])


if __name__ == "__main__":
    main()
