"""Does the 8-bit board's firmware, run cycle by cycle, see of an engine what was there to see?

The pins are driven from a run of the bench engine. Beside the bytes that the firmware sends there
is the direct way: the true count and the same voltages at the very cycles at which the converter
took them, encoded in Python. Both must come to one answer.
"""

import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.samples import Recording, Segment
from strokewise.analysis.verdict.find import find
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.bench import Bench, turn
from strokewise.daq.bench.pins import PIN_INDEX, PinDrive, even_drive, pin_drive
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.container import Chunk
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Event, Hello, sample_blocks
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

FAST = ("BAUD=500000", "RATE=2000")
CYCLES_PER_US = 16
HOLD_CYCLES = 256  # the voltage is taken two cycles of the converter's clock after its start
ENTRY_CYCLES = 4  # into an interrupt, which the simulator gives away
BOARD_RIG = {"bits": 10, "rate": 2000}

RUNS: dict[str, tuple[str, dict[str, Any]]] = {
    "cranked": ("cranked", {"seconds": 2.5, "run_down": 0.0}),
    "by hand": ("hand-turned", {"turn": 810.0, "hand_speed": 40.0, "pause": 0.2}),
    "rocked": ("rocked", {"swings": 4, "pause": 0.2}),
    "marks that lie": ("cranked", {"seconds": 2.5, "run_down": 0.0, "pulley_mark": 17.0,
                                   "cam_mark": 360.0}),
}  # fmt: skip

Simulate = Callable[..., Any]


def heard(sent: bytes) -> Recording:
    """Return what a reader makes of a board's bytes."""
    intake = Intake()
    blocks = intake.feed([Chunk(0, sent)]) + intake.finish()
    return Recording(join(blocks), intake.health)


