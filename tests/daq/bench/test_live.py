"""Does the live bench hold real time, go on for ever, and take its faults on the fly?"""

import threading
import time
from itertools import pairwise

import numpy as np
import pytest

from strokewise.analysis.errors import PortError
from strokewise.daq.bench.live import BenchSource
from strokewise.daq.bench.reel import Reel, played
from strokewise.daq.bench.rig.sensor_model import calibration_points
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.serve import SocketLine, TerminalLine, open_line, serve
from strokewise.daq.recording.container import Chunk
from strokewise.daq.sources import SerialSource
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

needs_terminals = pytest.mark.skipif(
    not hasattr(__import__("os"), "openpty"), reason="this system has no pseudo terminals"
)


class Clock:
    """Time that passes only when somebody sleeps, and a little more than asked, as it does."""

    def __init__(self, oversleeps_s=0.0):
        self.now_s = 100.0
        self.oversleeps_s = oversleeps_s

    def __call__(self):
        return self.now_s

    def sleep(self, seconds):
        assert seconds > 0
        self.now_s += seconds + self.oversleeps_s


def streamed(source, until_s, at=()):
    """Everything a source delivers until then; ``at`` holds (time_s, what to do)."""
    waiting = sorted(at, key=lambda item: item[0])
    chunks = []
    with source:
        for chunk in source:
            chunks.append(chunk)
            while waiting and chunk.host_us >= waiting[0][0] * 1e6:
                waiting.pop(0)[1]()
            if chunk.host_us >= until_s * 1e6:
                source.stop()
    return chunks


def decoded(chunks):
    intake = Intake()
    blocks = intake.feed(chunks)
    return join(blocks + intake.finish()), intake.health


def short(name="cranked", **settings):
    if name in ("cranked", "cranked-plugs-out"):
        settings = {"seconds": 1.5, **settings}
    return scenario(name).build(settings)


def bar(segment, bench):
    (low, low_bar), (high, high_bar) = calibration_points(bench.rig.sensors[0], 12)
    readings = segment.samples.readings[:, 0].astype(float)
    return low_bar + (readings - low) * (high_bar - low_bar) / (high - low)


def test_it_keeps_time_although_every_sleep_takes_too_long():
    clock = Clock(oversleeps_s=0.003)
    source = BenchSource(short(), clock=clock, sleep=clock.sleep)
    chunks = streamed(source, 12.0)
    (segment,), health = decoded(chunks)
    assert (health.lost_frames, health.bad_frames) == (0, 0)
    board_s = np.ptp(segment.samples.time_us) * 1e-6
    assert board_s == pytest.approx(chunks[-1].host_us * 1e-6, abs=0.06)
    intake, lateness = Intake(), []
    for chunk in chunks:  # at every moment what has arrived is as old as a bundle, not older
        for block in intake.feed([chunk]):
            if len(block.samples):
                sampled_s = (block.samples.time_us[-1] - segment.samples.time_us[0]) * 1e-6
                lateness.append(chunk.host_us * 1e-6 - sampled_s)
    assert max(lateness) < 0.05
    assert min(lateness) > -0.005


