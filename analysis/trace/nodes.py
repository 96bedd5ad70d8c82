"""How little of a trace carries all it says?

Samples gathered into nodes of at most a few tenths of a turn.

A hand-turned trace has a thousand samples to the degree, a cranked one has one. Nodes bring both to
the same size: the mean of the samples while the crank moves a little or a short time passes,
whichever ends first. Everything after the trace works on nodes, so its cost depends on the way
turned.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.columns import end_to_end, rows_of
from strokewise.analysis.crank.angle import FloatArray, way_turned
from strokewise.analysis.estimate import SIGMA_OF_MEDIAN_SIZE, WIDTH_OVER_SIGMA
from strokewise.analysis.median import median, median_repeated
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.trace.trace import Trace

NODE_DEG = 2.2
"""Crank angle of a node: over it pressure at TDC bends by well under a thousandth."""

NODE_S = 0.025
"""Time of a node while the crank hardly moves: short against leaking down."""

STEP_NOISE_SHARE = 0.3
"""A converter's step scatters a reading by this share of it, rounded up from 1/√12."""

HUM_S = 0.02
"""Pressure is averaged over one wave of the mains (50 Hz; of 60 Hz a sixth is left) …"""


@dataclass(frozen=True, slots=True)
class Nodes:
    """Means of the samples in each node.

    Attributes
    ----------
    time_s, angle_deg, speed_deg_s, pressure_bar : (k,) float64
    count : (k,) float64
        Samples in the node.
    clipped : (k,) bool
        Any sample of it stood at an end of the converter.
    noise_bar : float
        Standard deviation of one sample's pressure, from its quickest changes.
    cell_deg, step_bar : float
        Width of an encoder count and of a converter step.
    """

    time_s: FloatArray
    angle_deg: FloatArray
    speed_deg_s: FloatArray
    pressure_bar: FloatArray
    count: FloatArray
    clipped: BoolArray
    noise_bar: float
    cell_deg: float
    step_bar: float

    def __len__(self) -> int:
        return len(self.time_s)

    def __deepcopy__(self, memo: object) -> Nodes:
        return self  # frozen, and its arrays are never written into: a copied tracker shares them

    def part(self, start: int, stop: int) -> Nodes:
        """Return the nodes from ``start`` up to ``stop``, as views."""
        return rows_of(self, slice(start, stop))

    def only(self, kept: BoolArray) -> Nodes:
        """Return some of the nodes, (k,) bool."""
        return rows_of(self, kept)


def nodes_of(trace: Trace) -> Nodes:
    """Gather a trace into nodes; an empty trace gives no nodes."""
    n = len(trace)
    if n == 0:
        nothing = np.empty(0)
        return Nodes(
            nothing, nothing, nothing, nothing, nothing, np.empty(0, np.bool_),
            trace.step_bar, trace.cell_deg, trace.step_bar,
        )  # fmt: skip
    way = way_turned(trace.angle_deg)
    clock = trace.time_s - trace.time_s[0]
    # A node ends when either ruler passes a whole number.
    turned, ticked = np.floor(way / NODE_DEG), np.floor(clock / NODE_S)
    bounds = np.flatnonzero((turned[1:] != turned[:-1]) | (ticked[1:] != ticked[:-1]))
    starts = np.concatenate([[0], bounds + 1])
    count = np.diff(np.concatenate([starts, [n]])).astype(np.float64)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.add.reduceat(values, starts) / count)

    return Nodes(
        time_s=mean(trace.time_s),
        angle_deg=mean(trace.angle_deg),
        speed_deg_s=mean(trace.speed_deg_s),
        pressure_bar=mean(trace.pressure_bar),
        count=count,
        clipped=np.logical_or.reduceat(trace.clipped, starts),
        noise_bar=sample_noise_bar(trace.pressure_bar, trace.step_bar),
        cell_deg=trace.cell_deg,
        step_bar=trace.step_bar,
    )


def sample_noise_bar(pressure_bar: FloatArray, step_bar: float) -> float:
    """Return the noise of one sample: third differences see noise and hardly any signal.

    Never under the converter's own step spread, step/√12.
    """
    floor = step_bar / WIDTH_OVER_SIGMA
    if len(pressure_bar) < 16:
        return float(max(floor, step_bar))
    third = np.diff(pressure_bar, 3)
    # Var of a third difference of white noise is 1 + 9 + 9 + 1 = 20 times the noise's.
    spread = SIGMA_OF_MEDIAN_SIZE * median(np.abs(third - median(third))) / np.sqrt(20.0)
    return float(max(floor, spread))


def joined(parts: tuple[Nodes, ...]) -> Nodes:
    """Return nodes of one sensor end to end; the noise is the median of the parts', by samples."""
    if not parts:
        raise ValueError("no nodes to join")
    whole = end_to_end(parts)
    if not len(whole):
        return whole
    noise_bar = median_repeated([p.noise_bar for p in parts], [len(p) for p in parts])
    return replace(whole, noise_bar=noise_bar)
