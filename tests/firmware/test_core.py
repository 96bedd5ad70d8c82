"""Does the firmware's core say what Python understands, byte for byte, whatever comes when?

The core runs on this machine under the address and undefined-behaviour sanitizers, by a script; the
same scripts then run on a 32-bit processor under qemu.
"""

import struct
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from strokewise.analysis.samples import Board, Health, Segment
from strokewise.daq.recording.container import Chunk
from strokewise.daq.wire.decoder import Decoder
from strokewise.daq.wire.encoder import encode_frame, encode_lines
from strokewise.daq.wire.frames import Event, Hello, SampleBlock
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

Core = Callable[[bytes], bytes]

WHOLE = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)

STEP = st.integers(-400, 400)
"""Counts between two samples: an edge's sixteen bits are told from the last sample sent on, so less
than 2^15 counts may pass within the whole queue. A 2,400-count encoder makes 16 in a millisecond at
400 rev/min."""
SAMPLE = st.tuples(
    STEP,
    st.lists(st.integers(0, 0xFFFF), min_size=4, max_size=4),
    st.none() | st.tuples(st.integers(0, 255), st.integers(-500, 500), st.integers(-20, 200)),
    st.sampled_from(["", "N", "O", "OO"]),
)
SETUP = st.fixed_dictionaries(
    {
        "boot": st.integers(0, 2**32 - 1),
        "period_us": st.sampled_from([250, 500, 1000, 5000, 10_000]),
        "ticks_per_us": st.sampled_from([1, 2]),
        "hello_every": st.integers(1, 200),
    }
)


@dataclass
class Script:
    """What is done to the core, and the truth about it.

    ``counts`` and ``readings`` are those of every sample, from number 1 on, with 32 bits.
    """

    channels: int = 1
    boot: int = 7
    period_us: int = 500
    ticks_per_us: int = 2
    hello_every: int = 1000
    tells_skipped: bool = False
    counts: list[int] = field(default_factory=list)
    readings: list[list[int]] = field(default_factory=list)
    edges: list[Event] = field(default_factory=list)
    written: bytearray = field(default_factory=bytearray)

    def __post_init__(self) -> None:
        self.written += struct.pack(
            "<cIHBHB", b"B", self.boot, self.period_us, self.ticks_per_us, self.hello_every,
            self.tells_skipped,
        )  # fmt: skip

    @property
    def board(self) -> Board:
        """What the driver's hello says."""
        return Board("core", 2400, 16, (), self.boot)

    def sample(self, count: int, readings: list[int]) -> None:
        """Take a sample: due, and converted."""
        self.counts.append(count)
        self.readings.append(readings[: self.channels])
        self.written += struct.pack("<cH", b"D", count & 0xFFFF)
        self.written += struct.pack(f"<c{self.channels}H", b"A", *readings[: self.channels])

    def edge(self, number: int, count: int, after_us: int) -> None:
        """Let an input rise so long after the newest sample."""
        t_us = len(self.counts) * self.period_us + after_us
        tick = t_us * self.ticks_per_us & 0xFFFF
        self.written += struct.pack("<cBHH", b"E", number, tick, count & 0xFFFF)
        self.edges.append(Event(t_us % 2**32, count, number))

    def command(self, letters: str) -> None:
        """Have the main loop do something, or states skipped."""
        self.written += letters.encode()

    def preempt(self, seed: int, chance: int) -> None:
        """From here on let the interrupts run while the core makes its frames."""
        self.written += struct.pack("<cIB", b"R", seed, chance)

    def block(self, first: int, n: int, sequence: int) -> bytes:
        """Return the samples from number ``first`` on, as the Python side encodes them."""
        part = slice(first - 1, first - 1 + n)
        block = SampleBlock.pack(
            first * self.period_us, self.period_us, self.counts[part], self.readings[part]
        )
        return encode_frame(block, sequence)

    def follow(self, steps: list[tuple]) -> "Script":
        """Take samples, edges and turns of the main loop as they were drawn."""
        count = 0
        for step, readings, edge, loop in steps:
            count += step
            self.sample(count, readings)
            if edge is not None:
                number, apart, after_us = edge
                self.edge(number, count + apart, after_us)
            self.command(loop)
        return self


