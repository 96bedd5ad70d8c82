import threading
import time
from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import PortError
from strokewise.analysis.remark import Notice
from strokewise.daq.profile.known import KnownEngine
from strokewise.daq.recording.container import Chunk
from strokewise.daq.recording.read import read_recording
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.turn.target import Target
from strokewise.gui.sayings import as_said, say

LONG_S = 60.0


class ScriptedPort:
    """Delivers chunks; goes away when told to; stays silent at the end until stopped."""

    header = {}  # noqa: RUF012

    def __init__(self, chunks, breaks=False):
        self.chunks, self.breaks = chunks, breaks
        self.stopped = threading.Event()
        self.closed = False

    def now_us(self):
        return 12_345

    def __iter__(self):
        for k, data in enumerate(self.chunks):
            if self.stopped.is_set():
                return
            yield Chunk(k * 10_000, data)
        if self.breaks:
            raise PortError("/dev/toy went away after 1.0 s")
        while not self.stopped.wait(0.005):
            yield Chunk(999_999_999, b"")

    def stop(self):
        self.stopped.set()

    def close(self):
        self.closed = True


def until(condition, run):
    deadline = time.monotonic() + LONG_S
    while not condition(run.snapshot):
        assert time.monotonic() < deadline, run.snapshot
        time.sleep(0.005)
    return run.snapshot


@pytest.fixture
def start(toy, monkeypatch):
    monkeypatch.setattr("strokewise.gui.models.run.live.RETRY_S", 0.02)
    # The toy port has said all that it has to say; that is no silence here (see test_silence).
    monkeypatch.setattr("strokewise.gui.models.run.silence.SHOWN_SILENT_S", 1e9)
    runs = []

    def go(*ports, make_profile=None, **more):
        left = list(ports)

        def open_source():
            if not left:
                raise PortError("no port /dev/toy")
            port = left.pop(0)
            if isinstance(port, Exception):
                raise port
            return port

        run = LiveRun(
            "/dev/toy",
            open_source,
            make_profile or (lambda board: toy.profile()),
            toy.Tracker,
            **more,
        )
        runs.append(run)
        run.start()
        return run

    yield go
    for run in runs:
        run.stop()


def test_from_bytes_to_a_decided_verdict(toy, start):
    run = start(ScriptedPort(toy.bytes(np.linspace(-300, 1000, 9000))))

    def decided_at_the_end(s):  # it may be decided before the last sample has come
        return s.verdict is not None and s.verdict.decided and s.link.samples >= 9000

    snapshot = until(decided_at_the_end, run)
    assert snapshot.link.state == "running"
    assert snapshot.link.samples == 9000
    assert snapshot.link.lost_frames == 0
    assert snapshot.link.rate_hz == pytest.approx(2000, rel=0.01)


def test_another_profile_does_not_change_the_rate(toy):
    run = LiveRun("/dev/toy", lambda: None, lambda board: toy.profile(), toy.Tracker)
    for block in toy.blocks(toy.segment(np.linspace(-300, 1000, 9000))):
        run._feed(block)
    run.use_profile(lambda board: toy.profile(name="another"))
    run._serve()
    rates = []
    for block in toy.blocks(toy.segment(np.linspace(1000, 1600, 6000), start_us=4_500_000)):
        run._feed(block)
        rates.append(run._link.rate_hz)
    assert rates == pytest.approx([2000.0] * len(rates), rel=0.01)


def test_a_port_that_goes_away_is_said_and_comes_back(toy, start):
    first = ScriptedPort(toy.bytes(np.linspace(-300, 1000, 9000)), breaks=True)
    second = ScriptedPort(toy.bytes(np.linspace(-300, 1000, 9000), boot=2))
    run = start(first, PortError("no port /dev/toy"), second)
    told = []

    def back(snapshot):
        told.append(snapshot.link.trouble)
        return snapshot.link.samples >= 18_000 and snapshot.verdict and snapshot.verdict.decided

    snapshot = until(back, run)
    assert snapshot.now.segment == 1
    assert snapshot.link.trouble == ""
    assert first.closed


