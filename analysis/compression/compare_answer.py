"""Do the cylinders' compressions agree? For what was measured and said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from strokewise.analysis.compression.compare import Comparison, WetAndDry, compare, wet_and_dry
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
    throttle_open, plugs_out, decompressor_off, battery_good, warm : bool or None
        How it was cranked; None where nobody said.
    """

    cylinders: tuple[int, ...] | None = saying("wholes")
    wet: tuple[str, ...] = saying("file", many=True)
    wet_cylinders: tuple[int, ...] | None = saying("wholes")
    speed_rpm: float | None = saying("positive")
    neighbours: tuple[tuple[int, int], ...] | None = saying("pairs")
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
    """

    open: Open
    measured: tuple[CylinderCompression, ...]
    comparison: Comparison | None
    oiled: tuple[WetAndDry, ...]
    warnings: tuple[Notice, ...]

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
    )


def _wet_pairs(
    dry: Sequence[CylinderCompression], oiled: Sequence[CylinderCompression]
) -> tuple[WetAndDry, ...]:
    before = {one.cylinder: one for one in dry}
    for one in oiled:
        if one.cylinder not in before:
            raise SaidError(f"{{wet}}: cylinder {one.cylinder} was not measured dry")
    return tuple(wet_and_dry(before[one.cylinder], one) for one in oiled)
