"""How is the static timing said? Its page, and how its question is asked."""

from __future__ import annotations

from strokewise.analysis.crank.strokes import within
from strokewise.analysis.estimate import Interval
from strokewise.analysis.ignition.static_answer import StaticAnswer, StaticQuestion, static_answer
from strokewise.analysis.ignition.static_timing import Move, TimingPoint
from strokewise.analysis.ignition.strobe import StrobeCheck
from strokewise.analysis.profile import Profile
from strokewise.gui.drawings.rim_svg import rim_svg
from strokewise.gui.pages.answers import interval_answer
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    VALVE_CONTACT,
    Caution,
    turning_back,
)
from strokewise.gui.pages.headline import Claim, Rank, headline, sided, spread
from strokewise.gui.pages.page import Facts, Page, Row, Table, page_of
from strokewise.gui.pages.rough import is_rough, rough_claims, rough_sign
from strokewise.gui.pages.sign import CAUSE_OPEN
from strokewise.gui.pages.step import Figures, Label, Step
from strokewise.gui.pages.words import sentence
from strokewise.gui.sayings import say, say_any

STATIC_DECIMALS = 3
RIM_DRAWING = "rim"
OVER = ("over", "under")
CAUSE_IS_OPEN = ("mark or static setting", "unknown")

RUNNING_ENGINE = Caution(
    "running-engine",
    "Engine running under a strobe",
    "Moving parts look still under the lamp. Out of gear, chocked, exhaust led outside. Keep "
    "hands, hair, leads and clothing clear of fan, belts and pulleys, and off the ignition leads.",
)

LABELS = {
    "advance_btdc_deg": Label(
        "Advance", '"6 deg BTDC", before the profile\'s own', "ANGLE", "6 deg BTDC", "advance"
    ),
    "cylinder": Label("Of cylinder", "default 1", "N", "1"),
    "strobe": Label(
        "Strobe, rev/min=degrees",
        "degrees before TDC that the mark shows at a crank speed; may be given several times",
        "RPM=DEG",
        "700=13; 3200=33",
    ),
    "curve": Label(
        "Advance curve", "the advance curve, by crank speed", "RPM=DEG,…", "500=0,1500=10"
    ),
    "mark_late": Label(
        "The mark itself is late by",
        "how late the mark itself is, as strokewise marks found it",
        "DEG[,LOW,HIGH]",
        "7.4,7.2,7.6",
    ),
    "rim_mm": Label(
        "or along the rim before TDC",
        'along the pulley\'s rim before TDC: "8.4 mm"',
        "LEN",
        "8.4 mm",
        "rim",
    ),
    "chord_mm": Label(
        "or straight across the rim",
        "straight across the rim before TDC",
        "LEN",
        "8.4 mm",
        "chord",
    ),
    "teeth": Label("or flywheel teeth before TDC", "flywheel teeth before TDC", "N", "2.5"),
    "travel_mm": Label(
        "or piston below its top", "piston below its top, before TDC", "LEN", "0.5 mm", "travel"
    ),
}


def static_cautions(profile: Profile) -> tuple[Caution, ...]:
    """Return what can hurt while an engine is turned to its static timing."""
    return (TURNING_BY_HAND, VALVE_CONTACT, turning_back(profile), MANUAL_FIRST)


def static_page(answer: StaticAnswer) -> Page:
    """Return the page of an answer."""
    running = (RUNNING_ENGINE,) if answer.strobe is not None else ()
    head = Claim(_headline(answer), _rank(answer), _about(answer))
    rough = () if answer.strobe is not None else rough_claims(answer.within_deg, answer.profile)
    claims = (*rough, head)
    open_cause = answer.strobe is not None and any(
        one in CAUSE_IS_OPEN for one in answer.strobe.culprits
    )
    return page_of(
        "static",
        claims,
        decided=answer.decided,
        reason=say_any(answer.why_not) or headline(claims),
        sign=CAUSE_OPEN if open_cause else rough_sign(answer.within_deg) if rough else None,
        parts=(Facts(tuple(_point(answer) + _moves(answer))), *_strobe(answer)),
        warnings=answer.warnings,
        cautions=(*running, *static_cautions(answer.profile)),
        pictures=(RIM_DRAWING,) if _drawings(answer) else (),
    )


