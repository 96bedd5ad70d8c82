"""What do the set-up page and the class-room page set going in the window?"""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from strokewise.analysis.errors import StrokewiseError
from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Board
from strokewise.daq.profile.known import KnownEngine, resolve_layers
from strokewise.daq.profile.layers import Layer
from strokewise.daq.profile.write import profile_to_table
from strokewise.daq.recording.atomic import free_name
from strokewise.daq.same_port import SamePort
from strokewise.gui.models.run.run import MakeProfile
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.run.sources import live_of
from strokewise.gui.models.sentence import Sentence
from strokewise.gui.window.class_page import ClassPage
from strokewise.gui.window.opening import Opening, Preparer
from strokewise.gui.window.questioning import Questioning
from strokewise.gui.window.setup_page import SetupPage
from strokewise.gui.window.steps.steps_page import StepsPage

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

    from strokewise.gui.models.classroom.classroom import Classroom
    from strokewise.gui.models.classroom.questions import QuestionKind
    from strokewise.gui.window.job.job_desk import JobDesk
    from strokewise.gui.window.workbench import Workbench

CLASS_ROOM = (
    "scipy.interpolate",
    "strokewise.daq.bench.rig.sensor_model",
    "strokewise.daq.bench.rig.encoder_model",
    "strokewise.daq.bench.bench",
    "strokewise.daq.bench.scenarios.scenarios",
    "strokewise.daq.bench.live",
    "strokewise.gui.models.classroom.classroom",
)
"""What the class-room needs, in the order in which it is loaded: seconds on an old machine."""

ENGINE = "strokewise.daq.bench.engine.aside"
COMPILES = "The bench's engine is made ready, this once: half a minute …"


