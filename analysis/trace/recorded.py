"""What does a recording hold, and how well did it come through? Plain figures, no judgement."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.angle import deg_per_count
from strokewise.analysis.profile import Encoder
from strokewise.analysis.samples import Segment
from strokewise.analysis.trace.trace import DEFAULT_ADC_BITS

GAP_PERIODS = 1.5
"""Two samples further apart than so many periods have something missing between them; a board's
clock jitters by far less than half a period."""


@dataclass(frozen=True, slots=True)
class ChannelFacts:
    """One analogue channel: lowest and highest reading, and the share at the converter's ends."""

    low: int
    high: int
    clipped: float


@dataclass(frozen=True, slots=True)
class SegmentFacts:
    """One run of the board, from its start to its end.

    Attributes
    ----------
    seconds : float
        From the first sample to the last.
    rate_hz : float
        Samples a second, from the median period; 0 with fewer than two samples.
    gaps : int
        Places where samples are missing.
    turns_forward, turns_back : float
        Whole way of the crank each way, in turns.
    full_scale : int
        Highest reading of the converter.
    index_edges : int
        Edges of the encoder's own index.
    index_counts : tuple of int
        Lowest and highest count between two index edges passed one after the other the same way;
        empty with fewer than two.
    mark_edges : dict of int to int
        Edges of each mark input.
    presses : int
        Marks pressed on the screen.
    """

    number: int
    samples: int
    seconds: float
    rate_hz: float
    gaps: int
    turns_forward: float
    turns_back: float
    full_scale: int
    channels: tuple[ChannelFacts, ...]
    index_edges: int
    index_counts: tuple[int, ...]
    mark_edges: dict[int, int]
    presses: int


def segment_facts(segment: Segment, encoder: Encoder) -> SegmentFacts:
    """Return the figures of one segment; a segment without samples has zeros.

    Parameters
    ----------
    encoder : Encoder
        Turns counts into turns of the crank, and their sign into forward and back.
    """
    samples, events = segment.samples, segment.events
    bits = (segment.board.adc_bits if segment.board else None) or DEFAULT_ADC_BITS
    steps_us = np.diff(samples.time_us)
    period_us = float(np.median(steps_us)) if len(steps_us) else 0.0
    moved_deg = np.diff(samples.count) * deg_per_count(encoder)
    index = events.input == 0
    inputs, edges = np.unique(events.input[~index], return_counts=True)
    return SegmentFacts(
        number=segment.number,
        samples=len(samples),
        seconds=float(steps_us.sum()) / 1e6,
        rate_hz=1e6 / period_us if period_us else 0.0,
        gaps=int(np.count_nonzero(steps_us > GAP_PERIODS * period_us)),
        turns_forward=float(moved_deg[moved_deg > 0].sum()) / 360,
        turns_back=float(np.abs(moved_deg[moved_deg < 0]).sum()) / 360,
        full_scale=(1 << bits) - 1,
        channels=_channels(segment, (1 << bits) - 1),
        index_edges=int(index.sum()),
        index_counts=_index_counts(events.count[index]),
        mark_edges=dict(zip(inputs.tolist(), edges.tolist(), strict=True)),
        presses=len(segment.presses),
    )


def _channels(segment: Segment, full_scale: int) -> tuple[ChannelFacts, ...]:
    readings = segment.samples.readings
    if not len(readings):
        return ()
    return tuple(
        ChannelFacts(
            int(column.min()),
            int(column.max()),
            float(np.mean((column == 0) | (column >= full_scale))),
        )
        for column in readings.T
    )


def _index_counts(counts: NDArray[np.int64]) -> tuple[int, ...]:
    """A reversal meets the same index edge twice: those short ways are no turn and are left out."""
    between = np.abs(np.diff(counts))
    turns = between[between > np.max(between, initial=0) / 2]
    return (int(turns.min()), int(turns.max())) if len(turns) else ()
