"""When did the crank carry a charge through a compression?

Humps in the pressure, and the runs about a TDC.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.median import median, median_on_circle
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.peaks import peaks_of
from strokewise.analysis.trade import DEG_S_PER_RPM

HUMP_NOISE_FACTOR = 8.0
"""A hump stands out by so many times a sample's noise, or it may be noise."""

HUMP_STEPS = 4.0
"""And by so many steps of the converter, or it may be its own jitter."""

HUMP_MIN_BAR = 0.12
"""And by so much, or it may be breathing: the resistance of valves at starter speed stays under
it."""

HUMP_MIN_DEG = 24.0
"""Crank angle over which a hump rises and falls to half, at the least: a knock on the sensor is
shorter."""

TURNING_BACK_DEG = 8.0
"""Rolling back by less than this belongs to a run: a spanner taken off lets the crank come back."""

PAUSE_S = 3.0
"""Standing still for so long parts a run: the charge has leaked away and nothing joins the two."""

WHOLE_PAUSE = 0.9
"""Share of it after which a pause counts as whole: nodes are not cut where it ends."""

PACE_WITHIN_DEG = 30.0
"""A pass's speed is that within this of TDC, where its peak is."""

PEAK_S = 0.4
"""A peak that takes longer to pass is where the crank stood, not where it was squeezed most."""

GAP_S = 0.12
"""Nodes further apart than this have lost samples between them, and nothing says how the crank
moved."""

PASS_LEAST = 4
"""Nodes of a pass, at the least."""

PAUSE_DEG = 1.0
"""What may move while the crank counts as standing still."""

PAUSE_NODES = int(WHOLE_PAUSE * PAUSE_S / GAP_S)
"""A whole pause holds at least so many nodes."""


@dataclass(frozen=True, slots=True)
class Hump:
    """A rise and fall of pressure while the crank moved.

    Attributes
    ----------
    at : int
        Node of the peak.
    angle_deg, pressure_bar : float
        Where and how high.
    rise_bar : float
        Height over the higher of its two feet.
    direction : int
        +1 or -1, the way the crank went through it.
    moving : bool
        False where the crank stood at the peak, whose angle then says little.
    """

    at: int
    angle_deg: float
    pressure_bar: float
    rise_bar: float
    direction: int
    moving: bool


def peaks_by_side(humps: Sequence[Hump]) -> dict[int, float]:
    """Return the median angle, [0, 360), of peaks passed turning on (1) and back (-1).

    A side from which none was passed is left out.
    """
    return {
        way: median_on_circle([h.angle_deg for h in humps if h.direction == way]) % 360.0
        for way in (1, -1)
        if any(h.direction == way for h in humps)
    }


@dataclass(frozen=True, slots=True)
class PassRun:
    """Nodes ``start`` to ``stop`` (exclusive), through which the crank moved one way without a
    pause."""

    start: int
    stop: int
    direction: int


@dataclass(frozen=True, slots=True)
class Pass:
    """One run through the closed part of a cycle about one TDC.

    Attributes
    ----------
    nodes : Nodes
        The nodes of the pass.
    tdc_deg : float
        The unwrapped nominal TDC that it is about.
    turn : int
        Which TDC: ``round((tdc_deg - first) / 360)`` of its segment.
    forward : bool
        Turned the engine's own way.
    """

    nodes: Nodes
    tdc_deg: float
    turn: int
    forward: bool
    sensor: int = 0

    @property
    def time_s(self) -> FloatArray:
        """Board time of the nodes."""
        return self.nodes.time_s

    @property
    def angle_deg(self) -> FloatArray:
        """Unwrapped crank angle in the encoder frame."""
        return self.nodes.angle_deg

    @property
    def pressure_bar(self) -> FloatArray:
        """Absolute pressure as measured."""
        return self.nodes.pressure_bar

    @property
    def peak_bar(self) -> float:
        """Highest pressure of the pass."""
        return float(self.nodes.pressure_bar.max())

    @property
    def peak_angle_deg(self) -> float:
        """Unwrapped crank angle of the highest pressure."""
        return float(self.nodes.angle_deg[int(np.argmax(self.nodes.pressure_bar))])

    @property
    def speed_rpm(self) -> float:
        """Median speed near TDC, always positive."""
        near = np.abs(self.nodes.angle_deg - self.tdc_deg) < PACE_WITHIN_DEG
        speed = self.nodes.speed_deg_s[near] if near.any() else self.nodes.speed_deg_s
        return median(np.abs(speed)) / DEG_S_PER_RPM


