"""Where are the steps after TDC read while the engine is turned?"""

from __future__ import annotations

import csv
import io

from PySide6.QtCore import QRectF, Qt, QTimer, QUrl, Signal
from PySide6.QtGui import QColor, QPainter, QTextDocument, QTextOption
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QHBoxLayout,
    QListWidget,
    QPushButton,
    QScrollArea,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from strokewise.gui.drawings.in_colours import words_in
from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.setup.lacking import button_words
from strokewise.gui.models.steps.step_book import StepBook, StepView
from strokewise.gui.pages.page import Text, facts_of, words_of
from strokewise.gui.registry import window_steps
from strokewise.gui.window import ink
from strokewise.gui.window.controls import dress
from strokewise.gui.window.key_button import TARGET_PX
from strokewise.gui.window.steps.caution_box import CautionBox
from strokewise.gui.window.steps.step_form import StepForm
from strokewise.gui.window.steps.step_sheet import (
    CAPTIONS,
    DRAWING_NAME,
    HEAD_SHARE,
    StepHead,
    answer_html,
    caution_html,
    drawing_image,
    paint_head,
)

LOOK_MS = 100
"""An answer that is ready is shown within this; a standing replay brings no news by itself."""
COLUMN_SHARES = (22, 46, 32)
"""Steps and fields, answer, cautions: of the width."""
ANSWER_TYPE_SHARE = 0.030
"""Type of the answer, of the window's height."""
LEAST_PAINTED = 11
SCROLL_SHARE = 0.8


