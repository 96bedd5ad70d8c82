"""What is settled about a compression is what would be found anew, while its nodes are kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.tdc.coarse import strong
from strokewise.analysis.trace.burning import burnt
from strokewise.analysis.trace.nodes import Nodes, nodes_of
from strokewise.analysis.trace.passes import Hump, humps_of
from strokewise.analysis.trace.plateau import centred, with_plateaus
from strokewise.analysis.trace.settled import MOST_SETTLED, Settled
from strokewise.analysis.trace.trace import trace_of

STEP, KEPT = 150, 1_500
"""Nodes between two looks, and nodes kept."""

Turn = Callable[..., Any]


def looks(turned: Turn, name: str, **settings: Any) -> Iterator[tuple[Nodes, tuple[Hump, ...]]]:
    """Yield the nodes that are kept as they arrive, and the compressions among them."""
    bench = turned(name, **settings)
    nodes = nodes_of(trace_of(bench.recording.segments[-1], bench.profile))
    for stop in range(STEP, len(nodes) + STEP, STEP):
        kept = with_plateaus(nodes.part(max(stop - KEPT, 0), stop))
        if humps := strong(humps_of(kept)):
            yield kept, humps


@pytest.mark.parametrize(("name", "settings"), [
    ("cranked", {"seconds": 8.0}),
    ("cranked", {"seconds": 8.0, "sensor_range": (0.0, 8.0)}),  # cut off at its end
    ("rocked", {}),
    ("cut-after-running", {}),
    ("catches-while-cranking", {}),
])  # fmt: skip
def test_every_look_finds_what_it_would_find_anew(turned: Turn, name: str, settings: Any):
    cold: Settled[bool] = Settled()
    middles: Settled[float] = Settled()
    looked = 0
    for nodes, humps in looks(turned, name, **settings):
        looked += 1
        assert burnt(nodes, humps, cold).tolist() == burnt(nodes, humps).tolist()
        assert centred(nodes, humps, middles) == centred(nodes, humps)
    assert looked > 5


def test_a_compression_settles_once_the_crank_has_gone_on(turned: Turn):
    *_, (nodes, humps) = looks(turned, "cranked", seconds=8.0)
    cold: Settled[bool] = Settled()
    middles: Settled[float] = Settled()
    burnt(nodes, humps, cold)
    centred(nodes, humps, middles)
    assert [cold.of(nodes, hump) for hump in humps[:-1]] == [True] * (len(humps) - 1)
    assert None not in [middles.of(nodes, hump) for hump in humps[:-1]]
    top = humps[0]
    early = nodes.part(0, top.at + 8)  # still coming down
    cold, middles = Settled(), Settled()
    burnt(early, (top,), cold)
    assert cold.of(nodes, top) is None
    assert middles.of(nodes, top) is None


def test_what_lost_its_first_node_is_found_anew_and_so_is_another_hump(turned: Turn):
    *_, (nodes, humps) = looks(turned, "cranked", seconds=8.0)
    top = humps[1]
    known: Settled[float] = Settled()
    known.settle(nodes, top, top.at - 5, 1.5)
    assert known.of(nodes, replace(top, at=0)) == 1.5  # the same hump, wherever it lies
    assert known.of(nodes.part(top.at - 5, len(nodes)), top) == 1.5
    assert known.of(nodes.part(top.at - 4, len(nodes)), top) is None
    for changed in ({"rise_bar": 1.0}, {"pressure_bar": 1.0}, {"angle_deg": 1.0}, {"direction": 0}):
        assert known.of(nodes, replace(top, **changed)) is None
    twin = known.copy()
    twin.settle(nodes, humps[0], 0, 2.5)
    assert known.of(nodes, humps[0]) is None


def test_only_the_last_ones_are_kept(turned: Turn):
    *_, (nodes, humps) = looks(turned, "cranked", seconds=8.0)
    known: Settled[float] = Settled()
    each = [replace(humps[0], angle_deg=float(at)) for at in range(MOST_SETTLED + 2)]
    for at, hump in enumerate(each):
        known.settle(nodes, hump, 0, float(at))
    found = np.array([known.of(nodes, hump) is None for hump in each])
    assert found.tolist() == [True, True] + [False] * MOST_SETTLED
