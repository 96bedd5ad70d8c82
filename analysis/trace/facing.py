"""Which way did the crank go as it passed each peak? And did the encoder slip just there?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from strokewise.analysis.median import median
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump
from strokewise.analysis.trace.plateau import cut_off

RACING, RACING_LEAST_DEG_S = 2.5, 600.0
"""A peak passed so many times faster than the others, and faster than by hand, is a slip."""

TREMBLES_DEG_S = 60.0
"""Slower than this a crank that pauses trembles against its compression, either way."""


def facing(nodes: Nodes, humps: tuple[Hump, ...]) -> tuple[Hump, ...]:
    """Return the humps with the way in which the crank passed their peaks.

    Flanks may hold a turn-round, so the speed at the peak tells; not where the crank trembles in a
    pause at the sensor's end. Where the speed is many times the others', or back where a starter
    turns it on, the encoder slipped just there.
    """
    speeds = [float(nodes.speed_deg_s[h.at]) for h in humps]
    usual = median(speeds) if len(humps) > 2 else 0.0
    most = RACING * median(np.abs(speeds)) if len(humps) > 2 else np.inf

    def slipped(speed: float) -> bool:
        back = abs(usual) > RACING_LEAST_DEG_S and speed * usual < 0.0
        return abs(speed) > RACING_LEAST_DEG_S and (back or abs(speed) > most)

    def trembles(hump: Hump, speed: float) -> bool:
        return abs(speed) < TREMBLES_DEG_S and cut_off(nodes, hump)

    return tuple(
        replace(h, moving=False)
        if slipped(speed)
        else replace(h, direction=1 if speed > 0 else -1)
        if h.moving and speed and not trembles(h, speed)
        else h
        for h, speed in zip(humps, speeds, strict=True)
    )
