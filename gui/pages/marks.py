"""How are timing marks said? Their page, and how their question is asked."""

from __future__ import annotations

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_causes import CAUSE_DECIDED_AT, Cause
from strokewise.analysis.marks.mark_evidence import HELD_SINCE, MARK_RIGHT, SOUND
from strokewise.analysis.marks.marks import MarkPlace
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, remark
from strokewise.analysis.timing.marks_answer import MarksAnswer, MarksQuestion, marks_answer
from strokewise.analysis.verdict.found import CLAMP_SLIP
from strokewise.gui.drawings.mark_svg import MarkOnRim, mark_svg
from strokewise.gui.pages.answers import interval_answer
from strokewise.gui.pages.cam_said import CLEARANCES_SET, SEPARATE_CAMS
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    VALVE_CONTACT,
    Caution,
    turning_back,
)
from strokewise.gui.pages.headline import (
    AFTER,
    LATE,
    Claim,
    Ground,
    Rank,
    Sides,
    off_words,
    sided,
    sided_apart,
)
from strokewise.gui.pages.mark_causes import LOOK_WORDS, because, timing_claims
from strokewise.gui.pages.page import Facts, Page, Row, Table, Text, page_of
from strokewise.gui.pages.sign import CAUSE_OPEN, SURE, Sign, most_probable
from strokewise.gui.pages.step import Figures, Label, Step
from strokewise.gui.pages.words import percent, sentence
from strokewise.gui.sayings import say_any

TURN_WORDS = {
    "both": "on both turns",
    "firing": "on the firing turn of cylinder 1",
    "overlap": "on the overlap turn of cylinder 1",
    None: "on a turn that is open",
}
CAUSES_HEADING = "Causes, part by part, the most probable first"
SHOWN_FROM = 0.005  # less probable causes are in the answer to a program alone
CAUSE_DECIMALS = 6
RIM_OF_MARK = "mark on the rim"

MARK_DECIMALS = 1
"""Half a tenth of a degree is less than the width of any painted line."""

MARK_HEADS = ("Mark", "Seen", "From TDC of cyl 1", "Against its figure", "Rim, mm", "Turn", "Fires")
CAUSE_HEADS = ("Part", "Cause", "Probability", "Because")
NOT_KNOWN = "not known"

LABELS = {
    "stated": Label(
        "Mark read off, encoder degrees",
        "crank angle (encoder frame) at which a mark met its pointer, as read off",
        "NAME=DEG",
        "pulley notch=123.4",
    ),
    "earlier": Label(
        "How late it was before",
        "how late a mark was in an earlier recording",
        "NAME=DEG[,LOW,HIGH]",
        "pulley notch=7.4,7,8",
    ),
    "cam_shift": Label(
        "Cam is late by, degrees",
        "how late the cam is, from pressure",
        "DEG[,LOW,HIGH]",
        "17.1,15.2,19.0",
    ),
    "separate_cams": SEPARATE_CAMS,
    "clearances_set": CLEARANCES_SET,
}


def marks_cautions(profile: Profile) -> tuple[Caution, ...]:
    """Return what can hurt while marks are brought to their pointers."""
    return (TURNING_BY_HAND, VALVE_CONTACT, turning_back(profile), MANUAL_FIRST)


def marks_page(answer: MarksAnswer) -> Page:
    """Return the page of an answer."""
    look = LOOK_WORDS[answer.causes.next_look]
    return page_of(
        "marks",
        _claims(answer),
        decided=answer.decided,
        reason=_reason(answer),
        sign=_sign(answer),
        ground=Ground(half_turn=answer.decided and answer.timing.half_turn.out is True),
        parts=(_places_table(answer), _causes_table(answer), Text(look, "What would tell")),
        warnings=_warnings(answer),
        cautions=marks_cautions(answer.profile),
        pictures=(RIM_OF_MARK,) if _on_rim(answer) else (),
        next_look=look,
    )


def _claims(answer: MarksAnswer) -> tuple[Claim, ...]:
    """Return what is wrong, where the marks stand, and why; what may do harm goes first."""
    if not answer.decided:
        return (Claim(f"NOT SURE. {sentence(_reason(answer))}", Rank.UNKNOWN),)
    rank = _rank(answer)
    said = ", ".join(
        f"{place.mark.name} {offset_words(place.late)}"
        for place in answer.places
        if place.late is not None
    )
    about = tuple(place.late for place in answer.places if place.late is not None)
    rest = _why(answer, [cause for cause in _faults(answer) if not cause.harms])
    where = Claim(sentence(said) if said else "", rank, about)
    return (*timing_claims(answer.timing), where, Claim(sentence(rest) if rest else "", rank))


