"""How many samples a second come out of bytes, beside what numpy alone could do?

Run it as ``python tests/benchmarks/decoder_speed.py``. The baseline is a bare ``numpy.frombuffer``
over the same records laid end to end, its fields summed: no framing, no checks, no unwrapping, and
nothing kept.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from strokewise.analysis.samples import Board
from strokewise.daq.recording.container import Chunk, encode_header, encode_item
from strokewise.daq.recording.read import read_recording
from strokewise.daq.wire.decoder import Decoder
from strokewise.daq.wire.encoder import FrameEncoder, encode_lines
from strokewise.daq.wire.frames import Event, Hello, sample_blocks
from strokewise.daq.wire.intake import Intake

SAMPLES = 800_000
LINES = 40_000
LIVE_CHUNK = 500  # what 500,000 baud bring in ten milliseconds
FILE_CHUNK = 4096
REPEATS = 5
EVENT_EVERY = 8  # blocks: an index and a mark input on a quick starter
GOAL, GOAL_FROM = 10e6, 16
LINE_RATE = 5_000  # samples a second that a 500,000 baud line can carry at most


def stream(per_block: int, rng: np.random.Generator) -> bytes:
    """Return what a board sends."""
    counts = np.cumsum(rng.integers(0, 12, SAMPLES))
    readings = rng.integers(0, 4096, SAMPLES)
    encoder = FrameEncoder()
    sent = [encoder.encode(Hello(Board("bench", 2400, 12, ("pressure",), 1)))]
    blocks = sample_blocks(0, 200, counts, readings, per_block=per_block)
    for number, block in enumerate(blocks):
        sent.append(encoder.encode(block))
        if number % EVENT_EVERY == 0:
            sent.append(encoder.encode(Event(block.start_us, block.start_count, 0)))
    return b"".join(sent)


def best_s(work: Callable[[], object]) -> float:
    """Return the shortest of several runs in processor time, which others disturb the least."""
    taken = []
    for _ in range(REPEATS):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return min(taken)


def live(data: bytes) -> None:
    """Decode chunk by chunk, as from a port."""
    intake = Intake()
    for start in range(0, len(data), LIVE_CHUNK):
        intake.feed((Chunk(start, data[start : start + LIVE_CHUNK]),))


def show(what: str, samples: int, seconds: float, baseline_s: float) -> None:
    """Print one line of the table."""
    rate, share = samples / seconds, baseline_s / SAMPLES * samples / seconds
    print(f"{what:34} {rate / 1e6:8.2f} M/s  {share:7.1%} of bare numpy  {rate / LINE_RATE:7.0f}×")


def main() -> None:
    """Print the figures."""
    rng = np.random.default_rng(1)
    record = np.dtype([("dcount", "<i2"), ("adc", "<u2")])
    plain = rng.integers(0, 2**16, 2 * SAMPLES, np.uint16).tobytes()

    def bare() -> tuple[int, int]:
        records = np.frombuffer(plain, record)
        return int(records["dcount"].sum()), int(records["adc"].sum())

    baseline_s = best_s(bare)
    print(f"{SAMPLES:,} samples, best of {REPEATS}; the last column is times a 500,000 baud line")
    show("bare numpy.frombuffer and sum", SAMPLES, baseline_s, baseline_s)
    slowest = float("inf")
    with tempfile.TemporaryDirectory() as folder:
        for per_block in (8, 16, 24, 64):
            data = stream(per_block, rng)
            path = Path(folder) / f"{per_block}.swr"
            chunks = (data[i : i + FILE_CHUNK] for i in range(0, len(data), FILE_CHUNK))
            items = (Chunk(k, chunk) for k, chunk in enumerate(chunks))
            path.write_bytes(encode_header({}) + b"".join(map(encode_item, items)))
            of = f", blocks of {per_block}"
            if read_recording(path).health.samples != SAMPLES:
                raise SystemExit("the recording did not come back whole")
            seconds = best_s(lambda: Decoder().feed(data))  # noqa: B023  used at once
            show("frame by frame, no samples" + of, SAMPLES, seconds, baseline_s)
            seconds = best_s(lambda: read_recording(path))  # noqa: B023  used at once
            show("file to recording" + of, SAMPLES, seconds, baseline_s)
            if per_block >= GOAL_FROM:
                slowest = min(slowest, SAMPLES / seconds)
            seconds = best_s(lambda: live(data))  # noqa: B023  used at once
            show(f"live, chunks of {LIVE_CHUNK} B" + of, SAMPLES, seconds, baseline_s)
    block = next(sample_blocks(0, 200, range(64), range(64), per_block=64))
    text = encode_lines(block) * (LINES // 64)
    seconds = best_s(lambda: Intake().feed((Chunk(0, text),)))
    show("lines with checksum", text.count(b"\n"), seconds, baseline_s)
    print(
        f"asked of a file with blocks of {GOAL_FROM} and more: {GOAL / 1e6:.0f} M/s;"
        f" the slowest of them: {slowest / 1e6:.1f} M/s"
    )


if __name__ == "__main__":
    main()
