"""Which job is open, and what goes into it from the window? Words typed become files of the job."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import cached_property
from importlib import metadata
from pathlib import Path

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.gui.job.add import (
    add_gaps,
    add_note,
    add_photo,
    add_profile,
    add_task,
    add_torque,
    create_job,
    take_back,
    tick_task,
)
from strokewise.gui.job.day import day_said
from strokewise.gui.job.gaps import gap_measured
from strokewise.gui.job.job import Job, read_job
from strokewise.gui.job.store import HEAD_FILE

NO_JOB = "No job is open: press F8, then open one or make one"


class JobBook:
    """The open job.

    Attributes
    ----------
    initials, day : str
        Who does what is put down, and when, as typed.
    """

    def __init__(self, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self._now = now
        self._job: Job | None = None
        self.initials, self.day = "", self.today

    @property
    def today(self) -> str:
        """The day as it is typed."""
        return self._now().astimezone().date().isoformat()

    @property
    def is_open(self) -> bool:
        """Whether there is a job to put something into."""
        return self._job is not None

    @property
    def job(self) -> Job:
        """The open job.

        Raises
        ------
        InputError
            There is none.
        """
        if self._job is None:
            raise InputError(NO_JOB)
        return self._job

    @property
    def head_file(self) -> Path:
        """The file that the open job is opened by."""
        return self.job.folder.absolute() / HEAD_FILE

    @cached_property
    def profile(self) -> Profile:
        """What is known of the job's engine; worked out once, until something is added."""
        return self.job.engine().profile

    def open(self, path: Path | str) -> str:
        """Open a job by its folder or the head file in it."""
        named = Path(path)
        self._take(read_job(named.parent if named.name == HEAD_FILE else named))
        return f"Job “{self.job.name}” is open"

    def make(self, folder: Path | str, made_for: str) -> str:
        """Make a job in a new folder, called like it, and open it."""
        name = Path(folder).name
        version = metadata.version("strokewise")
        self._take(create_job(folder, name, now=self._now(), version=version, made_for=made_for))
        return f"New job “{name}”: {len(self.job.tasks)} things to do"

    def read_again(self) -> None:
        """Read what has been added since."""
        self._take(read_job(self.job.folder))

    def _take(self, job: Job) -> None:
        self._job = job
        self.__dict__.pop("profile", None)

    # -- what goes into it; each returns what there is to say

    def tick(self, code: str, note: str, *, done: bool = True) -> str:
        """Tick a task, or take its tick back."""
        folder = self.job.folder
        self._take(
            tick_task(
                folder, code, initials=self._who(), on=self._on_day(), done=done, note=note.strip()
            )
        )
        left = f"{len(self.job.to_do)} of {len(self.job.tasks)} still to do"
        return f"{'Ticked' if done else 'Taken back'}; {left}"

    def measure(self, valve: str, gaps: tuple[str, str, str], wanted: str, stage: str) -> str:
        """Put down a valve's gap as found, as set and nipped up; empty where not measured."""
        if not any(gap.strip() for gap in gaps):
            raise InputError(f"{valve}: no gap was typed; such as 0.35 mm, or 14 thou")
        gap = gap_measured(self.job, valve, gaps, wanted.strip() or None, named=valve)
        return self._kept(add_gaps(self.job.folder, [gap], stage=stage.strip()))

    def note(self, text: str) -> str:
        """Put down a note."""
        return self._kept(add_note(self.job.folder, text, now=self._now()))

    def photo(self, path: Path | str, shows: str) -> str:
        """Put a photo into the job, with what it shows."""
        name = add_photo(self.job.folder, path, shows or Path(path).stem, now=self._now())
        return self._kept(name) + ", without where and when it was taken"

    def own_task(self, text: str, why: str) -> str:
        """Put a task of this job's own on its list."""
        task = add_task(self.job.folder, text, why=why.strip())
        self.read_again()
        return f"To do: {task.text}"

    def torque(self, what: str, value: str, tool: str, note: str) -> str:
        """Put down how tight something was drawn."""
        name = add_torque(
            self.job.folder,
            what,
            value,
            tool=tool,
            initials=self._who(),
            on=self._on_day(),
            note=note.strip(),
        )
        return self._kept(name)

    def undo(self, number: int) -> str:
        """Take back what was put down under a number."""
        sheet = next((each for each in self.job.gap_sheets if each.number == number), None)
        of = f" of {', '.join(gap.valve for gap in sheet.gaps)}" if sheet else ""
        what = take_back(self.job.folder, number, initials=self._who(), on=self._on_day())
        self.read_again()
        return f"Taken back: {what} {number}{of}"

    def take_profile(self, path: Path | str) -> str:
        """Let another engine profile count from now on."""
        return self._kept(add_profile(self.job.folder, path))

    def _kept(self, name: str) -> str:
        self.read_again()
        return f"Kept {name}"

    def _who(self) -> str:
        if not self.initials.strip():
            raise InputError("Whose initials? Type them at the top of the job's page first")
        return self.initials

    def _on_day(self) -> date:
        return day_said(self.day.strip(), self.today)