def _about(answer: StaticAnswer) -> tuple[Interval, ...]:
    return () if answer.strobe is None else (answer.strobe.offset,)


def _rank(answer: StaticAnswer) -> Rank:
    if answer.open:
        return Rank.UNKNOWN
    off = answer.strobe is not None and answer.strobe.culprits != ("nothing",)
    return Rank.WRONG if off else Rank.RIGHT


def _headline(answer: StaticAnswer) -> str:
    """Return the one sentence that a person came for."""
    if answer.strobe is not None:
        return sentence(strobe_words(answer.strobe))
    if answer.why_not:
        return f"NOT SURE WHERE THE CRANK STANDS. {sentence(say(answer.why_not))}"
    where = f"cylinder {answer.cylinder} at {side_words(answer.point.btdc_deg)} firing TDC"
    if answer.moves:
        return f"{say(answer.moves[0].said).upper()}: {where}."
    if answer.moves == () and is_rough(answer.within_deg):
        return f"ABOUT THERE: {where}."
    if answer.moves == ():
        return f"STOP: YOU ARE THERE: {where}."
    return f"TURN TO {where}, coming up in the engine's own direction."


def side_words(btdc_deg: float) -> str:
    """Return ``"6° before"`` or ``"4.25° after"``: as stated, to a hundredth."""
    return f"{round(abs(btdc_deg), 2):g}° {'before' if btdc_deg >= 0 else 'after'}"


def _excess_words(excess_deg: float) -> str:
    """Return ``"16.0° under what it should be"``: how much more or less advance."""
    amount = f"{abs(excess_deg):.1f}"
    if not float(amount):
        return "as it should be"
    return f"{amount}° {OVER[excess_deg < 0]} what it should be"


def _point(answer: StaticAnswer) -> list[Row]:
    point = answer.point
    rows = [Row("Static timing", f"{side_words(point.btdc_deg)} TDC of cylinder {answer.cylinder}")]
    if point.rim_arc_mm is not None and point.rim_chord_mm is not None:
        text = f"{abs(point.rim_arc_mm):.2f} mm along it, {abs(point.rim_chord_mm):.2f} mm across"
        rows.append(Row("On the rim", text))
    if point.flywheel_teeth is not None:
        rows.append(Row("On the flywheel", f"{abs(point.flywheel_teeth):.2f} teeth"))
    if point.piston_travel_mm is not None:
        rows.append(Row("Piston", f"{point.piston_travel_mm:.3f} mm below its top"))
    rows.append(
        Row("Turn guide", f"{round(answer.target_deg, 2):g}° after firing TDC of cylinder 1")
    )
    return rows


def _moves(answer: StaticAnswer) -> list[Row]:
    rows = []
    if answer.after_firing_1_deg is not None:
        after = within(answer.after_firing_1_deg, answer.profile.cycle_deg)
        rows.append(Row("Crank", f"{after:.1f}° after firing TDC of cylinder 1"))
    for number, move in enumerate(answer.moves or (), start=1):
        rows.append(Row(f"Move {number}", say(move.said)))
    if answer.moves == ():
        rows.append(Row("Move", "none: it stands there"))
    return rows


def _strobe(answer: StaticAnswer) -> tuple[Table | Facts, ...]:
    check = answer.strobe
    if check is None:
        return ()
    said = [
        Row(
            f"At {reading.speed_rpm:.0f} rev/min",
            f"{side_words(reading.btdc_deg)} TDC, {_excess_words(excess)}",
        )
        for reading, excess in zip(answer.readings, check.excess_deg, strict=True)
    ]
    figures = tuple(
        (f"{r.speed_rpm:g}", f"{r.btdc_deg:g}", _excess_words(excess))
        for r, excess in zip(answer.readings, check.excess_deg, strict=True)
    )
    heads = ("Speed, rev/min", "Before TDC, °", "Against what it should be")
    return (Table("", heads, figures, narrow=Facts(tuple(said))), Facts(tuple(_shared(check))))


def _shared(check: StrobeCheck) -> list[Row]:
    rows = [Row("Shared by all", sided(check.offset, OVER, most=1))]
    if check.advance_share is not None:
        rows.append(Row("Advance", f"{_share_words(check.advance_share)} of its curve"))
    return rows


