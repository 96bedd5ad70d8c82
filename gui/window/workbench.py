"""The window: verdict above, picture below, and nothing that ever stops the run."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QCloseEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from strokewise.gui.models.figures.laid import NOTHING_LAID
from strokewise.gui.models.figures.units import PressureUnit, in_unit, unit_for, unit_named
from strokewise.gui.models.foot import NO_PORT
from strokewise.gui.models.keys import When, foot_keys
from strokewise.gui.models.palette import Palette, palette
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.snapshot import HIDDEN_NAME, Snapshot
from strokewise.gui.models.sentence import Sentence
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.models.turn.target import Target, marks_by_key
from strokewise.gui.models.turn.tone import SILENCE, tone_for
from strokewise.gui.window.actions import Actions
from strokewise.gui.window.answer_column import AnswerColumn
from strokewise.gui.window.chart.chart_page import ChartPage
from strokewise.gui.window.drops import Drops
from strokewise.gui.window.exports import Exportable
from strokewise.gui.window.figure_room import FigureRoom
from strokewise.gui.window.foot import show_foot
from strokewise.gui.window.key_claims import is_for_itself
from strokewise.gui.window.key_row import KeyRow
from strokewise.gui.window.pace import Pace
from strokewise.gui.window.panels import AskBar, Panel
from strokewise.gui.window.passing_note import PassingNote
from strokewise.gui.window.sound import Speaker
from strokewise.gui.window.strip import Strip
from strokewise.gui.window.verdict_band import VerdictBand
from strokewise.gui.window.view_rail import ViewRail
from strokewise.gui.window.work_bar import WorkBar

if TYPE_CHECKING:
    from strokewise.gui.window.figure_view import FigureView
    from strokewise.gui.window.lesson.lesson_play import LessonPlay
    from strokewise.gui.window.page_controllers import Rooms

SWITCH_S = 0.0005
"""A tenth of Python's own: the fit loses little by it, a picture no longer waits."""