class Rooms:
    """The pages beside the picture, made when they are first wanted."""

    def __init__(
        self, window: Workbench, needed: tuple[str, ...] = CLASS_ROOM, engine: str = ENGINE
    ) -> None:
        self.window = window
        self._needed, self._engine = needed, engine
        self._classroom: Classroom | None = None
        self._preparer: Preparer | None = None
        self.questioning = Questioning(window, self)
        self._kept_answers = 0
        self._desk: JobDesk | None = None

    @property
    def desk(self) -> JobDesk:
        """What puts things into the job, made when it is first wanted."""
        if self._desk is None:
            from strokewise.gui.window.job.job_desk import JobDesk

            self._desk = JobDesk(self.window)
        return self._desk

    @property
    def classroom(self) -> Classroom:
        """The bench engine in the trainer's hands; loaded here and now if nobody has before."""
        if self._classroom is None:
            from strokewise.gui.models.classroom.classroom import Classroom

            self._classroom = Classroom()
        return self._classroom

    @classroom.setter
    def classroom(self, classroom: Classroom) -> None:
        self._classroom = classroom

    @property
    def _open(self) -> bool:
        """Whether the class-room is loaded, so that entering it costs nothing."""
        if self._classroom is not None:
            return True
        if self._preparer is not None:
            return self._preparer.finished
        return all(name in sys.modules for name in self._needed)

    def page(self, name: str) -> QWidget:
        """Return a page, made new the first time; the class-room's may still be opening."""
        if name == "setup":
            return self._setup()
        if name == "steps":
            return self._steps()
        if name == "job":
            return self.desk.page
        if name == "lesson" and self.window.lesson is not None:
            return self.window.lesson.desk
        if self._open:
            return self._class()
        waiting = Opening("Opening the class-room")
        self._when_open(self._opened, waiting.show_progress)
        return waiting

    def _opened(self) -> None:
        """Put the class-room in the place of the page that stood there meanwhile."""
        window = self.window
        waiting = window.pages.pop("class", None)
        if waiting is not None:
            shown = window.view == "class"
            window.stack.removeWidget(waiting)
            waiting.deleteLater()
            if shown:
                window.show_page("class")

    def _when_open(
        self, then: Callable[[], None], progress: Callable[[float], None] = lambda share: None
    ) -> None:
        """Load what the class-room needs aside, then go on."""
        if self._preparer is None:
            self._preparer = Preparer(self._needed, self._engine)
            self._preparer.compiles.connect(lambda: self.window.say(COMPILES, stays=True))
            self._preparer.done.connect(self._made_ready)
        self._preparer.progress.connect(progress)
        self._preparer.done.connect(then)
        self._preparer.begin()

    def _made_ready(self) -> None:
        if self.window.bar.words == COMPILES:
            self.window.bar.clear()

    @property
    def has_classroom(self) -> bool:
        """Whether the class-room has been entered: before, nothing can be hidden."""
        return self._classroom is not None

    def moment(self, snapshot: Snapshot) -> Snapshot:
        """Return what may be drawn: while a question is open, the frozen moment, masked."""
        return self.questioning.moment(snapshot)

    def sentence(self, snapshot: Snapshot) -> Sentence:
        """Return the sentence that may be read."""
        return self.questioning.sentence(snapshot)

    def ask(self, kind: QuestionKind) -> None:
        """Hide the verdict and ask; asked again, let the class go on."""
        if not self._open:
            self.window.say("Opening the class-room …")
            self._when_open(partial(self._ask_now, kind))
            return
        self.questioning.ask(kind)

    def _ask_now(self, kind: QuestionKind) -> None:
        self.window.bar.clear()
        self.ask(kind)

    def with_classroom(self, then: Callable[[Classroom], None]) -> None:
        """Do something with the class-room, once it is open."""
        if self._open:
            then(self.classroom)
            return
        self.window.say("Opening the class-room …")
        self._when_open(lambda: then(self.classroom))

    def _setup(self) -> SetupPage:
        window = self.window
        page = SetupPage(window.settings, window.run.snapshot.profile)
        page.said.connect(window.say)
        page.connect_wanted.connect(self._connect)
        page.profile_wanted.connect(self._use_profile)
        page.recording_wanted.connect(window.actions_.open_recording)
        return page

    def _steps(self) -> StepsPage:
        page = StepsPage()
        page.said.connect(self.window.say)
        page.lack_wanted.connect(self.fill_in)
        return page

    def fill_in(self, key: str) -> None:
        """Show the profile's form where a key is filled in."""
        self.window.show_page("setup")
        page = self.window.pages["setup"]
        assert isinstance(page, SetupPage)
        page.editor.go_to(key)

    def show_step(self, name: str) -> StepsPage:
        """Show one of the steps after TDC."""
        self.window.show_page("steps")
        page = self.window.pages["steps"]
        assert isinstance(page, StepsPage)
        page.open(name)
        return page

    def _class(self) -> ClassPage:
        page = ClassPage(self.classroom)
        page.gauge = self.window.settings.gauge
        page.fill()
        page.said.connect(self.window.say)
        page.scenario_wanted.connect(self.run_scenario)
        page.question_wanted.connect(self.ask)
        page.answers_wanted.connect(self._keep_answers)
        page.action_wanted.connect(self.window.actions_.do)
        return page

    def _connect(self, port: str, baud: int, job: str, suspect: bool) -> None:
        window = self.window
        page = window.pages.get("setup")
        # What stands on the page counts, whether or not it was said to be in use.
        edited = page.draft.profile if isinstance(page, SetupPage) else None
        profile = edited or window.run.snapshot.profile
        try:
            table = profile_to_table(profile)
            # With the profile from the start: the cautions that come first are those it calls for.
            run = live_of(
                port,
                SamePort(port, baud),
                profile_from(table),
                table=table,
                suspect=suspect,
            )
        except StrokewiseError as error:
            window.say(str(error))
            return
        window.change_run(run, begin=False)
        window.show_view("chart")
        window.remember(baud=baud)
        window.begin_live(job, port)

    def _use_profile(self, profile: Profile, path: str) -> None:
        window = self.window
        if path:
            window.settings = window.settings.with_profile(path)
            window.keep(window.settings)
        table = profile_to_table(profile)
        if window.live is not None:
            window.live.use_profile(profile_from(table), table)
            window.say(f"Saved as {path} and in use" if path else "In use")
        elif path and window.drops.played:
            window.drops.take(Path(window.drops.played), engine=path)
            window.say(f"Saved as {path}; the recording is read anew with it")
        else:
            window.say(
                f"Saved as {path}. This replay keeps its own; open it again with --engine {path}"
                if path
                else "A replay keeps its own profile: save this one, then replay with --engine"
            )

    def run_scenario(self, name: str) -> None:
        """Run a scenario of the bench engine as if it were a port."""
        try:
            run = self.classroom.choose(name)
        except StrokewiseError as error:
            self.window.say(str(error))
            return
        self.fill_class()
        self.window.change_run(run)
        self.window.show_view("chart")

    def fill_class(self) -> None:
        """Show on the page what has changed in the class-room."""
        page = self.window.pages.get("class")
        if isinstance(page, ClassPage):
            page.gauge = self.window.settings.gauge
            page.fill()

    def close(self) -> None:
        """Keep what the class has answered and nobody has kept yet: closing loses nothing."""
        if self.window.lesson is not None:
            self.window.lesson.close()
        if self._classroom is not None and len(self._classroom.answers) > self._kept_answers:
            self._keep_answers()
        steps = self.window.pages.get("steps")
        if isinstance(steps, StepsPage):
            steps.close_book()

    def _keep_answers(self) -> None:
        self._write("class-answers", ".csv", self.classroom.answers_csv())
        self._kept_answers = len(self.classroom.answers)

    def _write(self, stem: str, suffix: str, text: str) -> None:
        folder = self.window.settings.exports
        path = free_name(folder, f"{stem}-{datetime.now():%Y-%m-%d}", suffix)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            Path(path).write_text(text, encoding="utf-8")
        except OSError as error:
            self.window.say(f"{path} could not be written: {error.strerror}")
            return
        self.window.say(f"Saved as {path}")


def profile_from(table: dict[str, Any]) -> MakeProfile:
    """Return what makes the profile of a table, with the board's word where the table has none."""

    def make(board: Board | None) -> KnownEngine:
        return resolve_layers([Layer("this profile", table)], board)

    return make
