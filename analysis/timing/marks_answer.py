"""Where do the timing marks really stand, and why are they off? For what was found and said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.errors import SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_causes import MarkCauses
from strokewise.analysis.marks.marks import MarkPlace
from strokewise.analysis.profile import Profile
from strokewise.analysis.question import saying
from strokewise.analysis.remark import Notice, Remark
from strokewise.analysis.timing.timing import Timing, timing_of
from strokewise.analysis.verdict.found import Found

Open = Literal["", "no tdc", "no marks", "not met", "turn open"]
"""Why not every mark that was met has its place, its turn included."""


@dataclass(frozen=True, slots=True)
class MarksQuestion:
    """What a person may say of the timing marks.

    Attributes
    ----------
    stated : tuple of (str, float)
        Crank angle in the encoder frame at which a mark met its pointer, as read off.
    earlier : tuple of (str, Interval)
        How late a mark was at an earlier time, with the same parts.
    cam_shift : Interval or None
        How late the cam is, from pressure, crank degrees.
    separate_cams : bool
        Inlet and exhaust have a cam each: their shifts say nothing of each other.
    clearances_set : bool
        The clearances have just been set to the profile's figures.
    """

    stated: tuple[tuple[str, float], ...] = saying("name and number", many=True)
    earlier: tuple[tuple[str, Interval], ...] = saying("name and interval", many=True)
    cam_shift: Interval | None = saying("interval")
    separate_cams: bool = saying("tick", False)
    clearances_set: bool = saying("tick", False)


@dataclass(frozen=True, slots=True)
class MarksAnswer:
    """What is said about the marks.

    Attributes
    ----------
    open : str
        What is missing; empty where every mark that was met has its place.
    why_open : Remark or None
        The verdict's reason, where TDC or its stroke is what is missing.
    timing : Timing
        What marks and cam are both said from.
    """

    profile: Profile
    open: Open
    why_open: Remark | None
    timing: Timing
    warnings: tuple[Notice, ...]

    @property
    def places(self) -> tuple[MarkPlace, ...]:
        """Where every mark stands."""
        return self.timing.places

    @property
    def causes(self) -> MarkCauses:
        """Why marks and cam stand where they stand."""
        return self.timing.causes

    @property
    def decided(self) -> bool:
        """Whether every mark that was met has its place, whatever the cause."""
        return not self.open


def marks_answer(question: MarksQuestion, found: Found) -> MarksAnswer:
    """Return the answer for every mark of the profile, and every name pressed or read off.

    Raises
    ------
    SaidError
        An earlier reading is of a mark that there is not.
    """
    _check_earlier(question, found)
    timing = timing_of(
        found,
        stated=question.stated,
        earlier=dict(question.earlier),
        cam_shift=question.cam_shift,
        separate_cams=question.separate_cams,
        clearances_set=question.clearances_set,
    )
    places = timing.places
    what_is_open = _open(found, places)
    return MarksAnswer(
        profile=found.profile,
        open=what_is_open,
        why_open=found.verdict.reason if what_is_open in ("no tdc", "turn open") else None,
        timing=timing,
        warnings=(*found.verdict.warnings, *(n for place in places for n in place.notices)),
    )


def _check_earlier(question: MarksQuestion, found: Found) -> None:
    marks = (mark.name for mark in found.profile.marks)
    names = tuple(dict.fromkeys((*marks, *found.pressed_names, *(n for n, _ in question.stated))))
    for name, _ in question.earlier:
        if name not in names:
            listed = ", ".join(f'"{one}"' for one in names) or "none"
            raise SaidError(f'{{earlier}}: no mark is named "{name}"; there are {listed}')


def _open(found: Found, places: Sequence[MarkPlace]) -> Open:
    met = [place for place in places if place.after_tdc is not None]
    if found.tdc_1 is None:
        return "no tdc"
    if not places:
        return "no marks"
    if not met:
        return "not met"
    return "turn open" if any(place.turn is None for place in met) else ""