def sent_by(core: Core, script: Script) -> bytes:
    """Return what the core sends."""
    return core(bytes(script.written))


def heard(sent: bytes) -> tuple[Segment, Health]:
    """Return what a reader makes of it."""
    intake = Intake()
    blocks = intake.feed([Chunk(0, sent)]) + intake.finish()
    joined = join(blocks)
    return (joined[0] if joined else Segment()), intake.health


@WHOLE
@given(SETUP, st.lists(SAMPLE, max_size=60))
def test_python_encodes_the_truth_into_the_very_bytes_of_the_core(core, setup, steps):
    script = Script(channels=2, **setup).follow([(*step[:3], "OO") for step in steps])
    script.command("N")
    pieces = sent_by(core, script).removeprefix(b"\0").split(b"\0")
    assert pieces.pop() == b""
    decoder, edges, first = Decoder(), iter(script.edges), 1
    for sequence, piece in enumerate(pieces):
        [frame] = decoder.feed(piece + b"\0")
        sequence %= 256
        match frame:
            case Hello():
                expected = encode_frame(Hello(script.board), sequence)
            case Event():
                expected = encode_frame(next(edges), sequence)
            case SampleBlock():
                expected = script.block(first, frame.n, sequence)
                first += frame.n
        assert piece + b"\0" == expected
    assert next(edges, None) is None
    assert first - 1 == len(script.counts) // 16 * 16
    assert decoder.tally.bad_frames == 0


@WHOLE
@given(SETUP, st.lists(SAMPLE, min_size=20, max_size=80))
def test_the_python_reader_finds_in_the_core_s_bytes_what_was_done_to_it(core, setup, steps):
    script = Script(channels=2, **setup).follow([(*step[:3], "OO") for step in steps])
    script.command("N")
    segment, health = heard(sent_by(core, script))
    n = len(script.counts) // 16 * 16
    assert (health.lost_frames, health.bad_frames, health.segments) == (0, 0, 1)
    assert segment.board == script.board
    assert segment.samples.count.tolist() == script.counts[:n]
    assert segment.samples.readings.tolist() == script.readings[:n]
    assert segment.samples.time_us.tolist() == [
        number * script.period_us for number in range(1, n + 1)
    ]
    events = zip(
        segment.events.time_us.tolist(), segment.events.count.tolist(),
        segment.events.input.tolist(), strict=True,
    )  # fmt: skip
    assert list(events) == [(signed(e.t_us), e.count, e.input) for e in script.edges]


def signed(t_us: int) -> int:
    """An edge just before time 0 has wrapped, and the reader unwraps it."""
    return t_us - 2**32 if t_us > 2**31 else t_us


def test_the_largest_blocks_are_stuffed_as_python_stuffs_them(wide_core):
    """Runs of more than 254 bytes without a zero have a group of their own in COBS."""
    for seed, low in ((1, 0x0101), (2, 0)):
        rng = np.random.default_rng(seed)
        script = Script(channels=4, period_us=0x0101)
        count = 0
        for _ in range(192):
            count += 257 * int(rng.integers(1, 100))
            script.sample(count, (low + 0x0101 * rng.integers(0, 200, 4)).tolist())
            script.command("N")
        blocks = [piece + b"\0" for piece in sent_by(wide_core, script).split(b"\0")][2:5]
        assert blocks == [script.block(1 + 64 * k, 64, 1 + k) for k in range(3)]


@WHOLE
@given(SETUP, st.lists(SAMPLE, max_size=40))
def test_lines_are_those_of_the_python_side(core, setup, steps):
    setup["period_us"] = 5000
    script = Script(channels=2, **setup)
    script.follow([(*step[:3], "LLL") for step in steps])
    script.command("LLL")
    lines = sent_by(core, script).removeprefix(b"\n").splitlines(keepends=True)
    assert lines[0] == encode_lines(Hello(script.board))
    samples = [line for line in lines if line.startswith(b"S")]
    assert samples == [
        encode_lines(SampleBlock.single((k + 1) * 5000, wrapped(count), readings))
        for k, (count, readings) in enumerate(zip(script.counts, script.readings, strict=True))
    ]
    events = [line for line in lines if line.startswith(b"E")]
    assert events == [encode_lines(event) for event in script.edges]


