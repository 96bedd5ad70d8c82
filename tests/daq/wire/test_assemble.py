"""Frames to segments: wraps, restarts, losses, repeats and odd order."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from strokewise.analysis.samples import Board, Segment
from strokewise.daq.wire.assemble import Assembler
from strokewise.daq.wire.frames import Event, Frame, Hello, Loss, SampleBlock
from strokewise.daq.wire.join import join
from strokewise.daq.wire.unwrap_run import EVENT_SLACK_US, WRAP_LIMIT_US

TOP = 2**32

BoardRun = Callable[..., list[Frame]]


def block(t_us: int, counts: list[int], number: int | None = None, **more: int) -> SampleBlock:
    """Return a block whose readings repeat its counts."""
    readings = [abs(count) % 4096 for count in counts]
    return SampleBlock.pack(t_us, more.get("period_us", 500), counts, readings, number)


def numbered(frames: list[Frame], first: int = 0) -> list[Frame]:
    """Give the frames their sequence numbers."""
    found: list[Frame] = []
    for number, frame in enumerate(frames, first):
        match frame:
            case Hello(board=board):
                found.append(Hello(board, number % 256))
            case Event():
                found.append(Event(frame.t_us, frame.count, frame.input, number % 256))
            case SampleBlock():
                found.append(SampleBlock(frame.payload, number % 256))
    return found


def assemble(frames: list[Frame], *, one_by_one: bool = False) -> tuple[list[Segment], Assembler]:
    assembler = Assembler()
    parts = [[frame] for frame in frames] if one_by_one else [frames]
    blocks = [found for part in parts for found in assembler.feed(part)]
    return list(join(blocks + assembler.finish())), assembler


@pytest.fixture(params=[False, True], ids=["at once", "one by one"])
def one_by_one(request: pytest.FixtureRequest) -> bool:
    return bool(request.param)


def test_a_run_comes_out_as_it_went_in(board_run: BoardRun, one_by_one: bool) -> None:
    frames = board_run(blocks=9, channels=3, per_block=5)
    (segment,), assembler = assemble(numbered(frames), one_by_one=one_by_one)
    blocks = [frame for frame in frames if isinstance(frame, SampleBlock)]
    events = [frame for frame in frames if isinstance(frame, Event)]
    assert_array_equal(segment.samples.time_us, 1000 + 500 * np.arange(45))
    assert_array_equal(segment.samples.count, np.concatenate([b.counts for b in blocks]))
    assert_array_equal(segment.samples.readings, np.concatenate([b.readings for b in blocks]))
    assert not segment.samples.after_gap.any()
    assert_array_equal(segment.events.time_us, [event.t_us for event in events])
    assert_array_equal(segment.events.count, [event.count for event in events])
    assert_array_equal(segment.events.input, [event.input for event in events])
    assert segment.board == frames[0].board
    assert (assembler.samples, assembler.lost_frames, assembler.segments) == (45, 0, 1)


def test_a_long_period_does_not_wrap_in_sixteen_bits() -> None:
    (segment,), _ = assemble([block(0, list(range(64)), period_us=65_535)])
    assert_array_equal(segment.samples.time_us, 65_535 * np.arange(64))


def test_blocks_of_different_shape_keep_their_order(one_by_one: bool) -> None:
    frames = [
        block(0, [1, 2, 3]),
        block(1500, [4]),
        block(2000, [5, 6, 7]),
        block(3500, [8, 9]),
    ]
    (segment,), _ = assemble(frames, one_by_one=one_by_one)
    assert_array_equal(segment.samples.count, np.arange(1, 10))
    assert_array_equal(segment.samples.time_us, 500 * np.arange(9))
    assert_array_equal(segment.samples.readings[:, 0], np.arange(1, 10))


def test_only_channels_that_every_block_has_are_kept(one_by_one: bool) -> None:
    frames = [
        SampleBlock.pack(0, 500, [0, 1], [[1, 10], [2, 20]]),
        SampleBlock.pack(1000, 500, [2, 3], [[3], [4]]),
    ]
    (segment,), _ = assemble(frames, one_by_one=one_by_one)
    assert segment.samples.readings.tolist() == [[1], [2], [3], [4]]


# Wraps


def test_time_and_count_go_on_across_their_wraps(board_run: BoardRun, one_by_one: bool) -> None:
    start_us, start = TOP - 9_000, 2**31 - 100
    frames = numbered(board_run(t_us=start_us, count=start), first=250)
    (segment,), assembler = assemble(frames, one_by_one=one_by_one)
    (plain,), _ = assemble(board_run(t_us=0, count=0))
    assert_array_equal(segment.samples.time_us - start_us, plain.samples.time_us)
    assert_array_equal(segment.samples.count - start, plain.samples.count)
    assert_array_equal(segment.events.time_us - start_us, plain.events.time_us)
    assert_array_equal(segment.events.count - start, plain.events.count)
    assert assembler.lost_frames == 0


def test_the_count_wraps_downwards_too() -> None:
    frames = [block(0, [-(2**31) + 1, -(2**31) - 1]), block(1000, [2**31 - 3])]
    (segment,), _ = assemble(frames)
    assert segment.samples.count.tolist() == [-(2**31) + 1, -(2**31) - 1, -(2**31) - 3]


def test_the_time_wraps_twice() -> None:
    step = WRAP_LIMIT_US // 2
    whole = [TOP - 1, *(TOP - 1 + step * k for k in range(1, 300))]
    (segment,), _ = assemble([block(t % TOP, [0]) for t in whole])
    assert segment.samples.time_us.tolist() == whole
    assert whole[-1] > 2 * TOP


def test_a_wrap_may_fall_into_a_short_loss_but_not_a_long_one() -> None:
    near = TOP - 1000
    for pause_us, segments in ((WRAP_LIMIT_US, 1), (WRAP_LIMIT_US + 1, 2)):
        _, assembler = assemble([block(near, [0]), block((near + pause_us) % TOP, [1])])
        assert assembler.segments == segments


def test_an_event_may_stand_on_either_side_of_the_wrap(one_by_one: bool) -> None:
    frames = [
        block(TOP - 1000, [0, 1]),
        Event(300, 2, 1),
        block(TOP - 100, [2, 3]),
        block(900, [4, 5]),
        Event(TOP - 50, 2, 2),
    ]
    (segment,), _ = assemble(frames, one_by_one=one_by_one)
    assert segment.events.time_us.tolist() == [TOP + 300, TOP - 50]
    assert segment.samples.time_us.tolist() == [
        TOP + t for t in (-1000, -500, -100, 400, 900, 1400)
    ]


# Restarts


@pytest.mark.parametrize("boots", [(None, None), (1, 2), (7, None)])
def test_a_restart_starts_a_segment(
    board_run: BoardRun, boots: tuple[int | None, int | None], one_by_one: bool
) -> None:
    first, second = board_run(boot=boots[0], count=500), board_run(boot=boots[1], blocks=3)
    frames = numbered(first, first=100) + numbered(second)
    segments, assembler = assemble(frames, one_by_one=one_by_one)
    assert [len(segment.samples) for segment in segments] == [96, 24]
    assert [len(segment.events) for segment in segments] == [4, 1]
    assert [segment.number for segment in segments] == [0, 1]
    assert segments[1].samples.time_us[0] == 1000
    assert not segments[1].samples.after_gap.any()
    assert assembler.lost_frames == 0
    if boots == (1, 2):
        assert [segment.board.boot for segment in segments if segment.board] == [1, 2]


def test_a_new_boot_counts_even_if_the_time_goes_on(one_by_one: bool) -> None:
    frames = [Hello(Board(boot=1)), block(0, [0]), Hello(Board(boot=2)), block(500, [1])]
    segments, _ = assemble(frames, one_by_one=one_by_one)
    assert [segment.board.boot for segment in segments if segment.board] == [1, 2]


@pytest.mark.parametrize("ran_us", [5_000_000, TOP // 2 + 5, TOP - WRAP_LIMIT_US - 1000])
def test_a_restart_is_no_wrap_however_long_the_board_ran(ran_us: int) -> None:
    segments, _ = assemble([block(ran_us, [0]), block(900, [0])])
    assert [segment.samples.time_us.tolist() for segment in segments] == [[ran_us], [900]]


def test_the_same_hello_again_is_no_restart() -> None:
    frames: list[Frame] = []
    for k in range(4):
        frames += [Hello(Board(boot=3)), block(1000 * k, [k, k])]
    _, assembler = assemble(numbered(frames))
    assert (assembler.segments, assembler.lost_frames) == (1, 0)


def test_an_old_hello_does_not_follow_the_board_into_its_next_start() -> None:
    frames = [
        Hello(Board(boot=1)),
        block(9000, [0]),
        Hello(Board(boot=1)),  # the next hello, of boot 2, is lost
        block(500, [0]),
        Hello(Board(boot=2)),
        block(1000, [0]),
    ]
    segments, _ = assemble(frames)
    assert [len(segment.samples) for segment in segments] == [1, 2]
    assert [segment.board.boot for segment in segments if segment.board] == [1, 2]


def test_a_first_hello_goes_with_the_start_that_it_announces(one_by_one: bool) -> None:
    frames = [block(9000, [0]), Hello(Board(boot=2)), block(500, [0])]  # no hello of boot 1 heard
    segments, _ = assemble(frames, one_by_one=one_by_one)
    assert [segment.board for segment in segments] == [None, Board(boot=2)]


def test_a_hello_behind_the_last_sample_still_names_the_board(one_by_one: bool) -> None:
    (segment,), _ = assemble([block(0, [0]), Hello(Board(device="z"))], one_by_one=one_by_one)
    assert segment.board == Board(device="z")
    assert len(segment.samples) == 1


def test_a_restart_shown_by_an_event_is_not_shown_again_by_the_samples() -> None:
    frames = [block(8_000_000, [0]), Event(2000, 5, 0), block(1500, [4, 5])]
    segments, _ = assemble(frames)
    assert [(len(s.samples), len(s.events)) for s in segments] == [(1, 0), (2, 1)]


def test_joining_in_the_middle_takes_the_first_hello_as_its_own() -> None:
    frames = [block(9000, [0]), Hello(Board(device="x", boot=4)), block(9500, [1])]
    (segment,), _ = assemble(frames)
    assert segment.board == Board(device="x", boot=4)
    assert len(segment.samples) == 2


def test_a_board_that_only_says_hello_is_heard_of() -> None:
    (segment,), assembler = assemble([Hello(Board(boot=1)), Hello(Board(device="y", boot=2))])
    assert segment.board == Board(device="y", boot=2)
    assert len(segment.samples) == 0
    assert assembler.segments == 0


def test_nothing_makes_no_segment() -> None:
    assert assemble([])[0] == []
    assert assemble([Loss()])[0] == []


# Losses, repeats, odd order


@pytest.mark.parametrize("lost", [1, 7, 255])
def test_a_gap_in_the_sequence_is_counted_and_marked(
    board_run: BoardRun, lost: int, one_by_one: bool
) -> None:
    frames = numbered(board_run(blocks=300, per_block=1, t_us=0), first=200)
    kept = frames[:10] + frames[10 + lost :]
    (segment,), assembler = assemble(kept, one_by_one=one_by_one)
    assert assembler.lost_frames == lost
    marked = np.flatnonzero(segment.samples.after_gap)
    sent_before = sum(isinstance(frame, SampleBlock) for frame in frames[:10])
    assert marked.tolist() == [sent_before]


def test_a_gap_in_front_of_an_event_marks_the_next_sample() -> None:
    frames = [block(0, [0], 1), Event(700, 1, 0, 3), block(1000, [2], 4), block(1500, [3], 5)]
    (segment,), assembler = assemble(frames)
    assert assembler.lost_frames == 1
    assert segment.samples.after_gap.tolist() == [False, True, False]


def test_a_hole_marks_the_next_sample_though_the_numbers_fit(one_by_one: bool) -> None:
    frames = [block(0, [0], 1), Loss(), block(9000, [2], 2)]
    (segment,), assembler = assemble(frames, one_by_one=one_by_one)
    assert assembler.lost_frames == 0
    assert segment.samples.after_gap.tolist() == [False, True]


def test_a_repeated_frame_is_taken_once(board_run: BoardRun, one_by_one: bool) -> None:
    frames = numbered(board_run())
    doubled = [frame for frame in frames for _ in range(2)]
    (segment,), assembler = assemble(doubled, one_by_one=one_by_one)
    (plain,), _ = assemble(frames)
    assert_array_equal(segment.samples.time_us, plain.samples.time_us)
    assert_array_equal(segment.events.time_us, plain.events.time_us)
    assert assembler.lost_frames == 0


def test_time_rises_even_where_blocks_overlap_or_stand_still(one_by_one: bool) -> None:
    frames = [
        block(0, [0, 1, 2, 3]),
        block(1000, [2, 3, 4, 5]),  # two samples too early
        block(3000, [7, 8], period_us=0),
        block(3000, [9]),
    ]
    (segment,), assembler = assemble(frames, one_by_one=one_by_one)
    assert segment.samples.time_us.tolist() == [0, 500, 1000, 1500, 2000, 2500, 3000]
    assert segment.samples.count.tolist() == [0, 1, 2, 3, 4, 5, 7]
    assert assembler.samples == 7


def test_an_event_that_waited_is_no_restart() -> None:
    late = 5_000_000 - EVENT_SLACK_US
    (segment,), _ = assemble([block(5_000_000, [0]), Event(late, 0, 0), block(5_000_500, [1])])
    assert segment.events.time_us.tolist() == [late]
    segments, _ = assemble([block(5_000_000, [0]), Event(late - 1, 0, 0)])
    assert len(segments) == 2
