"""How is it said why a mark is off? The figures behind each cause, and what to look at next."""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_causes import Cause
from strokewise.analysis.marks.mark_evidence import (
    CLAMP,
    CRANK_MARK_SIGMA_DEG,
    CYLINDER,
    HALF,
    MARK_RIGHT,
    OTHER,
    POINTER,
    RING,
    STATIC,
    Clamp,
)
from strokewise.analysis.marks.marks import MarkPlace
from strokewise.analysis.marks.next_look import Look
from strokewise.gui.pages.headline import is_nought, off_words, sided, sided_apart, within

TAILS: dict[str, str] = {
    MARK_RIGHT: "a right mark stands within about "
    f"{2 * CRANK_MARK_SIGMA_DEG:.0f}° of what it states",
    POINTER: "another pointer or pulley can be off by any amount, the same every time",
    CYLINDER: "the TDC of another cylinder lies there",
    STATIC: "that is what a mark for the static timing, or for TDC, would show instead",
    HALF: "it comes on the other turn than it states; pressure can't see half a turn of the cam",
    OTHER: "no cause on the list fits better than chance",
}
"""What is said of a cause beside the figures, whatever they are."""

CLAMP_WORDS: dict[Clamp, str] = {
    "steady": "TDC held still through the recording, which speaks against it",
    "unknown": "it would move all marks alike",
    "slipped": "the recording shows that it slipped",
}

LOOK_WORDS: dict[Look, str] = {
    "": "",
    "line across the pulley": (
        "Paint a line across the pulley's hub and outer ring, crank the engine, and look whether"
        " the line has parted: a ring that slips goes on slipping, a wrong pointer stays. An older"
        " reading of the same mark would tell too."
    ),
    "clamp tightened": (
        "Tighten the encoder's clamp, find TDC again and read the mark again: only after a slipped"
        " clamp does it come out differently."
    ),
    "flywheel mark": (
        "Read a mark on the flywheel as well: a slipped clamp moves it alike, a slipped ring does"
        " not."
    ),
    "another mark on the rim": (
        "Look for another mark on the rim that stands at TDC of cylinder 1: then this one is meant"
        " for another cylinder."
    ),
    "line, then another mark": (
        "Paint a line across the pulley's hub and outer ring and look for parted rubber; then look"
        " for another mark on the rim."
    ),
    "second mark": (
        "Look for a second mark, or figures stamped beside this one, that say what it stands for."
    ),
    "second mark, then line": (
        "Look for a second mark, or figures stamped beside this one; then paint a line across hub"
        " and ring and crank."
    ),
    "fixing": (
        "The offset itself is sure; look at how mark and pointer are fixed, and read a mark on"
        " another part of the engine."
    ),
    "more passes": (
        "Meet the mark a few times more, turning the engine's own way, to narrow the interval."
    ),
    "count teeth": (
        "Take the cover off and count the teeth between the marks of crank and cam sprocket."
    ),
    "rotor": (
        "Look where the rotor points, and at the cam's own mark, with cylinder 1 at its firing TDC."
    ),
    "another part": (
        "Read a mark on another part of the engine, the flywheel or the cam sprocket."
    ),
}


def because(cause: Cause, cam_shift: Interval | None, clamp: Clamp) -> str:
    """Return the figures that support a cause or speak against it, in a sentence."""
    figures = "; ".join(late_words(place) for place in cause.places)
    if cam_shift is not None and (cause.cause.startswith("cam sprocket") or not cause.places):
        shift = f"from pressure the cam is {off_words(cam_shift, most=1)}"
        figures = f"{figures}; {shift}" if figures else shift
    tail = _tail(cause, clamp)
    return f"{figures}; {tail}" if figures and tail else figures or tail


def late_words(place: MarkPlace) -> str:
    """Return how late a mark is, with its interval; its name alone where that is unknown."""
    late = place.late
    if late is None:
        return place.mark.name
    if is_nought(late, most=1):
        return f"{place.mark.name} is on its figure {within(late, most=1)}"
    return f"{place.mark.name} is {sided(late, most=1)}"


def _tail(cause: Cause, clamp: Clamp) -> str:
    if cause.cause == RING:
        return f"a slipped ring can be off by any amount{_moved(cause.places)}"
    if cause.cause == CLAMP:
        return _clamp_words(cause.places, clamp)
    return TAILS.get(cause.cause, "")


def _moved(places: Sequence[MarkPlace]) -> str:
    drifts = [place.drift for place in places if place.drift is not None]
    moving = [d for d in drifts if d.low > 0 or d.high < 0]
    if moving:
        value, _ = sided_apart(moving[0], ("later", "earlier"), most=1)
        return f", and this one moved by {value} while it was watched"
    return ", and may go on moving; this one did not while it was watched" if drifts else ""


def _clamp_words(places: Sequence[MarkPlace], clamp: Clamp) -> str:
    said = CLAMP_WORDS[clamp]
    if len({place.mark.on for place in places}) > 1:
        lates = [place.late.value for place in places if place.late is not None]
        spread = max(lates) - min(lates)
        return f"{said}; marks on different parts differ by {spread:.1f}°"
    return f"{said}; only marks on one part were met, so the figures can't show it"
