"""How is the cam's timing said? Its page, and how its question is asked."""

from __future__ import annotations

from strokewise.analysis.cam.cam import Teeth, manual_figure
from strokewise.analysis.cam.cam_correction import CamChoice
from strokewise.analysis.cam.cam_seen import COARSE_BAR
from strokewise.analysis.cam.valve_events import ValveEvent
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_evidence import HALF, Part
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.timing.cam_answer import Cam, CamAnswer, CamQuestion, cam_answer
from strokewise.gui.pages.answers import (
    ANGLE_DECIMALS,
    Answer,
    interval_answer,
    probability_answer,
)
from strokewise.gui.pages.cam_said import CLEARANCES_SET, SEPARATE_CAMS
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    WRONG_TOOTH,
    Caution,
    turning_back,
)
from strokewise.gui.pages.half_turn import half_turn_figures, half_turn_row, half_turn_words
from strokewise.gui.pages.headline import (
    Claim,
    Ground,
    Rank,
    is_nought,
    off_words,
    sided,
    sided_apart,
    spread,
    within,
)
from strokewise.gui.pages.mark_causes import fault_words, timing_claims
from strokewise.gui.pages.page import Facts, Page, Row, Table, Text, page_of
from strokewise.gui.pages.step import Figures, Label, Step
from strokewise.gui.pages.words import percent, sentence
from strokewise.gui.sayings import say_any

EVENT_KEYS = {"intake closes": "intake_closes_abdc", "exhaust opens": "exhaust_opens_bbdc"}
OVERLAP_KEYS = ("exhaust_closes_atdc", "intake_opens_btdc")
MBAR_PER_BAR = 1000.0
EVENT_LABELS = {"intake closes": "Inlet closes", "exhaust opens": "Exhaust opens"}
BDC_WORDS = {"intake closes": "after BDC", "exhaust opens": "before BDC"}
CAM_WORDS: dict[Cam, str] = {"cam": "cam", "intake": "intake cam", "exhaust": "exhaust cam"}

BEFORE_MOVING = "Before anything is moved"
PUT_RIGHT = "To put it right, the nearest first"
CHOICE_HEADS = ("Cam", PUT_RIGHT, "Nearest of all")

PART_LABELS: dict[Part, str] = {
    "cam sprocket": "Cam's own mark",
    "distributor": "Distributor's mark",
    "sensor": "Sensor",
    "encoder": "Encoder",
}

EFFECTIVE_WORDS = (
    "Crank degrees. The gas feels a valve some degrees from its seat, the more the "
    "faster the engine turns; the figures are worked back to the lift that the profile's timing "
    "belongs to, with a model of orifice and last lift, and say by how much that is uncertain."
)

CAM_DECIMALS = 1
"""No cam drive holds a hundredth of a degree."""

TELLS_NOTHING_DEG = 45.0
"""A half width that leaves every tooth open: the event may well have been another."""
TELLS_NOTHING = "tells nothing alone: turned so slowly, the event may be another"

LABELS = {
    "separate_cams": SEPARATE_CAMS,
    "clearances_set": CLEARANCES_SET,
    "keyway": Label(
        "Keyway it sits on now",
        "keyway that the cam sprocket sits on now; 1 is the marked one (default)",
        "N",
        "1",
    ),
}


def cam_cautions(profile: Profile) -> tuple[Caution, ...]:
    """Return what can hurt where a cam drive is moved."""
    return (WRONG_TOOTH, TURNING_BY_HAND, turning_back(profile), MANUAL_FIRST)


def cam_page(answer: CamAnswer) -> Page:
    """Return the page of an answer."""
    reason = _reason(answer)
    faults = timing_claims(answer.timing, besides="cam")
    harms = [claim.text for claim in faults if claim.rank is Rank.HARM]
    word = "DECIDED" if answer.decided else "NOT SURE"
    return page_of(
        "cam",
        (
            *faults,
            Claim(f"{word}: {sentence(reason)}", _rank(answer), tuple(answer.shifts.values())),
        ),
        decided=answer.decided,
        reason=" ".join((*harms, sentence(reason))) if harms else reason,
        ground=Ground(half_turn=answer.half_turn.out is True),
        parts=(
            Facts(
                (
                    *_shifts(answer),
                    *_events(answer),
                    half_turn_row(answer.half_turn),
                    *_beside(answer),
                )
            ),
            _choices(answer),
            Text(EFFECTIVE_WORDS if answer.events else ""),
        ),
        warnings=(*answer.warnings, *_throttle(answer), *answer.shift.notices),
        cautions=cam_cautions(answer.profile),
        cautions_heading=BEFORE_MOVING,
    )


