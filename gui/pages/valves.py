"""How is the setting of valves said? Its page, and how its question is asked."""

from __future__ import annotations

from strokewise.analysis.crank.strokes import within
from strokewise.analysis.profile import Profile
from strokewise.analysis.valves.base_circle import ValveState
from strokewise.analysis.valves.clearances import MM_PER_INCH, GapCheck
from strokewise.analysis.valves.valve_setting import RuleCheck, ValveSetting
from strokewise.analysis.valves.valve_stops import Stop
from strokewise.analysis.valves.valves_answer import ValvesAnswer, ValvesQuestion, valves_answer
from strokewise.gui.drawings.head_svg import head_svg
from strokewise.gui.models.near import near_words
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    VALVE_CONTACT,
    Caution,
    turning_back,
)
from strokewise.gui.pages.gap_words import gap_words, judged_words
from strokewise.gui.pages.headline import Claim, Rank, headline
from strokewise.gui.pages.page import Facts, Page, Row, Table, page_of
from strokewise.gui.pages.rough import is_rough
from strokewise.gui.pages.step import Figures, Label, Step
from strokewise.gui.pages.words import sentence
from strokewise.gui.sayings import say, say_any
from strokewise.gui.sayings.saying import signed

HEAD_DRAWING = "head"
VALVE_DECIMALS = 1  # a valve is set within ten degrees; tenths are enough
MM_DECIMALS = 4

LABELS = {
    "after_tdc_deg": Label(
        "Crank after firing TDC of 1",
        "crank degrees after the firing TDC of cylinder 1 (default 0 without a recording)",
        "DEG",
        option="after-tdc",
        in_window=False,
    ),
    "done": Label(
        "Set already", "set already: 1E,2I or their numbers along the head", "VALVES", "1E, 2I"
    ),
    "gap": Label(
        "Gap found, set, nipped up",
        'as found, as set, after the locknut was nipped up: "1E=0.40 mm, 0.36 mm, 0.35 mm"',
        "VALVE=GAPS",
        "1E=0.4 mm, 0.36 mm",
    ),
    "fitted": Label(
        "Shim that is in",
        "thickness of the fitted shim; --gap gives the gap as found",
        "VALVE=SHIM",
        "2I=2.45 mm",
    ),
    "shims": Label(
        "Shims at hand", 'shims at hand: "2.40 mm, 2.45 mm"', "SIZES", "2.40 mm, 2.45 mm"
    ),
    "blades": Label("Feelers", "which set of feelers"),
    "engine_is": Label("Engine is", "how warm the engine is now"),
}


def valves_cautions(profile: Profile) -> tuple[Caution, ...]:
    """Return what can hurt while valves are set."""
    return (VALVE_CONTACT, TURNING_BY_HAND, turning_back(profile), MANUAL_FIRST)


def valves_page(answer: ValvesAnswer) -> Page:
    """Return the page of an answer."""
    standing, setting = answer.standing, answer.setting
    known = standing.after_deg is not None
    head = Claim(_headline(answer), Rank.RIGHT if known else Rank.UNKNOWN)
    claims = (head, *(_not_judged(setting) if known else ()))
    measured = [*_figures(answer), *(Row(f"Gap {c.gap.valve}", gap_words(c)) for c in setting.gaps)]
    rules = [Row(f"Rule: {rule.name}", _rule(rule)) for rule in setting.rules]
    return page_of(
        "valves",
        claims,
        decided=answer.decided,
        reason=say_any(standing.why_not) or headline(claims),
        parts=(
            Facts(tuple(_now(setting, standing.within_deg) if known else ())),
            _stops(setting, known),
            Facts((*measured, *_shims(answer), *rules)),
        ),
        warnings=(*standing.warnings, *setting.notices),
        cautions=valves_cautions(standing.profile),
    )


def _rule(rule: RuleCheck) -> str:
    return say(rule.said) if rule.applies else f"can't be used: {say(rule.said)}"