def humps_of(nodes: Nodes) -> tuple[Hump, ...]:
    """Return the humps in time order; none for a flat or noisy trace."""
    if len(nodes) < 8:
        return ()
    pressure = nodes.pressure_bar
    edged = np.concatenate([pressure[:1], pressure, pressure[-1:]])
    smooth = np.convolve(edged, np.ones(3) / 3.0, mode="valid")
    least = max(HUMP_NOISE_FACTOR * nodes.noise_bar, HUMP_STEPS * nodes.step_bar, HUMP_MIN_BAR)
    found = (_hump(nodes, smooth, *peak) for peak in peaks_of(smooth, least))
    return tuple(hump for hump in found if hump is not None)


def _hump(
    nodes: Nodes, smooth: FloatArray, at: int, rise: float, left: int, right: int
) -> Hump | None:
    half = smooth[at] - 0.5 * rise
    first = left + int((smooth[left : at + 1] >= half).argmax())
    below = smooth[at : right + 1] < half
    down = int(below.argmax())
    last = at + down if below[down] else right
    span = nodes.angle_deg[first : last + 1]
    way = span[-1] - span[0]
    wide = abs(way) >= HUMP_MIN_DEG / 2
    if not wide and span.max() - span.min() < HUMP_MIN_DEG / 2:
        return None
    before, after = max(at - 2, 0), min(at + 2, len(smooth) - 1)
    travelled = nodes.angle_deg[after] - nodes.angle_deg[before]
    elapsed = nodes.time_s[after] - nodes.time_s[before]
    moving = bool(abs(travelled) > PAUSE_DEG and elapsed < PEAK_S)
    return Hump(
        at=at,
        angle_deg=float(nodes.angle_deg[at]),
        pressure_bar=float(smooth[at]),
        rise_bar=rise,
        direction=1 if way >= 0 else -1,
        moving=moving and wide,
    )


def runs_of(nodes: Nodes) -> tuple[PassRun, ...]:
    """Part nodes into runs of one direction, at reversals and at pauses."""
    gaps = (np.flatnonzero(np.diff(nodes.time_s) > GAP_S) + 1).tolist()
    cuts = sorted({*_turning_points(nodes.angle_deg), *gaps})
    runs: list[PassRun] = []
    for start, stop in pairwise(cuts):
        for first, last in _without_pauses(nodes, start, stop):
            way = nodes.angle_deg[last - 1] - nodes.angle_deg[first]
            if abs(way) > TURNING_BACK_DEG:
                runs.append(PassRun(first, last, 1 if way > 0 else -1))
    return tuple(runs)


def _never_back(angle_deg: FloatArray) -> bool:
    return bool((angle_deg[1:] >= angle_deg[:-1]).all())


def _one_way(angle_deg: FloatArray) -> bool:
    if _never_back(angle_deg):
        return True
    return float(np.max(np.maximum.accumulate(angle_deg) - angle_deg)) <= TURNING_BACK_DEG


def _turning_points(angle_deg: FloatArray) -> list[int]:
    """Return the bounds of stretches between reversals of more than ``TURNING_BACK_DEG``."""
    if len(angle_deg) < 2 or _one_way(angle_deg) or _one_way(-angle_deg):
        return [0, len(angle_deg)]
    cuts = [0]
    direction = 0
    high = low = 0
    values = angle_deg.tolist()
    for i, value in enumerate(values):
        if value > values[high]:
            high = i
        if value < values[low]:
            low = i
        if direction >= 0 and values[high] - value > TURNING_BACK_DEG:
            if direction > 0:
                cuts.append(high + 1)
            direction, low = -1, i
            high = i
        elif direction <= 0 and value - values[low] > TURNING_BACK_DEG:
            if direction < 0:
                cuts.append(low + 1)
            direction, high = 1, i
            low = i
    cuts.append(len(values))
    return cuts