def test_while_the_port_is_away_the_last_answer_stays_with_the_reason(toy, start):
    run = start(ScriptedPort(toy.bytes(np.linspace(-300, 1000, 9000)), breaks=True))
    snapshot = until(lambda s: s.link.state == "lost", run)
    assert "no port" in snapshot.link.trouble or "went away" in snapshot.link.trouble
    assert "by itself" in snapshot.link.trouble
    assert snapshot.link.trouble in snapshot.sentence().detail


def test_recording_keeps_every_byte_from_when_it_was_asked_for(toy, start, tmp_path):
    chunks = toy.bytes(np.linspace(-300, 1000, 9000))
    run = LiveRun(
        "/dev/toy",
        lambda: ScriptedPort(chunks),
        lambda board: toy.profile(),
        toy.Tracker,
        engine=lambda profile: {"cylinders": profile.cylinders},
    )
    run.record(tmp_path / "a.swr")
    run.start()
    run.press("pulley notch")
    until(lambda s: s.link.samples == 9000, run)
    run.stop()
    recording = read_recording(tmp_path / "a.swr")
    assert recording.header["engine"] == {"cylinders": 4}
    # The request is served with the first item, whose bytes are then still outside.
    assert recording.health.samples >= 9000 - 2 * 20
    assert [p.name for s in recording.segments for p in s.presses] == ["pulley notch"]


def test_stopping_the_recording_leaves_the_run_alone(toy, start, tmp_path):
    run = start(ScriptedPort(toy.bytes(np.linspace(-300, 0, 900))))
    run.record(tmp_path / "a.swr")
    until(lambda s: s.link.recording, run)
    run.stop_recording()
    snapshot = until(lambda s: not s.link.recording, run)
    assert snapshot.link.state == "running"


def test_a_recording_is_never_written_over(toy, start, tmp_path):
    (tmp_path / "a.swr").write_bytes(b"precious")
    run = start(ScriptedPort(toy.bytes(np.linspace(-300, 0, 900))))
    run.record(tmp_path / "a.swr")
    snapshot = until(lambda s: s.link.trouble, run)
    assert "not written over" in snapshot.link.trouble
    assert (tmp_path / "a.swr").read_bytes() == b"precious"


def test_what_the_board_says_of_its_encoder_counts(toy, start):
    heard = []

    def make_profile(board):
        heard.append(board)
        profile = toy.profile()
        counts = None if board is None else board.counts_per_rev
        return replace(profile, encoder=replace(profile.encoder, counts_per_rev=counts))

    run = start(ScriptedPort(toy.bytes(np.linspace(-300, 0, 900))), make_profile=make_profile)
    snapshot = until(lambda s: s.link.samples == 900, run)
    assert heard[0] is None
    assert snapshot.profile.encoder.counts_per_rev == toy.counts


def test_what_is_to_be_known_of_the_profile_once_the_board_is_heard(toy, start):
    def make_profile(board):
        notices = (
            () if board is None else (Notice("counts-contradiction", as_said("count by hand")),)
        )
        return KnownEngine(toy.profile(), notices)

    run = start(ScriptedPort(toy.bytes(np.linspace(-300, 0, 900))), make_profile=make_profile)
    snapshot = until(lambda s: s.link.samples == 900, run)
    assert [say(notice.remark) for notice in snapshot.notices] == ["count by hand"]


def test_a_silent_board_is_said(toy, start, monkeypatch):
    monkeypatch.setattr("strokewise.gui.models.run.live.LINK_SILENT_S", 0.03)
    run = start(ScriptedPort([]))
    snapshot = until(lambda s: s.link.trouble, run)
    assert "silent" in snapshot.link.trouble
    assert snapshot.sentence().first == "Nothing from the board yet:"


def test_a_target_is_taken_while_running(toy, start):
    run = start(ScriptedPort(toy.bytes(np.linspace(-300, 1000, 9000))))
    run.choose(Target("overlap", 4))
    until(lambda s: s.target == Target("overlap", 4), run)


