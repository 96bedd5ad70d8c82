"""What can be drawn of a compression before it has been fitted? The trace about each hump."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from strokewise.gui.models.figures.figure import FloatArray
from strokewise.gui.models.figures.views import PassLike

SHOWN_REACH_DEG = 130.0
"""So far to either side of the peak: nearly from one bottom dead centre to the other."""
MOST = 12


@dataclass(frozen=True, slots=True)
class LoosePass:
    """A compression as it was measured, about its own peak."""

    time_s: FloatArray
    angle_deg: FloatArray
    pressure_bar: FloatArray
    peak_angle_deg: float
    forward: bool


def loose_passes(judgement: Any) -> tuple[PassLike, ...]:
    """Return the traces about the humps that a judgement knows, oldest first; none without one."""
    if judgement is None:
        return ()
    nodes = judgement.nodes
    found = []
    for hump in judgement.humps[-MOST:]:
        far = np.flatnonzero(np.abs(nodes.angle_deg - hump.angle_deg) > SHOWN_REACH_DEG)
        before, after = far[far < hump.at], far[far > hump.at]
        start = int(before[-1]) + 1 if len(before) else 0
        stop = int(after[0]) if len(after) else len(nodes)
        part = slice(start, stop)
        found.append(
            LoosePass(
                nodes.time_s[part],
                nodes.angle_deg[part],
                nodes.pressure_bar[part],
                float(hump.angle_deg),
                hump.direction > 0,
            )
        )
    return tuple(found)