def wrapped(count: int) -> int:
    return (count + 2**31) % 2**32 - 2**31


@settings(WHOLE, max_examples=150)
@given(
    samples=st.integers(10, 120),
    busy=st.integers(1, 30),
    chance=st.sampled_from([1, 2, 3, 10, 100]),
    seed=st.integers(0, 2**32 - 1),
)
def test_whatever_interrupts_when_nothing_is_torn_and_every_loss_is_told(
    tight_core, samples, busy, chance, seed
):
    """Queues of 8 samples and 4 edges, blocks of 4, interrupts at any branch of the main loop.

    The loop has a turn only every ``busy`` samples, so that many interrupts meet in it. Every
    reading is another, so that one torn from its place shows.
    """
    script = Script(hello_every=20)
    script.preempt(seed, chance)
    rng = np.random.default_rng(seed)
    count = 0
    for number in range(1, samples + 1):
        count += int(rng.integers(-400, 400))
        script.sample(count, [number])
        if rng.random() < 0.2:
            script.edge(int(rng.integers(0, 3)), count, int(rng.integers(-20, 200)))
        script.command(("N", "O", "OO")[rng.integers(3)] if number % busy == 0 else "")
    for number in range(8):  # frames that can tell of what was lost before them
        script.command("N")
        script.sample(count, [1000 + number])
    script.command("NN")
    check_losses(script, sent_by(tight_core, script))