def test_a_fault_in_the_verdict_is_said_and_stops_nothing(toy, start, monkeypatch):
    def fail(tracker, *, closing=False):
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(toy.Tracker, "verdict", fail)
    run = start(ScriptedPort(toy.bytes(np.linspace(-300, 1000, 9000))))
    snapshot = until(lambda s: "ZeroDivisionError" in s.link.trouble, run)
    assert "please report" in snapshot.link.trouble
    until(lambda s: s.link.samples == 9000, run)


def test_a_viewer_is_called_once_until_it_has_looked(toy):
    run = LiveRun("x", lambda: ScriptedPort([]), lambda board: toy.profile(), toy.Tracker)
    calls = []
    run.newest.on_news = lambda: calls.append(1)
    for _ in range(5):
        run.newest.put(run.snapshot)
    assert len(calls) == 1
    run.newest.look()
    run.newest.put(run.snapshot)
    assert len(calls) == 2


class Breaks:
    """A tracker whose analysis fails once it has been fed some blocks."""

    def __init__(self, tracker, feed=False):
        self._tracker, self._feed, self._fed = tracker, feed, 0

    def __getattr__(self, name):
        return getattr(self.__dict__["_tracker"], name)

    def __deepcopy__(self, memo):
        return Breaks(self._tracker, self._feed)

    def feed(self, block):
        self._fed += 1
        if self._feed and self._fed == 3:
            raise ValueError("no passes to fit")
        self._tracker.feed(block)


def test_recording_goes_on_when_the_analysis_fails(toy, start, tmp_path):
    chunks = toy.bytes(np.linspace(-300, 1000, 9000))
    first, *rest = chunks
    run = LiveRun(
        "/dev/toy",
        lambda: ScriptedPort([first, *rest]),
        lambda board: toy.profile(),
        lambda profile: Breaks(toy.Tracker(profile), feed=True),
    )
    run.record(tmp_path / "kept.swr")
    run._serve()
    seen = []
    run.newest.on_news = lambda: seen.append(run.look().link.trouble)
    run.start()
    try:
        until(lambda s: s.link.samples > 0 and any("please report" in t for t in seen), run)
        deadline = time.monotonic() + LONG_S
        while read_recording(tmp_path / "kept.swr").health.samples < 9000:
            assert time.monotonic() < deadline
            time.sleep(0.02)
    finally:
        run.stop()
    said = next(t for t in seen if "please report" in t)
    assert said.startswith("following the engine failed (ValueError: no passes to fit)")


def test_a_run_that_fails_reports_its_own_end(toy):
    class Port(ScriptedPort):
        def __iter__(self):
            yield Chunk(0, self.chunks[0])
            raise ValueError("of our own making")

    chunks = toy.bytes(np.linspace(-300, 1000, 9000))
    run = LiveRun("/dev/toy", lambda: Port(chunks), lambda board: toy.profile(), toy.Tracker)
    run.start()
    try:
        snapshot = until(lambda s: s.link.state == "ended", run)
        until(lambda s: not run.judging, run)
    finally:
        run.stop()
    assert snapshot.link.trouble.startswith("the run failed (ValueError: of our own making)")
    assert snapshot.verdict is None


def test_host_times_in_a_file_never_run_back_when_a_port_is_opened_anew(tmp_path):
    from strokewise.daq.recording.container import open_contents, read_file
    from strokewise.gui.models.run.keeping import Keeping

    now = [100.0]
    keeping = Keeping(lambda: now[0])
    keeping.begin(tmp_path / "kept.swr", {})
    for host_us in (0, 500_000):
        keeping.write(Chunk(host_us, b"one"))
    now[0] += 12.0
    keeping.reopened()
    for host_us in (0, 500_000):
        keeping.write(Chunk(host_us, b"two"))
    keeping.end()
    items = open_contents(read_file(tmp_path / "kept.swr")).items
    assert [item.host_us for item in items] == [0, 500_000, 12_500_000, 13_000_000]
