"""What stands on the job sheet? Everything as plain words and tables, before it becomes a page.

Only what the job holds is put on the sheet, and what it does not hold is named as not checked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.analysis.valves.base_circle import Valve, valves_of
from strokewise.analysis.valves.clearances import MM_PER_INCH, Gap, check_gap
from strokewise.gui.job.job import Job, changed_recordings
from strokewise.gui.job.torque import tightness_words
from strokewise.gui.pages import cautions
from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.gap_words import result_words
from strokewise.gui.pages.page import Row, Table
from strokewise.gui.pages.words import sentence
from strokewise.gui.sheet.engine import engine_rows, rig_rows, sheet_engine
from strokewise.gui.sheet.findings import SheetFinding, compressions_table, findings
from strokewise.gui.sheet.photos import SheetPhoto, sheet_photos
from strokewise.gui.sheet.pictures import Picture, pictures
from strokewise.gui.sheet.summary import Summary, summary
from strokewise.gui.sheet.unchecked import unchecked


@dataclass(frozen=True, slots=True)
class ToDo:
    """A task as it stands: ``done`` holds date and initials, or is empty."""

    text: str
    why: str
    done: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """The whole job sheet.

    Attributes
    ----------
    summary : Summary
        What is said first.
    lead : Finding or None
        The finding that the sheet is about.
    warnings : tuple of str
        What speaks against the job's own files.
    """

    name: str
    made_for: str
    made: datetime
    version: str
    summary: Summary
    lead: SheetFinding | None
    engine: tuple[Row, ...]
    rig: tuple[Row, ...]
    recordings: Table
    findings: tuple[SheetFinding, ...]
    pictures: tuple[Picture, ...]
    clearances: tuple[Table, ...]
    compressions: Table | None
    torques: Table | None
    photos: tuple[SheetPhoto, ...]
    notes: tuple[Row, ...]
    to_do: tuple[ToDo, ...]
    cautions: tuple[Caution, ...]
    unchecked: tuple[str, ...]
    warnings: tuple[str, ...]


def sheet_of(job: Job, *, now: datetime, version: str) -> Sheet:
    """Return the job's sheet.

    Parameters
    ----------
    now : datetime
        When the sheet is made, in the time zone to be printed.
    version : str
        Of the software that makes the sheet; each answer names its own.
    """
    known = sheet_engine(job)
    found = findings(job)
    photos, not_shown = sheet_photos(job)
    warnings = [*job.unreadable, *not_shown]
    warnings += [f"{name}: gone or changed since it was added" for name in changed_recordings(job)]
    return Sheet(
        name=job.name,
        made_for=job.made_for,
        made=now,
        version=version,
        summary=summary(job, known.profile),
        lead=next((each for each in found if each.command == "find"), None),
        engine=engine_rows(known),
        rig=rig_rows(known),
        recordings=_recordings(job),
        findings=found,
        pictures=pictures(job),
        clearances=tuple(_clearances(job, known.profile, stage) for stage in job.stages),
        compressions=compressions_table(job),
        torques=_torques(job),
        photos=photos,
        notes=tuple(Row(f"{note.made:%Y-%m-%d}", note.text) for note in job.notes),
        to_do=_to_do(job),
        cautions=_cautions(known.profile),
        unchecked=unchecked(job, known),
        warnings=tuple(warnings),
    )


def _recordings(job: Job) -> Table:
    rows = []
    for recorded in job.recordings:
        answers = [kept.answer for kept in job.answers if recorded in kept.recordings]
        samples = [_inside(answer, "health", "samples") for answer in answers]
        sensed = [_inside(answer, "tdc", "cylinder") for answer in answers]
        rows.append(
            (
                recorded.name,
                ", ".join(dict.fromkeys(filter(None, sensed))),
                next(filter(None, samples), ""),
                recorded.sha256[:16],
            )
        )
    return Table("", ("Recording", "Sensed cylinder", "Samples", "SHA-256 begins"), tuple(rows))


def _inside(answer: Mapping[str, Any], key: str, inner: str) -> str:
    """Return a value two keys deep, or nothing."""
    outer = answer.get(key)
    return str(outer.get(inner, "")) if isinstance(outer, Mapping) else ""


def _clearances(job: Job, profile: Profile, stage: str) -> Table:
    """Return the gaps of one stage, every valve of the engine in its row."""
    gaps = {gap.valve: gap for gap in job.gaps(stage)}
    adjust = profile.valves.adjust if profile.valves is not None else "screw"
    rows: list[tuple[str, ...]] = []
    for key, words in _valves(profile, gaps).items():
        gap = gaps.get(key)
        if gap is None:
            rows.append((key, words, "", "", "", "", "", "Not measured."))
            continue
        checked = check_gap(gap, adjust=adjust)
        values = (gap.target_mm, gap.before_mm, gap.after_mm, gap.nipped_mm)
        last = next((v for v in reversed(values[1:]) if v is not None), None)
        inches = "" if last is None else f"{last / MM_PER_INCH:.4f}"
        rows.append((key, words, *map(_mm, values), inches, sentence(result_words(checked))))
    heads = ("Valve", "Cylinder", "Wanted", "Found", "Set", "Nipped up", "Last, in", "Result")
    title = "Valve clearances in mm" + (f", {stage}" if stage else "")
    return Table(title, heads, tuple(rows))


def _valves(profile: Profile, gaps: dict[str, Gap]) -> dict[str, str]:
    """Return where each valve is, in the engine's order, then any valve that it does not name."""
    try:
        valves: Sequence[Valve] = valves_of(profile)
    except InputError:
        valves = ()
    named = {valve.key: f"{valve.cylinder} {valve.kind}" for valve in valves}
    if profile.cylinders == 1 and any(key not in named for key in gaps):
        named = {}  # the engine was never stated: only what was measured can be listed
    return named | {key: "" for key in gaps if key not in named}


def _mm(value_mm: float | None) -> str:
    return "" if value_mm is None else f"{value_mm:.3f}"


def _torques(job: Job) -> Table | None:
    """Return what was drawn tight, a row each; None where nobody put anything down."""
    if not job.torques:
        return None
    rows = tuple(
        (
            each.what,
            tightness_words(each.value),
            each.tool,
            f"{each.on} {each.initials}",
            each.note,
        )
        for each in job.torques
    )
    return Table("", ("What", "How tight", "Tool", "Date and initials", "Note"), rows)


def _to_do(job: Job) -> tuple[ToDo, ...]:
    rows = []
    for task in job.tasks:
        tick = job.tick_of(task.code)
        note = f" ({tick.note})" if tick is not None and tick.note else ""
        done = "" if tick is None else f"{tick.on} {tick.initials}{note}"
        rows.append(ToDo(task.text, task.why, done))
    return tuple(rows)


def _cautions(profile: Profile) -> tuple[Caution, ...]:
    """Return what holds for whoever turns this engine next, sheet in hand."""
    return (
        cautions.MANUAL_FIRST,
        cautions.VALVE_CONTACT,
        cautions.TURNING_BY_HAND,
        cautions.turning_back(profile),
        cautions.STARTER,
        cautions.IGNITION_AND_FUEL,
    )
