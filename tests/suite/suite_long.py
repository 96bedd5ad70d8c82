"""What does a board send in an hour of cranking? A minute of the bench engine, laid end to end.

The bench gives two minutes at most. What it sent is cut where the crank has come round to where it
began, and sent again and again with clock and count running on: no seam shows in the pressure, and
the answer is that of the minute, with as many more compressions.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Segment
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.recording.container import MAX_CHUNK, Chunk, encode_header, encode_item
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Event, Hello, sample_blocks
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

HELLO_EACH_S = 2.0
CYCLE_TURNS = 2


@dataclass(frozen=True)
class Round:
    """Whole cycles of an engine, which can be sent again and again.

    Attributes
    ----------
    segment : Segment
        At an even rate, its first sample at time 0.
    turns_counts : int
        How far the count comes in it.
    """

    segment: Segment
    period_us: int
    turns_counts: int
    table: dict[str, object]

    @property
    def profile(self) -> Profile:
        """What is known of the engine."""
        return check_table(self.table).profile

    @property
    def lasts_us(self) -> int:
        """From its first sample to the first of the next round."""
        return len(self.segment.samples) * self.period_us


def cranked_round(rate_hz: float, seconds: float) -> Round:
    """Crank the bench engine, and cut what its board sent at whole cycles."""
    bench = scenario("cranked").build({"seconds": seconds})
    bench = replace(
        bench, rig=replace(bench.rig, board=replace(bench.rig.board, sample_rate_hz=rate_hz))
    )
    intake = Intake()
    (segment,) = join(intake.feed(take(bench).items) + intake.finish())
    samples, board = segment.samples, segment.board
    assert board is not None
    assert board.counts_per_rev is not None
    period_us = round(1e6 / rate_hz)
    assert (np.diff(samples.time_us) == period_us).all()
    turned = np.abs(samples.count - samples.count[0])
    whole = int(turned.max()) // (CYCLE_TURNS * board.counts_per_rev)
    end = int(np.argmax(turned >= whole * CYCLE_TURNS * board.counts_per_rev))
    begun_us, counts = int(samples.time_us[0]), int(samples.count[end] - samples.count[0])
    events = segment.events.only(segment.events.time_us < samples.time_us[end])
    cut = replace(
        segment,
        samples=replace(samples.only(slice(end)), time_us=samples.time_us[:end] - begun_us),
        events=replace(events, time_us=events.time_us - begun_us),
    )
    return Round(cut, period_us, counts, stated_profile(bench))


def sent_for(
    rounds: Round, seconds: float, *, per_block: int = 16, start: int = 0
) -> Iterator[bytes]:
    """Return what a board sends for so long, a part at each hello, whole frames in each.

    Every sample is numbered by its place, so whoever counts them knows how many there must be:
    ``samples_in(rounds, seconds)``.
    """
    encoder = FrameEncoder()
    samples, events, board = rounds.segment.samples, rounds.segment.events, rounds.segment.board
    assert board is not None
    each = round(HELLO_EACH_S * 1e6 / rounds.period_us)
    left = samples_in(rounds, seconds)
    turn = start
    while left:
        later_us, on = turn * rounds.lasts_us, turn * rounds.turns_counts
        for first in range(0, min(len(samples), left), each):
            part = samples.only(slice(first, min(first + each, left)))
            from_us, to_us = int(part.time_us[0]), int(part.time_us[-1]) + rounds.period_us
            due = (events.time_us >= from_us) & (events.time_us < to_us)
            edges = [
                Event((int(t) + later_us), int(c) + on, int(i))
                for t, c, i in zip(
                    events.time_us[due], events.count[due], events.input[due], strict=True
                )
            ]
            sent = [encoder.encode(Hello(board))]
            for block in sample_blocks(
                from_us + later_us, rounds.period_us, part.count + on, part.readings,
                per_block=per_block,
            ):  # fmt: skip
                sent.append(encoder.encode(block))
                until_us = block.start_us + block.n * rounds.period_us
                while edges and edges[0].t_us % 2**32 < until_us:
                    sent.append(encoder.encode(edges.pop(0)))
            sent += [encoder.encode(edge) for edge in edges]
            yield b"".join(sent)
        left -= min(len(samples), left)
        turn += 1


def samples_in(rounds: Round, seconds: float) -> int:
    """Return how many samples a board sends in so long."""
    return round(seconds * 1e6 / rounds.period_us)


def keep_for(rounds: Round, seconds: float, path: str | Path) -> None:
    """Write a recording of what a board sends in so long, in chunks as full as they may be."""
    waiting = b""
    with Path(path).open("wb") as out:
        out.write(encode_header({"engine": rounds.table}))
        for part in sent_for(rounds, seconds):
            waiting += part
            whole = len(waiting) // MAX_CHUNK * MAX_CHUNK
            out.write(encode_item(Chunk(out.tell(), waiting[:whole])))
            waiting = waiting[whole:]
        out.write(encode_item(Chunk(out.tell(), waiting)))