def _faults(answer: MarksAnswer) -> list[Cause]:
    return [cause for cause in answer.causes.leading if not cause.sound]


def _rank(answer: MarksAnswer) -> Rank:
    causes = answer.causes
    if not causes.findings:
        return Rank.RIGHT
    if not causes.decided:
        return Rank.UNKNOWN
    return Rank.WRONG if _faults(answer) else Rank.RIGHT


def _reason(answer: MarksAnswer) -> str:
    match answer.open:
        case "no tdc":
            return f"TDC is not found: {say_any(answer.why_open)}"
        case "no marks":
            return "no marks: name them under [[marks]] in the profile, or press their keys"
        case "not met":
            return "no mark was met: turn the crank right past its pointer, or press its key"
        case "turn open":
            return f"a half-speed mark's turn is open: {say_any(answer.why_open)}"
    return _why(answer, _faults(answer))


def _why(answer: MarksAnswer, faults: list[Cause]) -> str:
    causes = answer.causes
    if not causes.findings:
        return "marks measured; none states what it should show, so no cause is weighed"
    if not causes.decided:
        return f"marks measured; the cause is open. {LOOK_WORDS[causes.next_look]}"
    said = [cause.cause for cause in faults] if _faults(answer) else [MARK_RIGHT]
    if any(cause.cause == HELD_SINCE for cause in causes.leading):
        said.append(HELD_SINCE)  # no fault of a mark, but they count from there only
    return f"most probable: {'; '.join(said)}" if said else ""


def _sign(answer: MarksAnswer) -> Sign:
    causes = answer.causes
    if not causes.findings:
        return SURE
    if not causes.decided:
        return CAUSE_OPEN
    return most_probable(min(cause.probability for cause in causes.leading))


def _warnings(answer: MarksAnswer) -> tuple[Notice, ...]:
    warned = any(each.code == CLAMP_SLIP for each in answer.warnings)
    slipped_deg = answer.timing.slipped_deg
    if slipped_deg is None or warned:
        return answer.warnings
    jumped = remark("marks-jumped-together", by_deg=slipped_deg)
    return (*answer.warnings, Notice(CLAMP_SLIP, jumped))


def _places_table(answer: MarksAnswer) -> Table:
    return Table(
        "",
        MARK_HEADS,
        tuple(_place_cells(place) for place in answer.places),
        narrow=Facts(tuple(_place(place) for place in answer.places)),
    )


def _place_cells(place: MarkPlace) -> tuple[str, ...]:
    rim = place.offset.rim_mm
    turn = place.turn or ("open" if place.after_tdc is not None else "")
    return (
        place.mark.name,
        str(place.seen),
        _angle(place.after_tdc, AFTER),
        _angle(place.late, LATE),
        "" if rim is None else sided_apart(rim, unit="", most=MARK_DECIMALS)[0],
        turn,
        "" if place.firing_cylinder is None else str(place.firing_cylinder),
    )


def _angle(interval: Interval | None, sides: Sides) -> str:
    return NOT_KNOWN if interval is None else sided(interval, sides, most=MARK_DECIMALS)


def _place(place: MarkPlace) -> Row:
    if place.after_tdc is None:
        return Row(place.mark.name, "not measured", known=False)
    value, ends = sided_apart(place.after_tdc, AFTER, most=MARK_DECIMALS)
    where = f"{value} TDC" if value.endswith(AFTER) else "at TDC"
    parts = [f"meets its pointer {where} of cylinder 1 ({ends}), {TURN_WORDS[place.turn]}"]
    if place.turn == "overlap":
        parts.append(trap_words(place))
    elif place.firing_cylinder is not None:
        parts.append(f"cylinder {place.firing_cylinder} fires there")
    if place.late is not None:
        parts.append(f"{offset_words(place.late)} against what it states")
    parts += _measured(place)
    if place.backward_only:
        parts.append(
            "met turning back only, so the other side of its tooth was read, and the interval is"
            " as wide as teeth are"
        )
    elif place.backward is not None:
        back, _ = sided_apart(place.backward, AFTER, most=MARK_DECIMALS)
        parts.append(f"turning back, the other side of its tooth {back} TDC")
    return Row(place.mark.name, "; ".join(parts))


def trap_words(place: MarkPlace) -> str:
    """Return the warning of a mark that turns at half speed and lines up at overlap.

    It is the trade's classic trap: cam sprockets line up with the pistons of cylinders 1 and its
    companion at TDC, but it is the companion that fires there.
    """
    companion = (
        f"cylinder {place.firing_cylinder} is at firing TDC"
        if place.firing_cylinder is not None
        else "none is at firing TDC"
    )
    return (
        f"here cylinder 1 is at overlap and {companion}: a drive gear (ignition or injection) set"
        " here for cylinder 1 would be half a turn out"
    )


