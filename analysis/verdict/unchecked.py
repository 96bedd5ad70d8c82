"""Since when has nothing checked the clamp? A crank that turns under flat pressure.

A sensor that was taken out, as it is when valves are set, shows the air outside while the count
goes on. That contradicts no answer, and is not weighed as a cylinder that squeezes nothing; but a
clamp that slips meanwhile is not seen either.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from strokewise.analysis.crank.angle import way_turned
from strokewise.analysis.median import median
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.trace.nodes import Nodes

CLAMP_UNCHECKED: Final = "clamp-unchecked"
"""Code of the warning."""

FLAT_BAR, FLAT_SIGMAS = 0.05, 6.0
"""Pressure that stays within this of its middle is flat: a cylinder, even one that leaks badly,
breathes more than that past its valves."""

FLAT_CYCLES = 0.9
"""Flat over so much of a cycle, and a compression was due in it. From the end of one to where the
next begins to show lies 0.75 of a cycle at the most, in a cylinder that leaks."""

KEPT_CYCLES = 0.65
"""Of a flat part so much is still weighed: the turn after a compression, with the overlap TDC in
it, is flat in a sound cylinder too."""

FOOT_CYCLES = 0.25
"""And so much before pressure moves again: a compression begins there."""

KNOWN_RISES, RISE_BAR = 2, 0.6
"""Only a cylinder that was seen to squeeze so often, by so much, has lost its sensor; another may
never have had any compression."""

LATELY_NODES = 50
"""Nodes at the end, some 100°, whose median is the air outside."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """What of the nodes is to be weighed.

    Attributes
    ----------
    since_s : float or None
        Where the last of them are flat: when pressure last moved.
    """

    nodes: Nodes
    since_s: float | None = None


def weighed(nodes: Nodes, cycle_deg: float) -> Weighed:
    """Return the nodes without those during which the sensor was out."""
    if len(nodes) < LATELY_NODES:
        return Weighed(nodes)
    flat_bar = max(FLAT_BAR, FLAT_SIGMAS * nodes.noise_bar)
    calm = _calm(nodes, flat_bar)
    air = median(nodes.pressure_bar[-LATELY_NODES:] if calm else nodes.pressure_bar)
    moves: BoolArray = (np.abs(nodes.pressure_bar - air) > flat_bar) | nodes.clipped
    way = way_turned(nodes.angle_deg)
    moved = np.flatnonzero(moves)
    ends = np.append(moved, len(nodes) - 1)
    long = np.flatnonzero(np.diff(way[ends]) >= FLAT_CYCLES * cycle_deg)
    kept = np.ones(len(nodes), np.bool_)
    since_s = None
    for stretch in long.tolist():
        first, last = int(ends[stretch]), int(ends[stretch + 1])
        if _rises(nodes, way, first, air, cycle_deg) < KNOWN_RISES:
            continue
        is_last = stretch == len(moved) - 1
        begin = way[first] + KEPT_CYCLES * cycle_deg
        end = np.inf if is_last else way[last] - FOOT_CYCLES * cycle_deg
        kept &= (way <= begin) | (way >= end)
        since_s = float(nodes.time_s[first]) if is_last else None
    return Weighed(nodes if kept.all() else nodes.only(kept), since_s)


def _calm(nodes: Nodes, flat_bar: float) -> bool:
    return float(np.ptp(nodes.pressure_bar[-LATELY_NODES:])) < 2.0 * flat_bar


def _rises(
    nodes: Nodes, way: np.ndarray[tuple[int], np.dtype[np.float64]], until: int, air: float,
    cycle_deg: float,
) -> int:  # fmt: skip
    """Return how many compressions were seen up to a node, at least half a cycle apart."""
    high = np.flatnonzero(nodes.pressure_bar[: until + 1] - air > RISE_BAR)
    if not len(high):
        return 0
    return 1 + int(np.count_nonzero(np.diff(way[high]) > 0.5 * cycle_deg))


def unchecked_notice(since_s: float) -> Notice:
    """Say since when, on the board's clock."""
    return notice(CLAMP_UNCHECKED, since_s=since_s)
