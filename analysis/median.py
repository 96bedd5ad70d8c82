"""What stands in the middle, or elsewhere in order? Of some values, or angles, many times a second.

The live answer asks for dozens of medians with every verdict; numpy's own looks at
masks, axes and missing values each time, which takes several times as long as the answer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def median(values: ArrayLike) -> float:
    """Return the median of all values, as :func:`numpy.median` does.

    Parameters
    ----------
    values : array_like
        At least one number; none may be missing (nan). A list is of a few plain numbers.

    Raises
    ------
    ValueError
        There are no values.
    """
    parted = sorted(values) if isinstance(values, list) else np.array(values).ravel()
    if not len(parted):
        raise ValueError("no values have no median")
    half = len(parted) // 2
    if isinstance(parted, np.ndarray):
        # Asked for one place alone, numpy may take a way of its own that is four times as slow.
        parted.partition((half - 1, half))
    if len(parted) % 2:
        return float(parted[half])
    return 0.5 * (float(parted[half - 1]) + float(parted[half]))


def median_repeated(values: ArrayLike, times: ArrayLike) -> float:
    """Return the median of values that come several times each, without repeating them.

    Parameters
    ----------
    values, times : array_like
        Each value, and how often it comes; together at least once.
    """
    values, times = np.asarray(values), np.asarray(times)
    order = values.argsort()
    until = times[order].cumsum()
    middle = (until[-1] - 1) // 2, until[-1] // 2
    low, high = values[order[until.searchsorted(middle, side="right")]]
    return 0.5 * (float(low) + float(high))


def percentile(values: ArrayLike, percent: float) -> float:
    """Return a percentile of all values, as :func:`numpy.percentile` does.

    Parameters
    ----------
    values : array_like
        At least one number; none may be missing (nan).
    percent : float
        From 0 up to, but not with, 100.
    """
    parted = np.array(values).ravel()
    place = (len(parted) - 1) * (percent / 100.0)
    below = int(place)
    above, way = min(below + 1, len(parted) - 1), place - below
    parted.partition((below, above))
    low, high = float(parted[below]), float(parted[above])
    if way < 0.5:
        return low + (high - low) * way
    return high - (high - low) * (1.0 - way)


def median_on_circle(angles_deg: ArrayLike) -> float:
    """Return the median angle, not yet wrapped: that of the differences from the last of them.

    Parameters
    ----------
    angles_deg : array_like
        At least one, all within half a turn of the last but for whole turns.
    """
    angles = np.asarray(angles_deg, np.float64)
    last = float(angles[-1])
    return last + median((angles - last + 180.0) % 360.0 - 180.0)