def check_losses(script: Script, sent: bytes) -> None:
    """What arrives is the truth, in order, and what does not arrive is counted as lost."""
    segment, health = heard(sent)
    assert health.bad_frames == 0
    numbers = segment.samples.time_us // script.period_us
    assert np.all(np.diff(numbers) > 0)
    truth = np.array(script.counts)
    assert segment.samples.count.tolist() == truth[numbers - 1].tolist()
    assert segment.samples.readings.tolist() == np.array(script.readings)[numbers - 1].tolist()

    came = list(
        zip(
            (segment.events.time_us % 2**32).tolist(),
            segment.events.count.tolist(),
            segment.events.input.tolist(),
            strict=True,
        )
    )
    remaining = iter([(e.t_us, e.count, e.input) for e in script.edges])
    assert all(event in remaining for event in came), "an event that never was, or out of order"

    holes = np.diff(numbers, prepend=0) - 1
    blocks_lost = int(np.sum(-(-holes // 4)))
    assert health.lost_frames == blocks_lost + len(script.edges) - len(came)


def test_full_queues_lose_and_say_so(tight_core):
    script = Script()
    script.command("N")
    for number in range(1, 41):  # forty samples and ten edges while the line is busy
        script.sample(3 * number, [number])
        if number % 4 == 0:
            script.edge(1, 3 * number, 10)
    script.command("N")
    for number in range(41, 49):
        script.sample(3 * number, [number])
    script.command("N")
    segment, health = heard(sent_by(tight_core, script))
    numbers = (segment.samples.time_us // 500).tolist()
    assert numbers == [*range(1, 8), 41, 42, 43, 44]
    assert segment.events.count.tolist() == [12, 24, 36, 48]
    assert segment.samples.after_gap.tolist() == [number in (1, 41) for number in numbers]
    assert health.lost_frames == 6 + 9  # edges; 33 samples that would have been nine blocks


def test_a_slow_converter_leaves_samples_out_and_pairs_none_wrongly(tight_core):
    script = Script()
    for number in range(1, 17):
        script.sample(number, [100 + number])
    late = bytes(script.written)
    # Every second conversion is not over when the next sample is due.
    due = [late.index(struct.pack("<cH", b"D", number)) for number in range(1, 17)]
    done = [late.index(struct.pack("<cH", b"A", 100 + number)) for number in range(1, 17)]
    script.written = bytearray(late[: due[0]])
    for k in range(0, 16, 2):
        script.written += late[due[k] : due[k] + 3] + late[due[k + 1] : due[k + 1] + 3]
        script.written += late[done[k] : done[k] + 3] + b"O"
    script.command("N")
    segment, health = heard(sent_by(tight_core, script))
    assert (segment.samples.time_us // 500).tolist() == [1, 3, 5, 7, 9, 11, 13]
    assert segment.samples.count.tolist() == [1, 3, 5, 7, 9, 11, 13]
    assert segment.samples.readings[:, 0].tolist() == [101, 103, 105, 107, 109, 111, 113]
    assert health.lost_frames == 6


def test_a_skipped_state_is_told_in_the_next_hello(core):
    script = Script(channels=2, tells_skipped=True, hello_every=160)
    for number in range(1, 97):
        script.sample(number, [0, 0])
        if number in (20, 21):
            script.command("K")
        script.command("N")
    hellos = [piece for piece in sent_by(core, script).split(b"\0") if b'"skipped":' in piece]
    said = [int(piece.split(b'"skipped":')[1].split(b"}")[0]) for piece in hellos]
    assert said == [0, 2]


def test_the_count_and_the_clock_run_on_past_their_wraps(core):
    """The sixteen latched bits wrap every few samples, the 32 of the wire every 71.6 minutes."""
    script = Script(channels=2, period_us=26_000, hello_every=60_000)
    for number in range(1, 80_001):
        script.sample(30_000 * number, [1, 2])
        if number % 16 == 0:
            script.command("N")
    script.edge(1, 30_000 * 80_000 + 5, 7)
    script.command("N")
    segment, health = heard(sent_by(core, script))
    assert (health.lost_frames, health.segments) == (0, 1)
    assert np.all(np.diff(segment.samples.count) == 30_000)
    assert segment.samples.count[-1] == 30_000 * 80_000  # beyond 2^31
    assert segment.events.count.tolist() == [30_000 * 80_000 + 5]
    assert segment.events.time_us.tolist() == [80_000 * 26_000 + 7]


def test_a_time_beyond_71_minutes_wraps_as_the_wire_says(core):
    script = Script(channels=2, period_us=65_535, hello_every=60_000)
    for number in range(1, 65_601):
        script.sample(0, [1, 2])
        if number % 16 == 0:
            script.command("N")
    segment, health = heard(sent_by(core, script))
    assert (health.lost_frames, health.segments) == (0, 1)
    assert segment.samples.time_us[-1] == 65_600 * 65_535 > 2**32


def in_qemu(program: Path, script: Script, folder: Path) -> bytes:
    """Return what the core sends on a Cortex-M3."""
    (folder / "script.bin").write_bytes(script.written)
    (folder / "frames.bin").write_bytes(b"")
    done = subprocess.run(
        ["qemu-system-arm", "-M", "mps2-an385", "-display", "none", "-serial", "none",
         "-monitor", "none", "-semihosting", "-kernel", str(program)],
        cwd=folder, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return (folder / "frames.bin").read_bytes()


def test_a_32_bit_processor_sends_the_same_bytes(
    core_of: Callable[[str], Core],
    built: Callable[..., Path],
    require: Callable[..., None],
    tmp_path: Path,
) -> None:
    require("make", "gcc", "arm-none-eabi-gcc", "qemu-system-arm")
    host = core_of("")
    program = built("core-qemu", "core-qemu.elf")
    rng = np.random.default_rng(5)
    for form in ("N", "L"):
        script = Script(period_us=5000, hello_every=100, tells_skipped=True, boot=2**32 - 1)
        count = 0
        for _ in range(600):
            count += int(rng.integers(-400, 400))
            script.sample(count, [int(rng.integers(0, 4096))])
            if rng.random() < 0.2:
                script.edge(int(rng.integers(0, 3)), count, int(rng.integers(0, 5000)))
            script.command("K" if rng.random() < 0.05 else "")
            script.command(form if form == "N" else "LLL")
        expected = sent_by(host, script)
        assert len(expected) > 4000
        assert in_qemu(program, script, tmp_path) == expected
