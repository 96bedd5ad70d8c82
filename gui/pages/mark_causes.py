"""How is it said why a mark is off? The figures behind each cause, and what to look at next."""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.analysis.marks.mark_causes import Cause
from strokewise.analysis.marks.mark_evidence import (
    AS_STATED,
    CLAMP,
    CLAMP_HELD,
    CRANK_MARK_SIGMA_DEG,
    CYLINDER,
    FOREIGN,
    HALF,
    HELD_SINCE,
    MARK_RIGHT,
    OTHER,
    POINTER,
    REORDERED,
    RING,
    ROTOR,
    STATIC,
    WHEEL,
    Part,
)
from strokewise.analysis.marks.marks import MarkPlace
from strokewise.analysis.marks.next_look import Look
from strokewise.analysis.marks.rig_states import Clamp
from strokewise.analysis.timing.timing import Timing
from strokewise.gui.pages.headline import (
    Claim,
    Rank,
    is_nought,
    off_words,
    sided,
    sided_apart,
    within,
)
from strokewise.gui.pages.words import percent, sentence

SPOKEN_OF_FROM = 0.5
"""From here a headline may speak of a cause, with its probability."""

TAILS: dict[str, str] = {
    MARK_RIGHT: "a right mark stands within about "
    f"{2 * CRANK_MARK_SIGMA_DEG:.0f}° of what it states",
    POINTER: "another pointer or pulley can be off by any amount, the same every time",
    WHEEL: "another pointer or flywheel can be off by any amount, the same every time",
    ROTOR: "another rotor or pointer can be off by any amount, the same every time",
    CYLINDER: "the TDC of another cylinder lies there",
    STATIC: "that is what a mark for the static timing, or for TDC, would show instead",
    HALF: "it comes on the other turn than it states; pressure can't see half a turn of the cam",
    OTHER: "no cause on the list fits better than chance",
    REORDERED: "then the cylinder sensed lies elsewhere in the cycle than was taken",
    HELD_SINCE: "the recording shows the slip; only marks met after it count",
}
"""What is said of a cause beside the figures, whatever they are."""

ELSEWHERE_TAIL = (
    "the marks are off together, by what lies between the two cylinders' TDCs, in the firing order"
    " stated"
)

CLAMP_WORDS: dict[Clamp, str] = {
    "steady": "TDC held still through the recording, which speaks against it",
    "unknown": "it would move all marks alike",
    "slipped": "the recording shows that it slipped",
    "held since": "it slipped before, and only marks met since count",
}

HELD_WORDS: dict[Clamp, str] = {"steady": "TDC held still through the recording"}

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
    "sensed cylinder": (
        "Look which cylinder the sensor sits in, counted from the end that the engine maker counts"
        " from, and at the firing order; then say so in the profile."
    ),
    "own way": (
        "Turn the engine's own way past the marks: met turning back, the other side of a tooth is"
        " read, and nobody knows how wide it is."
    ),
    "another part": (
        "Read a mark on another part of the engine, the flywheel or the cam sprocket."
    ),
}


def timing_claims(timing: Timing, besides: Part | None = None) -> tuple[Claim, ...]:
    """Return of the first cause of every part what a person has to read before anything else.

    ``besides`` is the part that the page speaks of anyhow.
    """
    claims = []
    for cause in timing.causes.leading:
        if cause.probability < SPOKEN_OF_FROM or cause.part == besides:
            continue
        text = sentence(fault_words(cause))
        if cause.harms:
            claims.append(Claim(text, Rank.HARM, half_turn=cause.cause == HALF))
        elif cause.cause == FOREIGN and timing.cam_shift is not None:
            claims.append(Claim(text, Rank.WRONG))
    half = timing.half_turn
    if half.out is True and not any(claim.half_turn for claim in claims):
        text = f"{_half_turn_words(half.told_by, half.probability)}."
        claims.append(Claim(text, Rank.HARM, half_turn=True))
    return tuple(sorted(claims, key=lambda claim: not claim.half_turn))


def _half_turn_words(names: Sequence[str], probability: float) -> str:
    comes = "comes" if len(names) == 1 else "come"
    return (
        f"HALF A TURN OF THE CAM: {' and '.join(names)} {comes} a whole turn of the crank from"
        f" where it should ({percent(probability)})"
    )


def fault_words(cause: Cause) -> str:
    """Return a cause in a few words, with its probability."""
    names = " and ".join(cause.marks)
    chance = percent(cause.probability)
    if cause.cause == HALF:
        return _half_turn_words(cause.marks, cause.probability)
    if cause.cause == FOREIGN:
        goes = "does" if len(cause.marks) == 1 else "do"
        return (
            f"{names} {goes} not go with the cam that pressure shows, and no cam is to be moved"
            f" for it: {cause.cause} ({chance})"
        )
    if cause.part == "sensor":
        return f"{cause.cause} ({chance}): all marks are measured from the wrong cylinder's TDC"
    return f"{cause.cause} ({chance})"


def because(cause: Cause, timing: Timing) -> str:
    """Return the figures that support a cause or speak against it, in a sentence."""
    figures = "; ".join(late_words(place) for place in cause.places)
    shift = timing.cam_shift
    if shift is not None and cause.part in ("cam", "cam sprocket"):
        words = f"from pressure the cam is {off_words(shift, most=1)}"
        figures = f"{figures}; {words}" if figures else words
    tail = _tail(cause, timing)
    return f"{figures}; {tail}" if figures and tail else figures or tail


def late_words(place: MarkPlace) -> str:
    """Return how late a mark is, with its interval; its name alone where that is unknown."""
    late = place.late
    if late is None:
        return place.mark.name
    if is_nought(late, most=1):
        return f"{place.mark.name} is on its figure {within(late, most=1)}"
    return f"{place.mark.name} is {sided(late, most=1)}"


def _tail(cause: Cause, timing: Timing) -> str:
    if cause.cause == RING:
        return f"a slipped ring can be off by any amount{_moved(cause.places)}"
    if cause.cause == CLAMP_HELD:
        return HELD_WORDS.get(timing.clamp, "")
    if cause.cause == CLAMP:
        return _clamp_words(cause.places, timing.clamp)
    if cause.cause == FOREIGN:
        return _foreign_words(timing)
    if cause.cause == MARK_RIGHT and (elsewhere := _elsewhere(timing)):
        return f"right as seen from cylinder 1's TDC with the {elsewhere}"
    if cause.part == "sensor" and cause.cause not in (AS_STATED, REORDERED):
        return ELSEWHERE_TAIL
    return "" if cause.part == "cam" and cause.cause != OTHER else TAILS.get(cause.cause, "")


def _elsewhere(timing: Timing) -> str:
    """Return where the sensor probably sits instead; empty where it is where it was stated."""
    first = timing.causes.of("sensor")[:1]
    return first[0].cause if first and first[0].cause != AS_STATED else ""


def _foreign_words(timing: Timing) -> str:
    if timing.cam_shift is None:
        return "nothing but this mark tells where the cam stands, so it may be another engine's"
    return "it does not go with the cam that pressure shows, and tells nothing of it"


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
