"""What has been measured, answered and done on this engine? A job, as its folder tells it.

Everything is frozen and read from the folder; whoever adds something reads the job again. Each
answer lies beside the recordings and the profile that gave it, with the version of the software,
so that it can be computed again.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import InputError, StrokewiseError
from strokewise.analysis.profile import Valves
from strokewise.analysis.valves.clearances import Gap, check_gap
from strokewise.daq.known_recording import known_of
from strokewise.daq.profile.known import KnownEngine, known_engine
from strokewise.daq.recording.read import read_recording
from strokewise.gui.job.kept import (
    CAN_BE_UNDONE,
    GAP_FIELDS,
    KEPT_READERS,
    Answered,
    GapSheet,
    JobRecording,
    Note,
    OwnTask,
    Photo,
    PhotoCaption,
    Tick,
    Torque,
    Undone,
    table_in,
)
from strokewise.gui.job.store import HEAD_FILE, kept_files
from strokewise.gui.job.tasks import TASKS, Task

JOB_FORMAT = 1


@dataclass(frozen=True, slots=True)
class Job:
    """A whole job.

    Attributes
    ----------
    tasks : tuple of Task
        The to-do list that it was made with, then its own tasks.
    profiles : tuple of str
        Names of the profile files, the last one counts.
    answers_undone, recordings_undone : tuple of (Answered or JobRecording, Undone)
        Answers and recordings that were taken back, and by whom.
    unreadable : tuple of str
        One line for each numbered file that is damaged; everything else still holds.
    """

    folder: Path
    name: str
    made: datetime
    version: str
    made_for: str = ""
    tasks: tuple[Task, ...] = TASKS
    profiles: tuple[str, ...] = ()
    recordings: tuple[JobRecording, ...] = ()
    answers: tuple[Answered, ...] = ()
    gap_sheets: tuple[GapSheet, ...] = ()
    ticks: tuple[Tick, ...] = ()
    notes: tuple[Note, ...] = ()
    photos: tuple[Photo, ...] = ()
    captions: tuple[PhotoCaption, ...] = ()
    own_tasks: tuple[OwnTask, ...] = ()
    torques: tuple[Torque, ...] = ()
    undone: tuple[Undone, ...] = ()
    answers_undone: tuple[tuple[Answered, Undone], ...] = ()
    recordings_undone: tuple[tuple[JobRecording, Undone], ...] = ()
    unreadable: tuple[str, ...] = ()

    @property
    def profile_path(self) -> Path | None:
        """The profile that counts; None where nobody gave one."""
        return self.folder / self.profiles[-1] if self.profiles else None

    def engine(self) -> KnownEngine:
        """Return what the job's profile and its last recording, board and all, say of the engine.

        A recording that cannot be read says nothing.

        Raises
        ------
        ProfileError
            The profile is damaged.
        """
        if self.recordings:
            with suppress(StrokewiseError):
                return known_of(
                    read_recording(self.folder / self.recordings[-1].name),
                    engine=self.profile_path,
                )
        return known_engine(engine=self.profile_path)

    def tick_of(self, code: str) -> Tick | None:
        """Return the tick that a task has now, or None."""
        last = next((tick for tick in reversed(self.ticks) if tick.task == code), None)
        return last if last is not None and last.done else None

    @property
    def to_do(self) -> tuple[Task, ...]:
        """The tasks that nobody has ticked."""
        return tuple(task for task in self.tasks if self.tick_of(task.code) is None)

    def caption_of(self, photo: Photo) -> str:
        """Return what a photo shows, as it was said last; nothing where nobody said it."""
        said = (each.text for each in reversed(self.captions) if each.photo == photo.name)
        return next(said, "")

    def gaps(self, stage: str = "") -> tuple[Gap, ...]:
        """Return every valve's gap of a stage, a later measurement going before an earlier."""
        merged: dict[str, Gap] = {}
        for sheet in self.gap_sheets:
            for gap in sheet.gaps if sheet.stage == stage else ():
                old = merged.get(gap.valve, gap)
                said = {f: getattr(gap, f) for f in GAP_FIELDS if getattr(gap, f) is not None}
                rest = {f: getattr(old, f) for f in GAP_FIELDS if f not in said}
                merged[gap.valve] = Gap(gap.valve, **said, **rest)
        return tuple(merged.values())

    @property
    def stages(self) -> tuple[str, ...]:
        """The stages at which gaps were measured, in order."""
        return tuple(dict.fromkeys(sheet.stage for sheet in self.gap_sheets))

    @property
    def valves_good(self) -> tuple[str, ...]:
        """The valves that are done: those of the last stage whose gap is good."""
        return self.good_at(self.stages[-1]) if self.stages else ()

    def good_at(self, stage: str) -> tuple[str, ...]:
        """Return the valves whose gap was good at a stage, as last measured."""
        gaps = self.gaps(stage)
        valves = self.engine().profile.valves or Valves()
        checks = [check_gap(gap, adjust=valves.adjust) for gap in gaps]
        return tuple(check.gap.valve for check in checks if check.status == "good")


def changed_recordings(job: Job) -> tuple[str, ...]:
    """Return the names of recordings under an answer that are gone or no longer the same."""
    wanted = {each.name: each.sha256 for answer in job.answers for each in answer.recordings}
    now = {each.name: each.sha256 for each in job.recordings}
    return tuple(name for name, sha256 in wanted.items() if now.get(name) != sha256)


def read_job(folder: Path | str) -> Job:
    """Read a job from its folder.

    Raises
    ------
    InputError
        There is no job in the folder, or its head file is damaged.
    """
    place = Path(folder)
    if not (place / HEAD_FILE).is_file():
        raise InputError(f"{place}: no job in this folder ({HEAD_FILE} is missing); see job new")
    try:
        head = table_in(place / HEAD_FILE)
        if head["format"] != JOB_FORMAT:
            raise ValueError(f"format {head['format']}, this version reads format {JOB_FORMAT}")
        made = datetime.fromisoformat(head["made"])
        tasks = tuple(Task(**each) for each in head["todo"])
        known: dict[str, Any] = {"name": str(head["name"]), "version": str(head["version"])}
    except (OSError, ValueError, LookupError, TypeError) as error:
        raise InputError(
            f"{place / HEAD_FILE}: cannot be used ({' '.join(str(error).split())})"
        ) from None
    found: dict[str, list[Any]] = {}
    unreadable: list[str] = []
    for kept in kept_files(place):
        reader = KEPT_READERS.get(kept.kind)
        if reader is None:
            continue
        field, read = reader
        try:
            found.setdefault(field, []).append(read(kept))
        except (OSError, ValueError, LookupError, TypeError, AttributeError) as error:
            unreadable.append(f"{kept.path.name}: damaged ({' '.join(str(error).split())})")
    gone = {each.which: each for each in found.get("undone", ())}
    taken_back = {
        field: tuple((v, gone[v.number]) for v in found.get(field, ()) if v.number in gone)
        for field in ("answers", "recordings")
    }
    parts: dict[str, Any] = {
        field: tuple(v for v in values if field not in CAN_BE_UNDONE or v.number not in gone)
        for field, values in found.items()
    }
    tasks += tuple(own.task for own in parts.get("own_tasks", ()))
    return Job(
        folder=place,
        made=made,
        made_for=str(head.get("for", "")),
        tasks=tasks,
        answers_undone=taken_back["answers"],
        recordings_undone=taken_back["recordings"],
        unreadable=tuple(unreadable),
        **known,
        **parts,
    )
