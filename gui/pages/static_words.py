"""How is the static timing said, to a person and to a program?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.crank.strokes import within
from strokewise.analysis.ignition.static_timing import TimingPoint
from strokewise.analysis.ignition.strobe import StrobeCheck
from strokewise.gui.pages.answers import Answer, base_answer, interval_answer
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    VALVE_CONTACT,
    Caution,
    turning_back,
)
from strokewise.gui.pages.words import caution_words, fact, paragraph, sentence, warning_words

if TYPE_CHECKING:
    from strokewise.gui.commands.static import StaticAnswer

DECIMALS = 3

RUNNING_ENGINE = Caution(
    "running-engine",
    "Engine running under a strobe",
    "Moving parts look still under the lamp. Out of gear, chocked, exhaust led outside. Keep "
    "hands, hair, leads and clothing clear of fan, belts and pulleys, and off the ignition leads.",
)


def static_words(answer: StaticAnswer) -> str:
    """Return the whole answer for a person."""
    facts = _point(answer)
    if answer.after_firing_1_deg is not None:
        after = within(answer.after_firing_1_deg, answer.profile.cycle_deg)
        facts += fact("Crank", f"{after:.1f}° after firing TDC of cylinder 1")
    for number, move in enumerate(answer.moves or (), start=1):
        facts += fact(f"Move {number}", move.words)
    if answer.moves == ():
        facts += fact("Move", "none: it stands there")
    if answer.strobe is not None:
        facts += _strobe(answer.strobe, answer)
    running = (RUNNING_ENGINE,) if answer.strobe is not None else ()
    cautions = (
        *running,
        TURNING_BY_HAND,
        VALVE_CONTACT,
        turning_back(answer.profile),
        MANUAL_FIRST,
    )
    parts = [
        paragraph(headline(answer)),
        "\n".join(facts),
        warning_words(answer.warnings),
        caution_words(cautions),
    ]
    return "\n\n".join(part for part in parts if part)


def headline(answer: StaticAnswer) -> str:
    """Return the one sentence that a person came for."""
    if answer.strobe is not None:
        return sentence(answer.strobe.words)
    if answer.why_not:
        return f"NOT SURE WHERE THE CRANK STANDS. {sentence(answer.why_not)}"
    where = f"cylinder {answer.cylinder} at {side_words(answer.point.btdc_deg)} firing TDC"
    if answer.moves:
        return f"{answer.moves[0].words.upper()}: {where}."
    if answer.moves == ():
        return f"STOP: YOU ARE THERE: {where}."
    return f"TURN TO {where}, coming up in the engine's own direction."


def side_words(btdc_deg: float) -> str:
    """Return ``"6.00° before"`` or ``"4.00° after"``."""
    return f"{abs(btdc_deg):.2f}° {'before' if btdc_deg >= 0 else 'after'}"


def _point(answer: StaticAnswer) -> list[str]:
    point = answer.point
    lines = fact("Static timing", f"{side_words(point.btdc_deg)} TDC of cylinder {answer.cylinder}")
    if point.rim_arc_mm is not None and point.rim_chord_mm is not None:
        text = f"{abs(point.rim_arc_mm):.2f} mm along it, {abs(point.rim_chord_mm):.2f} mm across"
        lines += fact("On the rim", text)
    if point.flywheel_teeth is not None:
        lines += fact("On the flywheel", f"{abs(point.flywheel_teeth):.2f} teeth")
    if point.piston_travel_mm is not None:
        lines += fact("Piston", f"{point.piston_travel_mm:.3f} mm below its top")
    lines += fact("Turn guide", f"{answer.target_deg:.2f}° after firing TDC of cylinder 1")
    return lines


def _strobe(check: StrobeCheck, answer: StaticAnswer) -> list[str]:
    lines = []
    for reading, excess in zip(answer.readings, check.excess_deg, strict=True):
        text = f"{side_words(reading.btdc_deg)} TDC, {excess:+.1f}° from what it should be"
        lines += fact(f"At {reading.speed_rpm:.0f} rev/min", text)
    offset = check.offset
    text = f"{offset.value:+.1f}° ({offset.low:+.1f} to {offset.high:+.1f})"
    lines += fact("Shared by all", text)
    if check.advance_share is not None:
        share = check.advance_share
        value, low, high = (f"{100 * s:.0f} %" for s in (share.value, share.low, share.high))
        text = f"{value} of its curve ({low} to {high})"
        lines += fact("Advance", text)
    return lines


def static_answer(answer: StaticAnswer) -> Answer:
    """Return the whole answer for a program."""
    said = base_answer(not answer.why_not, answer.why_not or headline(answer), answer.warnings)
    said["cylinder"] = answer.cylinder
    said["advance"] = _point_answer(answer.point)
    after = answer.after_firing_1_deg
    said["crank"] = (
        None
        if after is None
        else {"after_firing_1": round(within(after, answer.profile.cycle_deg), DECIMALS)}
    )
    said["target"] = {"after_firing_1": round(answer.target_deg, DECIMALS)}
    said["moves"] = (
        None
        if answer.moves is None
        else [
            {"turn": round(move.way * move.degrees, DECIMALS), "text": move.words}
            for move in answer.moves
        ]
    )
    said["strobe"] = None if answer.strobe is None else _strobe_answer(answer.strobe, answer)
    return said


def _point_answer(point: TimingPoint) -> Answer:
    def mm(value: float | None) -> str | None:
        return None if value is None else f"{round(value, DECIMALS):g} mm"

    teeth = point.flywheel_teeth
    return {
        "before_tdc": round(point.btdc_deg, DECIMALS),
        "rim_along": mm(point.rim_arc_mm),
        "rim_across": mm(point.rim_chord_mm),
        "flywheel_teeth": None if teeth is None else round(teeth, DECIMALS),
        "piston_travel": mm(point.piston_travel_mm),
    }


def _strobe_answer(check: StrobeCheck, answer: StaticAnswer) -> Answer:
    return {
        "culprits": list(check.culprits),
        "readings": [
            {"speed_rpm": r.speed_rpm, "before_tdc": r.btdc_deg, "excess": round(e, DECIMALS)}
            for r, e in zip(answer.readings, check.excess_deg, strict=True)
        ],
        "offset": interval_answer(check.offset),
        "advance_share": interval_answer(check.advance_share),
        "static_offset": interval_answer(check.static_offset),
        "text": check.words,
    }