def _share_words(share: Interval) -> str:
    """Return ``"15 % (1 to 29)"``, or how much at most where it may be none."""
    if share.low <= 0:
        return f"at most {100 * share.high:.0f} %"
    return spread(share.scaled(100.0), " %", most=0)


def strobe_words(check: StrobeCheck) -> str:
    """Return what the readings say in a sentence, with what would tell more."""
    amount = sided(check.offset, OVER, most=1)
    if check.culprits == ("unknown",) and not check.curve_known:
        return (
            f"The readings are {amount} the static figure, and no advance curve was given: this"
            " cannot tell a wrong mark from the advance. Give the curve, and read below the speed"
            " where it begins too."
        )
    if check.culprits == ("unknown",):
        return (
            f"The readings are {amount} what they should be, all where the curve adds the same:"
            " this cannot tell a wrong mark from a wrong advance. Read again below the speed where"
            " the advance begins."
        )
    untested = " The advance was not tested: read again at a higher speed." if check.idle else ""
    if not check.curve_known:
        untested = " The advance was not tested: no curve was given."
    share = check.advance_share
    if check.culprits == ("nothing",):
        whole = share is not None or check.idle or not check.curve_known
        few = "" if whole else " Only one piece of the curve was tested."
        return f"Nothing is off by more than it commonly may be.{few}{untested}"
    said = {
        "mark": "the mark itself is off, as found against true TDC",
        "static setting": "the static setting is off",
        "mark or static setting": (
            f"all readings are {amount}: the mark or the static setting is off (an advance stuck"
            " out of its rest looks the same); find the mark against true TDC to tell which"
        ),
        "advance": "the advance does not follow its curve"
        + ("" if share is None else f": {_share_words(share)} of it is there"),
    }
    words = "; ".join(said[culprit] for culprit in check.culprits)
    return f"{words[0].upper()}{words[1:]}.{untested}"


def _move_figures(move: Move) -> Figures:
    return {"turn": round(move.way * move.degrees, STATIC_DECIMALS), "text": say(move.said)}


def static_figures(answer: StaticAnswer) -> Figures:
    """Return the keys of ``strokewise static --json`` beside those of every answer."""
    after = answer.after_firing_1_deg
    cycle_deg = answer.profile.cycle_deg
    moves = answer.moves
    return {
        "cylinder": answer.cylinder,
        "advance": _point_figures(answer.point),
        "crank": None
        if after is None
        else {"after_firing_1": round(within(after, cycle_deg), STATIC_DECIMALS)},
        "target": {"after_firing_1": round(answer.target_deg, STATIC_DECIMALS)},
        "moves": None if moves is None else [_move_figures(move) for move in moves],
        "strobe": None if answer.strobe is None else _strobe_figures(answer.strobe, answer),
    }


def _point_figures(point: TimingPoint) -> Figures:
    def mm(value: float | None) -> str | None:
        return None if value is None else f"{round(value, STATIC_DECIMALS):g} mm"

    teeth = point.flywheel_teeth
    return {
        "before_tdc": round(point.btdc_deg, STATIC_DECIMALS),
        "rim_along": mm(point.rim_arc_mm),
        "rim_across": mm(point.rim_chord_mm),
        "flywheel_teeth": None if teeth is None else round(teeth, STATIC_DECIMALS),
        "piston_travel": mm(point.piston_travel_mm),
    }


def _strobe_figures(check: StrobeCheck, answer: StaticAnswer) -> Figures:
    return {
        "culprits": list(check.culprits),
        "readings": [
            {
                "speed_rpm": r.speed_rpm,
                "before_tdc": r.btdc_deg,
                "excess": round(e, STATIC_DECIMALS),
            }
            for r, e in zip(answer.readings, check.excess_deg, strict=True)
        ],
        "offset": interval_answer(check.offset),
        "advance_share": interval_answer(check.advance_share),
        "static_offset": interval_answer(check.static_offset),
        "text": strobe_words(check),
    }


def _drawings(answer: StaticAnswer) -> dict[str, str]:
    drawn = rim_svg(static_figures(answer), answer.profile.rotation)
    return {} if drawn is None else {RIM_DRAWING: drawn}


STEP = Step(
    "static",
    StaticQuestion,
    static_answer,
    static_page,
    static_figures,
    LABELS,
    drawings=_drawings,
    cautions=static_cautions,
)
