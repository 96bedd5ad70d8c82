"""How does the window list what is in a job? A line each, as short as it can be read."""

from __future__ import annotations

from dataclasses import dataclass

from strokewise.analysis.errors import StrokewiseError
from strokewise.analysis.profile import Profile, Valves
from strokewise.analysis.valves.base_circle import valves_of
from strokewise.analysis.valves.clearances import check_gap
from strokewise.gui.job.job import Job, changed_recordings
from strokewise.gui.job.words import answered_words, signed_words, torque_words
from strokewise.gui.pages.gap_words import gap_words
from strokewise.gui.pages.words import sentence
from strokewise.gui.sheet.engine import sheet_engine
from strokewise.gui.sheet.unchecked import unchecked


@dataclass(frozen=True, slots=True)
class TaskLine:
    """A task as it stands.

    Attributes
    ----------
    done : str
        By whom and when, or empty.
    own : int or None
        Number of a task that this job alone has.
    """

    code: str
    text: str
    why: str
    done: str
    own: int | None = None


@dataclass(frozen=True, slots=True)
class JobEntry:
    """A line of a list: its number in the job, None where it stays there, and what it says."""

    number: int | None
    words: str
    photo: str = ""


def task_lines(job: Job) -> tuple[TaskLine, ...]:
    """Return the to-do list, done or not."""
    own = {each.task.code: each.number for each in job.own_tasks}
    lines = []
    for task in job.tasks:
        tick = job.tick_of(task.code)
        done = "" if tick is None else signed_words(tick)
        lines.append(TaskLine(task.code, task.text, task.why, done, own.get(task.code)))
    return tuple(lines)


def gap_entries(job: Job, profile: Profile) -> tuple[JobEntry, ...]:
    """Return every measured gap with what it asks for, under the number of its last measurement."""
    adjust = (profile.valves or Valves()).adjust
    last = {
        (sheet.stage, gap.valve): sheet.number for sheet in job.gap_sheets for gap in sheet.gaps
    }
    return tuple(
        JobEntry(
            last[stage, gap.valve],
            f"{gap.valve}{f', {stage}' if stage else ''}:"
            f" {gap_words(check_gap(gap, adjust=adjust))}",
        )
        for stage in job.stages
        for gap in job.gaps(stage)
    )


def valve_names(profile: Profile) -> tuple[str, ...]:
    """Return the keys of the engine's valves; none where it has none that are known."""
    try:
        return tuple(valve.key for valve in valves_of(profile))
    except StrokewiseError:
        return ()


def note_entries(job: Job) -> tuple[JobEntry, ...]:
    """Return what was noted and what was photographed, in the order in which it was put down."""
    notes = [JobEntry(each.number, f"{each.made:%Y-%m-%d}: {each.text}") for each in job.notes]
    photos = [
        JobEntry(each.number, f"Photo: {job.caption_of(each) or each.name}", each.name)
        for each in job.photos
    ]
    return tuple(sorted((*notes, *photos), key=lambda each: each.number or 0))


def torque_entries(job: Job) -> tuple[JobEntry, ...]:
    """Return what was drawn tight."""
    return tuple(JobEntry(each.number, torque_words(each)) for each in job.torques)


def unchecked_lines(job: Job) -> tuple[str, ...]:
    """Return what the sheet will say was not checked."""
    return tuple(f"Not checked: {line}" for line in unchecked(job, sheet_engine(job)))


def answer_entries(job: Job) -> tuple[JobEntry, ...]:
    """Return recordings, profile and answers, and what speaks against them."""
    changed = changed_recordings(job)
    lines = (
        *(f"! {line}" for line in job.unreadable),
        *(f"! {name}: gone or changed since it was added" for name in changed),
        f"Engine profile: {job.profiles[-1] if job.profiles else 'none, each recording’s own'}",
    )
    recordings = (JobEntry(each.number, f"Recording {each.name}") for each in job.recordings)
    answers = (
        JobEntry(kept.number, sentence(f"Answer {kept.number}: {answered_words(kept)}"))
        for kept in job.answers
    )
    return (*(JobEntry(None, line) for line in lines), *recordings, *answers)
