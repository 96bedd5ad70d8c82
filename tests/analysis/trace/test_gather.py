"""Nodes must not depend on how the samples arrive."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strokewise.analysis.profile import Encoder, Profile, Sensor
from strokewise.analysis.samples import Samples
from strokewise.analysis.trace.blocks import Gatherer
from strokewise.analysis.trace.nodes import Nodes, joined

PROFILE = Profile(1, (1,), (720.0,), encoder=Encoder(1440, 1.0, 1))


def turning(n: int) -> Samples:
    time = np.arange(n, dtype=np.int64) * 1000
    count = (np.cumsum(2.0 + np.sin(np.arange(n) / 90.0))).astype(np.int64)
    reading = (1000 + 800 * np.sin(np.arange(n) / 60.0)).astype(np.uint16)[:, None]
    return Samples(time, count, reading, np.zeros(n, bool))


def gathered(samples: Samples, cuts: list[int]) -> Nodes:
    gatherer = Gatherer(PROFILE, Sensor())
    done: list[Nodes] = []
    for start, stop in zip([0, *cuts], [*cuts, len(samples)], strict=True):
        done += gatherer.feed(samples.only(slice(start, stop)))
    rest = gatherer.rest()
    return joined((*done, *(() if rest is None else (rest,))))


WHOLE = turning(3000)
ONCE = gathered(WHOLE, [])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 3000), max_size=40).map(sorted))
def test_however_cut_the_nodes_are_the_same(cuts):
    nodes = gathered(WHOLE, cuts)
    np.testing.assert_array_equal(nodes.angle_deg, ONCE.angle_deg)
    np.testing.assert_array_equal(nodes.pressure_bar, ONCE.pressure_bar)
    assert nodes.noise_bar == ONCE.noise_bar


def test_every_sample_is_in_a_node():
    assert ONCE.count.sum() == len(WHOLE)


def test_looking_at_the_rest_takes_nothing_away():
    gatherer = Gatherer(PROFILE, Sensor())
    gatherer.feed(WHOLE.only(slice(100)))
    first, second = gatherer.rest(), gatherer.rest()
    assert first is not None
    assert second is not None
    assert first.count.sum() == second.count.sum() == 100


@pytest.mark.parametrize("n", [0, 1, 5, 15])
def test_few_samples_are_no_error(n):
    gatherer = Gatherer(PROFILE, Sensor())
    assert gatherer.feed(WHOLE.only(slice(n))) == ()
    rest = gatherer.rest()
    assert (0 if rest is None else rest.count.sum()) == n
