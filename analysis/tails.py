"""How much lies beyond? Tails of the normal and of Student's distribution.

All of ``scipy.special`` takes a fifth of a second to load: not before it is asked for, so that the
window's first picture and a live answer's beginning need not wait for it.
"""

from __future__ import annotations

import math


def normal_below(z: float) -> float:
    """Return the share of a normal distribution that lies below z standard deviations."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def student_below(freedom: float, t: float) -> float:
    """Return the share of Student's distribution that lies below t."""
    from scipy.special import stdtr

    return float(stdtr(freedom, t))


def student_at(freedom: float, share: float) -> float:
    """Return the t below which that share of Student's distribution lies."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, share))
