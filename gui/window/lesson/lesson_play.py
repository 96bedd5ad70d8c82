"""How does one question follow another? Each is posed aside, asked of every group, and shown."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.recording.atomic import free_name, write_atomically
from strokewise.gui.models.lesson.posing import Posed, pose
from strokewise.gui.models.lesson.session import Session
from strokewise.gui.models.lesson.standing import (
    each_said,
    left_words,
    said_words,
    score_words,
)
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.window.lesson.desk import Desk
from strokewise.gui.window.loader import Loader

if TYPE_CHECKING:
    from strokewise.gui.models.classroom.questions import Question
    from strokewise.gui.window.workbench import Workbench

TICK_MS = 250


class LessonPlay(QObject):
    """A class under way in a window.

    Parameters
    ----------
    apart : bool
        The trainer's desk is a window of its own; else a page of the class's, which hides what the
        class must not see.
    """

    changed = Signal()

    def __init__(
        self,
        window: Workbench,
        session: Session,
        *,
        apart: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(window)
        self.window, self.session, self.apart = window, session, apart
        self._clock = clock
        self._ready: dict[int, Posed] = {}
        self._loaders: dict[int, Loader[Posed]] = {}
        self._wanted: int | None = None
        self._posed: Posed | None = None
        self._asked_s = 0.0
        self._kept = len(session.given)
        self.desk = Desk(self, hides=not apart)
        self._ticks = QTimer(self)
        self._ticks.timeout.connect(self._tick)
        self._ticks.start(TICK_MS)

    @property
    def question(self) -> Question | None:
        """The question that is on; None while it is being prepared."""
        return None if self._posed is None else self._posed.question

    @property
    def shown(self) -> bool:
        """Whether the answer to the question that is on may be seen."""
        return self.session.is_done(self.session.at)

    @property
    def so(self) -> str:
        """What is so with the engine of the question that is on, for the answers of a worksheet."""
        question, item = self.question, self.session.item
        if question is not None and question.kind == "fault":
            return f"{question.was_so}. {question.why}"
        return scenario(item.scenario).about if item.scenario and not item.settings else ""

    @property
    def left(self) -> str:
        """The time left, in words."""
        if self._posed is None or self.shown:
            return ""
        return left_words(self.session.lesson.limit_s, self._clock() - self._asked_s)

    def start(self) -> None:
        """Begin with the question that the session stands at."""
        self.show_question(self.session.at)

    def show_desk(self) -> None:
        """Show the desk: its window, or its page; there already, back to the question."""
        if self.apart:
            self.desk.show()
            self.desk.raise_()
            self.desk.activateWindow()
        elif self.window.view == "lesson":
            self.window.actions_.back()
        else:
            self.window.show_page("lesson")

    def show_question(self, index: int) -> None:
        """Put a question before the class; it comes as soon as it is ready."""
        if index != self.session.at:
            self.session.go_to(index)
        self._posed, self._wanted = None, self.session.at
        if self.session.at in self._ready:
            self._ask()
            return
        self._prepare(self.session.at)
        # What stood before stays hidden, if nobody has answered it: it may come again.
        self.window.rooms.questioning.wait(f"Question {self.session.at + 1} is being prepared …")
        self.changed.emit()

    def next(self) -> None:
        """Put the next question before the class; after the last one, say how it ended."""
        if self.session.at + 1 < self.session.count:
            self.show_question(self.session.at + 1)
        else:
            self._say_end()

    def _say_end(self) -> None:
        """Say how it ended, where the class reads it; a question that stands keeps its place."""
        words = f"That was the last question. {score_words(self.session)}"
        if self.window.question_stands:
            self.window.say(words, stays=True)
        else:
            self.window.question_bar.ask(words, self.window.colours, ())

    def back(self) -> None:
        """Go back to the question before."""
        if self.session.at > 0:
            self.show_question(self.session.at - 1)

    def give(self, group: str, answer: str) -> None:
        """Keep what a group says; when all have answered, the answer is shown."""
        question = self.question
        if question is None or self.shown:
            return
        try:
            self.session.give(group, answer, question, self._clock() - self._asked_s)
        except (InputError, OSError) as error:
            self.window.say(f"The answer could not be kept: {error}")
            return
        self._ask_next_group()

    def take_back(self) -> None:
        """Take the last answer back, as long as it is not shown."""
        if self.shown or self.session.take_back() is None:
            self.window.say("There is no answer to take back: what is shown stays")
            return
        self._ask_next_group()

    def reveal(self) -> None:
        """Show the answer, whoever has not answered."""
        if self._posed is None:
            return
        self.session.reveal()
        self._hold()

    def save_table(self) -> Path | None:
        """Keep all answers as a table; never over another."""
        folder = self.window.settings.exports
        path = free_name(folder, f"class-answers-{datetime.now():%Y-%m-%d}", ".csv")
        try:
            folder.mkdir(parents=True, exist_ok=True)
            write_atomically(path, self.session.csv().encode())
        except OSError as error:
            self.window.say(f"{path} could not be written: {error.strerror}")
            return None
        self._kept = len(self.session.given)
        self.window.say(f"Saved as {path}")
        return path

    def close(self) -> None:
        """Leave the class: its session stays, and what nobody has kept as a table is kept."""
        self._ticks.stop()
        if len(self.session.given) > self._kept:
            self.save_table()
        self.desk.close()

    # -- one question

    def _prepare(self, index: int) -> None:
        if index in self._loaders or index in self._ready or index >= self.session.count:
            return
        session = self.session
        work = partial(
            pose,
            session.lesson.items[index],
            index + 1,
            session.seed_of(index),
            session.lesson.folder,
        )
        self._loaders[index] = Loader(work, partial(self._prepared, index))

    def _prepared(self, index: int, made: Future[Posed]) -> None:
        self._loaders.pop(index, None)
        error = made.exception()
        if error is None:
            self._ready[index] = made.result()
        if index != self._wanted:
            return
        if error is not None:
            words = str(error) if isinstance(error, InputError) else fault_words("it", error)
            self.window.question_bar.clear()
            self.window.say(f"Question {index + 1} cannot be asked: {words}", stays=True)
            self.changed.emit()
            return
        self._ask()

    def _ask(self) -> None:
        """Show the run of the question, and ask the first group that has not answered."""
        self._wanted = None
        posed = self._ready.pop(self.session.at)
        self.window.change_run(posed.run, begin=True)
        self._posed, self._asked_s = posed, self._clock()
        self._ask_next_group()
        self._prepare(self.session.at + 1)

    def _ask_next_group(self) -> None:
        posed = self._posed
        assert posed is not None
        if self.shown:
            self._hold()
            return
        rooms = self.window.rooms
        rooms.classroom.question = posed.question
        group = self.session.waiting()[0]
        rooms.questioning.show(posed.question, group, partial(self.give, group))
        self._tick()
        self.changed.emit()

    def _hold(self) -> None:
        assert self._posed is not None
        answers = self.session.answers()
        last = self.session.at + 1 == self.session.count
        self.window.show_view("chart")
        self.window.rooms.questioning.hold(
            self._posed.question,
            said_words(answers, self.session.groups),
            each_said(answers),
            (("How it ended" if last else "Next question", self.next),),
        )
        self.changed.emit()

    def _tick(self) -> None:
        """Let the class see the time run."""
        question = self.question
        if question is not None and not self.shown and self.window.question_stands:
            waiting = self.session.waiting()
            left = f" ({self.left})" if self.left else ""
            place = f"Question {self.session.at + 1} of {self.session.count}"
            self.window.question_bar.reword(f"{place}. {waiting[0]} says{left}:")
        self.desk.tick()