class Workbench(QWidget):
    """The window of a live run or a replay.

    Parameters
    ----------
    run : LiveRun or ReplayRun
        Started by :meth:`begin`, stopped when the window closes.
    settings : Settings
        What is remembered.
    keep : callable, optional
        Called with the settings when they have changed.
    speaker : Speaker, optional
    """

    closed = Signal()

    def __init__(
        self,
        run: LiveRun | ReplayRun,
        settings: Settings,
        *,
        keep: Callable[[Settings], object] = lambda settings: None,
        speaker: Speaker | None = None,
    ) -> None:
        super().__init__()
        # Drawing asks for the interpreter hundreds of times a picture: whatever goes on beside it,
        # the fit or the reading of a large recording, must give way.
        sys.setswitchinterval(SWITCH_S)
        self.run = run
        self.settings = settings
        self.keep = keep
        self.speaker = speaker or Speaker()
        self.view = "chart"
        self.chosen: Target | None = None
        self.chosen_mark = ""
        self.laid = NOTHING_LAID
        self.recorded: Path | None = None
        """The recording that this live run was last kept in."""
        self.shown_before = "chart"
        """The view before the job's page: its answer is the one to be kept."""
        self.lesson: LessonPlay | None = None
        """The class that is held, if one is."""
        self.loader: object = None
        self.dialog: object = None
        """What reads a recording or asks for one, held so that it can finish."""
        self.snapshot: Snapshot = run.snapshot
        self.drawn = 0
        """How many moments have been drawn."""
        self._closing = False
        self._rooms: Rooms | None = None
        self._figures = FigureRoom(self)
        self._begun = False
        self.pace = Pace(self, self.refresh, self._age)
        self._lay_out()
        self.setWindowTitle(f"strokewise · {self.run_name}")
        self.resize(1366, 768)
        self.setMinimumSize(900, 560)

    @property
    def colours(self) -> Palette:
        """The palette in use."""
        return palette("dark" if self.settings.theme == "dark" else "light")

    @property
    def unit(self) -> PressureUnit:
        """The unit of pressure that was chosen."""
        return unit_named(self.settings.unit)

    @property
    def run_name(self) -> str:
        """What the run is called here: while a question stands, nothing that answers it."""
        return HIDDEN_NAME if self.question_stands else self.run.name or NO_PORT

    @property
    def question_stands(self) -> bool:
        """Whether a class is still to answer."""
        return self._rooms is not None and self._rooms.questioning.stands is not None

    @property
    def mark(self) -> str:
        """The mark that key M puts down: the one chosen, or the first that the profile names."""
        names = marks_by_key(self.run.snapshot.profile)
        return self.chosen_mark if self.chosen_mark in names else (*names, "mark")[0]

    @property
    def replay(self) -> ReplayRun | None:
        """The run, where it is a replay."""
        return self.run if isinstance(self.run, ReplayRun) else None

    @property
    def live(self) -> LiveRun | None:
        """The run, where it is live."""
        return self.run if isinstance(self.run, LiveRun) else None

    @property
    def kind(self) -> When:
        """Which keys do something here."""
        return "live" if self.live is not None else "replay"

    @property
    def circumstances(self) -> set[When]:
        """Which keys do something here, all of them."""
        return {self.kind} if self.lesson is None else {self.kind, "lesson"}

    def begin(self) -> None:
        """Start the run and draw what it brings."""
        if not self._begun:
            self._begun = True
            self.run.newest.on_news = self.pace.news.emit
            self.run.start()

    def begin_live(self, job: str, port: str) -> None:
        """Begin a live run; before the first one of a job the cautions are read."""
        name = job or f"port {port}"
        self.remember(port=port)

        def read() -> None:
            if job:  # a nameless job is a new one every time
                self.settings = self.settings.with_cautions_read(name)
                self.keep(self.settings)
            self.begin()

        if job and name in self.settings.cautions_read:
            self.begin()
        else:
            self.actions_.show_cautions(read)

    def change_run(self, run: LiveRun | ReplayRun, *, begin: bool = True) -> None:
        """Follow another run in the same window; the old one is stopped whole."""
        self.run.newest.on_news = None
        self.run.stop()
        self.run, self._begun, self.recorded = run, False, None
        if self._rooms is not None:
            self._rooms.questioning.go_on()  # nothing asked of another run stands any more
        self.setWindowTitle(f"strokewise · {self.run_name}")
        self.strip.setVisible(isinstance(run, ReplayRun))
        self.row.take_keys(foot_keys(self.circumstances))
        self.chosen, self.laid = None, self.laid.without_healthy()
        self._figures.forget()
        self.chart_page.guide.rock_asked = None
        if begin:
            self.begin()
        self.refresh()

    def remember(self, **changes: object) -> None:
        """Change settings and keep them."""
        self.settings = replace(self.settings, **changes)  # type: ignore[arg-type]
        self.keep(self.settings)

    def remember_recording(self, path: str) -> None:
        """Remember a recording that was opened."""
        self.settings = self.settings.with_recording(path)
        self.keep(self.settings)

    def show_view(self, name: str) -> None:
        """Show a view by its name."""
        if name == "job" != self.view:
            self.shown_before = self.view
        self.view = name
        beside = name in self.pages and name != "chart"
        self.band.setVisible(not beside)
        above = (self.row,) if name == "steps" else (self.strip, self.row)
        self.note.stand(above, self.stack if beside and name != "steps" else None)
        self.answers.setVisible(bool(self.answers.buttons) and not beside)
        moves = not self.question_stands and (not beside or name == "steps")
        self.strip.setVisible(self.replay is not None and moves)
        self.stack.setCurrentWidget(self.pages.get(name) or self.figure)
        self.rail.show_chosen(name, self.colours)
        if name == "chart" or name not in self.pages:
            self.setFocus()  # a field that is not seen any more must not swallow the keys
        self.redraw()

    def redraw(self) -> None:
        """Draw the present moment anew, whatever was drawn before."""
        self._figures.forget()
        self.refresh()

    def refresh(self) -> None:
        """Draw the newest moment."""
        self.pace.drawn()
        snapshot = self.run.look()
        if self._rooms is not None:
            snapshot = self._rooms.moment(snapshot)
        self.snapshot = snapshot
        self.draw(snapshot)
        self.drawn += 1

    def draw(self, snapshot: Snapshot) -> None:
        """Draw one moment."""
        colours = self.colours
        self.rail.show_chosen(self.view, colours)
        self.work.follow(snapshot, self.run, colours)
        # Before a class it is one line: the figures need the room to be read from the last row.
        far = snapshot.before_class
        self.band.be_brief(self.view != "chart" or far, far=far)
        self.band.show_sentence(self.sentence_shown(snapshot), colours)
        if self.view == "chart":
            unit = unit_for(snapshot.profile, self.unit)
            self.chart_page.show_snapshot(snapshot, unit, colours)
        elif self.view in self.pages:
            self.pages[self.view].show_snapshot(snapshot, self.unit, colours)  # type: ignore[attr-defined]
        else:
            self._figures.draw(snapshot)
        self.strip.be_far(far)
        if snapshot.replay is not None and self.replay is not None:
            self.strip.show_replay(
                snapshot.replay, self.replay.overview, self.replay.playing, colours
            )
        if self.speaker.on and snapshot.guidance is not None:
            self.speaker.play(tone_for(snapshot.guidance))
        elif self.speaker.on:
            self.speaker.play(SILENCE)
        show_foot(self, snapshot)

    def sentence_shown(self, snapshot: Snapshot) -> Sentence:
        """Return the sentence to show; the class-room hides it until it is answered."""
        said = snapshot.sentence() if self._rooms is None else self._rooms.sentence(snapshot)
        return replace(said, detail=in_unit(said.detail, unit_for(snapshot.profile, self.unit)))

    @property
    def rooms(self) -> Rooms:
        """Set-up and class-room, loaded when they are first wanted."""
        if self._rooms is None:
            from strokewise.gui.window.page_controllers import Rooms

            self._rooms = Rooms(self)
        return self._rooms

    @property
    def figure(self) -> FigureView:
        """The view of the figures."""
        return self._figures.view

    def exported_view(self) -> Exportable:
        """Return what the present view is exported from."""
        if self.view == "steps":
            return self.pages["steps"]  # type: ignore[return-value]
        return self.chart_page if self.view in self.pages else self.figure

    def show_page(self, name: str) -> None:
        """Show a page that is no view of the engine: set-up or class-room."""
        if name not in self.pages:
            self.pages[name] = self.rooms.page(name)
            self.stack.addWidget(self.pages[name])
        self.show_view(name)
        self.pages[name].setFocus()

    def toggle_question(self) -> None:
        """Hide the verdict until the class has answered."""
        self.rooms.ask("firing")

    def say(self, words: str, *, stays: bool = False) -> None:
        """Say something in passing; ``stays`` until something else is said."""
        self.bar.say(words, self.colours, stays=stays)

    def event(self, event: QEvent) -> bool:  # noqa: D102
        if event.type() == QEvent.Type.ShortcutOverride:
            assert isinstance(event, QKeyEvent)
            if is_for_itself(self.focusWidget(), event):
                event.accept()
                return True
        return super().event(event)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        self.settle()

    def settle(self) -> None:
        """Give every part the size that goes with the window's."""
        for each in (self.band, self.strip, self.row):
            each.settle()
        self.chart_page.settle(self.width())
        self.note.place()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: D102
        recording = self.run.snapshot.link.recording
        if recording and not self._closing:
            event.ignore()
            self.bar.ask(
                f"Still recording to {recording}. Stop it, keep all of it, and close?",
                self.colours,
                (("Go on recording", None), ("Keep it and close", self._close_for_good)),
            )
            return
        self.speaker.switch_off()
        if self._rooms is not None:
            self._rooms.close()
        self.run.newest.on_news = None
        self.run.stop()
        self.keep(self.settings)
        self.closed.emit()
        event.accept()

    def _close_for_good(self) -> None:
        self._closing = True
        self.close()

    def _age(self) -> None:
        """Draw anew when the board falls silent, and as its silence lasts: that brings no news."""
        snapshot = self.run.snapshot
        # While a class looks at a moment that stands, it stands.
        stands = self._rooms is not None and self._rooms.moment(snapshot) is not snapshot
        if snapshot.away != self.snapshot.away and not stands:
            self.refresh()

    def _lay_out(self) -> None:
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.band, self.note = VerdictBand(self), PassingNote(self)
        self.bar, self.question_bar = AskBar(self, self.note), AskBar(self, self.note, far=True)
        self.answers, self.work = AnswerColumn(self), WorkBar(self)
        self.row = KeyRow(self, foot_keys(self.circumstances), self._do)
        self.rail = ViewRail(self, self._do)
        self.chart_page, self.strip = ChartPage(), Strip(self)
        self.pages: dict[str, QWidget] = {"chart": self.chart_page}
        self.stack = QStackedWidget()
        self.stack.addWidget(self.chart_page)
        middle = QHBoxLayout()
        middle.addWidget(self.rail)
        middle.addWidget(self.stack, 1)
        middle.addWidget(self.answers)
        layout = QVBoxLayout(self)
        for each in (self.band, self.question_bar, self.bar, self.work):
            layout.addWidget(each)
        layout.addLayout(middle, 1)
        layout.addWidget(self.strip)
        layout.addWidget(self.row)
        for box in (layout, middle):
            box.setContentsMargins(0, 0, 0, 0)
            box.setSpacing(0)
        self.note.stand((self.strip, self.row))
        self.strip.setVisible(self.replay is not None)
        self.strip.wanted.connect(self._go_to)
        self.panel = Panel(self)
        self.actions_ = actions = Actions(self)
        self.strip.play_wanted.connect(actions.toggle_play)
        self.strip.slower_wanted.connect(actions.slower)
        self.strip.faster_wanted.connect(actions.faster)
        self.chart_page.guide.target.clicked.connect(actions.list_targets)
        self.drops = Drops(self)
        self.setFocus()  # and not the first button that Tab would reach

    def _do(self, action: str) -> None:
        self.actions_.do(action)

    def _go_to(self, position_s: float) -> None:
        if self.replay is not None and not self.actions_.refused("to_start"):
            self.replay.seek(position_s)
