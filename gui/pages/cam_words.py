"""How is the cam's timing said, to a person and to a program?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.cam.cam import Teeth, manual_figure
from strokewise.analysis.cam.cam_correction import CamChoice
from strokewise.analysis.cam.valve_events import ValveEvent, throttled
from strokewise.analysis.estimate import Interval
from strokewise.gui.pages.answers import (
    ANGLE_DECIMALS,
    Answer,
    base_answer,
    interval_answer,
    probability_answer,
)
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    WRONG_TOOTH,
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
    from strokewise.gui.commands.cam import CamAnswer

EVENT_KEYS = {"intake closes": "intake_closes_abdc", "exhaust opens": "exhaust_opens_bbdc"}
OVERLAP_KEYS = ("exhaust_closes_atdc", "intake_opens_btdc")
MBAR_PER_BAR = 1000.0
EVENT_LABELS = {"intake closes": "Inlet closes", "exhaust opens": "Exhaust opens"}
BDC_WORDS = {"intake closes": "after BDC", "exhaust opens": "before BDC"}


def cam_words(answer: CamAnswer) -> str:
    """Return the whole answer for a person."""
    facts: list[str] = []
    shift, profile = answer.shift, answer.found.profile
    if shift.shift is not None:
        facts += fact("Cam", _shift_words(shift.shift, shift.teeth))
    if shift.intake is not None:
        facts += fact("by the inlet", _shift_words(shift.intake, shift.teeth_intake))
    if shift.exhaust is not None:
        facts += fact("by the exhaust", _shift_words(shift.exhaust, shift.teeth_exhaust))
    for event in answer.events:
        facts += fact(EVENT_LABELS[event.name], _event_words(event, answer))
    if answer.events:
        facts += fact("Exhaust closes", overlap_words(answer.overlap_fall_bar))
        facts += fact("Inlet opens", "not shown, for the same reason")
    facts += fact("Half a turn", _half_turn_words(answer))
    choices: list[str] = []
    for part, ways in answer.corrections.items():
        for number, way in enumerate(ways):
            label = "else" if number else ("Cam" if part == "cam" else f"{part.capitalize()} cam")
            choices += fact(label, _choice_words(way, answer.keyway))
    cautions = (WRONG_TOOTH, TURNING_BY_HAND, turning_back(profile), MANUAL_FIRST)
    parts = [
        paragraph(headline(answer)),
        "\n".join(facts),
        "\n".join(["To put it right, the nearest first", *choices]) if choices else "",
        paragraph(EFFECTIVE_WORDS) if answer.events else "",
        warning_words(answer.warnings),
        caution_words(cautions, "Before anything is moved"),
    ]
    return "\n\n".join(part for part in parts if part)


EFFECTIVE_WORDS = (
    "Crank degrees, later is +. The gas feels a valve some degrees from its seat, the more the "
    "faster the engine turns; the figures are worked back to the lift that the profile's timing "
    "belongs to, with a model of orifice and last lift, and say by how much that is uncertain."
)


def headline(answer: CamAnswer) -> str:
    """Return the one sentence that a person came for."""
    return f"{'DECIDED' if answer.decided else 'NOT SURE'}: {sentence(answer.reason)}"


TELLS_NOTHING_DEG = 45.0
"""A half width that leaves every tooth open: the event may well have been another."""
TELLS_NOTHING = "tells nothing alone: turned so slowly, the event may be another"


def tells_nothing(shift: Interval) -> bool:
    """Return whether a shift is so uncertain that figures would only mislead."""
    return shift.half_width > TELLS_NOTHING_DEG


def _shift_words(shift: Interval, teeth: Teeth | None) -> str:
    if tells_nothing(shift):
        return TELLS_NOTHING
    text = f"{_late(shift.value)}, 95 % sure to lie from {shift.low:+.1f}° to {shift.high:+.1f}°"
    if teeth is None:
        return text
    count = abs(teeth.value)
    which = "on its tooth" if count == 0 else f"{count} {'tooth' if count == 1 else 'teeth'} out"
    return f"{text}; {which} ({percent(teeth.probability)})"


def _late(value_deg: float) -> str:
    return f"{abs(value_deg):.1f}° {'late' if value_deg >= 0 else 'early'}"


def _event_words(event: ValveEvent, answer: CamAnswer) -> str:
    figure = manual_figure(event, answer.found.profile)
    where = BDC_WORDS[event.name]
    text = f"{figure.value:.1f}° {where} ({figure.low:.1f}° to {figure.high:.1f}°)"
    timing = answer.found.profile.valve_timing
    if timing is not None:
        stated = (
            timing.intake_closes_abdc_deg
            if event.name == "intake closes"
            else timing.exhaust_opens_bbdc_deg
        )
        text += f", stated {stated:g}° at {timing.at_lift_mm:g} mm lift"
    if event.felt_deg is not None:
        text += f"; the gas feels it at {180.0 - abs(event.felt_deg):.1f}°"
    return text


def overlap_words(fall_bar: float | None) -> str:
    """Say why exhaust closing and inlet opening are not given, as this recording has it."""
    if fall_bar is None:
        return "not shown: no overlap was turned through whole, the engine's own way"
    if throttled(fall_bar):
        return (
            "not shown: with the throttle shut both valves move the pressure together, and what"
            " the manifold does meanwhile is not known"
        )
    return (
        f"not shown: the pressure moves by {abs(fall_bar) * MBAR_PER_BAR:.0f} mbar across the"
        " overlap, and a degree of either valve moves it by less than a sensor for compressions"
        " resolves"
    )


def _half_turn_words(answer: CamAnswer) -> str:
    said = {None: "unknown", True: "YES", False: "no"}[answer.half_turn.out]
    return f"{said}: {answer.half_turn.because}"


def _choice_words(choice: CamChoice, keyway: int) -> str:
    return f"{choice.words(keyway_now=keyway)}; the nearest with {percent(choice.probability)}"


def cam_answer(answer: CamAnswer) -> Answer:
    """Return the answer of ``strokewise cam``.

    ``events`` are comparable with the profile's timing; ``effective_events`` say where the gas
    feels the valve. ``half_turn.out`` is null where nothing recorded tells.
    """
    shift = answer.shift
    said = base_answer(answer.decided, answer.reason, answer.warnings)
    said["shift"] = interval_answer(shift.shift)
    said["shift_intake"] = interval_answer(shift.intake)
    said["shift_exhaust"] = interval_answer(shift.exhaust)
    said["teeth"] = _teeth(shift.teeth)
    said["teeth_intake"] = _teeth(shift.teeth_intake)
    said["teeth_exhaust"] = _teeth(shift.teeth_exhaust)
    said["events"] = {
        EVENT_KEYS[event.name]: interval_answer(manual_figure(event, answer.found.profile))
        for event in answer.events
    }
    said["effective_events"] = {
        EVENT_KEYS[event.name]: round(180.0 - abs(event.felt_deg), ANGLE_DECIMALS)
        for event in answer.events
        if event.felt_deg is not None
    }
    why = overlap_words(answer.overlap_fall_bar)
    said["not_shown"] = dict.fromkeys(OVERLAP_KEYS, why) if answer.events else {}
    said["half_turn"] = {"out": answer.half_turn.out, "because": answer.half_turn.because}
    said["corrections"] = [
        {
            "of": part,
            "teeth_earlier": choice.teeth_earlier,
            "keyway": choice.keyway,
            "left": interval_answer(choice.residual),
            "probability": probability_answer(choice.probability),
            "words": choice.words(keyway_now=answer.keyway),
        }
        for part, choices in answer.corrections.items()
        for choice in choices
    ]
    return said


def _teeth(teeth: Teeth | None) -> Answer | None:
    if teeth is None:
        return None
    return {"value": teeth.value, "probability": probability_answer(teeth.probability)}
