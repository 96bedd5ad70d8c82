"""What stands in the middle? The median of a few values, or angles, many times a second.

The live answer asks for dozens of medians of a few values with every verdict; numpy's own looks at
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
        At least one number; none may be missing (nan).

    Raises
    ------
    ValueError
        There are no values.
    """
    parted = np.array(values).ravel()
    if not len(parted):
        raise ValueError("no values have no median")
    half = len(parted) // 2
    if len(parted) % 2:
        parted.partition(half)
        return float(parted[half])
    parted.partition((half - 1, half))
    return 0.5 * (float(parted[half - 1]) + float(parted[half]))


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
