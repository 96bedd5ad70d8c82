"""Does the cable lose, damage and invent as much as it is told to?"""

from itertools import pairwise

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.rig.board import BoardModel
from strokewise.daq.bench.rig.link import BenchLink, bundle
from strokewise.daq.bench.rig.rig import LinkRig, Rig


@pytest.fixture(scope="module")
def messages(bench_toys):
    board = BoardModel(Rig(), atmosphere_bar=1.013, seed=2)
    return board.follow(bench_toys.stretch(seconds=20.0)) + board.close()


def carried(rig, messages, seed=3):
    return list(BenchLink(rig, np.random.default_rng(seed)).carry(messages))


def test_good_cable_carries_every_byte(messages):
    assert carried(LinkRig(), messages) == messages


def test_lost_frames_are_counted_by_the_decoder(messages, bench_toys):
    _, health = bench_toys.decoded(carried(LinkRig(lost_frames=0.1), messages))
    assert health.lost_frames == pytest.approx(0.1 * len(messages), rel=0.25)
    assert health.bad_frames == 0


def test_damaged_bytes_cost_frames_and_never_make_false_ones(messages, bench_toys):
    (clean,), _ = bench_toys.decoded(messages)
    (segment,), health = bench_toys.decoded(carried(LinkRig(damaged_bytes=5e-4), messages))
    assert health.bad_frames > 10
    true = dict(zip(clean.samples.time_us.tolist(), clean.samples.count.tolist(), strict=True))
    for time_us, count in zip(
        segment.samples.time_us.tolist(), segment.samples.count.tolist(), strict=True
    ):
        assert true[time_us] == count


def test_garbage_comes_between_frames_at_the_stated_rate(messages):
    arrived = carried(LinkRig(garbage_per_s=5.0), messages)
    extra = sum(len(data) for _, data in arrived) - sum(len(data) for _, data in messages)
    assert extra == pytest.approx(20.0 * 5.0 * 20.5, rel=0.3)
    assert [item for item in arrived if item in messages] == messages


def test_listening_may_begin_in_the_middle_of_a_frame(messages):
    arrived = carried(LinkRig(joins_mid_frame=True), messages)
    assert messages[0][1].endswith(arrived[0][1])
    assert 0 < len(arrived[0][1]) < len(messages[0][1])
    assert arrived[1:] == messages[1:]


def test_bundles_hold_every_byte_in_order_and_come_in_time(messages):
    bundles = list(bundle(messages, 0.016))
    assert b"".join(data for _, data in bundles) == b"".join(data for _, data in messages)
    assert all(later > earlier for (earlier, _), (later, _) in pairwise(bundles))
    gaps = np.diff([when for when, _ in bundles])
    assert gaps.min() >= 0.0159
    whole = sum(data.endswith(b"\0") for _, data in bundles)
    assert whole < len(bundles)  # some are cut in the middle of a frame
    sent_s = np.array([when for when, _ in messages])
    sent_bytes = np.cumsum([len(data) for _, data in messages])
    received_bytes = np.cumsum([len(data) for _, data in bundles])
    begun = np.searchsorted(sent_s, [when + 0.016 for when, _ in bundles], side="right") - 1
    assert np.all(received_bytes <= sent_bytes[begun])  # nothing before it is under way


def test_bundles_never_exceed_a_chunk():
    long = [(0.0, b"x" * 10_000), (1.0, b"y")]
    assert [len(data) for _, data in bundle(long, 0.5)] == [4096, 4096, 1808, 1]


def test_impossible_cables_are_refused():
    with pytest.raises(InputError, match="share from 0 to 1"):
        LinkRig(lost_frames=1.5)
    with pytest.raises(InputError, match="latency_s must be above 0"):
        LinkRig(latency_s=0.0)
