"""What does the trainer see of a class? Question, answer, groups, scores, the class's picture."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QCloseEvent, QKeySequence, QPixmap, QShortcut
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.lesson.standing import answer_words, item_words
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.window.controls import Choice, buttons, dress, heading

if TYPE_CHECKING:
    from strokewise.gui.window.lesson.lesson_play import LessonPlay

PICTURE_WIDE = 460
"""Width of the class's picture, at most."""
DESK_TYPE = 0.0255
"""Type of the desk, of the window's height: on one screen the last row reads it too."""
NO_ANSWER_GIVEN = "choose …"


class Desk(QWidget):
    """The desk.

    Parameters
    ----------
    hides : bool
        It stands on the class's own screen: what the class must not see is left out.
    """

    def __init__(self, play: LessonPlay, *, hides: bool) -> None:
        super().__init__()
        self._play, self._hides = play, hides
        self._dressed: tuple[object, ...] = ()
        self._offered: tuple[object, ...] = ()
        self._repainted, self._seen_in = True, QSize()
        lesson = play.session.lesson
        self.setWindowTitle(f"trainer · {lesson.title}")
        self.setAccessibleName("Desk of the class")
        self.list = QListWidget()
        self.list.setAccessibleName("Questions")
        self.list.setWordWrap(True)
        self.list.itemActivated.connect(lambda item: play.show_question(self.list.row(item)))
        self.head, self.answer, self.why, self.notes = (QLabel() for _ in range(4))
        self.left = QLabel()
        self.seen = QLabel()
        self.seen.setAccessibleName("What the class sees")
        self.seen.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        for label in (self.head, self.answer, self.why, self.notes):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.head.setObjectName("heading")
        self.answer.setObjectName("heading")
        self._choices: dict[str, Choice] = {}
        self._marks: dict[str, QLabel] = {}
        self._lay_out()
        if not hides:
            self._keys()
            self.resize(1280, 720)
            play.window.installEventFilter(self)
        play.changed.connect(self.fill)
        self.fill()

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Keep to the window's colours."""
        self._dress(colours)

    def fill(self) -> None:
        """Show how it stands."""
        play, session = self._play, self._play.session
        while self.list.count() < session.count:
            self.list.addItem("")
        for i in range(session.count):
            self.list.item(i).setText(item_words(session, i, hides=self._hides))
        self.list.setCurrentRow(session.at)
        question = play.question
        asked = "is being prepared …" if question is None else question.words
        self.head.setText(f"Question {session.at + 1} of {session.count}: {asked}")
        answer, why, notes = answer_words(session, question, hides=self._hides)
        self.answer.setText(f"Answer: {answer}" if answer else "")
        self.why.setText(why)
        self.notes.setText(f"Notes: {notes}" if notes else "")
        self._fill_groups()
        self.tick()

    def tick(self) -> None:
        """Let the time run, and show what the class sees."""
        self.left.setText(self._play.left)
        if self._hides or not self.isVisible():
            return
        self._dress(self._play.window.colours)
        if not self._repainted and self.seen.size() == self._seen_in:
            return
        picture = QPixmap(self._play.window.grab())
        wide = max(80, min(self.seen.width(), 2 * PICTURE_WIDE))
        self.seen.setPixmap(
            picture.scaled(
                wide,
                max(60, self.seen.height()),
                Qt.AspectRatioMode.KeepAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            )
        )
        self._repainted, self._seen_in = False, self.seen.size()

    def _fill_groups(self) -> None:
        play, session = self._play, self._play.session
        question = play.question
        said = {each.group: each for each in session.answers()}
        scores = session.scores()
        offered = () if question is None else (session.at, question.choices)
        for group, choice in self._choices.items():
            if offered != self._offered:
                choice.clear()
                choice.addItems([NO_ANSWER_GIVEN, *(question.choices if question else ())])
            given = said.get(group)
            shown = "" if given is None else given.answer
            secret = given is not None and self._hides and not play.shown
            choice.setCurrentIndex(max(0, choice.findText(shown)) if not secret else 0)
            choice.setEnabled(question is not None and given is None and not play.shown)
            right, of = scores[group]
            sign = "" if given is None else "said" if secret or not play.shown else ""
            if given is not None and play.shown:
                sign = "✓ right" if given.right else "✗ not right"
            self._marks[group].setText(f"{sign}   {right} of {of}")
        self._offered = offered

    def _given(self, group: str, index: int) -> None:
        choice = self._choices[group]
        if index > 0 and choice.isEnabled():
            self._play.give(group, choice.itemText(index))

    def _dress(self, colours: Palette) -> None:
        state = (colours.theme, self.window().height())
        if state != self._dressed:
            self._dressed = state
            dress(self, colours, DESK_TYPE)

    def _keys(self) -> None:
        play = self._play
        for key, do in (("F6", play.next), ("F7", play.reveal), ("Ctrl+S", play.save_table),
                        ("F5", play.window.activateWindow)):  # fmt: skip
            QShortcut(QKeySequence(key), self).activated.connect(do)

    def _lay_out(self) -> None:
        play = self._play
        left, middle = QVBoxLayout(), QVBoxLayout()
        title = heading(play.session.lesson.title)
        title.setWordWrap(True)
        left.addWidget(title)
        left.addWidget(self.list, 1)
        middle.addWidget(self.head)
        middle.addWidget(self.left)
        middle.addWidget(self.answer)
        middle.addWidget(self.why)
        middle.addWidget(self.notes)
        grid = QGridLayout()
        for row, group in enumerate(play.session.groups):
            choice, mark = Choice(), QLabel()
            mark.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            choice.setAccessibleName(f"Answer of {group}")
            choice.activated.connect(partial(self._given, group))
            self._choices[group], self._marks[group] = choice, mark
            grid.addWidget(QLabel(group), row, 0)
            grid.addWidget(choice, row, 1)
            grid.addWidget(mark, row, 2)
        grid.setColumnStretch(1, 1)
        middle.addLayout(grid)
        for pair in (
            (("Next question (F6)", "", play.next), ("Show the answer (F7)", "", play.reveal)),
            (
                ("Previous question", "", play.back),
                ("Take the last answer back", "", play.take_back),
            ),
            (
                ("Save the table", "", play.save_table),
                ("Worksheet", "", lambda: play.window.show_page("class")),
            ),
        ):
            middle.addLayout(buttons(*pair))
        if self._hides:
            middle.addStretch(1)
        else:
            middle.addWidget(QLabel("What the class sees"))
            middle.addWidget(self.seen, 1)
        sides = QHBoxLayout(self)
        sides.addLayout(left, 2)
        sides.addLayout(middle, 5)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Notice that the class's window is painted: its picture is drawn anew only then."""
        self._repainted |= event.type() == QEvent.Type.UpdateRequest
        return False

    def changeEvent(self, event: QEvent) -> None:  # noqa: D102
        super().changeEvent(event)
        if event.type() == QEvent.Type.ActivationChange and not self._hides:
            self.tick()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Closed by hand it comes back with F5; the class goes on."""
        event.accept()