def test_it_goes_on_from_run_to_run_without_a_jump():
    for name in ("cranked", "rocked", "run-down"):
        clock = Clock()
        settings = {"swings": 2} if name == "rocked" else {}
        chunks = streamed(
            BenchSource(short(name, **settings), clock=clock, sleep=clock.sleep), 10.0
        )
        segments, health = decoded(chunks)
        assert len(segments) == 1, name
        assert health.lost_frames == 0
        (segment,) = segments
        assert np.all(np.diff(segment.samples.time_us) == 1000)
        assert np.abs(np.diff(segment.samples.count)).max() < 40, name  # 1000 rev/min
        turned = np.ptp(segment.samples.count[len(segment.samples) // 2 :])
        assert turned > 300, name  # still at work in the second half


def test_compression_stays_where_it_is_over_many_runs():
    clock = Clock()
    chunks = streamed(BenchSource(short(), clock=clock, sleep=clock.sleep), 16.0)
    (segment,), _ = decoded(chunks)
    pressure = bar(segment, short())
    high = np.flatnonzero(pressure > 12.0)  # the last before standstill rolls back short of TDC
    peaks = [
        part[np.argmax(pressure[part])]
        for part in np.split(high, np.flatnonzero(np.diff(high) > 50) + 1)
    ]
    angle = segment.samples.count[peaks] * 0.15
    off = (angle - angle[0] + 360.0) % 720.0 - 360.0
    assert len(peaks) > 6
    assert np.abs(off).max() < 2.0


def test_a_fault_takes_hold_while_the_engine_turns():
    clock = Clock()
    healthy = scenario("cranked").build({"seconds": 9.0})
    burnt = scenario("cranked").build({"seconds": 9.0, "burnt_valve": 8.0})
    source = BenchSource(healthy, clock=clock, sleep=clock.sleep)
    done = threading.Event()

    def change():
        source.change(burnt)

    def wait_for_the_new_run():  # with a clock of our own the thread has to be waited for
        if source._reel._changed is not None:
            source._reel._changed.result()
        done.set()

    chunks = streamed(source, 8.5, [(4.0, change), (4.3, wait_for_the_new_run)])
    assert done.is_set()
    (segment,), health = decoded(chunks)
    pressure = bar(segment, healthy)
    second = np.arange(len(pressure)) // 1000
    peaks = [pressure[second == number].max() for number in range(8)]
    assert min(peaks[1:4]) > 12.0
    assert max(peaks[6:]) < 8.0
    assert health.segments == 1
    assert np.abs(np.diff(segment.samples.count)).max() < 20  # it never stood still nor jumped
    speed = np.convolve(np.diff(segment.samples.count), np.ones(200) / 200, "valid")
    assert speed[1000:].min() > 2.0


def test_rig_faults_take_hold_at_once_and_the_engine_is_left_alone():
    clock = Clock()
    source = BenchSource(short(), clock=clock, sleep=clock.sleep)
    slipped = short(slip=20.0, slip_at=0.0, zero=3.0)
    chunks = streamed(source, 4.0, [(1.0, lambda: source.change(slipped))])
    (segment,), _ = decoded(chunks)
    time_s = (segment.samples.time_us - segment.samples.time_us[0]) * 1e-6
    lowest = bar(segment, short())
    assert lowest[(time_s > 0.2) & (time_s < 0.9)].min() < 1.2
    assert lowest[time_s > 1.3].min() > 3.5
    jump = np.diff(segment.samples.count)[(time_s[1:] > 0.9) & (time_s[1:] < 1.3)].min()
    assert jump < -80  # 20° are 133 counts


def test_rewiring_starts_the_board_anew():
    clock = Clock()
    source = BenchSource(short(), clock=clock, sleep=clock.sleep)
    chunks = streamed(source, 3.0, [(1.0, lambda: source.change(short(counts=1024)))])
    segments, _ = decoded(chunks)
    assert [segment.board.counts_per_rev for segment in segments] == [2400, 1024]
    assert segments[0].board.boot != segments[1].board.boot


def test_another_engine_on_the_bench_is_another_start_of_the_board():
    clock = Clock()
    source = BenchSource(short(), clock=clock, sleep=clock.sleep)
    six = short(engine="six", cylinder=5)
    chunks = streamed(source, 6.0, [(0.7, lambda: source.change(six))])
    segments, _ = decoded(chunks)
    assert len(segments) == 2
    assert bar(segments[1], six).max() > 10.0


def test_silence_of_the_board_shows_as_empty_chunks():
    clock = Clock()
    chunks = streamed(BenchSource(short(restart_at=1.0), clock=clock, sleep=clock.sleep), 2.0)
    assert any(not chunk.data for chunk in chunks)
    assert all(later.host_us - earlier.host_us <= 110_000 for earlier, later in pairwise(chunks))


def test_header_says_that_it_is_simulated_and_states_the_profile():
    with BenchSource(short()) as source:
        assert source.header["simulated"] is True
        assert source.header["engine"]["firing_order"] == [1, 3, 4, 2]


def test_reel_takes_over_where_the_pressure_is_that_of_the_air():
    reel = Reel(scenario("cranked").build({"seconds": 4.0}))
    try:
        parts = [reel.advance(0.5) for _ in range(2)]
        reel.change(scenario("cranked").build({"seconds": 4.0, "burnt_valve": 8.0}))
        reel._changed.result()
        parts += [reel.advance(0.05) for _ in range(40)]
    finally:
        reel.close()
    for before, after in pairwise(parts):
        assert after.time_s[0] == pytest.approx(before.time_s[-1])
        assert after.crank_deg[0] == pytest.approx(before.crank_deg[-1])
    pressure = np.concatenate([part.pressure_bar[:, 0] for part in parts])
    crank = np.concatenate([part.crank_deg for part in parts])
    assert np.abs(np.diff(pressure)).max() < 0.4  # no step where the new run takes over
    assert np.abs(np.diff(crank)).max() < 0.4


@pytest.mark.parametrize("name", ["run-down-hot", "burning-petrol", "cut-after-running"])
def test_an_engine_that_runs_is_brought_to_its_speed_and_ends_at_rest(name):
    held = {"seconds": 0.4} if name == "burning-petrol" else {}
    bench = scenario(name).build(held)
    made = played(bench, 100.0)
    assert made.crank_deg[0] == pytest.approx(100.0)
    assert made.speed_rpm[0] == pytest.approx(0.0, abs=30.0)
    assert made.speed_rpm.max() > 1500.0
    assert made.speed_rpm[-1] == pytest.approx(0.0, abs=1.0)
    assert np.abs(np.diff(made.crank_deg)).max() < 1.0
    assert np.abs(np.diff(made.pressure_bar[:, 0])).max() < 3.0  # the steepest burn is under 2 bar


def run_board(line, source):
    thread = threading.Thread(target=serve, args=(source, line), name="board")
    thread.start()
    return thread


@pytest.mark.parametrize(
    "open_one", [pytest.param(TerminalLine, marks=needs_terminals), SocketLine]
)
def test_a_host_may_come_go_and_come_back(open_one):
    with open_one() as line, BenchSource(short()) as source:
        assert not line.connected()
        thread = run_board(line, source)
        try:
            heard = []
            for _ in range(2):
                host = SerialSource(line.port)
                begun = time.monotonic()
                chunks = []
                for chunk in host:
                    chunks.append(Chunk(chunk.host_us, chunk.data))
                    if time.monotonic() - begun > 1.0:
                        host.stop()
                host.close()
                heard.append(decoded(chunks))
                time.sleep(0.2)
        finally:
            source.stop()
            thread.join()
    for (segment,), health in heard:
        assert len(segment.samples) > 500
        assert health.bad_frames <= 1  # the host may come in the middle of a frame
    (first,), (second,) = heard[0][0], heard[1][0]
    assert second.samples.time_us[0] > first.samples.time_us[-1]  # the board ran on meanwhile
    assert first.samples.time_us[0] - 1_300_000 < 100_000  # and waited for the first host


def test_serving_stops_after_the_seconds_asked_for():
    clock = Clock()
    sent = []

    class Listening:
        port = "nowhere"

        def connected(self):
            return True

        def send(self, data):
            sent.append(data)

    with BenchSource(short(), clock=clock, sleep=clock.sleep) as source:
        serve(source, Listening(), seconds=2.0, sleep=clock.sleep)
    (segment,), _ = decoded([Chunk(0, b"".join(sent))])
    assert len(segment.samples) == pytest.approx(2000, abs=40)


def test_a_taken_network_port_is_refused_in_one_clear_line():
    with SocketLine() as line:
        number = int(line.port.rsplit(":", 1)[1])
        with pytest.raises(PortError, match=f"network port {number} cannot be used"):
            SocketLine(number)
    with pytest.raises(PortError, match="cannot be used"):
        SocketLine(99_999)


@needs_terminals
def test_a_line_is_a_terminal_unless_a_network_port_is_asked_for():
    with open_line(None) as line:
        assert line.port.startswith("/dev/")
    with open_line(0) as line:
        assert line.port.startswith("socket://127.0.0.1:")
