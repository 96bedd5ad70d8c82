"""What does each command's answer say on the sheet? Its JSON object as rows and tables of words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from strokewise.analysis.estimate import Interval
from strokewise.analysis.verdict.verdict import DECIDED_AT
from strokewise.gui.pages.cam_words import TELLS_NOTHING, tells_nothing
from strokewise.gui.pages.words import (
    METHOD_WORDS,
    counted,
    degrees,
    interval_words,
    percent,
    sentence,
)
from strokewise.gui.sheet.table import Row, Table

Answer = Mapping[str, Any]
COMMON_KEYS = ("decided", "reason", "warnings", "version", "file", "health")

BESIDE = {
    "peak_bar_at_200_rpm": ("Peak at 200 rev/min", 1, " bar", ", absolute, at 1.013 bar outside"),
    "compression_ratio": ("Ratio as measured", 1, " : 1", ", sensor's adaptor and hose in it"),
    "leak_hole_mm": ("Leaks like a hole of", 2, " mm", ""),
    "loss_angle": ("Peak before TDC by", 2, "°", ""),
}
"""What the fit tells beside TDC: its key, what the sheet calls it, decimals, unit and a remark."""

EVENT_LABELS = {
    "intake_closes_abdc": "Inlet closes, after BDC",
    "exhaust_opens_bbdc": "Exhaust opens, before BDC",
    "exhaust_closes_atdc": "Exhaust closes, after TDC",
    "intake_opens_btdc": "Inlet opens, before TDC",
}

Said = tuple[list[Row], list[Table]]


def _said_of_tdc(answer: Answer) -> Said:
    rows: list[Row] = []
    tdc = answer["tdc"]
    if tdc is not None:
        interval = Interval(tdc["angle"], tdc["low"], tdc["high"])
        rows.append(Row(f"TDC of cylinder {tdc['cylinder']}", interval_words(interval)))
        if tdc.get("after_index") is not None:
            rows.append(Row("After the encoder's index", degrees(tdc["after_index"])))
        method = METHOD_WORDS.get(tdc["method"], tdc["method"])
        basis = "stop contact" if tdc["method"] == "stop" else "compression"
        rows.append(Row("Method", f"{method}, {counted(tdc['passes'], basis)}"))
    candidates = answer["phase"]["candidates"]
    if answer.get("firing"):
        said = ", ".join(f"{c}: {degrees(a)}" for c, a in answer["firing"].items())
        rows.append(Row("Firing TDC of each cylinder", said))
        sure = float(answer["phase"]["probability"])
        said = f"at least {100 * DECIDED_AT:g} % sure" if sure >= DECIDED_AT else percent(sure)
        rows.append(Row("Firing told from overlap", said))
    else:
        rows += [
            Row(
                "Cylinder 1 may fire at",
                f"{degrees(each['firing_1'])}: {percent(each['probability'])}",
                False,
            )
            for each in candidates
        ]
    pressed = answer.get("compression")
    if pressed:
        said = f"{pressed['peak']} absolute, {pressed['peak_gauge']} gauge"
        rows.append(Row("Compression", f"{said}, median of {pressed['passes']}"))
    beside = answer.get("diagnostics") or {}
    rows += [
        Row(label, _told(beside[key], decimals, unit) + remark)
        for key, (label, decimals, unit, remark) in BESIDE.items()
        if beside.get(key) is not None
    ]
    health = answer["health"]
    rows.append(
        Row(
            "Recording",
            f"{counted(health['samples'], 'sample')}, "
            f"{counted(health['lost_frames'], 'frame')} lost, {health['bad_frames']} damaged, "
            f"{counted(health['segments'], 'run')} of the board",
        )
    )
    return rows, []


def _said_of_marks(answer: Answer) -> Said:
    marks = tuple(
        (
            str(mark["name"]),
            str(mark["seen"]),
            _degrees(mark["after_tdc"]),
            _degrees(mark.get("late")),
            _middle(mark.get("late_rim_mm"), 1),
            str(mark["turn"]),
            "" if mark["firing_cylinder"] is None else str(mark["firing_cylinder"]),
        )
        for mark in answer["marks"]
    )
    heads = ("Mark", "Seen", "After TDC of cyl 1", "Later than stated", "Rim, mm", "Turn", "Fires")
    tables = [Table("", heads, marks)] if marks else []
    causes = tuple(
        (str(each["cause"]), percent(float(each["probability"])), sentence(str(each["because"])))
        for each in answer.get("findings") or ()
    )
    if causes:
        tables.append(Table("What explains it", ("Cause", "Probability", "Because"), causes))
    look = answer.get("next_look")
    return [Row("To tell them apart", sentence(_plain(look)))] if look else [], tables


def _said_of_cam(answer: Answer) -> Said:
    labels = {
        "shift": "Cam later than the profile",
        "shift_intake": "by the inlet",
        "shift_exhaust": "by the exhaust",
    }
    rows = [
        Row(label, _shift(answer[key]), answer[key] is not None)
        for key, label in labels.items()
        if key in answer
    ]
    for key, label in (
        ("", "Teeth out"),
        ("_intake", "by the inlet"),
        ("_exhaust", "by the exhaust"),
    ):
        teeth = answer.get(f"teeth{key}")
        if teeth is not None:
            text = f"{teeth['value']} ({percent(float(teeth['probability']))})"
            rows.append(Row(label if not key else f"Teeth out {label}", text))
    events = {
        name: (_degrees(value), value is not None)
        for name, value in (answer.get("events") or {}).items()
    }
    hidden = list((answer.get("not_shown") or {}).items())
    for number, (name, why) in enumerate(hidden):
        again = why in (other for _, other in hidden[:number])
        events[name] = ("not shown, for the same reason" if again else str(why), False)
    rows += [Row(EVENT_LABELS.get(name, name), *said) for name, said in events.items()]
    half = answer.get("half_turn")
    if half is not None:
        out = {None: "unknown", True: "yes", False: "no"}[half["out"]]
        rows.append(Row("Half a turn out", f"{out}: {half['because']}", half["out"] is not None))
    ways = tuple(
        (str(each["of"]), str(each["words"]), percent(float(each["probability"])))
        for each in answer.get("corrections") or ()
    )
    heads = ("Cam", "To put it right, the nearest first", "Nearest of all")
    return rows, [Table("", heads, ways)] if ways else []


def _said_of_compare(answer: Answer) -> Said:
    cylinders = tuple(
        (
            str(each["cylinder"]),
            _bar(each["measured_bar"]),
            _bar(each["corrected_bar"]),
            percent(float(each["below_best"])),
            str(each["passes_to_peak"]),
        )
        for each in answer["cylinders"]
    )
    at = answer["at"]
    heads = (
        "Cylinder",
        "Measured, bar",
        "Made comparable, bar",
        "Below the best",
        "Passes to peak",
    )
    title = f"Absolute peaks, made comparable at {at['speed_rpm']:.0f} rev/min, {at['atmosphere']}"
    tables = [Table(title, heads, cylinders)]
    suggested = tuple(
        (
            ", ".join(map(str, each["cylinders"])),
            sentence(str(each["suggests"])),
            sentence(str(each["confirm"])),
        )
        for each in (*answer["findings"], *answer.get("oiled", ()))
        if "suggests" in each
    )
    if suggested:
        tables.append(Table("", ("Cylinder", "Suggests", "Would confirm it"), suggested))
    spread = {key: percent(float(value)) for key, value in answer["spread"].items()}
    return [Row("Spread", f"{spread['value']} ({spread['low']} to {spread['high']})")], tables


def _said_of_valves(answer: Answer) -> Said:
    stops = tuple(
        (f"{each['after_firing_1']:g}°", ", ".join(each["valves"]), f"{each['spare']:g}°")
        for each in answer["stops"]
    )
    timing = "as stated" if answer["timing"] == "stated" else "common practice"
    heads = ("After firing TDC of cylinder 1", "Set there", "To spare on either side")
    return [Row("Valve timing behind it", timing)], [Table("", heads, stops)]


def _said_of_drive(answer: Answer) -> Said:
    mesh = answer["meshing"]
    leads = ", ".join(f"{each['cylinder']}: {each['at']:g}°" for each in answer["leads"])
    rows = [
        Row("Start the rotor at", f"{mesh['start']:g}°"),
        Row(
            "Going in it turns",
            f"{abs(mesh['turn']):g}° {mesh['direction']} ({abs(mesh['turn_teeth']):g} teeth)",
        ),
        Row("and ends at", f"{mesh['end']:g}°"),
        Row(
            "One tooth wrong",
            f"{mesh['tooth']:g}° of the rotor, {mesh['tooth_crank']:g}° of the crank",
        ),
        Row("Leads, clockwise", leads),
    ]
    found = answer.get("found")
    return rows + ([Row("As found", _plain(found))] if found else []), []


def _said_of_static(answer: Answer) -> Said:
    labels = {
        "before_tdc": "Before TDC",
        "rim_along": "Along the pulley's rim",
        "rim_across": "Straight across the rim",
        "flywheel_teeth": "Flywheel teeth",
        "piston_travel": "Piston below its top",
    }
    advance = answer["advance"]
    rows = [Row("Cylinder", str(answer["cylinder"]))]
    rows += [
        Row(label, f"{advance[key]:g}°" if key == "before_tdc" else _plain(advance[key]))
        for key, label in labels.items()
        if advance.get(key) is not None
    ]
    strobe = answer.get("strobe")
    if not strobe:
        return rows, []
    readings = tuple(
        tuple(f"{each[key]:g}" for key in ("speed_rpm", "before_tdc", "excess"))
        for each in strobe["readings"]
    )
    heads = ("Speed, rev/min", "Before TDC, °", "Over what it should be, °")
    if sentence(str(strobe["text"])) != sentence(str(answer["reason"])):
        rows.append(Row("Strobe", str(strobe["text"])))
    return rows, [Table("", heads, readings)]


def said_plainly(answer: Answer) -> Said:
    """Return an answer of any command: each key with what stands there."""
    rows: list[Row] = []
    tables: list[Table] = []
    for key, value in answer.items():
        if key in COMMON_KEYS or value is None or value in ([], {}):
            continue
        label = str(key).replace("_", " ")
        if isinstance(value, list) and all(isinstance(each, Mapping) for each in value):
            heads = tuple(dict.fromkeys(str(name) for each in value for name in each))
            body = tuple(tuple(_plain(each.get(head)) for head in heads) for each in value)
            tables.append(Table(label, tuple(h.replace("_", " ") for h in heads), body))
        elif isinstance(value, Mapping) and "value" not in value:
            rows += [Row(f"{label} {name}", _plain(each)) for name, each in value.items()]
        else:
            rows.append(Row(label, _plain(value)))
    return rows, tables


SAID: dict[str, Callable[[Answer], Said]] = {
    "find": _said_of_tdc,
    "marks": _said_of_marks,
    "cam": _said_of_cam,
    "compare": _said_of_compare,
    "valves": _said_of_valves,
    "drive": _said_of_drive,
    "static": _said_of_static,
}


def _degrees(value: Mapping[str, float] | None) -> str:
    """Return an angle with its interval."""
    if value is None:
        return "not known"
    said = [degrees(_unsigned(value[key], 1), 1) for key in ("value", "low", "high")]
    return f"{said[0]} ({said[1]} to {said[2]})"


def _unsigned(number: float, decimals: int) -> float:
    """Return a number rounded, nought without a sign."""
    return round(number, decimals) + 0.0


def _told(value: Mapping[str, float], decimals: int, unit: str) -> str:
    """Return a figure with its unit and interval."""
    said = [f"{value[key]:.{decimals}f}" for key in ("value", "low", "high")]
    return f"{said[0]}{unit} ({said[1]} to {said[2]})"


def _shift(value: Mapping[str, float] | None) -> str:
    """Return a cam's shift; one valve alone may tell nothing."""
    if value is not None and tells_nothing(Interval(value["value"], value["low"], value["high"])):
        return TELLS_NOTHING
    return _degrees(value)


def _bar(value: Mapping[str, float]) -> str:
    """Return a pressure with its interval."""
    return f"{value['value']:.1f} ({value['low']:.1f} to {value['high']:.1f})"


def _middle(value: Mapping[str, float] | None, decimals: int) -> str:
    """Return the value of an interval alone."""
    return "" if value is None else f"{_unsigned(value['value'], decimals):.{decimals}f}"


def _plain(value: Any) -> str:
    """Return any JSON value in words."""
    if isinstance(value, Mapping):
        if {"value", "low", "high"} <= set(value):
            return f"{_plain(value['value'])} ({_plain(value['low'])} to {_plain(value['high'])})"
        return ", ".join(f"{name}: {_plain(each)}" for name, each in value.items())
    if isinstance(value, list):
        return ", ".join(_plain(each) for each in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    return "" if value is None else str(value)
