"""What does the fit march through? Passes side by side, with the spread expected of each node."""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.estimate import WIDTH_OVER_SIGMA
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.tdc.closed_cycle import Runs
from strokewise.analysis.trace.nodes import STEP_NOISE_SHARE
from strokewise.analysis.trace.passes import Pass

LONGEST_STEP_DEG = 3.3
"""The march takes no longer steps: at 1,000 samples/s an engine that runs down from 2,500 rev/min
turns 15° from one to the next, over which pressure is anything but straight."""

STEEPNESS_PER_DEG = 0.04
"""Share by which pressure changes for each degree where it is steepest, 20° to 40° from TDC."""


def runs_for(passes: tuple[Pass, ...], model_share: float) -> Runs:
    """Lay passes side by side, with the standard deviation expected of each node."""
    places = [_places(p.angle_deg) for p in passes]
    longest = max(map(len, places))

    def padded(rows: list[FloatArray]) -> FloatArray:
        """Go through each row's nodes and the steps between them, and on to the longest."""
        gone = [
            np.interp(at, np.arange(len(row)), row) for at, row in zip(places, rows, strict=True)
        ]
        return np.stack([np.pad(row, (0, longest - len(row)), mode="edge") for row in gone])

    def flagged(rows: list[BoolArray]) -> BoolArray:
        return np.stack([np.pad(row, (0, longest - len(row))) for row in rows])

    measured = [at == np.round(at) for at in places]
    sound = [
        ~p.nodes.clipped[np.round(at).astype(int)] for p, at in zip(passes, places, strict=True)
    ]
    return Runs(
        time_s=padded([p.time_s for p in passes]),
        angle_deg=padded([p.angle_deg - p.tdc_deg for p in passes]),
        speed_deg_s=padded([p.nodes.speed_deg_s for p in passes]),
        pressure_bar=padded([p.pressure_bar for p in passes]),
        sigma_bar=padded([_sigma_bar(p, model_share) for p in passes]),
        used=flagged([m & s for m, s in zip(measured, sound, strict=True)]),
        between=flagged([~m for m in measured]),
    )


def _places(angle_deg: FloatArray) -> FloatArray:
    """Return the nodes' numbers, and broken ones where a step is too long for the march."""
    steps = np.ceil(np.abs(np.diff(angle_deg)) / LONGEST_STEP_DEG).astype(np.int64)
    steps = np.maximum(steps, 1)
    first = np.repeat(np.arange(len(steps)), steps)
    within = np.arange(len(first)) - np.repeat(np.cumsum(steps) - steps, steps)
    return np.append(first + within / np.repeat(steps, steps), len(angle_deg) - 1.0)


def _sigma_bar(item: Pass, model_share: float) -> FloatArray:
    """Return a node's expected spread: sensor, converter, the width of a count, the model's own."""
    nodes = item.nodes
    white = np.hypot(nodes.noise_bar, STEP_NOISE_SHARE * nodes.step_bar)
    moved_deg = np.abs(np.gradient(nodes.angle_deg))
    # Crossing lines sharpens the angle; a standing crank is somewhere in its cell.
    angle_sigma = (
        nodes.cell_deg / WIDTH_OVER_SIGMA / np.sqrt(1.0 + 3.0 * moved_deg / nodes.cell_deg)
    )
    above = nodes.pressure_bar - nodes.pressure_bar.min()
    steep = STEEPNESS_PER_DEG * np.abs(np.sin(np.radians(2.0 * (item.angle_deg - item.tdc_deg))))
    return np.asarray(
        np.sqrt(
            white**2 / nodes.count
            + (0.1 * nodes.step_bar) ** 2
            + (above * steep * angle_sigma) ** 2
            + (model_share * above) ** 2
        )
    )
