"""What is kept of one sensor while a hold lasts? Its last nodes, and what was noted beside them."""

from __future__ import annotations

import copy
from collections import deque

import numpy as np

from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import Board, Samples, Segment
from strokewise.analysis.trace.blocks import Gatherer
from strokewise.analysis.trace.nodes import Nodes, joined
from strokewise.analysis.verdict.judge import Memory

MOST_NODES = 6_000
"""Nodes kept of a sensor: some twelve cycles cranked, some minutes turned by hand."""

STANDING_BLOCKS = 30
"""Blocks kept of a standing crank, some 6 s: more says nothing new, and an hour's work beside a
standing engine must not push its compressions out of memory."""

STANDING_DEG = 0.5
"""A crank that moves less within a block stands, but for the width of a count."""


class Followed:
    """One sensor, followed as its samples arrive, in bounded memory.

    Attributes
    ----------
    sensor : Sensor
    memory : Memory
        The last fit, kept for the next judgement.
    unchecked_since_s : float or None
        Since when nothing checks the clamp, by the last judgement.
    """

    def __init__(self, profile: Profile, sensor: Sensor) -> None:
        self.sensor = sensor
        self.memory = Memory()
        self.unchecked_since_s: float | None = None
        self._gatherer = Gatherer(profile, sensor)
        self._nodes: deque[Nodes] = deque()
        self._held = 0
        self._samples = 0
        self._at_end = 0

    def copy(self) -> Followed:
        """Return one that goes its own way; nodes never change."""
        twin = copy.copy(self)
        twin._gatherer, twin._nodes = copy.copy(self._gatherer), self._nodes.copy()
        twin.memory = self.memory.copy()
        return twin

    @property
    def seen(self) -> bool:
        """Whether there are nodes already."""
        return bool(self._nodes)

    @property
    def at_end_share(self) -> float:
        """Share of the readings that stood at the converter's ends."""
        return self._at_end / max(self._samples, 1)

    def note(self, samples: Samples, adc_bits: int) -> None:
        """Count the readings that stand at the converter's ends."""
        self._samples += len(samples)
        if self.sensor.channel < samples.readings.shape[1]:
            reading = samples.readings[:, self.sensor.channel]
            at_end = (reading == 0) | (reading >= (1 << adc_bits) - 1)
            self._at_end += int(np.count_nonzero(at_end))

    def feed(self, block: Segment, board: Board | None) -> bool:
        """Take a block's samples; return whether there are nodes that are new."""
        if self.sensor.channel >= block.samples.readings.shape[1]:
            return False
        finished = self._gatherer.feed(block.samples, board)
        for nodes in finished:
            self._keep(nodes)
        while self._nodes and self._held > MOST_NODES + len(self._nodes[0]):
            self._held -= len(self._nodes.popleft())
        return bool(finished)

    def _keep(self, nodes: Nodes) -> None:
        kept = self._nodes
        if (
            _stands(nodes)
            and len(kept) >= STANDING_BLOCKS
            and all(_stands(kept[-1 - i]) for i in range(STANDING_BLOCKS))
        ):
            self._held -= len(kept.pop())
        kept.append(nodes)
        self._held += len(nodes)

    def nodes(self, *, closing: bool) -> Nodes | None:
        """Return all that is kept, ``closing`` with the samples still in work; None if nothing."""
        parts = list(self._nodes)
        rest = self._gatherer.rest() if closing else None
        if rest is not None and len(rest):
            parts.append(rest)
        return joined(tuple(parts)) if parts else None


def _stands(nodes: Nodes) -> bool:
    return not len(nodes) or float(np.ptp(nodes.angle_deg)) < STANDING_DEG