def _headline(answer: ValvesAnswer) -> str:
    """Return the one sentence that a person came for."""
    standing, setting = answer.standing, answer.setting
    if standing.after_deg is None:
        return f"NOT SURE WHERE THE CRANK STANDS. {sentence(say_any(standing.why_not))}"
    ready, later = setting.working.ready, setting.working.later
    if ready:
        return f"SET NOW: {', '.join(state.valve.key for state in ready)}."
    if later:
        first = later[0]
        return f"NOTHING TO SET HERE: turn on {first.to_go_deg:.0f}° for {first.valve.key}."
    if setting.plan.out_of_reach:
        return "NOTHING LEFT THAT CAN BE SET: see the warnings."
    return "ALL VALVES ARE SET. Turn two full turns by hand and measure every gap again."


def _not_judged(setting: ValveSetting) -> tuple[Claim, ...]:
    """Return what a headline says of gaps measured where their valves are not free."""
    lifted = [check for check in setting.gaps if check.status == "valve not free"]
    if not lifted:
        return ()
    valves = " and ".join(dict.fromkeys(check.gap.valve for check in lifted))
    where = "; ".join(f"{c.gap.valve} is free {c.to_go_deg:.0f}° on" for c in lifted)
    return (Claim(f"GAP OF {valves} NOT JUDGED, not free here: {where}.", Rank.WRONG),)


def _now(setting: ValveSetting, within_deg: float) -> list[Row]:
    near = f", {near_words(within_deg)}: free are those that are so all over it"
    where = f"{setting.working.angle_deg:.0f}° after firing TDC of cylinder 1"
    rows = [Row("Crank", where + (near if is_rough(within_deg) else ""))]
    for state in setting.working.ready:
        spare = f"to spare: {state.since_deg:.0f}° back, {state.left_deg:.0f}° on"
        rows.append(Row(state.valve.key, f"{state.valve.words}; {spare}"))
    if setting.working.done:
        rows.append(Row("Done", ", ".join(valve.key for valve in setting.working.done)))
    return rows


def _stops(setting: ValveSetting, known: bool) -> Table:
    said, figures = [], []
    start = "from here" if known else "from cylinder 1 at firing TDC"
    for number, stop in enumerate(setting.plan.stops, start=1):
        turn = f"turn on {stop.turn_deg:.0f}° {start if number == 1 else 'from there'}"
        if round(stop.turn_deg) == 0:
            turn = "here" if known else start
        said.append(Row(f"Stop {number}", f"{turn}{_place(stop)}: {_keys(stop)}"))
        spare = f"{round(stop.spare_deg, VALVE_DECIMALS):g}°"
        figures.append((f"{round(stop.angle_deg, VALVE_DECIMALS):g}°", _keys(stop), spare))
    heads = ("After firing TDC of cylinder 1", "Set there", "To spare on either side")
    return Table("", heads, tuple(figures), narrow=Facts(tuple(said)))


def _place(stop: Stop) -> str:
    said = []
    if stop.firing:
        said.append(f"cylinder {' and '.join(map(str, stop.firing))} at firing TDC")
    if stop.rocking:
        said.append(f"valves of {' and '.join(map(str, stop.rocking))} rocking")
    return f" ({', '.join(said)})" if said else ""


def _keys(stop: Stop) -> str:
    return ", ".join(valve.key for valve in stop.valves)


def _figures(answer: ValvesAnswer) -> list[Row]:
    rows = []
    for kind, target in answer.setting.targets_mm.items():
        if target is None:
            continue
        text = f"{target:.3f} mm ({target / MM_PER_INCH:.4f} in)"
        stacks = answer.feelers.get(kind, ())
        if stacks:
            blades = " + ".join(f"{blade:g}" for blade in stacks[0].blades_mm)
            text += f"; feelers {blades} mm"
            if abs(stacks[0].off_mm) > 1e-6:
                text += f", {signed(f'{stacks[0].off_mm:+.3f}')} mm off"
        rows.append(Row(f"Gap wanted, {kind}", text))
    return rows


