"""How sure is a share that was counted? Clopper and Pearson's interval, at 95 %."""

from __future__ import annotations

from scipy.stats import binomtest


def ends(hits: int, of: int) -> tuple[float, float]:
    """Return the ends of the 95 % interval of a share (Clopper & Pearson, Biometrika 26, 1934)."""
    if of == 0:
        return 0.0, 1.0
    found = binomtest(hits, of).proportion_ci(0.95, "exact")
    return float(found.low), float(found.high)


def told(hits: int, of: int) -> str:
    """Return a share with its counts and its interval, for a table."""
    if of == 0:
        return "- of 0"
    low, high = ends(hits, of)
    return f"{hits / of:.1%} ({low:.1%} to {high:.1%}; {hits} of {of})"