def direct(drive: PinDrive, conversions: np.ndarray, n: int, hello: Hello) -> bytes:
    """Return what a board without any processor would send: the truth at the same moments."""
    taken = conversions[:n]
    period = round(float(np.median(np.diff(taken))))
    zero = int(taken[0]) - period
    readings = np.floor(drive.share_at(taken + HOLD_CYCLES) * 1024).astype(int)
    blocks = sample_blocks(
        period // CYCLES_PER_US, period // CYCLES_PER_US, drive.count_at(taken), readings
    )
    rises = drive.edges[(drive.edges["pin"] >= PIN_INDEX) & (drive.edges["level"] == 1)]
    rises = rises[(rises["cycle"] > 0) & (rises["cycle"] < taken[-1])]
    cycle = rises["cycle"].astype(np.int64)
    events = [
        Event(int(when - zero) // CYCLES_PER_US, int(count), int(pin) - PIN_INDEX)
        for when, count, pin in zip(cycle, drive.count_at(cycle), rises["pin"], strict=True)
    ]
    encoder = FrameEncoder()
    frames = [*blocks, *events]
    frames.sort(key=lambda f: f.t_us if isinstance(f, Event) else f.start_us + 16 * f.period_us)
    return b"".join(encoder.encode(frame) for frame in [hello, *frames])


def answer(recording: Recording, bench: Bench) -> Verdict:
    header = {"engine": stated_profile(bench)}
    [segment] = recording.segments
    return find(recording, known_engine(header=header, board=segment.board).profile)


@pytest.mark.parametrize("name", RUNS)
def test_an_engine_on_the_pins_is_what_it_is_without_a_board(
    name: str, simulate: Simulate, avr: Callable[..., Path]
) -> None:
    scenario_name, changes = RUNS[name]
    bench = scenario(scenario_name).build({**changes, **BOARD_RIG})
    run = turn(bench)
    drive = pin_drive(bench, run)
    done = simulate(avr(*FAST), drive, float(run.time_s[-1]))
    recording = heard(done.sent)
    [segment] = recording.segments
    n = len(segment.samples)
    assert (recording.health.lost_frames, recording.health.bad_frames) == (0, 0)
    assert n > 0.98 * run.time_s[-1] * 2000 - 32  # all but those in the last block
    assert np.all(np.diff(segment.samples.time_us) == 500)

    # Every count is there; one just crossed while another interrupt ran is seen a sample later.
    late = segment.samples.count - drive.count_at(done.conversions[:n])
    assert np.abs(late).max() <= 1
    assert np.mean(late != 0) < 0.01
    readings = np.floor(drive.share_at(done.conversions[:n] + HOLD_CYCLES) * 1024)
    assert np.array_equal(segment.samples.readings[:, 0], readings)

    assert segment.board is not None
    without = heard(direct(drive, done.conversions, n, Hello(segment.board)))
    same_events(segment, without.segments[0])

    found, expected = answer(recording, bench), answer(without, bench)
    assert found.tdc is not None
    assert expected.tdc is not None
    apart_deg = found.tdc.angle_deg.value - expected.tdc.angle_deg.value
    print(f"{name}: TDC {apart_deg:+.4f} degrees apart")
    assert abs(apart_deg) < 0.05
    assert found.decided
    assert expected.decided
    assert found.firing_deg is not None
    assert found.firing_deg == pytest.approx(expected.firing_deg, abs=0.05)
    # The stroke is the true one: the other would be a whole turn away.
    lines = bench.rig.encoder.clamp_deg / 360.0 * 2400 - drive.first_cell
    off_deg = (found.firing_deg[1] - lines * 0.15 + 360.0) % 720.0 - 360.0
    print(f"{name}: cylinder 1 fires {off_deg:+.3f} degrees from the truth")
    assert abs(off_deg) < 1.0


def same_events(seen: Segment, expected: Segment) -> None:
    """The marks: the same inputs in the same order, to the cell and to some microseconds.

    An edge that meets a line of the disc may be latched on either side of it.
    """
    of = [seen.events, expected.events]
    order = [np.lexsort((events.input, events.time_us // 20)) for events in of]
    (inputs, inputs_2), (counts, counts_2), (times, times_2) = (
        [getattr(events, what)[at] for events, at in zip(of, order, strict=True)]
        for what in ("input", "count", "time_us")
    )
    assert inputs.tolist() == inputs_2.tolist()
    assert np.abs(counts - counts_2).max(initial=0) <= 1
    assert np.abs(times - times_2).max(initial=0) <= 20


def test_a_reset_in_mid_run_is_a_new_start(simulate: Simulate, avr: Callable[..., Path]) -> None:
    done = simulate(avr(*FAST), even_drive(9_000, 1.0), 1.0, "--reset", "0.5")
    recording = heard(done.sent)
    first, second = recording.segments
    assert (recording.health.lost_frames, recording.health.bad_frames) == (0, 0)
    assert first.board is not None
    assert second.board is not None
    assert first.board.boot != second.board.boot
    assert second.samples.time_us[0] == 500
    assert second.samples.count[0] < 100
    assert recording.health.segments == 2


def test_115200_baud_carries_a_thousand_samples_a_second(
    simulate: Simulate, avr: Callable[..., Path]
) -> None:
    done = simulate(avr(), even_drive(16_000, 1.0), 1.0)
    recording = heard(done.sent)
    [segment] = recording.segments
    assert (recording.health.lost_frames, recording.health.bad_frames) == (0, 0)
    assert np.all(np.diff(segment.samples.time_us) == 1000)
    assert len(segment.samples) > 960


def test_a_line_that_is_too_slow_leaves_whole_blocks_out_and_says_so(
    simulate: Simulate, avr: Callable[..., Path]
) -> None:
    drive = even_drive(8_000, 0.6)
    done = simulate(avr("BAUD=57600", "RATE=2000"), drive, 0.6)
    recording = heard(done.sent)
    [segment] = recording.segments
    assert recording.health.bad_frames == 0
    assert recording.health.lost_frames > 10
    missing = np.diff(segment.samples.time_us) // 500 - 1
    assert np.sum(-(-missing // 16)) == recording.health.lost_frames
    number = segment.samples.time_us // 500 - 1
    assert np.abs(segment.samples.count - drive.count_at(done.conversions[number])).max() <= 1


def test_plain_lines_are_read_and_checked(simulate: Simulate, avr: Callable[..., Path]) -> None:
    drive = even_drive(4_000, 1.0)
    done = simulate(avr("PLAIN=1"), drive, 1.0)
    recording = heard(done.sent)
    [segment] = recording.segments
    health = recording.health
    assert (health.bad_frames, health.unchecked_lines) == (0, 0)
    assert np.all(np.diff(segment.samples.time_us) == 5000)
    true = drive.count_at(done.conversions[: len(segment.samples)])
    assert np.abs(segment.samples.count - true).max() <= 1
    assert segment.board is not None
    assert segment.board.device == "reference board, ATmega328P"


def test_two_sensors_keep_their_channels(simulate: Simulate, avr: Callable[..., Path]) -> None:
    drive = even_drive(8_000, 0.5)
    drive = replace(drive, shares=np.tile([0.25, 0.75], (2, 1)))
    recording = heard(simulate(avr("CHANNELS=2", "RATE=500"), drive, 0.5).sent)
    [segment] = recording.segments
    assert (recording.health.lost_frames, recording.health.bad_frames) == (0, 0)
    assert np.all(np.diff(segment.samples.time_us) == 2000)
    assert np.all(segment.samples.readings == [256, 768])
    assert segment.board is not None
    assert segment.board.adc == ("pressure", "second")


def counted(simulate: Simulate, firmware: Path, drive: PinDrive, seconds: float) -> tuple[int, int]:
    """Return how many counts are missing at the end, and how many skipped states were told."""
    done = simulate(firmware, drive, seconds)
    recording = heard(done.sent)
    [segment] = recording.segments
    last = len(segment.samples) - 1
    missing = int(drive.count_at(done.conversions[last]) - segment.samples.count[last])
    told = [int(found) for found in re.findall(rb'"skipped":(\d+)}', done.sent)]
    return missing, told[-1]


@pytest.mark.parametrize(
    ("edges_per_s", "jitter"), [(16_000, 0.0), (16_000, 0.15), (70_000, 0.0), (50_000, 0.15)]
)
def test_no_count_is_lost_up_to_what_the_notes_say(
    edges_per_s: int, jitter: float, simulate: Simulate, avr: Callable[..., Path]
) -> None:
    """600 lines at 400 rev/min are 16,000; index and both marks come in between, all at once."""
    seconds = min(1.5, 60_000 / edges_per_s)
    drive = even_drive(edges_per_s, seconds, jitter=jitter, marks_per_s=100)
    missing, told = counted(simulate, avr(*FAST), drive, seconds + 0.4)
    assert (missing, told) == (0, 0)


@pytest.mark.parametrize(("edges_per_s", "untold"), [(120_000, 0.0), (160_000, 0.05)])
def test_far_too_fast_counts_are_lost_and_every_one_is_told(
    edges_per_s: int, untold: float, simulate: Simulate, avr: Callable[..., Path]
) -> None:
    """A skipped state is two counts. The hello after the burst tells of all of it.

    Three edges between two looks pass for one back: a few are not told where it is twice too fast.
    """
    drive = even_drive(edges_per_s, 0.3, marks_per_s=100)
    missing, told = counted(simulate, avr(*FAST), drive, 0.8)
    print(f"{edges_per_s} edges a second: {missing} counts missing, {told} skipped states told")
    assert missing > 2
    assert missing * (1 - untold) <= 2 * told <= missing


def test_interrupts_are_short_and_memory_is_left(
    simulate: Simulate, avr: Callable[..., Path]
) -> None:
    bench = scenario("cranked").build({"seconds": 1.0, "run_down": 0.0, **BOARD_RIG})
    run = turn(bench)
    report = simulate(avr(*FAST), pin_drive(bench, run), 1.0).report
    longest = max(report["interrupt_cycles"].values()) + ENTRY_CYCLES
    delay = report["edge_delay_cycles"] + ENTRY_CYCLES
    size = subprocess.run(
        ["avr-size", str(avr(*FAST))], capture_output=True, text=True, check=True
    ).stdout.splitlines()[1]
    text, data, bss = (int(word) for word in size.split()[:3])
    print(
        f"flash {text + data} of 32,768 bytes; RAM {data + bss} of 2,048 and a stack that leaves "
        f"{report['ram_untouched']} never touched; longest interrupt {longest / 16:.1f} us; "
        f"an encoder edge waits at most {delay / 16:.1f} us; by vector in cycles "
        f"{report['interrupt_cycles']}"
    )
    assert text + data < 8_192
    assert report["ram_untouched"] > 600
    assert longest / 16 < 20
    assert delay / 16 < 30


def test_interrupts_neither_loop_nor_wait_and_nothing_is_allocated(
    avr: Callable[..., Path],
) -> None:
    code = subprocess.run(
        ["avr-objdump", "-d", str(avr(*FAST))], capture_output=True, text=True, check=True
    ).stdout
    assert not re.search(r"<(malloc|calloc|realloc|free)>", code)
    vectors = re.findall(r"^[0-9a-f]+ <__vector_\d+>:\n(.*?)\n\n", code, re.M | re.S)
    assert len(vectors) >= 6
    for body in vectors:
        assert not re.search(r"\bi?r?call\b", body), body
        for line in body.splitlines():
            at = int(line.split(":")[0], 16)
            jump = re.search(r"\b(?:br\w+|rjmp)\s+\.([+-]\d+)", line)
            assert jump is None or int(jump[1]) >= 0, f"a jump back at {at:x}: {line}"


@pytest.mark.parametrize("words", [(), ("CHANNELS=2", "RATE=500"), ("PLAIN=1",)])
def test_the_32_bit_port_compiles_and_fits(words: tuple[str, ...], built, require) -> None:
    require("make", "arm-none-eabi-gcc", "arm-none-eabi-objcopy", "arm-none-eabi-size")
    folder = built("stm32", "", *words)
    [program] = folder.glob("*.elf")
    size = subprocess.run(
        ["arm-none-eabi-size", str(program)], capture_output=True, text=True, check=True
    ).stdout.splitlines()[1]
    text, data, bss = (int(word) for word in size.split()[:3])
    print(f"flash {text + data} of 64,512 bytes; RAM {data + bss} of 20,480")
    assert text + data < 8_192
    assert data + bss < 4_096
    [image] = folder.glob("*.bin")
    stack, start = np.frombuffer(image.read_bytes()[:8], "<u4").tolist()
    assert stack == 0x20000000 + 20 * 1024
    assert 0x08000000 < start < 0x08000000 + text
    assert start & 1  # a Cortex-M goes to odd addresses only
