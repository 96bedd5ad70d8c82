"""What was found, in words and figures with their intervals? Every answer as a finding."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from strokewise.analysis.estimate import Interval
from strokewise.analysis.verdict import DECIDED_AT
from strokewise.gui.job import Answered, Job
from strokewise.gui.sheet_table import Row, Table
from strokewise.gui.words import METHOD_WORDS, counted, degrees, interval_words, percent, sentence

Answer = Mapping[str, Any]

TITLES = {
    "find": "Top dead centre and firing order",
    "marks": "Timing marks",
    "cam": "Cam timing",
    "compare": "Compressions compared",
    "check": "State of the recording",
}
COMMON_KEYS = ("decided", "reason", "warnings", "version", "file", "health")


@dataclass(frozen=True, slots=True)
class Finding:
    """One answer on the sheet.

    Attributes
    ----------
    reason : str
        The answer's own sentence.
    basis : str
        Recording, profile, version and day that it rests on.
    """

    command: str
    title: str
    decided: bool
    reason: str
    rows: tuple[Row, ...]
    tables: tuple[Table, ...]
    warnings: tuple[str, ...]
    basis: str


def latest(job: Job) -> tuple[Answered, ...]:
    """Return the answers that count: of each question about the same recordings the last one."""
    last: dict[tuple[Any, ...], Answered] = {}
    for kept in job.answers:
        key = (kept.command, *(recorded.name for recorded in kept.recordings))
        last.pop(key, None)
        last[key] = kept
    return tuple(last.values())


def findings(job: Job) -> tuple[Finding, ...]:
    """Return every answer that counts: ``find`` first, decided before undecided."""
    found = [_finding(kept) for kept in latest(job)]
    order = list(TITLES)
    return tuple(
        sorted(
            found,
            key=lambda each: (
                order.index(each.command) if each.command in order else len(order),
                not each.decided,
            ),
        )
    )


def title_of(kept: Answered) -> str:
    """Return what was asked about which recordings, in words."""
    names = ", ".join(recorded.name for recorded in kept.recordings)
    return f"{TITLES.get(kept.command, kept.command)} ({names})"


def compressions_table(job: Job) -> Table | None:
    """Return the compressions that ``find`` measured, a row each; None when there are none."""
    rows = []
    for kept in latest(job):
        pressed, tdc = kept.answer.get("compression"), kept.answer.get("tdc")
        if kept.command != "find" or not isinstance(pressed, Mapping):
            continue
        cylinder = str(tdc["cylinder"]) if isinstance(tdc, Mapping) and "cylinder" in tdc else "?"
        names = ", ".join(recorded.name for recorded in kept.recordings)
        figures = (str(pressed.get(key, "")) for key in ("peak", "peak_gauge", "passes"))
        rows.append((cylinder, *figures, names))
    if not rows:
        return None
    heads = ("Cylinder", "Peak, absolute", "Peak, gauge", "Passes", "Recording")
    return Table("Compressions as measured", heads, tuple(sorted(rows)))


def _finding(kept: Answered) -> Finding:
    answer = kept.answer
    try:
        rows, tables = _SAID.get(kept.command, _said_plainly)(answer)
    except (LookupError, TypeError, ValueError, AttributeError):
        rows, tables = _said_plainly(answer)  # of another version, with other keys
    warnings = answer.get("warnings") or ()
    names = ", ".join(recorded.name for recorded in kept.recordings)
    profile = kept.profile or "no profile file"
    return Finding(
        command=kept.command,
        title=title_of(kept),
        decided=answer.get("decided") is True,
        reason=sentence(str(answer.get("reason") or "no reason given")),
        rows=tuple(rows),
        tables=tuple(tables),
        warnings=tuple(
            sentence(str(each.get("text", each) if isinstance(each, Mapping) else each))
            for each in warnings
        ),
        basis=f"{names}; {profile}; version {kept.version}; {kept.made:%Y-%m-%d}",
    )


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
        rows.append(Row("Method", f"{method}, {tdc['passes']} passes"))
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
            str(mark["turn"]),
            "" if mark["firing_cylinder"] is None else str(mark["firing_cylinder"]),
        )
        for mark in answer["marks"]
    )
    heads = ("Mark", "Seen", "After TDC of cyl 1", "Later than stated", "Turn", "Then firing")
    tables = [Table("", heads, marks)] if marks else []
    causes = tuple(
        (str(each["cause"]), percent(float(each["probability"])), str(each["because"]))
        for each in answer.get("findings") or ()
    )
    if causes:
        tables.append(Table("What explains it", ("Cause", "Probability", "Because"), causes))
    return [], tables


def _said_of_cam(answer: Answer) -> Said:
    labels = {
        "shift": "Cam later than the profile",
        "shift_intake": "by the inlet",
        "shift_exhaust": "by the exhaust",
    }
    rows = [
        Row(label, _degrees(answer[key]), answer[key] is not None)
        for key, label in labels.items()
        if key in answer
    ]
    teeth = answer.get("teeth")
    if teeth is not None:
        rows.append(Row("Teeth out", f"{teeth['value']} ({percent(float(teeth['probability']))})"))
    rows += [
        Row(name.replace("_", " "), _degrees(value), value is not None)
        for name, value in (answer.get("events") or {}).items()
    ]
    return rows, []


def _said_plainly(answer: Answer) -> Said:
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


_SAID: dict[str, Callable[[Answer], Said]] = {
    "find": _said_of_tdc,
    "marks": _said_of_marks,
    "cam": _said_of_cam,
}


def _degrees(value: Mapping[str, float] | None) -> str:
    """Return an angle with its interval."""
    if value is None:
        return "not known"
    return f"{value['value']:.1f}° ({value['low']:.1f}° to {value['high']:.1f}°)"


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