class StepsPage(QWidget):
    """The steps page."""

    said = Signal(str)
    lack_wanted = Signal(str)
    """A key of the profile that is to be filled in on its form."""

    def __init__(self, book: StepBook | None = None) -> None:
        super().__init__()
        self.book = book or StepBook()
        self._snapshot: Snapshot | None = None
        self._colours = LIGHT
        self._shown: tuple[object, ...] = ()
        self._dressed: tuple[object, ...] = ()
        self.steps = QListWidget()
        self.steps.addItems([step.title for step in window_steps()])
        self.steps.setCurrentRow(0)
        self.steps.setAccessibleName("Steps")
        self.steps.currentRowChanged.connect(self._row_chosen)
        # With the keyboard in the list, letters would look for steps: they are the window's keys.
        self.steps.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.steps.itemClicked.connect(lambda item: self.window().setFocus())
        self.form = StepForm(self.book)
        self.form.changed.connect(self.look)
        self.form.said.connect(self.said.emit)
        self.head, self.answer, self.cautions = StepHead(), QTextBrowser(), CautionBox()
        self.answer.setOpenLinks(False)
        self.answer.setWordWrapMode(QTextOption.WrapMode.WordWrap)  # a word is never torn
        self.fill_in = QPushButton()
        self.fill_in.hide()
        self.fill_in.clicked.connect(self._fill_in)
        self.answer.setAccessibleName("Details of the answer")
        self._lay_out()
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self.look)

    def turn(self, by: int) -> None:
        """Open the next step, or the one before."""
        self.steps.setCurrentRow((self.steps.currentRow() + by) % self.steps.count())

    def open(self, name: str) -> None:
        """Open a step by its name."""
        self.steps.setCurrentRow([step.name for step in window_steps()].index(name))

    @property
    def answered(self) -> bool:
        """Whether the open step's answer stands there, and is of this moment."""
        view = self.view
        return view is not None and bool(view.headline) and not self.book.busy and not view.working

    def read_on(self, by: int) -> None:
        """Read on, or back."""
        bar = self.answer.verticalScrollBar()
        bar.setValue(bar.value() + round(by * SCROLL_SHARE * self.answer.viewport().height()))

    def copy(self) -> None:
        """Put the answer on the clipboard, in the words of the command line."""
        QApplication.clipboard().setText(self.words)

    @property
    def words(self) -> str:
        """The whole answer as text."""
        return "" if self.view is None else self.view.words

    @property
    def view(self) -> StepView | None:
        """What stands there."""
        return None if self._snapshot is None else self.book.view(self._snapshot)

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Show a moment."""
        self._snapshot, self._colours = snapshot, colours
        self._dress()
        self.look()

    def look(self) -> None:
        """Ask anew where it is time, and show what is there."""
        if self._snapshot is None:
            return
        self.book.look(self._snapshot)
        view = self.book.view(self._snapshot)
        self._show_head(view)
        self.fill_in.setVisible(bool(view.lacks))
        self.fill_in.setText(button_words(view.lacks) if view.lacks else "")
        shown = (view.table, view.parts, view.warnings, view.cautions, view.drawing, *self._dressed)
        if shown == self._shown:
            return
        same_step = bool(self._shown) and self._shown[-1] == self.book.chosen
        self._shown = shown
        bar = self.answer.verticalScrollBar()
        at = bar.value() if same_step else 0
        self._put_drawing(self.answer.document(), view, self.answer.viewport().width())
        drawn = f"Drawing: {words_in(view.drawing)}" if view.drawing else ""
        self.answer.setAccessibleDescription(drawn)
        self.answer.setHtml(answer_html(view, self._size(), self._colours))
        bar.setValue(at)
        self.form.offer(self.book.offers)
        self.cautions.show_cautions(view.cautions_heading, view.cautions, self._colours)
        self._show_head(view)

    def _show_head(self, view: StepView) -> None:
        bar = self.answer.verticalScrollBar()
        self.head.show_view(view, self._colours, more=bar.value() < bar.maximum())

    def _put_drawing(self, sheet: QTextDocument, view: StepView, room: float) -> None:
        if view.drawing:
            sheet.addResource(
                QTextDocument.ResourceType.ImageResource,
                QUrl(DRAWING_NAME),
                drawing_image(
                    view.drawing, room, self._colours, beside=view.about.name in CAPTIONS
                ),
            )

    def paint_on(self, painter: QPainter, box: QRectF) -> None:
        """Paint the answer, cautions and all, on any device."""
        view, colours = self.view, self._colours
        painter.fillRect(box, QColor(colours.sheet))
        if view is None:
            return
        height = box.height() * HEAD_SHARE
        head = QRectF(box.left(), box.top(), box.width(), height)
        shown = (view.headline, view.sign, view.crank, view.working)
        paint_head(painter, head, shown, box.height(), colours)
        text = answer_html(view, round(box.height() * ANSWER_TYPE_SHARE), colours)
        text += caution_html(view.cautions_heading, view.cautions, colours)
        sheet, pixels = QTextDocument(), box.height() * ANSWER_TYPE_SHARE
        self._put_drawing(sheet, view, box.width() / 2)
        room = box.height() - height
        while True:  # the largest type in which all of it is seen
            sheet.setDefaultFont(ink.font(pixels))
            sheet.setHtml(f"<body style='color:{colours.ink}'>{text}</body>")
            sheet.setTextWidth(box.width())
            if sheet.size().height() <= room or pixels < LEAST_PAINTED:
                break
            pixels *= 0.94
        painter.save()
        painter.translate(box.left(), box.top() + height)
        sheet.drawContents(painter)
        painter.restore()

    def csv(self) -> str:
        """Return the answer as a table: part, label, text."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["part", "label", "text"])
        view = self.view
        if view is not None:
            writer.writerow(["headline", view.sign.word, view.headline])
            writer.writerows(["warnings", label, text] for label, text in view.warnings)
            for part in view.parts:
                if isinstance(part, Text):
                    writer.writerow([part.heading or "text", "", part.text])
                    continue
                facts = facts_of(part)
                name = facts.heading or "facts"
                writer.writerows([name, row.label, words_of(row)] for row in facts.rows)
            heading = view.cautions_heading
            writer.writerows([heading, each.heading, each.text] for each in view.cautions)
        return out.getvalue()

    def close_book(self) -> None:
        """End what is still being worked on."""
        self._timer.stop()
        self.book.close()

    def showEvent(self, event: object) -> None:  # noqa: D102
        self._timer.start()

    def hideEvent(self, event: object) -> None:  # noqa: D102
        self._timer.stop()

    def _fill_in(self) -> None:
        lacks = () if self.view is None else self.view.lacks
        if lacks:
            self.lack_wanted.emit(lacks[0])

    def _row_chosen(self, row: int) -> None:
        self.book.turn(row - [step.name for step in window_steps()].index(self.book.chosen))
        self.form.fill()
        self._dressed = ()
        self._dress()
        self.look()

    def _size(self) -> int:
        return max(14, round(ink.steady(self.window().height()) * ANSWER_TYPE_SHARE))

    def _dress(self) -> None:
        window, colours = self.window(), self._colours
        state = (colours.theme, window.width(), window.height(), self.book.chosen)
        if state == self._dressed:
            return
        self._dressed = state
        dress(self, colours)
        self.answer.document().setDefaultFont(ink.font(self._size()))
        size = self._size()
        self.steps.setFont(ink.font(size, bold=True))
        self.steps.setStyleSheet(
            f"QListWidget {{ font-size: {size}px; font-weight: bold; }}"
            f" QListWidget::item {{ padding: 0px {round(size * 0.22)}px;"
            f" min-height: {TARGET_PX}px; }}"
            f" QListWidget::item:selected {{ background: {colours.ink}; color: {colours.sheet}; }}"
        )
        row = self.steps.sizeHintForRow(0)
        self.steps.setFixedHeight(row * self.steps.count() + 2 * self.steps.frameWidth() + 4)
        self.answer.setStyleSheet(
            f"QTextBrowser {{ background: {colours.sheet}; color: {colours.ink};"
            f" font-size: {size}px; border: none; padding: {size // 2}px; }}"
        )

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.addWidget(self.steps)
        fields = _scrolling(self.form)
        left.addWidget(fields, 1)
        answer = QVBoxLayout()
        answer.addWidget(self.fill_in)
        answer.addWidget(self.answer, 1)
        below = QHBoxLayout()
        below.addLayout(answer, COLUMN_SHARES[1])
        below.addWidget(self.cautions, COLUMN_SHARES[2])
        right = QVBoxLayout()
        right.addWidget(self.head)
        right.addLayout(below, 1)
        layout = QHBoxLayout(self)
        layout.addLayout(left, COLUMN_SHARES[0])
        layout.addLayout(right, COLUMN_SHARES[1] + COLUMN_SHARES[2])


def _scrolling(inside: QWidget) -> QScrollArea:
    area = QScrollArea()
    area.setWidget(inside)
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    return area