def _without_pauses(nodes: Nodes, start: int, stop: int) -> list[tuple[int, int]]:
    """Cut the standstills out of a stretch."""
    time_s, angle = nodes.time_s[start:stop], nodes.angle_deg[start:stop]
    if stop - start < 3:
        return []
    on_deg = angle[PAUSE_NODES:] - angle[:-PAUSE_NODES]
    if float(np.abs(on_deg).min(initial=np.inf)) > PAUSE_DEG + TURNING_BACK_DEG:
        return [(start, stop)]  # it went on all the time, and never came back so far
    ahead = np.minimum(np.searchsorted(time_s, time_s + PAUSE_S), len(time_s) - 1)
    whole = time_s[ahead] - time_s >= WHOLE_PAUSE * PAUSE_S
    still_from = np.flatnonzero(whole & (np.abs(angle[ahead] - angle) < PAUSE_DEG))
    still = np.zeros(len(time_s) + 1, dtype=np.int64)
    np.add.at(still, still_from, 1)
    np.add.at(still, ahead[still_from] + 1, -1)
    moving = np.cumsum(still)[:-1] == 0
    edges = np.flatnonzero(np.diff(np.concatenate([[0], moving.astype(np.int8), [0]])))
    return [(start + int(a), start + int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def passes_about(
    nodes: Nodes, runs: tuple[PassRun, ...], tdc_deg: float, *, before_deg: float, after_deg: float
) -> tuple[Pass, ...]:
    """Return every pass about TDC ``tdc_deg`` and all whole turns from it, in time order.

    Parameters
    ----------
    tdc_deg : float
        One TDC in the encoder frame; the others lie 360° apart.
    before_deg, after_deg : float
        How far the closed part reaches before and after TDC, in the engine's own direction.
    """
    spans = spans_about(nodes, runs, tdc_deg, before_deg=before_deg, after_deg=after_deg)
    return tuple(pass_of(nodes, span) for span in spans)


class Span(NamedTuple):
    """Nodes ``start`` to ``stop`` (exclusive) of a pass, which TDC it is about and which way."""

    start: int
    stop: int
    tdc_deg: float
    turn: int
    forward: bool


def pass_of(nodes: Nodes, span: Span) -> Pass:
    """Return the pass that lies in a span of the nodes."""
    return Pass(nodes.part(span.start, span.stop), span.tdc_deg, span.turn, span.forward)


def spans_about(
    nodes: Nodes, runs: tuple[PassRun, ...], tdc_deg: float, *, before_deg: float, after_deg: float
) -> list[Span]:
    """Return where the passes lie that :func:`passes_about` returns."""
    found = []
    for run in runs:
        angle = nodes.angle_deg[run.start : run.stop]
        low, high = sorted((angle[0], angle[-1]))
        first = int(np.ceil((low - after_deg - tdc_deg) / 360.0))
        last = int(np.floor((high + before_deg - tdc_deg) / 360.0))
        centres: FloatArray = tdc_deg + 360.0 * np.arange(first, last + 1, dtype=np.float64)
        begins, ends = _spans_of(angle, run.direction, centres - before_deg, centres + after_deg)
        for turn, centre, begin, end in zip(
            range(first, last + 1), centres.tolist(), begins, ends, strict=True
        ):
            if end - begin >= PASS_LEAST:
                start, stop = run.start + begin, run.start + end
                found.append(Span(start, stop, centre, turn, run.direction > 0))
    return found


def _spans_of(
    angle_deg: FloatArray, direction: int, low_deg: FloatArray, high_deg: FloatArray
) -> tuple[list[int], list[int]]:
    """Return where a run comes into each stretch of angle, and where it has left it for good."""
    if direction < 0:
        angle_deg, low_deg, high_deg = -angle_deg, -high_deg, -low_deg
    come_to = still_to_come = angle_deg
    if not _never_back(angle_deg):
        come_to = np.maximum.accumulate(angle_deg)
        still_to_come = np.minimum.accumulate(angle_deg[::-1])[::-1]
    begins = np.searchsorted(come_to, low_deg)
    ends = np.searchsorted(still_to_come, high_deg, side="right")
    return begins.tolist(), ends.tolist()
