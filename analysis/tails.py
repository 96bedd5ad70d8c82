"""How much lies beyond? Tails of the normal and of Student's distribution.

All of ``scipy.special`` takes a fifth of a second to load, a fourth of a short recording's answer:
it is only where the far tails of Student's distribution are asked for.
"""

from __future__ import annotations

import math

NEWTON_MOST = 60
"""Of Newton's method; some ten are enough."""


def normal_below(z: float) -> float:
    """Return the share of a normal distribution that lies below z standard deviations."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def student_below(freedom: float, t: float) -> float:
    """Return the share of Student's distribution that lies below t."""
    from scipy.special import stdtr

    return float(stdtr(freedom, t))


def student_at(freedom: int, share: float) -> float:
    """Return the t below which that share of Student's distribution lies, to 1 part in 10⁹.

    For shares that are not far out in the tails: between 0.001 and 0.999.
    """
    if share < 0.5:
        return -student_at(freedom, 1.0 - share)
    scale = math.exp(math.lgamma(0.5 * (freedom + 1)) - math.lgamma(0.5 * freedom))
    scale /= math.sqrt(math.pi * freedom)
    t = 0.0
    for _ in range(NEWTON_MOST):  # ever from below, for the share rises ever more slowly
        density = scale * (1.0 + t * t / freedom) ** (-0.5 * (freedom + 1))
        step = (share - 0.5 - 0.5 * _within(freedom, t)) / density
        t += step
        if abs(step) <= 1e-12 * t:
            break
    return t


def _within(freedom: int, t: float) -> float:
    """Return the share of Student's distribution between -t and t.

    M. Abramowitz and I. Stegun, "Handbook of Mathematical Functions" (1964), 26.7.3 and 26.7.4.
    """
    angle = math.atan(t / math.sqrt(freedom))
    odd, square = freedom % 2, math.cos(angle) ** 2
    term = total = math.cos(angle) if odd else 1.0
    for k in range(2 + odd, freedom - 1, 2):
        term *= square * (k - 1) / k
        total += term
    if freedom == 1:
        return 2.0 * angle / math.pi
    share = math.sin(angle) * total
    return 2.0 * (angle + share) / math.pi if odd else share
