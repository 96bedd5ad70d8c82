"""The host's side of the soak, in a process of its own.

``soaked.py PORT FILE LIKE SAMPLES`` records a port into FILE with the header of LIKE, follows it,
asks for a verdict each half minute of the engine's time, as ``record`` and ``watch`` do together,
and prints one line of JSON: what it held in memory on the way, and what it found.
``soaked.py FILE`` answers that in one go.
"""

import json
import os
import sys
import time
from pathlib import Path
from typing import Any

from strokewise.analysis.samples import Health
from strokewise.analysis.trace.check import Recorded
from strokewise.analysis.verdict.find import closing_verdict
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.known_recording import read_with_profile
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.read import open_recording
from strokewise.daq.recording.record import Recorder
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.sources import SerialSource

ASK_EACH_US = 30_000_000
"""A verdict so often in the engine's time: what costs most is the fit, which is not what is tried
here, and it is made anew each time."""

HELD_EACH_US = 5_000_000
"""Its memory is looked at so often."""

SILENCE_S = 5.0


def held_mb() -> float:
    """Return the memory that this process holds now."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def followed(port: str, file: Path, header: dict[str, Any], samples: int) -> dict[str, object]:
    """Record and follow until all have come, or nothing does any more."""
    tracker = Tracker(known_engine(header=header).profile)
    held, asked_us, held_us, heard_s = list[float](), 0, 0, time.monotonic()
    begun_s = time.process_time()
    with (
        SerialSource(port, sleep=lambda seconds: None) as source,
        RecordingWriter(file, header) as writer,
    ):
        print("open", flush=True)
        recorder = Recorder(source, writer)
        for blocks in recorder.blocks():
            for block in blocks:
                tracker.feed(block)
                if len(block.samples):
                    now_us = int(block.samples.time_us[-1])
                    if now_us >= asked_us:
                        tracker.verdict()
                        asked_us = now_us + ASK_EACH_US
                    if now_us >= held_us:
                        held.append(held_mb())
                        held_us = now_us + HELD_EACH_US
            if blocks:
                heard_s = time.monotonic()  # when it was done with them, however long that took
            if recorder.health.samples >= samples or time.monotonic() - heard_s > SILENCE_S:
                source.stop()
        health = recorder.health
    took_s = time.process_time() - begun_s
    return told(closing_verdict(tracker, health), health) | {"held_mb": held, "took_s": took_s}


def told(verdict: object, health: Health) -> dict[str, object]:
    """Return answer and health as text, every digit of them."""
    return {"verdict": repr(verdict), "health": repr(health)}


def main() -> None:
    """Follow a port, or answer a file."""
    if len(sys.argv) == 2:
        recorded = read_with_profile(sys.argv[1])
        said = told(closing_of(recorded), recorded.recording.health)
    else:
        port, file, kept, samples = sys.argv[1:]
        said = followed(port, Path(file), open_recording(kept).header, int(samples))
    print(json.dumps(said))


def closing_of(recorded: Recorded) -> object:
    """Return the verdict of a recording fed whole."""
    tracker = Tracker(recorded.profile)
    for segment in recorded.recording.segments:
        tracker.feed(segment)
    return closing_verdict(tracker, recorded.recording.health)


if __name__ == "__main__":
    main()
