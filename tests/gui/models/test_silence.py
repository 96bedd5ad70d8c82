"""A board that falls silent leaves the headline at once, and says on return what still holds."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import PortError
from strokewise.analysis.samples import Samples
from strokewise.daq.recording.container import Chunk
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, SampleBlock
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.rejoin import HELLO_WITHIN_S, WRAP
from strokewise.gui.models.run.silence import SHOWN_SILENT_S, Heard, duration_words
from strokewise.gui.models.sentence import Certainty
from strokewise.gui.models.terminal import plain_line, screen
from strokewise.gui.models.turn.target import Target

HALF_SECOND = 0.5
PERIOD_US = 500
BLOCK = 40
STANDS_DEG = 1000.0


def block_of(time_us):
    n = len(time_us)
    return Samples(np.array(time_us), np.zeros(n, int), np.zeros((n, 1), int), np.zeros(n, bool))


def test_half_a_second_is_enough_for_a_quick_board():
    heard = Heard()
    assert heard.silent_s(99.0) is None
    for k in range(20):
        heard = heard.hear(block_of([k * 20_000]), k * 0.02)
    last_s = 19 * 0.02
    assert heard.silent_s(last_s + SHOWN_SILENT_S - 0.01) is None
    assert heard.silent_s(last_s + SHOWN_SILENT_S) == pytest.approx(SHOWN_SILENT_S)
    assert SHOWN_SILENT_S < HALF_SECOND


def test_a_board_with_long_blocks_is_given_three_of_them():
    heard = Heard()
    for k in range(5):
        heard = heard.hear(block_of([k * 640_000]), k * 0.64)
    assert heard.silent_s(4 * 0.64 + 1.9) is None
    assert heard.silent_s(4 * 0.64 + 1.93) is not None


def test_what_is_no_sample_is_no_sign_of_life():
    heard = Heard().hear(block_of([0]), 1.0)
    assert heard.hear(Samples.empty(), 5.0) == heard


def test_durations_in_words():
    assert [duration_words(s) for s in (0.4, 6.7, 119.0, 121.0)] == ["½ s", "6 s", "119 s", "2 min"]


class Bench:
    """A toy board on a clock that stands until it is moved, and the run that listens to it."""

    def __init__(self, toy, **more):
        self.now_s, self.toy = 100.0, toy
        self.encoder, self.boot, self.base_us, self.zero = FrameEncoder(), 1, 0, 0
        self.run = LiveRun(
            "/dev/toy",
            lambda: None,
            lambda board: toy.profile(**more),
            toy.Tracker,
            clock=lambda: self.now_s,
        )
        self.run._begin_port()
        self.angle_deg = -300.0
        self.hello()

    def hello(self):
        board = replace(self.toy.segment([0.0, 1.0]).board, boot=self.boot)
        self.deliver(self.encoder.encode(Hello(board)))

    def deliver(self, data):
        self.run._take([Chunk(round(self.now_s * 1e6), data)])

    def turn(self, to_deg, deg_s=400.0):
        """Turn on, block by block, and judge at the end."""
        while self.angle_deg < to_deg:
            step = np.arange(BLOCK) * PERIOD_US * 1e-6 * deg_s
            segment = self.toy.segment(self.angle_deg + step)
            self.block(segment.samples.count, segment.samples.readings)
            self.angle_deg += BLOCK * PERIOD_US * 1e-6 * deg_s
        self.judge()

    def stand(self, seconds):
        segment = self.toy.segment(np.full(BLOCK, self.angle_deg))
        for _ in range(round(seconds * 1e6 / PERIOD_US / BLOCK)):
            self.block(segment.samples.count, segment.samples.readings)
        self.judge()

    def block(self, count, readings):
        start_us = round(self.now_s * 1e6) - self.base_us
        frame = SampleBlock.pack(start_us, PERIOD_US, count - self.zero, readings)
        self.now_s += BLOCK * PERIOD_US * 1e-6
        self.deliver(self.encoder.encode(frame))

    def judge(self):
        if self.run._follower.samples:
            self.run._follower.judge()
        self.run._publish(self.now_s)

    def restart(self):
        self.boot += 1
        self.encoder, self.base_us = FrameEncoder(), round(self.now_s * 1e6) - 350_000
        self.zero = round(self.angle_deg * self.toy.counts / 360)

    def wait(self, seconds):
        """Let time pass in which nothing comes but an empty read."""
        end_s = self.now_s + seconds
        while self.now_s < end_s:
            self.now_s += 0.05
            self.deliver(b"")

    @property
    def shown(self):
        return self.run.look()


@pytest.fixture
def bench(toy):
    made = Bench(toy)
    made.turn(STANDS_DEG)
    assert made.shown.sentence().certainty is Certainty.SURE
    return made


def test_within_half_a_second_of_silence_the_answer_has_left_every_place(bench):
    bench.wait(HALF_SECOND)
    shown = bench.shown
    assert shown.sentence().certainty is Certainty.WAITING
    assert shown.sentence().first == "Board silent for ½ s:"
    assert plain_line(shown).startswith("WAITING: Board silent")
    assert shown.guidance is None  # nor does it sound
    assert shown.away is not None  # the picture greys
    assert not shown.verdict.decided
    assert shown.chart().now_deg is None
    bench.wait(6.0)
    assert "for 6 s" in bench.shown.sentence().first


def test_it_is_the_viewers_clock_that_counts_even_where_the_run_hangs(bench):
    bench.now_s += 3.0  # not even an empty read comes
    assert bench.shown.sentence().first == "Board silent for 3 s:"
    assert bench.run.snapshot.away is not None
    assert screen(bench.shown) is not None


def test_a_port_gone_says_so_beside(bench):
    bench.run._lose("/dev/toy went away")
    bench.now_s += 1.0
    sentence = bench.shown.sentence()
    assert sentence.certainty is Certainty.WAITING
    assert "went away" in sentence.detail


def test_a_board_that_counted_on_brings_its_answer_back(bench):
    bench.wait(4.0)
    bench.stand(0.1)
    shown = bench.shown
    assert shown.sentence().certainty is Certainty.SURE
    assert "the encoder's frame holds" in shown.link.news
    assert "silent for 4 s" in shown.sentence().detail
    bench.stand(25.0)
    assert bench.shown.link.news == ""


def test_a_board_that_started_anew_brings_none_back(bench):
    bench.wait(4.0)
    bench.restart()
    bench.hello()
    bench.stand(0.1)
    sentence = bench.shown.sentence()
    assert sentence.certainty is Certainty.WITHDRAWN
    assert "started anew" in sentence.first
    assert bench.shown.now.segment == 1


@pytest.mark.parametrize("same", [True, False])
def test_over_a_port_that_was_opened_again_it_is_the_same(bench, same):
    bench.run._lose("/dev/toy went away")
    bench.now_s += 5.0
    if not same:
        bench.restart()
    bench.run._begin_port()
    if not same:
        bench.hello()
    bench.stand(0.1)
    assert bench.shown.sentence().certainty is (Certainty.SURE if same else Certainty.WITHDRAWN)
    assert bench.shown.now.segment == (0 if same else 1)
    bench.turn(bench.angle_deg + 2400)
    assert bench.shown.sentence().certainty is Certainty.SURE


def test_without_a_hello_and_with_other_clocks_nothing_is_sure_until_it_is_taken_for_a_new_start(
    bench,
):
    bench.wait(30.0)
    bench.restart()
    bench.base_us -= 110_000_000  # by its time it might be either
    bench.stand(1.0)
    assert bench.shown.sentence().first == "The board is back:"
    assert not bench.shown.verdict.decided
    bench.stand(HELLO_WITHIN_S)
    assert bench.shown.sentence().certainty is Certainty.WITHDRAWN
    assert bench.shown.now.segment == 1


def test_a_clock_that_wrapped_while_the_port_was_away_is_joined(toy):
    bench = Bench(toy)
    bench.base_us = round(bench.now_s * 1e6) - (WRAP - 5_000_000)
    bench.turn(STANDS_DEG)
    bench.run._lose("/dev/toy went away")
    bench.now_s += 5.0
    bench.run._begin_port()
    bench.stand(0.1)
    assert bench.shown.sentence().certainty is Certainty.SURE
    assert bench.shown.now.segment == 0


def test_what_was_held_up_on_its_way_is_no_new_start(bench):
    angle, start_s = bench.angle_deg, bench.now_s
    bench.wait(2.0)
    arrives_s, bench.now_s = bench.now_s, start_s
    segment = bench.toy.segment(np.full(BLOCK, angle))
    frames = []
    for k in range(5):
        start_us = round((start_s + k * BLOCK * PERIOD_US * 1e-6) * 1e6)
        counts = segment.samples.count
        frame = SampleBlock.pack(start_us, PERIOD_US, counts, segment.samples.readings)
        frames.append(bench.encoder.encode(frame))
    bench.now_s = arrives_s
    bench.deliver(b"".join(frames))
    bench.judge()
    assert bench.shown.sentence().certainty is Certainty.SURE


def test_a_chosen_target_is_guided_to_again_after_the_silence(bench):
    bench.run._follower.choose(Target("overlap", 1))
    before = bench.run._follower.guidance.remaining_deg
    bench.wait(3.0)
    assert bench.shown.guidance is None
    bench.stand(0.1)
    assert bench.shown.guidance.remaining_deg == pytest.approx(before, abs=0.5)


def test_a_port_that_is_tried_again_goes_on_telling_for_how_long(toy, monkeypatch):
    monkeypatch.setattr("strokewise.gui.models.run.live.RETRY_S", 0.5)
    tried = []

    def never():
        tried.append(1)
        raise PortError("no port /dev/toy")

    run = LiveRun("/dev/toy", never, lambda board: toy.profile(), toy.Tracker)
    told = []
    run.newest.on_news = lambda: told.append(run.look().number)
    run._follow_port()
    run._wait_for_port()
    assert len(told) >= 3
