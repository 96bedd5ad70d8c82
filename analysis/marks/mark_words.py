"""Which figures speak for a cause, and which one look more would tell two causes apart?"""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_evidence import (
    CLAMP,
    CRANK_MARK_SIGMA_DEG,
    CYLINDER,
    HALF,
    OTHER,
    POINTER,
    RIGHT,
    RING,
    STATIC,
    Clamp,
)
from strokewise.analysis.marks.marks import MarkPlace


def late_words(place: MarkPlace) -> str:
    """Return how late a mark is, with its interval; its name alone where that is unknown."""
    late = place.late
    if late is None:
        return place.mark.name
    way = "late" if late.value > 0 else "early"
    amount = f"{abs(late.value):.1f}° {way}" if round(late.value, 1) else "on its figure"
    return f"{place.mark.name} is {amount} ({late.low:+.1f} to {late.high:+.1f})"


def because(
    cause: str,
    places: Sequence[MarkPlace],
    cam_shift: Interval | None,
    clamp: Clamp = "unknown",
) -> str:
    """Return the figures that support a cause or speak against it, in a sentence."""
    figures = "; ".join(late_words(place) for place in places)
    if cam_shift is not None and (cause.startswith("cam sprocket") or not places):
        shift = (
            f"from pressure the cam is {cam_shift.value:+.1f}° late"
            f" ({cam_shift.low:+.1f} to {cam_shift.high:+.1f})"
        )
        figures = f"{figures}; {shift}" if figures else shift
    tail = _tail(cause, places, clamp)
    return f"{figures}; {tail}" if figures and tail else figures or tail


def trap_words(place: MarkPlace) -> str:
    """Return the warning of a mark that turns at half speed and lines up at overlap, else nothing.

    It is the trade's classic trap: cam sprockets line up with the pistons of cylinders 1 and its
    companion at TDC, but it is the companion that fires there.
    """
    if place.turn != "overlap":
        return ""
    companion = (
        f"cylinder {place.firing_cylinder} is at firing TDC"
        if place.firing_cylinder is not None
        else "none is at firing TDC"
    )
    return (
        f"here cylinder 1 is at overlap and {companion}: a drive gear (ignition or injection) set"
        " here for cylinder 1 would be half a turn out"
    )


def _tail(cause: str, places: Sequence[MarkPlace], clamp: Clamp) -> str:
    if cause == RIGHT:
        return f"a right mark stands within about {2 * CRANK_MARK_SIGMA_DEG:.0f}° of what it states"
    if cause == POINTER:
        return "another pointer or pulley can be off by any amount, the same every time"
    if cause == RING:
        return f"a slipped ring can be off by any amount{_moved(places)}"
    if cause == CYLINDER:
        return "the TDC of another cylinder lies there"
    if cause == STATIC:
        return "that is what a mark for the static timing, or for TDC, would show instead"
    if cause == HALF:
        return (
            "it comes on the other turn than it states; pressure can't see half a turn of the cam"
        )
    if cause == CLAMP:
        return _clamp_words(places, clamp)
    if cause == OTHER:
        return "no cause on the list fits better than chance"
    return ""


def _moved(places: Sequence[MarkPlace]) -> str:
    drifts = [place.drift for place in places if place.drift is not None]
    moving = [d for d in drifts if d.low > 0 or d.high < 0]
    if moving:
        return f", and this one moved by {moving[0].value:+.1f}° while it was watched"
    return ", and may go on moving; this one did not while it was watched" if drifts else ""


def _clamp_words(places: Sequence[MarkPlace], clamp: Clamp) -> str:
    said = {
        "steady": "TDC held still through the recording, which speaks against it",
        "unknown": "it would move all marks alike",
        "slipped": "the recording shows that it slipped",
    }[clamp]
    if len({place.mark.on for place in places}) > 1:
        lates = [place.late.value for place in places if place.late is not None]
        spread = max(lates) - min(lates)
        return f"{said}; marks on different parts differ by {spread:.1f}°"
    return f"{said}; only marks on one part were met, so the figures can't show it"


LOOKS: dict[frozenset[str], str] = {
    frozenset({POINTER, RING}): (
        "Paint a line across the pulley's hub and outer ring, crank the engine, and look whether"
        " the line has parted: a ring that slips goes on slipping, a wrong pointer stays. An older"
        " reading of the same mark would tell too."
    ),
    frozenset({POINTER, CLAMP}): (
        "Tighten the encoder's clamp, find TDC again and read the mark again: only after a slipped"
        " clamp does it come out differently."
    ),
    frozenset({RING, CLAMP}): (
        "Read a mark on the flywheel as well: a slipped clamp moves it alike, a slipped ring does"
        " not."
    ),
    frozenset({POINTER, CYLINDER}): (
        "Look for another mark on the rim that stands at TDC of cylinder 1: then this one is meant"
        " for another cylinder."
    ),
    frozenset({RING, CYLINDER}): (
        "Paint a line across the pulley's hub and outer ring and look for parted rubber; then look"
        " for another mark on the rim."
    ),
    frozenset({POINTER, STATIC}): (
        "Look for a second mark, or figures stamped beside this one, that say what it stands for."
    ),
    frozenset({RING, STATIC}): (
        "Look for a second mark, or figures stamped beside this one; then paint a line across hub"
        " and ring and crank."
    ),
}

FIXING = (
    "The offset itself is sure; look at how mark and pointer are fixed, and read a mark on another"
    " part of the engine."
)
MORE_PASSES = (
    "Meet the mark a few times more, turning the engine's own way, to narrow the interval."
)
COUNT_TEETH = "Take the cover off and count the teeth between the marks of crank and cam sprocket."
ROTOR = "Look where the rotor points, and at the cam's own mark, with cylinder 1 at its firing TDC."
ANOTHER_PART = "Read a mark on another part of the engine, the flywheel or the cam sprocket."


def next_look(causes: Sequence[str], *, narrow: bool) -> str:
    """Return the one further observation that would best tell the first two causes apart.

    ``narrow``: the marks are measured more closely than marks are made, more passes tell no more.
    """
    if len(causes) < 2:
        return ANOTHER_PART
    pair = frozenset(causes[:2])
    if pair in LOOKS:
        return LOOKS[pair]
    if HALF in pair:
        return ROTOR
    if any(cause.startswith("cam sprocket") for cause in pair):
        return COUNT_TEETH
    if RIGHT in pair:
        return FIXING if narrow else MORE_PASSES
    return ANOTHER_PART
