"""An hour of cranking through a pseudo terminal, many times faster than it lasts.

Memory stays where it is, no sample is lost or made up, and the answer is that of the same bytes in
one go.
"""

import json
import os
import select
import subprocess
import sys
import termios
import time
import tty
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from suite_long import cranked_round, keep_for, samples_in, sent_for

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo terminals")

RATE_HZ = 5_000.0
ROUND_S = 20.0
PER_BLOCK = 32

SHORT_S, HOUR_S = 45, 3600
"""What lasts a minute of tests, and what is meant."""

SETTLED_S = 300
"""By then every memory of limited size is full; of a short run three quarters are let go for it,
with the first verdict, half a minute in, and all that it loads."""

MOST_GROWTH_MB, MOST_UNSETTLED_MB = 8.0, 24.0
"""What a process may hold more later on: the allocator gives and takes some megabytes, while the
samples of an hour are 340. A short run is over before everything is full."""

HOST = Path(__file__).parent / "soaked.py"


def host(*arguments: object) -> subprocess.Popen[str]:
    """Start the host's side."""
    return subprocess.Popen(
        [sys.executable, str(HOST), *map(str, arguments)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )


def send(near: int, data: bytes, recorder: subprocess.Popen[str]) -> None:
    """Send all of it, waiting while the line is full, unless nobody is there to take it."""
    view = memoryview(data)
    while view and recorder.poll() is None:
        if select.select([], [near], [], 1.0)[1]:
            view = view[os.write(near, view) :]


def test_an_hour_through_a_terminal(
    tries: Callable[..., int], counted: Callable[..., None], tmp_path: Path
) -> None:
    seconds = tries(SHORT_S, HOUR_S, cheap=True)
    rounds = cranked_round(RATE_HZ, ROUND_S)
    samples = samples_in(rounds, seconds)
    keep_for(rounds, 1.0, tmp_path / "like.swr")
    near, far = os.openpty()
    tty.setraw(far, termios.TCSANOW)
    os.set_blocking(near, False)
    recorder = host(os.ttyname(far), tmp_path / "soaked.swr", tmp_path / "like.swr", samples)
    assert recorder.stdout is not None
    try:
        assert recorder.stdout.readline() == "open\n"
        begun_s = time.monotonic()
        for part in sent_for(rounds, seconds, per_block=PER_BLOCK):
            send(near, part, recorder)
        followed = json.loads(recorder.stdout.read())
        lasted_s = time.monotonic() - begun_s
    finally:
        recorder.kill()
        recorder.wait()
        recorder.stdout.close()
        os.close(near)
        os.close(far)
    at_once = host(tmp_path / "soaked.swr")
    whole = json.loads(at_once.communicate()[0])

    assert f"samples={samples}," in followed["health"]
    assert "lost_frames=0, bad_frames=0" in followed["health"]
    assert followed["health"] == whole["health"]
    assert followed["verdict"] == whole["verdict"]
    assert "decided=True" in followed["verdict"]
    held = np.array(followed["held_mb"])
    settled = held[min(3 * len(held) // 4, round(SETTLED_S * len(held) / seconds)) :]
    most_mb = MOST_GROWTH_MB if seconds > 2 * SETTLED_S else MOST_UNSETTLED_MB
    assert settled.max() - settled[0] < most_mb
    print(
        f"{seconds} s of engine time, {samples:,} samples, in {lasted_s:.0f} s"
        f" ({seconds / lasted_s:.0f} times as fast; the host's processor {followed['took_s']:.0f}"
        f" s, a verdict each half minute); memory {settled[0]:.1f} MB when settled,"
        f" {settled[-1]:.1f} MB at the end, {settled.max():.1f} MB at the most"
    )
    counted(
        "soak",
        tries=seconds,
        exceptions=0,
        times_real=seconds / lasted_s,
        settled_mb=settled[0],
        most_mb=settled.max(),
        last_mb=settled[-1],
    )
