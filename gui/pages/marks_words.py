"""How are timing marks said, to a person and to a program?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_causes import Cause
from strokewise.analysis.marks.mark_words import trap_words
from strokewise.analysis.marks.marks import MarkPlace
from strokewise.gui.pages.answers import Answer, base_answer, interval_answer
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    VALVE_CONTACT,
    turning_back,
)
from strokewise.gui.pages.words import (
    caution_words,
    fact,
    paragraph,
    percent,
    sentence,
    warning_words,
)

if TYPE_CHECKING:
    from strokewise.gui.commands.marks import MarksAnswer

TURN_WORDS = {
    "both": "on both turns",
    "firing": "on the firing turn of cylinder 1",
    "overlap": "on the overlap turn of cylinder 1",
    None: "on a turn that is open",
}
CAUSES_SHOWN = 5


def marks_words(answer: MarksAnswer) -> str:
    """Return the whole answer for a person."""
    facts: list[str] = []
    for place in answer.places:
        facts += _place(place)
    causes: list[str] = []
    for finding in answer.causes.findings[:CAUSES_SHOWN]:
        about = f" ({', '.join(finding.marks)})" if finding.marks else ""
        text = f"{finding.cause}{about}: {finding.because}"
        causes += fact(percent(finding.probability), text)
    look = answer.causes.next_look
    cautions = (
        TURNING_BY_HAND,
        VALVE_CONTACT,
        turning_back(answer.found.profile),
        MANUAL_FIRST,
    )
    parts = [
        paragraph(headline(answer)),
        "\n".join(facts),
        "\n".join(["Causes, the most probable first", *causes]) if causes else "",
        paragraph(f"What would tell: {look}") if look else "",
        warning_words(answer.warnings),
        caution_words(cautions),
    ]
    return "\n\n".join(part for part in parts if part)


def headline(answer: MarksAnswer) -> str:
    """Return the one sentence that a person came for."""
    if not answer.decided:
        return f"NOT SURE. {sentence(answer.reason)}"
    late = [place for place in answer.places if place.late is not None]
    said = ", ".join(
        f"{place.mark.name} {offset_words(place.late)}" for place in late if place.late is not None
    )
    return (
        f"{said[:1].upper()}{said[1:]}. {sentence(answer.reason)}"
        if said
        else sentence(answer.reason)
    )


def offset_words(late: Interval) -> str:
    """Return ``"7.4° late (7.2 to 7.6)"``; early ones with the sign turned."""
    if round(late.value, 1) == 0:
        return f"right to a tenth of a degree ({late.low:+.1f} to {late.high:+.1f})"
    side, turned = ("late", late) if late.value > 0 else ("early", late.scaled(-1))
    return f"{turned.value:.1f}° {side} ({turned.low:.1f} to {turned.high:.1f})"


def _place(place: MarkPlace) -> list[str]:
    if place.after_tdc is None:
        return fact(place.mark.name, "not measured")
    after = place.after_tdc
    side = "after" if after.value >= 0 else "before"
    turned = after if after.value >= 0 else after.scaled(-1)
    parts = [
        f"meets its pointer {turned.value:.2f}° {side} TDC of cylinder 1"
        f" ({turned.low:.2f} to {turned.high:.2f}), {TURN_WORDS[place.turn]}"
    ]
    if place.turn == "overlap":
        parts.append(trap_words(place))
    elif place.firing_cylinder is not None:
        parts.append(f"cylinder {place.firing_cylinder} fires there")
    if place.late is not None:
        parts.append(f"{offset_words(place.late)} against what it states")
    parts += _measured(place)
    if place.backward is not None:
        parts.append(f"turning back, the other side of its tooth at {place.backward.value:+.2f}°")
    return fact(place.mark.name, "; ".join(parts))


def _measured(place: MarkPlace) -> list[str]:
    offset = place.offset
    parts = []
    if offset.rim_mm is not None and place.mark.on == "pulley":
        parts.append(f"{_signed(offset.rim_mm, 1, 'mm')} on the rim")
    if offset.flywheel_teeth is not None and place.mark.on in ("pulley", "flywheel"):
        parts.append(_signed(offset.flywheel_teeth, 1, "flywheel teeth"))
    if offset.cam_teeth is not None and place.mark.on == "cam sprocket":
        parts.append(_signed(offset.cam_teeth, 2, "sprocket teeth"))
    return parts


def _signed(span: Interval, decimals: int, unit: str) -> str:
    """Return an offset with its interval, later is +; nought without a sign."""
    value, low, high = (
        f"{round(each, decimals) + 0.0:+.{decimals}f}" for each in (span.value, span.low, span.high)
    )
    return f"{value} {unit} ({low} to {high})"


def marks_answer(answer: MarksAnswer) -> Answer:
    """Return the whole answer for a program."""
    said = base_answer(answer.decided, answer.reason, answer.warnings)
    said["marks"] = [_mark(place) for place in answer.places]
    said["findings"] = [_finding(finding) for finding in answer.causes.findings]
    said["cause_decided"] = answer.causes.decided
    said["next_look"] = answer.causes.next_look or None
    return said


def _mark(place: MarkPlace) -> Answer:
    return {
        "name": place.mark.name,
        "input": place.mark.input,
        "seen": place.seen,
        "after_tdc": interval_answer(place.after_tdc),
        "late": interval_answer(place.late),
        "turn": place.turn,
        "firing_cylinder": place.firing_cylinder,
        "on": place.mark.on,
        "late_rim_mm": interval_answer(place.offset.rim_mm),
        "late_flywheel_teeth": interval_answer(place.offset.flywheel_teeth),
        "late_cam_teeth": interval_answer(place.offset.cam_teeth),
        "after_tdc_turning_back": interval_answer(place.backward),
        "drift": interval_answer(place.drift),
    }


def _finding(finding: Cause) -> Answer:
    return {
        "cause": finding.cause,
        "marks": list(finding.marks),
        "probability": round(finding.probability, 6),
        "because": finding.because,
    }
