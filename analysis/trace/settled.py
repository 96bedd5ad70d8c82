"""What is settled about a hump, whatever comes after it?

A live answer looks at every compression again with each verdict. What rests only on nodes between
its two feet does not change any more once the crank has gone on, and need not be found out again.
"""

from __future__ import annotations

from typing import Generic, TypeVar

from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump

Found = TypeVar("Found")

MOST_SETTLED = 100
"""More humps than the nodes that are kept ever hold."""


class Settled(Generic[Found]):
    """What was found about humps that are over, each with the moment of the first node it needs."""

    def __init__(self) -> None:
        self._kept: dict[tuple[float, float, float, int], tuple[float, Found]] = {}

    def copy(self) -> Settled[Found]:
        """Return one that goes its own way."""
        twin: Settled[Found] = Settled()
        twin._kept = self._kept.copy()
        return twin

    def of(self, nodes: Nodes, hump: Hump) -> Found | None:
        """Return what is settled about a hump; None where nothing is, or its nodes are gone."""
        since_s, found = self._kept.get(_name(hump), (float("-inf"), None))
        return found if nodes.time_s[0] <= since_s else None

    def settle(self, nodes: Nodes, hump: Hump, first: int, found: Found) -> None:
        """Keep what was found from the node ``first`` on, up to one that is not the last."""
        self._kept[_name(hump)] = float(nodes.time_s[first]), found
        while len(self._kept) > MOST_SETTLED:
            del self._kept[next(iter(self._kept))]


def _name(hump: Hump) -> tuple[float, float, float, int]:
    """Return what tells a hump from others, wherever it lies among the nodes that are kept."""
    return hump.angle_deg, hump.pressure_bar, hump.rise_bar, hump.direction
