"""What does the job's page set going? Files chosen, answers kept, the sheet made."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from strokewise.analysis.errors import InputError
from strokewise.daq.recording.atomic import free_name
from strokewise.daq.recording.container import RECORDING_SUFFIX
from strokewise.gui.job.photo import PHOTO_SUFFIXES
from strokewise.gui.job.store import HEAD_FILE
from strokewise.gui.models.jobs.job_book import NO_JOB, JobBook
from strokewise.gui.models.jobs.keep_shown import Shown, keep_shown, take_recordings
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.going import Going
from strokewise.gui.window.choosing import choose_files
from strokewise.gui.window.job.job_page import JobPage
from strokewise.gui.window.job.job_part import tried
from strokewise.gui.window.loader import load

if TYPE_CHECKING:
    from collections.abc import Callable

    from strokewise.gui.sheet.pdf import Paper
    from strokewise.gui.sheet.write import SheetFiles
    from strokewise.gui.window.steps.steps_page import StepsPage
    from strokewise.gui.window.workbench import Workbench

RECORDINGS = [f"Recordings (*{RECORDING_SUFFIX})"]


class JobDesk:
    """The job in the window's hands."""

    def __init__(self, window: Workbench) -> None:
        self.window = window
        self.book = JobBook()
        self.page = page = JobPage(self.book)
        page.said.connect(window.say)
        page.open_wanted.connect(self.ask_which)
        page.make_wanted.connect(self.ask_where)
        page.recent_wanted.connect(self.open)
        page.who_changed.connect(lambda initials: window.remember(initials=initials))
        page.notes.photo_wanted.connect(self.ask_photo)
        page.answers.recordings_wanted.connect(self.ask_recordings)
        page.answers.profile_wanted.connect(self.ask_profile)
        page.answers.shown_wanted.connect(self.keep_shown)
        page.sheet.wanted.connect(self.make_sheet)
        page.show_who(window.settings.initials)
        page.show_recent(window.settings.recent_jobs)

    # -- which job

    def ask_which(self) -> None:
        """Ask for a job."""
        recent = [str(Path(each).parent) for each in self.window.settings.recent_jobs]
        self._choose("The job’s file", [f"Jobs ({HEAD_FILE})"], self.open, recent=recent)

    def ask_where(self, made_for: str) -> None:
        """Ask for a new job's folder; one is offered beside the last job, to be taken as it is."""
        recent = [str(Path(each).parent) for each in self.window.settings.recent_jobs]
        home = self.window.settings.exports / "job"
        beside = Path(recent[0]).parent if recent else home.parent
        if not beside.is_dir():  # nothing was ever kept there
            beside = beside.parent
        self.window.dialog = choose_files(
            self.window,
            "Folder of the new job; the job is called like it",
            [],
            lambda names: self.make(made_for, names[0]),
            saves=True,
            recent=[*recent, str(home)],
            offered=free_name(beside, f"job-{self.book.today}", ""),
        )

    def open(self, path: str) -> None:
        """Open a job and show it."""
        self._take(lambda: self.book.open(path))

    def make(self, made_for: str, folder: str) -> None:
        """Make a job and show it."""
        self._take(lambda: self.book.make(folder, made_for.strip()))

    def _take(self, open_it: Callable[[], str]) -> None:
        window = self.window
        if not self._do(open_it):
            return
        window.settings = window.settings.with_job(str(self.book.head_file))
        window.keep(window.settings)
        self.page.show_recent(window.settings.recent_jobs)
        self.page.sheet.files = ()
        window.show_page("job")
        self.page.take_keyboard()

    # -- what goes into it

    def ask_recordings(self) -> None:
        """Ask for recordings, to be copied into the job."""
        recent = self.window.settings.recent_recordings
        self.window.dialog = choose_files(
            self.window,
            "Recordings for the job",
            RECORDINGS,
            self.take_recordings,
            many=True,
            recent=recent,
        )

    def take_recordings(self, paths: list[str]) -> None:
        """Put recordings into the job."""
        folder = self.book.job.folder
        self._aside("Reading for the job", lambda going: take_recordings(folder, paths, going))

    def ask_photo(self, shows: str) -> None:
        """Ask for a photo."""
        filters = [f"Photos ({' '.join(f'*{each}' for each in PHOTO_SUFFIXES)})"]
        take = self.page.notes.take_photo
        pictures = str(Path(platformdirs.user_pictures_dir()) / "photo")
        self._choose("Photo", filters, lambda name: take(name, shows), recent=[pictures])

    def ask_profile(self) -> None:
        """Ask for the engine profile that counts from now on."""
        recent = self.window.settings.recent_profiles
        words = "Engine profile of the job"
        take = self.book.take_profile
        self._choose(
            words, ["Profiles (*.toml)"], lambda n: self._do(lambda: take(n)), recent=recent
        )

    def keep_shown(self) -> None:
        """Put the answer that is shown into the job; it is worked out aside."""
        window = self.window
        if not self.book.is_open:
            window.show_page("job")
            window.say(NO_JOB)
            return
        try:
            shown = self._shown()
        except InputError as error:
            window.say(str(error))
            return
        folder = self.book.job.folder
        self._aside(
            "Working the answer out about the whole recording",
            lambda going: keep_shown(folder, shown, datetime.now(UTC), going),
        )

    def _shown(self) -> Shown:
        """Return what is asked on the page that is open, or was before the job's.

        Raises
        ------
        InputError
            There is no recording that it could be kept with.
        """
        window = self.window
        steps: StepsPage | None = window.pages.get("steps")  # type: ignore[assignment]
        view = window.shown_before if window.view == "job" else window.view
        if steps is None or view != "steps":
            return Shown("find", (self._recording(),), {})
        book = steps.book
        if book.chosen == "compare":
            if not book.files:
                raise InputError("Choose the recordings to compare first")
            return Shown("compare", book.files, book.typed, book.oiled)
        answered = book.answered
        of_valves = answered is not None and book.chosen == "valves"
        gaps = answered.answer.setting.gaps if answered is not None and of_valves else ()
        return Shown(book.chosen, (self._recording(),), book.typed, gaps=tuple(gaps))

    def _recording(self) -> Path:
        window = self.window
        if window.replay is not None and window.replay.file is not None:
            return window.replay.file
        if window.run.snapshot.link.recording:
            raise InputError("Still recording: stop that first (R), then keep the answer")
        if window.recorded is None or not window.recorded.exists():
            raise InputError("Record it first (R): an answer is kept with what it rests on")
        return window.recorded

    # -- the sheet

    def make_sheet(self, paper: Paper) -> None:
        """Make the sheet of all that is there, whoever put it there; no older one is lost."""
        from strokewise.gui.sheet.write import sheet_files  # the page opens sooner without it

        self.book.read_again()
        files = sheet_files(self.book.job)
        there = [each.name for each in (files.html, files.pdf) if each.exists()]
        if not there:
            self._write(files, paper)
            return
        self.window.bar.ask(
            f"{' and '.join(there)} {'is' if len(there) == 1 else 'are'} there already",
            self.window.colours,
            (("Leave it", None), ("Write it anew", partial(self._write, files, paper))),
        )

    def _write(self, files: SheetFiles, paper: Paper) -> None:
        job = self.book.job
        version = metadata.version("strokewise")
        now = datetime.now(UTC).astimezone()

        def work(going: Going) -> str:
            from strokewise.gui.sheet.sheet import sheet_of
            from strokewise.gui.sheet.write import write_both

            sheet = sheet_of(job, now=now, version=version)
            pages = write_both(sheet, files, paper, going)
            self.page.sheet.files = (f"{files.pdf}, {pages} pages", str(files.html))
            return f"Made {files.pdf}, {pages} pages, and {files.html.name}"

        self._aside("Making the sheet", work)

    # -- how it is done

    def _aside(self, words: str, work: Callable[[Going], str]) -> None:
        """Do something to the job that takes its time; then show the job, and what there is to say.

        What is left of work that failed or was stopped, such as a recording, is shown, too.
        """

        def ended(said: str) -> None:
            self.book.read_again()
            self.page.fill()
            self.window.say(said)

        load(self.window, words, work, ended, lambda error: ended(fault_words(words, error)))

    def _do(self, what: Callable[[], str]) -> bool:
        done, words = tried(what)
        if done:
            self.page.fill()
        self.window.say(words)
        return done

    def _choose(
        self,
        words: str,
        filters: list[str],
        take: Callable[[str], object],
        *,
        recent: list[str] | tuple[str, ...],
    ) -> None:
        self.window.dialog = choose_files(
            self.window, words, filters, lambda names: take(names[0]), recent=recent
        )