def _beside(answer: CamAnswer) -> list[Row]:
    """Return of the cam's own marks, and of the rig, what is off with them."""
    return [
        Row(PART_LABELS[cause.part], sentence(fault_words(cause)))
        for cause in answer.timing.causes.leading
        if cause.part in PART_LABELS and not cause.sound and cause.cause != HALF
    ]


def _rank(answer: CamAnswer) -> Rank:
    if not answer.decided:
        return Rank.UNKNOWN
    shift = answer.shift
    counted = (shift.teeth, shift.teeth_intake, shift.teeth_exhaust)
    out = any(teeth is not None and teeth.value for teeth in counted)
    return Rank.HARM if out else Rank.RIGHT


def _reason(answer: CamAnswer) -> str:
    if answer.decided:
        return "; ".join(f"{CAM_WORDS[name]} {_late(by)}" for name, by in answer.shifts.items())
    match answer.open:
        case "no tdc":
            return f"TDC is not found: {say_any(answer.why_no_tdc)}"
        case "coarse":
            return (
                f"the sensor resolves {answer.step_bar or 0.0:.2f} bar, too coarse for valve"
                f" events: use one that resolves {COARSE_BAR:g} bar, best 0.02 bar"
            )
        case "wide":
            name, part = next(iter(answer.wide.items()))
            wanted = answer.wanted_half_width_deg
            return (
                f"{CAM_WORDS[name]} is {sided(part, most=1)}, known no better than"
                f" ± {part.half_width:.1f}° where ± {wanted:.1f}° is wanted: set the clearances and"
                " say --clearances-set, crank longer"
            )
    return WHY_CAM_OPEN[answer.open]


WHY_CAM_OPEN: dict[str, str] = {
    "two-stroke": "a two-stroke has ports that the piston times; there is no cam to measure",
    "no sensor": "no sensor in a plug hole: valve events show in a cylinder's own pressure only",
    "no points": (
        "the sensor has no known points, so its bar are only proportional; give two or more"
        " (reading, pressure) pairs as sensor.points in the profile"
    ),
    "earlier start": (
        "the compressions that TDC rests on are not those of the last start; record again"
    ),
    "no events": (
        "no valve event seen: turn the engine its own way through several whole cycles, best with"
        " the starter"
    ),
    "no timing": (
        "the profile states no valve timing to hold the events against; enter valve_timing from"
        " the engine maker's manual"
    ),
    "between teeth": "the shift lies between two teeth: set the clearances, crank longer",
}
"""Why there is no answer, where it takes no figures to say so."""


def _throttle(answer: CamAnswer) -> tuple[Notice, ...]:
    if not answer.is_throttled:
        return ()
    return (notice("inlet-not-read", fall_bar=answer.overlap_fall_bar or 0.0),)


def _shifts(answer: CamAnswer) -> list[Row]:
    shift = answer.shift
    told = (
        ("Cam", shift.shift, shift.teeth),
        ("by the inlet", shift.intake, shift.teeth_intake),
        ("by the exhaust", shift.exhaust, shift.teeth_exhaust),
    )
    return [
        Row(label, _shift_words(by, teeth), known=not tells_nothing(by))
        for label, by, teeth in told
        if by is not None
    ]


def tells_nothing(shift: Interval) -> bool:
    """Return whether a shift is so uncertain that figures would only mislead."""
    return shift.half_width > TELLS_NOTHING_DEG


def _shift_words(shift: Interval, teeth: Teeth | None) -> str:
    if tells_nothing(shift):
        return TELLS_NOTHING
    value, ends = sided_apart(shift, most=CAM_DECIMALS)
    text = f"{value}, 95 % sure to lie from {ends}"
    if teeth is None:
        return text
    count = abs(teeth.value)
    which = "on its tooth" if count == 0 else f"{count} {'tooth' if count == 1 else 'teeth'} out"
    return f"{text}; {which} ({percent(teeth.probability)})"


def _late(shift: Interval) -> str:
    return off_words(shift, most=CAM_DECIMALS)


def _events(answer: CamAnswer) -> list[Row]:
    if not answer.events:
        return []
    rows = [
        Row(EVENT_LABELS[event.name], _event_words(event, answer.profile))
        for event in answer.events
    ]
    why = overlap_words(answer)
    return [
        *rows,
        Row("Exhaust closes", why, known=False),
        Row("Inlet opens", "not shown, for the same reason", known=False),
    ]