def _shims(answer: ValvesAnswer) -> list[Row]:
    rows = []
    for key, choices in answer.shims.items():
        best, *others = choices
        text = f"{best.shim_mm:.3f} mm gives a gap of {best.gap_mm:.3f} mm"
        if others:
            rest = ", ".join(f"{c.shim_mm:.3f} gives {c.gap_mm:.3f}" for c in others)
            text += f"; else {rest}"
        rows.append(Row(f"Shim {key}", text))
    return rows


def valves_figures(answer: ValvesAnswer) -> Figures:
    """Return the keys of ``strokewise valves --json`` beside those of every answer."""
    standing, setting = answer.standing, answer.setting
    known = standing.after_deg is not None
    figures: Figures = {}
    done = {valve.key for valve in setting.working.done}
    figures["crank"] = (
        {"after_firing_1": round(within(standing.after_deg or 0.0, 720), VALVE_DECIMALS)}
        if known
        else None
    )
    figures["valves"] = [_state(s, s.valve.key in done) for s in setting.states] if known else None
    figures["stops"] = [
        {
            "after_firing_1": round(stop.angle_deg, VALVE_DECIMALS),
            "turn": round(stop.turn_deg, VALVE_DECIMALS),
            "firing": list(stop.firing),
            "rocking": list(stop.rocking),
            "valves": [valve.key for valve in stop.valves],
            "spare": round(stop.spare_deg, VALVE_DECIMALS),
        }
        for stop in setting.plan.stops
    ]
    figures["timing"] = "stated" if setting.plan.from_timing else "common practice"
    figures["rules"] = [
        {"name": r.name, "applies": r.applies, "agrees": r.agrees, "pairs": [*map(list, r.pairs)]}
        for r in setting.rules
    ]
    figures["wanted"] = {kind: _mm(target) for kind, target in setting.targets_mm.items()}
    figures["gaps"] = [_gap(check) for check in setting.gaps]
    figures["shims"] = {
        key: [{"shim": _mm(c.shim_mm), "gap": _mm(c.gap_mm)} for c in choices]
        for key, choices in answer.shims.items()
    }
    figures["feelers"] = {
        kind: [{"blades": [_mm(b) for b in s.blades_mm], "off": _mm(s.off_mm)} for s in stacks]
        for kind, stacks in answer.feelers.items()
    }
    return figures


def _state(state: ValveState, done: bool) -> Figures:
    return {
        "valve": state.valve.key,
        "number": state.valve.number,
        "cylinder": state.valve.cylinder,
        "kind": state.valve.kind,
        "on_base_circle": state.on_base_circle,
        "ready": state.ready,
        "spare_back": round(state.since_deg, VALVE_DECIMALS),
        "spare_on": round(state.left_deg, VALVE_DECIMALS),
        "to_go": round(state.to_go_deg, VALVE_DECIMALS),
        "done": done,
    }


def _gap(check: GapCheck) -> Figures:
    gap = check.gap
    return {
        "valve": gap.valve,
        "wanted": _mm(gap.target_mm),
        "found": _mm(gap.before_mm),
        "set": _mm(gap.after_mm),
        "nipped": _mm(gap.nipped_mm),
        "status": check.status,
        "off": _mm(check.off_mm),
        "locknut_moved": _mm(check.moved_mm),
        "text": judged_words(check),
    }


def _mm(value: float | None) -> str | None:
    return None if value is None else f"{round(value, MM_DECIMALS):g} mm"


def _drawings(answer: ValvesAnswer) -> dict[str, str]:
    # Free are those that the headline names, and no other.
    ready = {state.valve.key for state in answer.setting.working.ready}
    valves = valves_figures(answer)["valves"] or []
    drawn = head_svg({"valves": [each | {"ready": each["valve"] in ready} for each in valves]})
    return {} if drawn is None else {HEAD_DRAWING: drawn}


STEP = Step(
    "valves",
    ValvesQuestion,
    valves_answer,
    valves_page,
    valves_figures,
    LABELS,
    drawings=_drawings,
    cautions=valves_cautions,
)
