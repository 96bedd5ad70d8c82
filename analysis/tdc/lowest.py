"""Where between two places is a cost lowest?

R. P. Brent, "Algorithms for Minimization without Derivatives" (1973), chapter 5: parabolas through
the three lowest places, and golden sections where those lead astray. As ``scipy.optimize``'s
``minimize_scalar`` has it with bounds, and held against it in the tests: all of ``scipy.optimize``
takes as long to load as a short recording to answer.
"""

from __future__ import annotations

import math
from collections.abc import Callable

GOLDEN = 0.5 * (3.0 - math.sqrt(5.0))
"""Share of a stretch at which a golden section cuts it."""

SAME_SHARE = math.sqrt(2.2e-16)
"""A cost near its lowest tells no places apart that are closer, as a share of the place."""

MOST_LOOKS = 500


def lowest_between(
    cost: Callable[[float], float], low: float, high: float, *, within: float
) -> float:
    """Return the place of the lowest cost, not at either end.

    Parameters
    ----------
    cost : callable
        Finite between ``low`` and ``high``, and best with one lowest place there.
    within : float
        How closely the place is wanted, in its unit.
    """
    best = second = third = low + GOLDEN * (high - low)
    least = least_second = least_third = cost(best)
    step = step_before = 0.0
    for _ in range(MOST_LOOKS - 1):
        middle = 0.5 * (low + high)
        near = SAME_SHARE * abs(best) + within / 3.0
        if abs(best - middle) <= 2.0 * near - 0.5 * (high - low):
            break
        parabola = False
        if abs(step_before) > near:
            r = (best - second) * (least - least_third)
            q = (best - third) * (least - least_second)
            p = (best - third) * q - (best - second) * r
            q = 2.0 * (q - r)
            p, q = -p if q > 0.0 else p, abs(q)
            r, step_before = step_before, step
            parabola = abs(p) < abs(0.5 * q * r) and q * (low - best) < p < q * (high - best)
            if parabola:
                step = p / q
                if best + step - low < 2.0 * near or high - best - step < 2.0 * near:
                    step = math.copysign(near, middle - best)
        if not parabola:
            step_before = low - best if best >= middle else high - best
            step = GOLDEN * step_before
        at = best + math.copysign(max(abs(step), near), step)
        found = cost(at)
        if found <= least:
            low, high = (best, high) if at >= best else (low, best)
            third, least_third = second, least_second
            second, least_second = best, least
            best, least = at, found
            continue
        low, high = (at, high) if at < best else (low, at)
        if found <= least_second or second == best:
            third, least_third = second, least_second
            second, least_second = at, found
        elif found <= least_third or third in (best, second):
            third, least_third = at, found
    return best
