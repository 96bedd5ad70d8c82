"""How likely is what the turns of one kind showed, were it compression, and were it overlap?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.median import median
from strokewise.analysis.stroke.passages import Visit
from strokewise.analysis.tails import normal_below, student_below

RISE_TYPICAL_BAR, RISE_SPREAD = 4.0, 1.2
"""Rise of a compression, log-normal: hand-turned and leaky 0.4 bar to cranked diesel 40 bar."""

BREATHING_BAR = 0.02
"""Scale of what a wavering zero shows at overlap; at hand speed valves breathe without
resistance."""

BREATHING_PER_RPM = 0.0003
"""And how breathing grows with speed: 0.3 bar of exhaust pulse were measured at 1,100 rev/min."""

BREATHING_FREEDOM = 6.0
"""Degrees of freedom of Student's t: heavy tails for what nobody thought of."""

LOG_STUDENT_NORM = (
    math.lgamma((BREATHING_FREEDOM + 1.0) / 2.0)
    - math.lgamma(BREATHING_FREEDOM / 2.0)
    - 0.5 * math.log(BREATHING_FREEDOM * math.pi)
)
"""Logarithm of what makes its density one in all."""

BOTH_WAYS_SPREAD = 0.5
"""Natural logarithm: how much the rise of a leaky cylinder may differ from one way to the other."""

LOOKS_MOST = 4
"""So many visits of a kind take half of the noise off their median; more is not counted on."""


@dataclass(frozen=True, slots=True)
class Rise:
    """What the visits of one kind of turn have in common; ``at_least`` where the top was
    clipped."""

    bar: float
    at_least: bool
    speed_rpm: float

    @classmethod
    def of(cls, visits: tuple[Visit, ...]) -> Rise | None:
        """Return the middle rise of some visits."""
        if not visits:
            return None
        middle = cls.one(sorted(visits, key=lambda v: v.rise_bar)[len(visits) // 2])
        return replace(middle, speed_rpm=median([v.speed_rpm for v in visits]))

    @classmethod
    def one(cls, visit: Visit) -> Rise:
        """Return the rise of one visit by itself."""
        return cls(max(visit.rise_bar, 1e-3), visit.clipped, visit.speed_rpm)


def kind_log_likelihoods(
    kind: tuple[Visit, ...], scale: float, noise_bar: float
) -> tuple[float, float]:
    """Return ln likelihood of one kind's visits under compression and under overlap.

    Turned the other way round valves breathe the other way: met from both sides, a rise that was
    none had two causes. A compression has one, and about the same height.
    """
    noise_bar = noise_bar / float(np.sqrt(min(max(len(kind), 1), LOOKS_MOST)))
    ways = [tuple(v for v in kind if v.forward == forward) for forward in (True, False)]
    if not all(ways):
        return log_likelihoods(Rise.of(kind), scale, noise_bar)
    weaker, stronger = sorted((r for r in map(Rise.of, ways) if r is not None), key=lambda r: r.bar)
    squeezed, breathed = log_likelihoods(weaker, scale, noise_bar)
    if weaker.at_least or stronger.at_least:
        return squeezed, breathed
    _, also_breathed = log_likelihoods(stronger, scale, noise_bar)
    apart = np.log(stronger.bar / weaker.bar) / BOTH_WAYS_SPREAD
    density = BOTH_WAYS_SPREAD * stronger.bar * scale * np.sqrt(2.0 * np.pi)
    return squeezed + float(-0.5 * apart * apart - np.log(density)), breathed + also_breathed


def log_likelihoods(rise: Rise | None, scale: float, noise_bar: float) -> tuple[float, float]:
    """Return ln likelihood of one kind's rise under compression and under overlap."""
    if rise is None:
        return 0.0, 0.0
    wavering = 2.0 * noise_bar * scale
    breathing = math.hypot(BREATHING_BAR + BREATHING_PER_RPM * rise.speed_rpm, wavering)
    bar = rise.bar * scale
    z = math.log(bar / RISE_TYPICAL_BAR) / RISE_SPREAD
    u = bar / breathing
    if rise.at_least:
        above = normal_below(-z), 2.0 * student_below(BREATHING_FREEDOM, -u)
        return math.log(max(above[0], 1e-300)), math.log(max(above[1], 1e-300))
    squeezed = -0.5 * z * z - math.log(bar * RISE_SPREAD * math.sqrt(2.0 * math.pi))
    return squeezed, math.log(2.0 / breathing) + _log_student(u)


def _log_student(u: float) -> float:
    n = BREATHING_FREEDOM
    return LOG_STUDENT_NORM - (n + 1.0) / 2.0 * math.log1p(u * u / n)
