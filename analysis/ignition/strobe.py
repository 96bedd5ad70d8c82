"""Is the mark wrong, or the advance? Strobe readings against the static figure and the curve.

A reading is what the mark shows under the lamp at a speed, degrees before TDC by the mark. It
should be the static figure plus what the advance curve adds at that speed. Readings that are all
off by the same amount point to the mark or to the static setting; readings that go wrong with the
speed point to the advance. Which of the first two it is, only the true place of the mark can say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Z_95, Interval

Culprit = Literal[
    "nothing", "mark", "static setting", "mark or static setting", "advance", "unknown"
]

READING_SIGMA_DEG = 1.0
"""A mark read by eye under a strobe wanders by about this (common practice, no source)."""

MATTERS_DEG = 2.0
"""A difference smaller than this is within what ignition is commonly set to (no source)."""

SHARE_MATTERS = 0.2
"""An advance off by more than a fifth of its curve is wrong, not worn (no source)."""

CURVE_MOVES_DEG = 4.0
"""Readings tell mark from advance when the curve moves at least this much between them: four times
what one reading wanders."""

MISFIT_CHANCE = 0.01  # readings stranger than one in a hundred do not fit the curve's shape


@dataclass(frozen=True, slots=True)
class StrobeReading:
    """One reading: engine speed, and degrees before TDC as the mark shows them."""

    speed_rpm: float
    btdc_deg: float
    sigma_deg: float = READING_SIGMA_DEG


@dataclass(frozen=True, slots=True)
class StrobeCheck:
    """What the readings say.

    Attributes
    ----------
    excess_deg : tuple of float
        Each reading less what it should be; positive shows more advance than it should.
    offset : Interval
        The part that all readings share, degrees.
    advance_share : Interval or None
        How much of the curve's advance is there: 1 is right, 0 is stuck. None where the curve does
        not move between the readings.
    static_offset : Interval or None
        The shared part less what the mark itself is late: error of the static setting. None where
        the true place of the mark is unknown.
    culprits : tuple of str
        What is wrong, or ``("nothing",)``, or ``("unknown",)``.
    idle : bool
        A curve was given, and at every reading it adds nothing.
    curve_known : bool
        A curve was given.
    """

    excess_deg: tuple[float, ...]
    offset: Interval
    advance_share: Interval | None
    static_offset: Interval | None
    culprits: tuple[Culprit, ...]
    idle: bool
    curve_known: bool


def curve_at(points: Sequence[tuple[float, float]], speed_rpm: float) -> float:
    """Return the advance that a curve adds at a speed: straight between points, flat outside.

    Parameters
    ----------
    points : sequence of (speed_rpm, advance_deg)
        In crank degrees and crank speed, the speeds rising. No points: nothing is added.

    Raises
    ------
    InputError
        When the speeds do not rise.
    """
    if not points:
        return 0.0
    speeds, advances = np.array(points, np.float64).T
    if np.any(np.diff(speeds) <= 0):
        raise InputError("advance curve: speeds must rise from point to point")
    return float(np.interp(speed_rpm, speeds, advances))


def check_strobe(
    readings: Sequence[StrobeReading],
    static_btdc_deg: float,
    curve: Sequence[tuple[float, float]],
    *,
    mark_late: Interval | None = None,
) -> StrobeCheck:
    """Return whether mark or advance is wrong, or that these readings can't tell.

    Each excess is fitted as offset + (share - 1) · curve, by weighted least squares.

    Parameters
    ----------
    mark_late : Interval, optional
        How late the mark itself is, as found against true TDC: a late mark shows that much more
        advance than there is.

    Raises
    ------
    InputError
        When there is no reading, or a sigma is not above 0.
    """
    if not readings or any(not r.sigma_deg > 0 for r in readings):
        raise InputError("strobe: at least one reading is needed, each with a scatter above 0 deg")
    added = np.array([curve_at(curve, r.speed_rpm) for r in readings])
    sigma = np.array([r.sigma_deg for r in readings])
    excess = np.array([r.btdc_deg for r in readings]) - static_btdc_deg - added
    moves = float(np.ptp(added)) >= CURVE_MOVES_DEG
    if moves:
        offset, lack, misfit = _fit(excess, sigma, np.stack([np.ones_like(added), added], axis=1))
        share = Interval(1 + lack.value, 1 + lack.low, 1 + lack.high)
    else:
        offset, _, misfit = _fit(excess, sigma, np.ones((len(added), 1)))
        share = None
    static = None if mark_late is None else _difference(offset, mark_late)
    idle = bool(curve) and bool(np.all(added == 0))
    culprits = _culprits(offset, share, static, mark_late, misfit, idle=idle)
    return StrobeCheck(
        tuple(excess.tolist()), offset, share, static, culprits, idle, curve_known=bool(curve)
    )


def _fit(
    excess: NDArray[np.float64], sigma: NDArray[np.float64], columns: NDArray[np.float64]
) -> tuple[Interval, Interval, bool]:
    """Offset, slope (0 ± 0 without one) and whether the readings do not fit at all."""
    weighted = columns / sigma[:, None]
    covariance = np.linalg.inv(weighted.T @ weighted)
    found = covariance @ weighted.T @ (excess / sigma)
    sigmas = np.sqrt(np.diag(covariance))
    freedom = len(excess) - columns.shape[1]
    squares = float(np.sum(((excess - columns @ found) / sigma) ** 2))
    misfit = freedom > 0 and float(chi2.sf(squares, freedom)) < MISFIT_CHANCE
    parts = [Interval.from_sigma(float(v), float(s)) for v, s in zip(found, sigmas, strict=True)]
    return parts[0], parts[1] if len(parts) > 1 else Interval(0.0, 0.0, 0.0), misfit


def _difference(one: Interval, other: Interval) -> Interval:
    sigma = sqrt((one.half_width / Z_95) ** 2 + (other.half_width / Z_95) ** 2)
    return Interval.from_sigma(one.value - other.value, sigma)


def _off(interval: Interval, least: float) -> bool:
    """Surely not zero, and by enough to matter."""
    return (interval.low > 0 or interval.high < 0) and abs(interval.value) > least


def _culprits(
    offset: Interval,
    share: Interval | None,
    static: Interval | None,
    mark_late: Interval | None,
    misfit: bool,
    *,
    idle: bool,
) -> tuple[Culprit, ...]:
    found: list[Culprit] = []
    shared_off = _off(offset, MATTERS_DEG)
    if share is None and not idle and (shared_off or misfit):
        return ("unknown",)  # all readings on one piece of the curve: offset and advance look alike
    if mark_late is not None and _off(mark_late, MATTERS_DEG):
        found.append("mark")
    if static is not None and _off(static, MATTERS_DEG):
        found.append("static setting")
    if static is None and shared_off:
        found.append("mark or static setting")
    if misfit or (share is not None and _off(share.shifted(-1.0), SHARE_MATTERS)):
        found.append("advance")
    return tuple(found) or ("nothing",)
