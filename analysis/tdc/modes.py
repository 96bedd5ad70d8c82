"""Does another answer fit as well? The descent is begun anew from where it would not go by itself.

A slow sensor looks much like an engine that loses more, which can leave two valleys in the sum of
squares: 0.06 and 0.34 ms fitted a motored diesel at 1,750 rev/min, a degree apart. A descent
ends in the one that it began in. So where nobody stated the response time the final stage is begun
again from both ends of what it may be, and where it comes to rest elsewhere at a sum of squares
that the data do not rule out, the interval holds both.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.tdc.autocorrelation import LEAST_COST
from strokewise.analysis.tdc.fit import Fit

RULED_OUT = 9.0
"""Beyond so much more in the sum of squares, in its own noise, an answer is ruled out: that is
three sigmas, or one in ninety as likely."""

SAME_SIGMAS = 0.3
"""Answers nearer to each other than this share of their sigma are one and the same."""

LAG_ENDS_S = (0.05e-3, 1.0e-3)
"""From a sensor in the plug hole to one behind a long hose."""

ENGINE_RAN_RPM = 300.0
"""A lag of 0.3 ms is half a degree there. By starter and by hand its valley is one, held by its
prior."""


PLACES_DEG = (-20.0, 20.0)
"""Where a sensor's end cuts off the tops the nodes that are left hang on where TDC is thought to
be, and flanks about a wrong one fit as well: of 92 sensors of a vacuum's range (a bench, seeds
84100 to 84191) two were 17° and 24° off. Begun from so far to both sides each came right."""

PLACES_COST = 1.5
"""Residuals of other nodes are as good where they are no more times as large as the best."""


@dataclass(frozen=True, slots=True)
class OtherAnswers:
    """How far answers that fit as well reach beyond the fit's own interval.

    Attributes
    ----------
    before_deg, after_deg : float
        Beyond its low and its high end, not negative.
    sought_in : int
        How many compressions they were sought in.
    """

    before_deg: float = 0.0
    after_deg: float = 0.0
    sought_in: int = 0

    def held_by(self, fit: Fit) -> Fit:
        """Return the fit with an interval that holds them too."""
        own = fit.tdc_deg
        wide = Interval(own.value, own.low - self.before_deg, own.high + self.after_deg)
        return replace(fit, tdc_deg=wide)


NO_OTHER = OtherAnswers()


def other_answers(fit: Fit, refit: Callable[[Fit], Fit]) -> tuple[Fit, OtherAnswers]:
    """Return the best of the answers found, and how far those that fit as well reach beyond it.

    Parameters
    ----------
    refit : callable
        The final stage of the same compressions, begun from a fit's values.
    """
    answers = [fit, *(refit(start) for start in starts(fit))]
    best = min(answers, key=lambda answer: answer.size)
    noise = max(best.cost, LEAST_COST) * best.tied
    before = after = 0.0
    for other in answers:
        off_deg = nearest(other.tdc_deg.value - best.tdc_deg.value, 360.0)
        same = abs(off_deg) < SAME_SIGMAS * best.sigma_deg
        if same or other.size - best.size > RULED_OUT * noise:
            continue
        half = Z_95 * other.sigma_deg
        before = max(before, half - off_deg - Z_95 * best.sigma_deg)
        after = max(after, half + off_deg - Z_95 * best.sigma_deg)
    return best, OtherAnswers(before, after, len(best.runs.time_s))


def other_places(answers: Sequence[Fit]) -> tuple[int, OtherAnswers]:
    """Return which fit of flanks is best, of different nodes, and how far those as good reach."""
    at = min(range(len(answers)), key=lambda k: answers[k].cost)
    best = answers[at].tdc_deg
    before = after = 0.0
    for other in answers:
        if other.cost > PLACES_COST * answers[at].cost:
            continue
        off_deg = nearest(other.tdc_deg.value - best.value, 360.0)
        near = other.tdc_deg.shifted(best.value + off_deg - other.tdc_deg.value)
        before, after = max(before, best.low - near.low), max(after, near.high - best.high)
    return at, OtherAnswers(before, after, len(answers[at].runs.time_s))


def starts(fit: Fit) -> tuple[Fit, ...]:
    """Return the fit moved to both ends of the response time, to begin from again.

    TDC is left where it is: the descent takes it along within its first steps.
    """
    now = fit.values["lag_s"]
    ends = (np.full_like(now, end_s) for end_s in LAG_ENDS_S)
    return tuple(replace(fit, values={**fit.values, "lag_s": lag_s}) for lag_s in ends)