def offset_words(late: Interval) -> str:
    """Return ``"7.4° late (7.2 to 7.6)"``, or within what a mark is right."""
    return off_words(late, most=MARK_DECIMALS)


def _measured(place: MarkPlace) -> list[str]:
    offset = place.offset
    parts = []
    if offset.rim_mm is not None and place.mark.on == "pulley":
        parts.append(f"on the rim {off_words(offset.rim_mm, unit=' mm', most=1)}")
    if offset.flywheel_teeth is not None and place.mark.on in ("pulley", "flywheel"):
        parts.append(off_words(offset.flywheel_teeth, unit=" flywheel teeth"))
    if offset.cam_teeth is not None and place.mark.on == "cam sprocket":
        parts.append(off_words(offset.cam_teeth, unit=" sprocket teeth"))
    return parts


def _causes_table(answer: MarksAnswer) -> Table:
    leading = {cause.part: cause for cause in answer.causes.leading}
    sound = {part for part, cause in leading.items() if cause.sound and _stands_out(cause)}
    shown = [
        cause
        for cause in answer.causes.findings
        if _is_shown(cause) and (cause.part not in sound or cause is leading[cause.part])
    ]
    told = [because(cause, answer.timing) for cause in shown]
    narrow = [
        Row(percent(cause.probability), f"{_about(cause)}: {why}" if why else _about(cause))
        for cause, why in zip(shown, told, strict=True)
    ]
    return Table(
        "What explains it",
        CAUSE_HEADS,
        tuple(
            (cause.part, cause.cause, percent(cause.probability), sentence(why) if why else "")
            for cause, why in zip(shown, told, strict=True)
        ),
        narrow=Facts(tuple(narrow), CAUSES_HEADING),
    )


def _stands_out(cause: Cause) -> bool:
    return cause.probability >= CAUSE_DECIDED_AT


def _is_shown(cause: Cause) -> bool:
    """Leave out what is too improbable, and that the rig is as it should be."""
    if cause.probability < SHOWN_FROM:
        return False
    return cause.part not in ("sensor", "encoder") or cause.cause not in SOUND


def _about(cause: Cause) -> str:
    about = ", ".join(cause.marks) if cause.marks and cause.part != "cam" else ""
    return f"{cause.part}: {cause.cause}{f' ({about})' if about else ''}"


def marks_figures(answer: MarksAnswer) -> Figures:
    """Return the keys of ``strokewise marks --json`` beside those of every answer."""
    causes = answer.causes
    return {
        "marks": [_mark_figures(place) for place in answer.places],
        "findings": [
            {
                "part": cause.part,
                "cause": cause.cause,
                "marks": list(cause.marks),
                "probability": round(cause.probability, CAUSE_DECIMALS),
                "because": because(cause, answer.timing),
            }
            for cause in causes.findings
        ],
        "cause_decided": causes.decided,
        "next_look": LOOK_WORDS[causes.next_look] or None,
    }


def _mark_figures(place: MarkPlace) -> Figures:
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


def _on_rim(answer: MarksAnswer) -> MarkOnRim | None:
    """Return the mark of the pulley that is furthest off, of those seen with their pointer."""
    profile, seen = answer.profile, []
    for place in answer.places:
        if place.mark.on != "pulley" or place.after_tdc is None or place.late is None:
            continue
        stated_deg = place.mark.stated_atdc_deg or 0.0
        rim = place.offset.rim_mm
        drawn = MarkOnRim(
            place.mark.name,
            place.after_tdc,
            stated_deg,
            profile.pulley_radius_mm,
            profile.rotation,
            offset_words(place.late),
            "" if rim is None else f"on the rim {off_words(rim, unit=' mm', most=1)}",
        )
        if drawn.seen:
            seen.append((abs(place.late.value), drawn))
    return max(seen, key=lambda each: each[0])[1] if seen else None


def _drawings(answer: MarksAnswer) -> dict[str, str]:
    mark = _on_rim(answer)
    drawn = None if mark is None else mark_svg(mark)
    return {} if drawn is None else {RIM_OF_MARK: drawn}


STEP = Step(
    "marks",
    MarksQuestion,
    marks_answer,
    marks_page,
    marks_figures,
    LABELS,
    drawings=_drawings,
    cautions=marks_cautions,
    lacks=lambda answer: ("marks",) if answer.open == "no marks" else (),
)
