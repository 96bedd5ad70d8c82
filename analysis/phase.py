"""Which of the two TDCs is compression? The likelihood of what each turn's TDC showed.

Four explanations are weighed: compression at the even turns, at the odd turns, at every turn (valves
that do not open, or a two-stroke), and at none (no compression reaches the sensor). What the turns of
one kind have in common is judged once, by their median: breathing repeats itself in every cycle,
so ten turns of it prove no more than one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, ndtr, stdtr

from strokewise.analysis.nodes import Nodes
from strokewise.analysis.passes import Run, passes_about

VISIT_REACH_DEG = 100.0
"""How far about a TDC a visit looks: within the closed part of any usual valve timing."""

VISIT_NEAR_DEG = 60.0
"""A compression peaks within this of TDC, leaky and hand-turned ones included."""

VISIT_WAY_DEG = 70.0
"""A visit must cover so much of the way through TDC, or it says nothing."""

RISE_TYPICAL_BAR, RISE_SPREAD = 4.0, 1.2
"""Rise of a compression, log-normal: hand-turned and leaky 0.4 bar to cranked diesel 40 bar."""

BREATHING_BAR = 0.02
"""Scale of what a wavering zero shows at overlap; at hand speed valves breathe without resistance."""

BREATHING_PER_RPM = 0.0003
"""And how breathing grows with speed: 0.3 bar of exhaust pulse were measured at 1,100 rev/min."""

BREATHING_FREEDOM = 6.0
"""Degrees of freedom of Student's t: heavy tails for what nobody thought of."""

PRIOR_EVERY = 2e-5
"""Prior of compression at every turn: whoever turns a four-stroke with its rockers off knows it."""

PRIOR_NONE = 5e-3
"""Prior of no compression at all reaching the sensor."""

PRIOR_EITHER = 0.5 * (1.0 - PRIOR_EVERY - PRIOR_NONE)


@dataclass(frozen=True, slots=True)
class Visit:
    """What one passage through a TDC showed.

    Attributes
    ----------
    turn : int
        Which TDC, counted in whole turns from the nominal one.
    rise_bar : float
        Highest pressure near TDC over the lower of what was seen on the two sides.
    fell : bool
        The pressure came down again on the far side.
    clipped : bool
        The top stood at the end of the converter: the rise was at least this.
    """

    turn: int
    rise_bar: float
    fell: bool
    clipped: bool
    speed_rpm: float
    forward: bool


@dataclass(frozen=True, slots=True)
class Phase:
    """Posterior of the four explanations.

    ``even`` and ``odd`` speak of the turns counted from the nominal TDC.
    """

    even: float
    odd: float
    every: float
    none: float
    visits: tuple[Visit, ...]

    @property
    def best(self) -> int:
        """0 for even, 1 for odd."""
        return 0 if self.even >= self.odd else 1

    @property
    def probability(self) -> float:
        """Probability of the better of even and odd."""
        return max(self.even, self.odd)


def visits_of(nodes: Nodes, runs: tuple[Run, ...], tdc_deg: float) -> tuple[Visit, ...]:
    """Return every passage through a TDC that went far enough to say something."""
    visits = []
    for item in passes_about(
        nodes, runs, tdc_deg, before_deg=VISIT_REACH_DEG, after_deg=VISIT_REACH_DEG
    ):
        where = item.angle_deg - item.tdc_deg
        if not item.forward:
            where = -where
        if where[0] > -0.5 * VISIT_WAY_DEG or where[-1] < 0.2 * VISIT_WAY_DEG:
            continue
        if where[-1] - where[0] < VISIT_WAY_DEG:
            continue
        near = np.abs(where) < VISIT_NEAR_DEG
        top = float(item.pressure_bar[near].max())
        foot_before = float(item.pressure_bar[where < 0].min())
        foot_after = float(item.pressure_bar[where > 0].min())
        rise = (
            top - max(foot_before, foot_after) if where[-1] > VISIT_WAY_DEG else top - foot_before
        )
        last = float(item.pressure_bar[-1])
        visits.append(
            Visit(
                turn=item.turn,
                rise_bar=rise,
                fell=top - last > 0.3 * (top - foot_before),
                clipped=bool(item.nodes.clipped[near][int(np.argmax(item.pressure_bar[near]))]),
                speed_rpm=item.speed_rpm,
                forward=item.forward,
            )
        )
    return tuple(visits)