def _event_words(event: ValveEvent, profile: Profile) -> str:
    figure = manual_figure(event, profile)
    where = BDC_WORDS[event.name]
    text = f"{spread(figure, '°', CAM_DECIMALS)} {where}"
    timing = profile.valve_timing
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


def overlap_words(answer: CamAnswer) -> str:
    """Say why exhaust closing and inlet opening are not given, as this recording has it."""
    fall_bar = answer.overlap_fall_bar
    if fall_bar is None:
        return "not shown: no overlap was turned through whole, the engine's own way"
    if answer.is_throttled:
        return (
            "not shown: with the throttle shut both valves move the pressure together, and what"
            " the manifold does meanwhile is not known"
        )
    return (
        f"not shown: the pressure moves by {abs(fall_bar) * MBAR_PER_BAR:.0f} mbar across the"
        " overlap, and a degree of either valve moves it by less than a sensor for compressions"
        " resolves"
    )


def _choices(answer: CamAnswer) -> Table:
    rows: list[tuple[str, ...]] = []
    narrow: list[Row] = []
    for cam, ways in answer.corrections.items():
        first = "Cam" if cam == "cam" else f"{cam.capitalize()} cam"
        for number, way in enumerate(ways):
            words, chance = choice_words(way, answer.keyway), percent(way.probability)
            rows.append((cam, words, chance))
            text = f"{words}; the nearest with {chance}"
            narrow.append(Row("else" if number else first, text))
    return Table("", CHOICE_HEADS, tuple(rows), narrow=Facts(tuple(narrow), PUT_RIGHT))


def choice_words(choice: CamChoice, keyway_now: int = 1) -> str:
    """Return how to refit the sprocket, and what shift is left then."""
    parts = []
    if choice.teeth_earlier:
        count = abs(choice.teeth_earlier)
        way = "earlier" if choice.teeth_earlier > 0 else "later"
        parts.append(f"move the sprocket {count} {'tooth' if count == 1 else 'teeth'} {way}")
    if choice.keyway != keyway_now:
        parts.append(f"use keyway {choice.keyway}")
    left = choice.residual
    rest = f"then right {within(left, most=CAM_DECIMALS)}"
    if not is_nought(left, CAM_DECIMALS):
        rest = f"then {sided(left, most=CAM_DECIMALS)}"
    return f"{' and '.join(parts) or 'leave it as it is'}: {rest}"


def cam_figures(answer: CamAnswer) -> Figures:
    """Return the keys of ``strokewise cam --json`` beside those of every answer.

    ``events`` are comparable with the profile's timing; ``effective_events`` say where the gas
    feels the valve. ``half_turn.value`` is null where nothing recorded tells.
    """
    shift, half_turn = answer.shift, answer.half_turn
    return {
        "shift": interval_answer(shift.shift),
        "shift_intake": interval_answer(shift.intake),
        "shift_exhaust": interval_answer(shift.exhaust),
        "teeth": _teeth(shift.teeth),
        "teeth_intake": _teeth(shift.teeth_intake),
        "teeth_exhaust": _teeth(shift.teeth_exhaust),
        "events": {
            EVENT_KEYS[event.name]: interval_answer(manual_figure(event, answer.profile))
            for event in answer.events
        },
        "effective_events": {
            EVENT_KEYS[event.name]: round(180.0 - abs(event.felt_deg), ANGLE_DECIMALS)
            for event in answer.events
            if event.felt_deg is not None
        },
        "not_shown": dict.fromkeys(OVERLAP_KEYS, overlap_words(answer)) if answer.events else {},
        "half_turn": half_turn_figures(half_turn),
        "half_turn_because": half_turn_words(half_turn),
        "corrections": [
            _choice_figures(cam, choice, answer.keyway)
            for cam, choices in answer.corrections.items()
            for choice in choices
        ],
    }


def _choice_figures(cam: Cam, choice: CamChoice, keyway_now: int) -> Figures:
    return {
        "of": cam,
        "teeth_earlier": choice.teeth_earlier,
        "keyway": choice.keyway,
        "left": interval_answer(choice.residual),
        "probability": probability_answer(choice.probability),
        "words": choice_words(choice, keyway_now),
    }


def _teeth(teeth: Teeth | None) -> Answer | None:
    if teeth is None:
        return None
    return {"value": teeth.value, "probability": probability_answer(teeth.probability)}


STEP = Step(
    "cam",
    CamQuestion,
    cam_answer,
    cam_page,
    cam_figures,
    LABELS,
    cautions=cam_cautions,
    cautions_heading=BEFORE_MOVING,
)
