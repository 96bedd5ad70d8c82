"""What was found, in words and figures with their intervals? Every answer as a finding."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from strokewise.analysis.verdict.verdict import DECIDED_AT
from strokewise.gui import registry
from strokewise.gui.job.job import Job
from strokewise.gui.job.kept import Answered
from strokewise.gui.pages.page import Facts, Page, Part, Row, Table
from strokewise.gui.pages.words import percent, sentence
from strokewise.gui.registry import step_entry
from strokewise.gui.sheet.plain import parts_of


@dataclass(frozen=True, slots=True)
class SheetFinding:
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
    parts: tuple[Part, ...]
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


def leading(job: Job) -> tuple[Answered, ...]:
    """Return the answers of ``find`` that count, the one that the sheet is about first.

    That is one that decides, rather about cylinder 1, and of several the last: what was measured
    before may no longer hold at the encoder.
    """

    def weight(numbered: tuple[int, Answered]) -> tuple[bool, bool, int]:
        number, kept = numbered
        tdc = kept.answer.get("tdc")
        first = isinstance(tdc, Mapping) and tdc.get("cylinder") == 1
        return kept.answer.get("decided") is True, first, number

    found = [kept for kept in latest(job) if kept.command == "find"]
    return tuple(kept for _, kept in sorted(enumerate(found), key=weight, reverse=True))


def findings(job: Job) -> tuple[SheetFinding, ...]:
    """Return every answer that counts: ``find`` first, as ``leading`` has it, decided first."""
    others = [kept for kept in latest(job) if kept.command != "find"]
    order = [entry.name for entry in registry.STEPS]

    def place(each: SheetFinding) -> tuple[int, bool]:
        known = order.index(each.command) if each.command in order else len(order)
        return known, not each.decided

    tdc = tuple(_finding(kept) for kept in leading(job))
    return tdc + tuple(sorted((_finding(kept) for kept in others), key=place))


def title_of(kept: Answered) -> str:
    """Return what was asked about which recordings, in words."""
    names = ", ".join(recorded.name for recorded in kept.recordings)
    entry = step_entry(kept.command)
    title = kept.command if entry is None else entry.heading
    return f"{title} ({names})" if names else title


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


def _finding(kept: Answered) -> SheetFinding:
    answer, page = kept.answer, kept.page
    names = ", ".join(recorded.name for recorded in kept.recordings)
    profile = kept.profile or "no profile file"
    made = (f"version {kept.version}", f"{kept.made:%Y-%m-%d}")
    return SheetFinding(
        command=kept.command,
        title=title_of(kept),
        decided=answer.get("decided") is True,
        reason=sentence(str(answer.get("reason") or "no reason given")),
        parts=parts_of(answer) if page is None else (*page.parts, *_told(kept)),
        warnings=_warnings(answer) if page is None else _noticed(page),
        basis="; ".join((*filter(None, [names]), profile, *made)),
    )


def _told(kept: Answered) -> tuple[Part, ...]:
    """Return how surely the stroke is known: the customer reads no exit codes."""
    phase = kept.answer.get("phase")
    if kept.command != "find" or not kept.answer.get("firing") or not isinstance(phase, Mapping):
        return ()
    sure = float(phase.get("probability", 0.0))
    said = f"at least {100 * DECIDED_AT:g} % sure" if sure >= DECIDED_AT else percent(sure)
    return (Facts((Row("Firing told from overlap", said),)),)


def _noticed(page: Page) -> tuple[str, ...]:
    return tuple(sentence(each.text) for each in page.warnings)


def _warnings(answer: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the warnings of an answer that was kept without its page."""
    return tuple(
        sentence(str(each.get("text", each) if isinstance(each, Mapping) else each))
        for each in answer.get("warnings") or ()
    )