def weigh(visits: tuple[Visit, ...], *, noise_bar: float, calibrated: bool = True) -> Phase:
    """Return the posterior of even, odd, every and none, given the visits.

    With a sensor of unknown gain only the proportion of the two kinds of turns counts, so both must
    have been visited.
    """
    kinds = [[v for v in visits if v.turn % 2 == parity] for parity in (0, 1)]
    rises = [_Rise.of(kind) for kind in kinds]
    scale = 1.0
    if not calibrated:
        largest = max((r.bar for r in rises if r is not None), default=0.0)
        if None in rises or largest <= 0.0:
            return Phase(PRIOR_EITHER, PRIOR_EITHER, PRIOR_EVERY, PRIOR_NONE, visits)
        scale = RISE_TYPICAL_BAR / largest
    speed = float(np.median([v.speed_rpm for v in visits])) if visits else 0.0
    seen = [_log_likelihoods(r, scale, speed, noise_bar) for r in rises]
    log_posterior = np.array(
        [
            np.log(PRIOR_EITHER) + seen[0][0] + seen[1][1],
            np.log(PRIOR_EITHER) + seen[0][1] + seen[1][0],
            np.log(PRIOR_EVERY) + seen[0][0] + seen[1][0],
            np.log(PRIOR_NONE) + seen[0][1] + seen[1][1],
        ]
    )
    weight = np.exp(log_posterior - log_posterior.max())
    even, odd, every, none = (weight / weight.sum()).tolist()
    return Phase(even, odd, every, none, visits)


@dataclass(frozen=True, slots=True)
class _Rise:
    """What the visits of one kind of turn have in common; ``at_least`` where the top was clipped."""

    bar: float
    at_least: bool

    @classmethod
    def of(cls, visits: list[Visit]) -> _Rise | None:
        if not visits:
            return None
        middle = sorted(visits, key=lambda v: v.rise_bar)[len(visits) // 2]
        return cls(max(middle.rise_bar, 1e-3), middle.clipped)


def _log_likelihoods(
    rise: _Rise | None, scale: float, speed_rpm: float, noise_bar: float
) -> tuple[float, float]:
    """Return ln likelihood of one kind's rise under compression and under overlap."""
    if rise is None:
        return 0.0, 0.0
    breathing = float(
        np.hypot(BREATHING_BAR + BREATHING_PER_RPM * speed_rpm, 2.0 * noise_bar * scale)
    )
    bar = rise.bar * scale
    z = (np.log(bar) - np.log(RISE_TYPICAL_BAR)) / RISE_SPREAD
    u = bar / breathing
    if rise.at_least:
        squeezed = np.log(max(float(ndtr(-z)), 1e-300))
        breathed = np.log(max(2.0 * float(stdtr(BREATHING_FREEDOM, -u)), 1e-300))
        return float(squeezed), float(breathed)
    squeezed = -0.5 * z * z - np.log(bar * RISE_SPREAD * np.sqrt(2.0 * np.pi))
    breathed = np.log(2.0 / breathing) + _log_student(u)
    return float(squeezed), float(breathed)


def _log_student(u: float) -> float:
    n = BREATHING_FREEDOM
    norm = gammaln((n + 1.0) / 2.0) - gammaln(n / 2.0) - 0.5 * np.log(n * np.pi)
    return float(norm - (n + 1.0) / 2.0 * np.log1p(u * u / n))
