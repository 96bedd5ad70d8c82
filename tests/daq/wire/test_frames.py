"""The frames themselves: the printed example, packing, and what does not fit."""

import numpy as np
import pytest

from strokewise.daq.wire.frames import SampleBlock, sample_blocks

EXAMPLE = bytes.fromhex("5301e80300000a000000f4010201 0000 6400 0200 6500")


def test_packs_the_example_of_the_wire_format() -> None:
    block = SampleBlock.pack(1000, 500, [10, 12], [100, 101], 1)
    assert block == SampleBlock(EXAMPLE, 1)


def test_reads_its_own_fields() -> None:
    block = SampleBlock(EXAMPLE, 1)
    assert (block.start_us, block.start_count, block.period_us) == (1000, 10, 500)
    assert (block.n, block.channels) == (2, 1)
    assert block.counts.tolist() == [10, 12]
    assert block.readings.tolist() == [[100], [101]]


def test_wraps_time_and_count_as_the_board_does() -> None:
    block = SampleBlock.pack(2**32 + 5, 1, [2**31 + 1], [0])
    assert block.start_us == 5
    assert block.start_count == -(2**31) + 1


@pytest.mark.parametrize("step", [-(2**15), 2**15 - 1])
def test_keeps_the_largest_steps(step: int) -> None:
    assert SampleBlock.pack(0, 1, [0, step], [0, 0]).counts.tolist() == [0, step]


@pytest.mark.parametrize(
    ("counts", "readings", "period_us", "match"),
    [
        ([], np.empty((0, 1)), 1, "1 to 64 samples of 1 to 4 channels"),
        (np.zeros(65), np.zeros(65), 1, "1 to 64 samples of 1 to 4 channels"),
        ([0], np.zeros((1, 5)), 1, "1 to 64 samples of 1 to 4 channels"),
        ([0], np.zeros((1, 0)), 1, "1 to 64 samples of 1 to 4 channels"),
        ([0, 1], [0], 1, "do not go with"),
        ([0, 2**15], [0, 0], 1, "does not fit 16 bits"),
        ([0], [2**16], 1, "does not fit 16 bits"),
        ([0], [-1], 1, "does not fit 16 bits"),
        ([0], [0], 2**16, "does not fit 16 bits"),
    ],
)
def test_refuses_what_the_format_cannot_say(
    counts: list[int], readings: list[int], period_us: int, match: str
) -> None:
    with pytest.raises(ValueError, match=match):
        SampleBlock.pack(0, period_us, counts, readings)


def test_cuts_a_run_into_blocks_that_follow_on_each_other() -> None:
    blocks = list(sample_blocks(100, 10, range(10), range(10), per_block=4))
    assert [block.n for block in blocks] == [4, 4, 2]
    assert [block.start_us for block in blocks] == [100, 140, 180]
    assert np.concatenate([block.counts for block in blocks]).tolist() == list(range(10))
    assert list(sample_blocks(0, 1, [], [])) == []


def test_a_single_sample_is_a_block_of_one() -> None:
    assert SampleBlock.single(7, -5, [1, 65_535]) == SampleBlock.pack(7, 0, [-5], [[1, 65_535]])
