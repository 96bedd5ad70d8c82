"""Do the cylinders' compressions agree? For what was measured and said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from strokewise.analysis.compression.compare import Comparison, WetAndDry, compare, wet_and_dry
from strokewise.analysis.compression.compression_curve import CompressionCurve, curve_chosen
from strokewise.analysis.compression.cylinder_compression import Conditions, CylinderCompression
from strokewise.analysis.errors import SaidError
from strokewise.analysis.question import saying
from strokewise.analysis.remark import Notice

Open = Literal["", "few", "slow", "missing"]
"""Why the cylinders cannot be compared: too few, turned by hand, or one without compression."""


@dataclass(frozen=True, slots=True)
class CompareQuestion:
    """What a person may say of compressions to compare.

    Attributes
    ----------
    cylinders, wet_cylinders : tuple of int or None
        Which cylinder each recording is of, in their order; what each says itself when left out.
    wet : tuple of str
        Recordings of a cylinder again, oiled.
    speed_rpm : float or None
        The common speed; the median of the measured ones when left out.
    neighbours : tuple of (int, int) or None
        Cylinders that sit side by side; the next number when left out.
    lay, over : int or None
        The two cylinders whose compressions are laid over each other; the lowest and the best when
        left out.
    lay_pass, over_pass : int or None
        Which compression of each recording, from 1; one with the most usual peak when left out.
    throttle_open, plugs_out, decompressor_off, battery_good, warm : bool or None
        How it was cranked; None where nobody said.
    """

    cylinders: tuple[int, ...] | None = saying("wholes")
    wet: tuple[str, ...] = saying("file", many=True)
    wet_cylinders: tuple[int, ...] | None = saying("wholes")
    speed_rpm: float | None = saying("positive")
    neighbours: tuple[tuple[int, int], ...] | None = saying("pairs")
    lay: int | None = saying("whole")
    lay_pass: int | None = saying("whole")
    over: int | None = saying("whole")
    over_pass: int | None = saying("whole")
    throttle_open: bool | None = saying("yes or no")
    plugs_out: bool | None = saying("yes or no")
    decompressor_off: bool | None = saying("yes or no")
    battery_good: bool | None = saying("yes or no")
    warm: bool | None = saying("yes or no")

    @property
    def conditions(self) -> Conditions:
        """How it was cranked."""
        return Conditions(
            throttle_open=self.throttle_open,
            plugs_out=self.plugs_out,
            decompressor_off=self.decompressor_off,
            battery_good=self.battery_good,
            warm=self.warm,
        )


@dataclass(frozen=True, slots=True)
class Measured:
    """The compressions of several recordings.

    Attributes
    ----------
    dry, oiled : tuple of CylinderCompression
        Those that were seen.
    asked : int
        In how many recordings a dry one was looked for.
    """

    dry: tuple[CylinderCompression, ...]
    oiled: tuple[CylinderCompression, ...] = ()
    asked: int = 0
    warnings: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True)
class CompareAnswer:
    """What is said about the cylinders.

    Attributes
    ----------
    open : str
        Why they cannot be compared; empty where they can.
    comparison : Comparison or None
        None with fewer than two of them.
    laid : tuple of CompressionCurve
        The two that are laid over each other; empty where there are no curves.
    """

    open: Open
    measured: tuple[CylinderCompression, ...]
    comparison: Comparison | None
    oiled: tuple[WetAndDry, ...]
    warnings: tuple[Notice, ...]
    laid: tuple[CompressionCurve, ...] = ()

    @property
    def decided(self) -> bool:
        """Whether they can be compared."""
        return not self.open


def compare_answer(question: CompareQuestion, measured: Measured) -> CompareAnswer:
    """Return the answer for all cylinders together.

    Raises
    ------
    InputError
        A cylinder was measured twice, or oiled and not dry.
    SaidError
        A compression to be laid over another was not measured.
    """
    dry = tuple(replace(one, conditions=question.conditions) for one in measured.dry)
    oiled = tuple(replace(one, conditions=question.conditions) for one in measured.oiled)
    if len(dry) < 2:
        return CompareAnswer("few", dry, None, (), measured.warnings)
    comparison = compare(dry, speed_rpm=question.speed_rpm, side_by_side=question.neighbours)
    warnings = (*measured.warnings, *comparison.notices)
    what_is_open: Open = "missing" if len(dry) < measured.asked else ""
    if any(notice.code == "hand-speed" for notice in warnings):
        what_is_open = "slow"
    return CompareAnswer(
        open=what_is_open,
        measured=dry,
        comparison=comparison,
        oiled=_wet_pairs(dry, oiled),
        warnings=warnings,
        laid=_laid(question, dry, comparison),
    )


def _laid(
    question: CompareQuestion, dry: Sequence[CylinderCompression], comparison: Comparison
) -> tuple[CompressionCurve, ...]:
    lowest_first = sorted(comparison.cylinders, key=lambda each: each.peak.value)
    lay = lowest_first[0].cylinder if question.lay is None else question.lay
    over = question.over
    if over is None:  # the best, or the next one where that is the other already
        over = next(c.cylinder for c in reversed(lowest_first) if c.cylinder != lay)
    measured = {one.cylinder: one for one in dry}
    for field, number in (("lay", lay), ("over", over)):
        if number not in measured:
            raise SaidError(f"{{{field}}}: cylinder {number} was not measured")
    one, other = measured[lay], measured[over]
    if not one.curves or not other.curves:
        return ()
    return (
        curve_chosen(one.curves, one.peak, question.lay_pass, "lay_pass"),
        curve_chosen(other.curves, other.peak, question.over_pass, "over_pass"),
    )


def _wet_pairs(
    dry: Sequence[CylinderCompression], oiled: Sequence[CylinderCompression]
) -> tuple[WetAndDry, ...]:
    before = {one.cylinder: one for one in dry}
    for one in oiled:
        if one.cylinder not in before:
            raise SaidError(f"{{wet}}: cylinder {one.cylinder} was not measured dry")
    return tuple(wet_and_dry(before[one.cylinder], one) for one in oiled)
