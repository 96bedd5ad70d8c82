"""Where do a compression's two flanks stand, level by level? The middles of its chords."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.median import median
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump

LEVELS: FloatArray = np.arange(0.85, 0.19, -0.05)
"""Of the rise, from the top down. Above, noise moves the middle; below, hot walls still warm the
charge, and air may leak back in."""

LOST_TIMES, LOST_SIGMA = 3.0, 0.2
"""Nodes so many times further apart than usual have lost samples between them; a flank bends there,
and what a straight line over them crosses is off by as much as this share of the way."""

CHORD_FLANK_DEG = 150.0
"""A compression's flanks lie within this of its top, a burnt one's too."""


@dataclass(frozen=True, slots=True)
class Chords:
    """Middles of the two points at each level of a hump, from its top down, and how sure they are.

    Both are (levels reached,). They rest on the nodes from ``first`` on; ``closed`` where the crank
    went on beyond the far flank.
    """

    middle_deg: FloatArray
    sigma_deg: FloatArray
    first: int
    closed: bool

    @property
    def lean_deg(self) -> float:
        """By how much later the flanks stand low down than high up; nan of fewer than 3 levels."""
        third = len(self.middle_deg) // 3
        if not third:
            return np.nan
        return float(self.middle_deg[-third:].mean() - self.middle_deg[:third].mean())


def chords_of(nodes: Nodes, hump: Hump, ripple_bar: float = 0.0) -> Chords:
    """Return the chords of a hump from its top down, those that both flanks reach.

    ``ripple_bar`` is what slower than noise moves each flank by itself: hum of the mains.
    """
    angle = hump.direction * nodes.angle_deg
    top = float(angle[hump.at])
    # Nodes are in time order, and near a compression the crank turns one way.
    first = int((angle[: hump.at + 1] >= top - CHORD_FLANK_DEG).argmax())
    beyond = angle[hump.at :] > top + CHORD_FLANK_DEG
    closed = bool(beyond.any())
    last = hump.at + int(beyond.argmax()) if closed else len(angle) - 1
    levels = hump.pressure_bar - hump.rise_bar + LEVELS * hump.rise_bar
    before = first - 1 if first else None
    rise = _crossings(angle, nodes, slice(hump.at, before, -1), levels, ripple_bar)
    fall = _crossings(angle, nodes, slice(hump.at, last + 1), levels, ripple_bar)
    both = min(len(rise[0]), len(fall[0]))
    (up_deg, up_sigma_deg), (down_deg, down_sigma_deg) = (
        (deg[:both], sigma_deg[:both]) for deg, sigma_deg in (rise, fall)
    )
    middle_deg = 0.5 * (up_deg + down_deg)
    return Chords(middle_deg, 0.5 * np.hypot(up_sigma_deg, down_sigma_deg), first, closed)


def _crossings(
    angle: FloatArray, nodes: Nodes, flank: slice, levels: FloatArray, ripple_bar: float
) -> tuple[FloatArray, FloatArray]:
    """Return where pressure first falls under levels on the way down from the top, and sigmas.

    Only of those, from the highest on, that the flank starts over and comes down to.
    """
    pressure, angle = nodes.pressure_bar[flank], angle[flank]
    lowest = np.minimum.accumulate(pressure)
    k = np.searchsorted(-lowest, -levels, side="right")
    reached = (k > 0) & (k < len(pressure))
    k = k[: len(k) if reached.all() else int(reached.argmin())]
    over, way = pressure[k - 1], angle[k] - angle[k - 1]
    drop = over - pressure[k]
    noise = np.hypot(nodes.noise_bar / np.sqrt(nodes.count[flank][k]), ripple_bar)
    steep = drop / np.maximum(np.abs(way), 1e-6)
    usual_deg = median(np.abs(np.diff(angle))) if len(angle) > 1 else 0.0
    unseen_deg = np.where(np.abs(way) > LOST_TIMES * usual_deg, LOST_SIGMA * np.abs(way), 0.0)
    crossed_deg = angle[k - 1] + (over - levels[: len(k)]) / drop * way
    return crossed_deg, np.hypot(noise / steep, unseen_deg)
