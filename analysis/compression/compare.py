"""Do the cylinders' compressions agree, and if one is odd, what do the figures suggest?

Peaks are compared as they would be at one cranking speed and one atmosphere, by the model of
:mod:`strokewise.analysis.compression.cylinder_compression`. What is found suggests a fault and is
not a diagnosis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import exp
from typing import Literal

import numpy as np
from scipy.stats import norm

from strokewise.analysis.compression.cylinder_compression import (
    SPEED_SPREAD,
    STANDARD_BAR,
    Conditions,
    CylinderCompression,
    corrected_log,
    from_log,
)
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import TAILS_95, Interval
from strokewise.analysis.median import median
from strokewise.analysis.remark import Notice, notice

GOOD_SPREAD = 0.10
"""Cylinders within a tenth of the best are usually called good (common practice, no source)."""

COMPARABLE_RPM = 100.0
"""Below this peaks are not compressions to compare: cranking is 150 to 250 rev/min (common
practice, no source), and the correction for speed is only of first order."""

SLOW_PASSES = 2
"""So many passes more than the others is slow to build up (common practice, no source)."""

OIL_RAISES = 0.10
"""A rise after oiling beyond this is more than the room the oil itself takes: a spoonful, 5 ml,
takes a twelfth of a 60 ml chamber (arithmetic)."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """A cylinder's peak as it would be at the common speed and atmosphere, absolute bar.

    ``below_best`` is how far it lies under the best cylinder, as a share.
    """

    cylinder: int
    peak: Interval
    below_best: float
    loss_assumed: bool


@dataclass(frozen=True, slots=True)
class OddCylinder:
    """The cylinder that differs most from the mean of the others.

    Attributes
    ----------
    share : Interval
        Its difference over that mean; negative is low. The interval is widened for having looked
        through all cylinders for the oddest.
    stands_out : bool
        Surely different, and by more than cylinders usually do.
    """

    cylinder: int
    share: Interval
    stands_out: bool


FindingCode = Literal[
    "neighbours-low",
    "one-low",
    "one-high",
    "slow-to-build",
    "oil-raises",
    "oil-changes-little",
    "oil-unclear",
]


@dataclass(frozen=True, slots=True)
class CompressionFinding:
    """What the figures suggest. Not a diagnosis.

    Attributes
    ----------
    share : Interval or None
        By how much one differs from the mean of the others, or what oil changed.
    passes, usual_passes : float or None
        That one took to its peak, and the others; of one that is slow to build.
    neighbours_said : bool
        Somebody said which cylinders sit side by side.
    """

    code: FindingCode
    cylinders: tuple[int, ...]
    share: Interval | None = None
    passes: int | None = None
    usual_passes: float | None = None
    neighbours_said: bool = False


@dataclass(frozen=True, slots=True)
class Comparison:
    """The cylinders side by side.

    Attributes
    ----------
    spread : Interval
        (best - worst) / best of the corrected peaks.
    odd : Odd or None
        None with fewer than three cylinders: of two, neither is the odd one.
    """

    cylinders: tuple[Corrected, ...]
    speed_rpm: float
    atmosphere_bar: float
    spread: Interval
    odd: OddCylinder | None
    findings: tuple[CompressionFinding, ...]
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class WetAndDry:
    """One cylinder before and after oil: ``gain`` is the rise as a share of the dry peak."""

    cylinder: int
    gain: Interval
    finding: CompressionFinding


def compare(
    measured: Sequence[CylinderCompression],
    *,
    speed_rpm: float | None = None,
    atmosphere_bar: float = STANDARD_BAR,
    side_by_side: Sequence[tuple[int, int]] | None = None,
) -> Comparison:
    """Return the cylinders compared at one speed and atmosphere.

    Parameters
    ----------
    measured : sequence of CylinderCompression
        Two or more, each cylinder once.
    speed_rpm : float, optional
        The common speed; the median of the measured ones when left out.
    side_by_side : sequence of pairs, optional
        Cylinders that share a piece of head gasket; neighbouring numbers when left out, which holds
        in line and is asked about for other layouts.

    Raises
    ------
    InputError
        For fewer than two cylinders, or one that comes twice.
    """
    numbers = [m.cylinder for m in measured]
    if len(numbers) < 2 or len(set(numbers)) != len(numbers):
        raise InputError("compare needs two cylinders or more, each measured once")
    common_rpm = speed_rpm or median([m.speed_rpm for m in measured])
    logs = [corrected_log(m, common_rpm, atmosphere_bar) for m in measured]
    best = max(value for value, _ in logs)
    corrected = tuple(
        Corrected(m.cylinder, from_log(value, sigma), 1 - exp(value - best), m.loss_rpm is None)
        for m, (value, sigma) in zip(measured, logs, strict=True)
    )
    odd, spread = _odd_one(numbers, logs), _spread(logs)
    return Comparison(
        cylinders=corrected,
        speed_rpm=common_rpm,
        atmosphere_bar=atmosphere_bar,
        spread=spread,
        odd=odd,
        findings=_findings(measured, corrected, odd, side_by_side),
        notices=_notices(measured, corrected, common_rpm, alike=spread.value <= GOOD_SPREAD),
    )


def wet_and_dry(dry: CylinderCompression, wet: CylinderCompression) -> WetAndDry:
    """Return what a spoonful of oil in the cylinder changed, at the dry run's speed and atmosphere.

    Raises
    ------
    InputError
        For two different cylinders.
    """
    if dry.cylinder != wet.cylinder:
        raise InputError(f"wet and dry are two cylinders: {dry.cylinder} and {wet.cylinder}")
    pair = [corrected_log(m, dry.speed_rpm, dry.atmosphere.pressure_bar) for m in (dry, wet)]
    change = Interval.from_sigma(pair[1][0] - pair[0][0], float(np.hypot(pair[0][1], pair[1][1])))
    gain = Interval(exp(change.value) - 1, exp(change.low) - 1, exp(change.high) - 1)
    return WetAndDry(dry.cylinder, gain, _oil_finding(dry.cylinder, gain))


def _oil_finding(cylinder: int, gain: Interval) -> CompressionFinding:
    code: FindingCode = "oil-unclear"  # too near to what the oil's own room does
    if gain.low > OIL_RAISES:
        code = "oil-raises"
    elif gain.high < OIL_RAISES:
        code = "oil-changes-little"
    return CompressionFinding(code, (cylinder,), share=gain)


DRAWS = 4000  # enough for a 95 % interval of a spread to two digits
SEED = 1  # the same figures must give the same answer


def _spread(logs: Sequence[tuple[float, float]]) -> Interval:
    values, sigmas = np.array(logs).T
    draws = np.random.default_rng(SEED).normal(values, sigmas, (DRAWS, len(values)))
    spreads = 1 - np.exp(draws.min(axis=1) - draws.max(axis=1))
    low, high = np.quantile(spreads, TAILS_95)
    value = 1 - exp(values.min() - values.max())
    return Interval(value, min(float(low), value), max(float(high), value))


def _odd_one(numbers: Sequence[int], logs: Sequence[tuple[float, float]]) -> OddCylinder | None:
    if len(numbers) < 3:
        return None
    values, sigmas = np.array(logs).T
    count = len(values)
    others = (values.sum() - values) / (count - 1)
    others_sigma = np.sqrt(np.sum(sigmas**2) - sigmas**2) / (count - 1)
    differences, spread = values - others, np.hypot(sigmas, others_sigma)
    at = int(np.argmax(np.abs(differences)))
    half = float(norm.ppf(1 - TAILS_95[0] / count)) * float(spread[at])
    low, value, high = (exp(float(differences[at]) + h) - 1 for h in (-half, 0.0, half))
    share = Interval(value, low, high)
    sure = share.low > 0 or share.high < 0
    return OddCylinder(numbers[at], share, sure and abs(value) > GOOD_SPREAD)


def _findings(
    measured: Sequence[CylinderCompression],
    corrected: Sequence[Corrected],
    odd: OddCylinder | None,
    side_by_side: Sequence[tuple[int, int]] | None,
) -> tuple[CompressionFinding, ...]:
    found: list[CompressionFinding] = []
    low = {c.cylinder for c in corrected if _surely_low(c, corrected)}
    pairs = side_by_side or [(n, n + 1) for n in sorted(c.cylinder for c in corrected)]
    if len(low) == 2 < len(corrected) and any(set(pair) == low for pair in pairs):
        said = bool(side_by_side)
        found.append(CompressionFinding("neighbours-low", tuple(sorted(low)), neighbours_said=said))
    elif odd is not None and odd.stands_out:
        code: FindingCode = "one-low" if odd.share.value < 0 else "one-high"
        found.append(CompressionFinding(code, (odd.cylinder,), share=odd.share))
    found += _slow_findings(measured)
    return tuple(found)


def _surely_low(one: Corrected, corrected: Sequence[Corrected]) -> bool:
    best = max(corrected, key=lambda c: c.peak.value)
    return one.below_best > GOOD_SPREAD and one.peak.high < best.peak.low


def _slow_findings(measured: Sequence[CylinderCompression]) -> list[CompressionFinding]:
    needed = {m.cylinder: m.passes_to_peak for m in measured if m.passes_to_peak}
    if len(needed) < 3:
        return []
    usual = median(list(needed.values()))
    return [
        CompressionFinding("slow-to-build", (cylinder,), passes=count, usual_passes=usual)
        for cylinder, count in needed.items()
        if count >= usual + SLOW_PASSES
    ]


def _notices(
    measured: Sequence[CylinderCompression],
    corrected: Sequence[Corrected],
    common_rpm: float,
    *,
    alike: bool,
) -> tuple[Notice, ...]:
    notices = []
    for field in fields(Conditions):
        said = {getattr(m.conditions, field.name) for m in measured}
        if len(said) > 1:
            notices.append(notice("conditions-differ", condition=field.name))
        elif said == {None}:
            notices.append(notice("condition-unknown", condition=field.name))
        elif said == {False} and field.name != "warm":
            notices.append(notice("condition-poor", condition=field.name))
    speeds = [m.speed_rpm for m in measured]
    if min(speeds) < COMPARABLE_RPM:
        notices.append(notice("hand-speed", speed_rpm=min(speeds)))
    if any(c.loss_assumed for c in corrected) and max(speeds) > SPEED_SPREAD * min(speeds):
        low, high = min(speeds), max(speeds)
        notices.append(notice("speeds-differ", low_rpm=low, high_rpm=high, common_rpm=common_rpm))
    if alike:
        notices.append(notice("alike-only"))
    return tuple(notices)
