"""How much lies beyond? Tails of the normal and of Student's distribution.

They are scipy's, loaded when first asked for: that takes a fifth of a second, longer than all else
in the analysis together, and the window's first picture needs none of them.
"""

from __future__ import annotations


def normal_below(z: float) -> float:
    """Return the share of a normal distribution that lies below z standard deviations."""
    from scipy.special import ndtr

    return float(ndtr(z))


def student_below(freedom: float, t: float) -> float:
    """Return the share of Student's distribution that lies below t."""
    from scipy.special import stdtr

    return float(stdtr(freedom, t))


def student_at(freedom: float, share: float) -> float:
    """Return the t below which that share of Student's distribution lies."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, share))
