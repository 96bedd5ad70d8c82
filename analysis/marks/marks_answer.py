"""Where do the timing marks really stand, and why are they off? For what was found and said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from strokewise.analysis.errors import SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_causes import MarkCauses, weigh_causes
from strokewise.analysis.marks.mark_evidence import Clamp
from strokewise.analysis.marks.marks import MarkPlace, place_mark, shared_step_deg
from strokewise.analysis.profile import Mark, Profile
from strokewise.analysis.question import saying
from strokewise.analysis.remark import Notice, Remark
from strokewise.analysis.trace.marks_met import MarkPress
from strokewise.analysis.verdict.found import Found

STEADY_PASSES = 4
"""So many compressions with one TDC between them, and no slip seen: the clamp held."""

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
    """

    stated: tuple[tuple[str, float], ...] = saying("name and number", many=True)
    earlier: tuple[tuple[str, Interval], ...] = saying("name and interval", many=True)
    cam_shift: Interval | None = saying("interval")


@dataclass(frozen=True, slots=True)
class MarksAnswer:
    """What is said about the marks.

    Attributes
    ----------
    open : str
        What is missing; empty where every mark that was met has its place.
    why_open : Remark or None
        The verdict's reason, where TDC or its stroke is what is missing.
    clamp : {"steady", "unknown", "slipped"}
        What the recording says of the encoder's clamp.
    slipped_deg : float or None
        How far marks on different parts jumped together, which only the clamp can do.
    """

    profile: Profile
    open: Open
    why_open: Remark | None
    places: tuple[MarkPlace, ...]
    causes: MarkCauses
    cam_shift: Interval | None
    clamp: Clamp
    slipped_deg: float | None
    warnings: tuple[Notice, ...]

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
    places = places_of(found, question.stated)
    earlier = _earlier(question, places)
    slipped_deg = shared_step_deg(places)
    if slipped_deg is not None:  # a jump of all marks is not a ring that moves
        places = tuple(replace(place, drift=None) for place in places)
    clamp: Clamp = "slipped" if slipped_deg is not None else clamp_of(found)
    what_is_open = _open(found, places)
    return MarksAnswer(
        profile=found.profile,
        open=what_is_open,
        why_open=found.verdict.reason if what_is_open in ("no tdc", "turn open") else None,
        places=places,
        causes=weigh_causes(
            places,
            found.profile,
            cam_shift=question.cam_shift,
            earlier_late=earlier,
            clamp=clamp,
        ),
        cam_shift=question.cam_shift,
        clamp=clamp,
        slipped_deg=slipped_deg,
        warnings=(*found.verdict.warnings, *(n for place in places for n in place.notices)),
    )


def places_of(found: Found, stated: Sequence[tuple[str, float]] = ()) -> tuple[MarkPlace, ...]:
    """Return where every mark stands; nothing while TDC itself is not found."""
    if found.marks is None or found.tdc_1 is None:
        return ()
    marks = {mark.name: mark for mark in found.profile.marks}
    for name in (*found.pressed_names, *(name for name, _ in stated)):
        marks.setdefault(name, Mark(name))
    places = []
    for mark in marks.values():
        seen = found.seen_of(mark)
        read = tuple(MarkPress(angle_deg) for name, angle_deg in stated if name == mark.name)
        seen = replace(seen, presses=(*seen.presses, *read))
        places.append(place_mark(seen, found.profile, found.tdc_1, found.firing_1_deg))
    return tuple(places)


def clamp_of(found: Found) -> Clamp:
    """Return what the recording says of the encoder's clamp."""
    if any(notice.code == "clamp-slip" for notice in found.verdict.warnings):
        return "slipped"
    tdc = found.verdict.tdc
    return "steady" if tdc is not None and tdc.passes >= STEADY_PASSES else "unknown"


def _earlier(question: MarksQuestion, places: Sequence[MarkPlace]) -> Mapping[str, Interval]:
    names = [place.mark.name for place in places]
    for name, _ in question.earlier:
        if name not in names:
            listed = ", ".join(f'"{one}"' for one in names) or "none"
            raise SaidError(f'{{earlier}}: no mark is named "{name}"; there are {listed}')
    return dict(question.earlier)


def _open(found: Found, places: Sequence[MarkPlace]) -> Open:
    met = [place for place in places if place.after_tdc is not None]
    if found.tdc_1 is None:
        return "no tdc"
    if not places:
        return "no marks"
    if not met:
        return "not met"
    return "turn open" if any(place.turn is None for place in met) else ""
