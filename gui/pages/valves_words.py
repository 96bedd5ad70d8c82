"""How is the setting of valves said, to a person and to a program?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.crank.strokes import within
from strokewise.analysis.valves.base_circle import ValveState
from strokewise.analysis.valves.clearances import GapCheck
from strokewise.analysis.valves.valve_setting import ValveSetting
from strokewise.analysis.valves.valve_stops import Stop
from strokewise.gui.pages.answers import Answer, base_answer
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    VALVE_CONTACT,
    turning_back,
)
from strokewise.gui.pages.words import caution_words, fact, paragraph, sentence, warning_words

if TYPE_CHECKING:
    from strokewise.gui.commands.valves import Measures, ValvesAnswer
    from strokewise.gui.standing import Standing

ANGLE_DECIMALS = 1  # a valve is set within ten degrees; tenths are enough
MM_DECIMALS = 4


def valves_words(answer: ValvesAnswer) -> str:
    """Return the whole answer for a person."""
    standing, setting, measures = answer.standing, answer.setting, answer.measures
    known = standing.after_deg is not None
    facts: list[str] = []
    if known:
        facts += _now(setting)
    facts += _stops(setting, known)
    facts += _figures(setting, measures)
    for check in setting.gaps:
        facts += fact(f"Gap {check.gap.valve}", gap_words(check))
    facts += _shims(measures)
    for rule in setting.rules:
        says = rule.text if rule.applies else f"can't be used: {rule.text}"
        facts += fact(f"Rule: {rule.name}", says)
    cautions = (VALVE_CONTACT, TURNING_BY_HAND, turning_back(standing.profile), MANUAL_FIRST)
    parts = [
        paragraph(headline(standing, setting)),
        "\n".join(facts),
        warning_words((*standing.warnings, *setting.notices)),
        caution_words(cautions),
    ]
    return "\n\n".join(part for part in parts if part)


def headline(standing: Standing, setting: ValveSetting) -> str:
    """Return the one sentence that a person came for."""
    if standing.after_deg is None:
        return f"NOT SURE WHERE THE CRANK STANDS. {sentence(standing.why_not)}"
    ready, later = setting.working.ready, setting.working.later
    if ready:
        return f"SET NOW: {', '.join(state.valve.key for state in ready)}."
    if later:
        first = later[0]
        return f"NOTHING TO SET HERE: turn on {first.to_go_deg:.0f}° for {first.valve.key}."
    if setting.plan.out_of_reach:
        return "NOTHING LEFT THAT CAN BE SET: see the warnings."
    return "ALL VALVES ARE SET. Turn two full turns by hand and measure every gap again."


def gap_words(check: GapCheck) -> str:
    """Return what was measured at one valve, and what it asks for."""
    gap = check.gap
    measured = [
        f"{name} {value:.3f} mm"
        for name, value in (
            ("found", gap.before_mm),
            ("set", gap.after_mm),
            ("nipped up", gap.nipped_mm),
        )
        if value is not None
    ]
    verdict = {"good": "GOOD", "out": "OUT", "to set": "TO SET", "remeasure": "MEASURE AGAIN"}
    head = verdict.get(check.status, check.status.upper())
    return f"{head}: {check.words} ({', '.join(measured)}; wanted {gap.target_mm:.3f} mm)"


def _now(setting: ValveSetting) -> list[str]:
    lines = fact("Crank", f"{setting.working.angle_deg:.0f}° after firing TDC of cylinder 1")
    for state in setting.working.ready:
        spare = f"to spare: {state.since_deg:.0f}° back, {state.left_deg:.0f}° on"
        lines += fact(state.valve.key, f"{state.valve.words}; {spare}")
    if setting.working.done:
        lines += fact("Done", ", ".join(valve.key for valve in setting.working.done))
    return lines


def _stops(setting: ValveSetting, known: bool) -> list[str]:
    lines = []
    start = "from here" if known else "from cylinder 1 at firing TDC"
    for number, stop in enumerate(setting.plan.stops, start=1):
        turn = f"turn on {stop.turn_deg:.0f}° {start if number == 1 else 'from there'}"
        if round(stop.turn_deg) == 0:
            turn = "here" if known else start
        lines += fact(f"Stop {number}", f"{turn}{_place(stop)}: {_keys(stop)}")
    return lines


def _place(stop: Stop) -> str:
    said = []
    if stop.firing:
        said.append(f"cylinder {' and '.join(map(str, stop.firing))} at firing TDC")
    if stop.rocking:
        said.append(f"valves of {' and '.join(map(str, stop.rocking))} rocking")
    return f" ({', '.join(said)})" if said else ""


def _keys(stop: Stop) -> str:
    return ", ".join(valve.key for valve in stop.valves)


def _figures(setting: ValveSetting, measures: Measures) -> list[str]:
    lines = []
    for kind, target in setting.targets_mm.items():
        if target is None:
            continue
        text = f"{target:.3f} mm ({target / 25.4:.4f} in)"
        stacks = measures.feelers.get(kind, ())
        if stacks:
            blades = " + ".join(f"{blade:g}" for blade in stacks[0].blades_mm)
            text += f"; feelers {blades} mm"
            if abs(stacks[0].off_mm) > 1e-6:
                text += f", {stacks[0].off_mm:+.3f} mm off"
        lines += fact(f"Gap wanted, {kind}", text)
    return lines


def _shims(measures: Measures) -> list[str]:
    lines = []
    for key, choices in measures.shims.items():
        best, *others = choices
        text = f"{best.shim_mm:.3f} mm gives a gap of {best.gap_mm:.3f} mm"
        if others:
            rest = ", ".join(f"{c.shim_mm:.3f} gives {c.gap_mm:.3f}" for c in others)
            text += f"; else {rest}"
        lines += fact(f"Shim {key}", text)
    return lines


def valves_answer(found: ValvesAnswer) -> Answer:
    """Return the whole answer for a program."""
    standing, setting, measures = found.standing, found.setting, found.measures
    known = standing.after_deg is not None
    reason = standing.why_not or headline(standing, setting)
    answer = base_answer(known, reason, (*standing.warnings, *setting.notices))
    done = {valve.key for valve in setting.working.done}
    answer["crank"] = (
        {"after_firing_1": round(within(standing.after_deg or 0.0, 720), ANGLE_DECIMALS)}
        if known
        else None
    )
    answer["valves"] = [_state(s, s.valve.key in done) for s in setting.states] if known else None
    answer["stops"] = [
        {
            "after_firing_1": round(stop.angle_deg, ANGLE_DECIMALS),
            "turn": round(stop.turn_deg, ANGLE_DECIMALS),
            "firing": list(stop.firing),
            "rocking": list(stop.rocking),
            "valves": [valve.key for valve in stop.valves],
            "spare": round(stop.spare_deg, ANGLE_DECIMALS),
        }
        for stop in setting.plan.stops
    ]
    answer["timing"] = "stated" if setting.plan.from_timing else "common practice"
    answer["rules"] = [
        {"name": r.name, "applies": r.applies, "agrees": r.agrees, "pairs": [*map(list, r.pairs)]}
        for r in setting.rules
    ]
    answer["wanted"] = {kind: _mm(target) for kind, target in setting.targets_mm.items()}
    answer["gaps"] = [_gap(check) for check in setting.gaps]
    answer["shims"] = {
        key: [{"shim": _mm(c.shim_mm), "gap": _mm(c.gap_mm)} for c in choices]
        for key, choices in measures.shims.items()
    }
    answer["feelers"] = {
        kind: [{"blades": [_mm(b) for b in s.blades_mm], "off": _mm(s.off_mm)} for s in stacks]
        for kind, stacks in measures.feelers.items()
    }
    return answer


def _state(state: ValveState, done: bool) -> Answer:
    return {
        "valve": state.valve.key,
        "number": state.valve.number,
        "cylinder": state.valve.cylinder,
        "kind": state.valve.kind,
        "on_base_circle": state.on_base_circle,
        "ready": state.ready,
        "spare_back": round(state.since_deg, ANGLE_DECIMALS),
        "spare_on": round(state.left_deg, ANGLE_DECIMALS),
        "to_go": round(state.to_go_deg, ANGLE_DECIMALS),
        "done": done,
    }


def _gap(check: GapCheck) -> Answer:
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
        "text": check.words,
    }


def _mm(value: float | None) -> str | None:
    return None if value is None else f"{round(value, MM_DECIMALS):g} mm"
