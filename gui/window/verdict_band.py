"""How is the verdict set? Two lines of the largest type, with a shape and a word for how sure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.sentence import Sentence
from strokewise.gui.pages.sign import Certainty
from strokewise.gui.window import ink
from strokewise.gui.window.certainty_word import paint_certainty_word
from strokewise.gui.window.key_button import scale_of

TENTH = 0.1
"""The sentence's type is at least this share of the window's height."""
LEADING = 1.14
DETAIL = 0.30
"""Type of the detail against that of the sentence."""
SHAPE_COLUMN = 2.15
"""Width of the column with shape and word, in heights of type."""
BRIEF_PX, BRIEF_TYPE, BRIEF_SIGN = 52, 0.46, 0.36
"""Height of the band in one line, and of it the type of the sentence and of the sign."""
FAR_SHARE = 0.065
"""Height of that line where a class reads it, of the window's: its type is a fortieth and more."""
REASON_LEFT = 1.17
"""Where words stand beside the sign of that line, in its heights."""
FAR_DETAIL, FAR_DETAIL_LINES = 0.0265, 4
"""Type of the reason under that line once the class has answered, of the window's height, and how
many lines it may take: it is never made smaller."""
DETAIL_LINES, DETAIL_LEADING = 2, 1.22
SMALLEST_DETAIL, SHRINK = 0.195, 0.96
"""Of a long detail: three lines of it have the room of two."""


@dataclass(frozen=True, slots=True)
class Setting:
    """The band as laid out: lines and the height of their type."""

    lines: tuple[str, ...]
    stretches: tuple[int, ...]
    pixels: float
    height: float


def set_sentence(sentence: Sentence, width: float, window_height: float) -> Setting:
    """Lay a sentence out; a half too long for a line, even squeezed, is broken in two."""
    pixels = float(-(-window_height * TENTH // 1))  # rounded up: at least a tenth
    room = max(50.0, width - (SHAPE_COLUMN + 0.35) * pixels)
    lines: list[str] = []
    for half in (sentence.first, sentence.second):
        lines += _broken(half, pixels, room)
    # One stretch for all: a line squeezed beside one that is not looks like another voice.
    stretch = min((ink.squeeze(line, pixels, room, bold=True) for line in lines), default=100)
    stretches = (max(1, stretch),) * len(lines)
    detail = DETAIL_LINES * pixels * DETAIL * 1.25
    # Never fewer than two lines: the picture below must not jump when the words change.
    count = max(2, len(lines))
    height = count * pixels * LEADING + detail + 0.2 * pixels
    return Setting(tuple(lines), stretches, pixels, height)


def _broken(line: str, pixels: float, room: float) -> list[str]:
    if not line:
        return []
    if ink.squeeze(line, pixels, room, bold=True) >= ink.NARROWEST or " " not in line:
        return [line]
    words = line.split()
    cut = min(
        range(1, len(words)),
        key=lambda i: abs(len(" ".join(words[:i])) - len(" ".join(words[i:]))),
    )
    first, second = " ".join(words[:cut]), " ".join(words[cut:])
    return _broken(first, pixels, room) + _broken(second, pixels, room)


def paint_band(
    painter: QPainter, box: QRectF, sentence: Sentence, window_height: float, colours: Palette
) -> None:
    """Paint the band into a box."""
    painter.fillRect(box, QColor(colours.sheet))
    setting = set_sentence(sentence, box.width(), window_height)
    pixels = setting.pixels
    left = box.left() + SHAPE_COLUMN * pixels
    top = box.top() + 0.08 * pixels
    for line, stretch in zip(setting.lines, setting.stretches, strict=True):
        room = QRectF(left, top, box.right() - left - 0.2 * pixels, pixels * LEADING)
        ink.large(painter, room, line, ink.font(pixels, bold=True, stretch=stretch), colours.ink)
        top += pixels * LEADING
    _paint_detail(painter, box, sentence.detail, left, pixels, colours)
    column = QRectF(box.left(), box.top(), SHAPE_COLUMN * pixels, box.height())
    _paint_certainty(painter, column, sentence, pixels, colours)
    painter.setPen(QPen(QColor(colours.rule), 2))
    painter.drawLine(box.bottomLeft(), box.bottomRight())


@lru_cache(maxsize=64)
def set_detail(detail: str, width: float, pixels: float) -> tuple[float, tuple[str, ...]]:
    """Return type and lines of the detail: smaller before its end, often what to do, is cut off."""
    height, share = DETAIL * DETAIL_LINES, DETAIL
    while True:
        lines = tuple(ink.wrapped(detail, ink.font(pixels * share), width, int(height / share)))
        whole = " ".join(lines) == " ".join(detail.split())
        if whole or share * SHRINK < SMALLEST_DETAIL:
            return pixels * share, lines
        share *= SHRINK


def _paint_detail(
    painter: QPainter, box: QRectF, detail: str, left: float, pixels: float, colours: Palette
) -> None:
    room = box.right() - left - 0.2 * pixels
    size, lines = set_detail(detail, room, pixels)
    small, step = ink.font(size), size * DETAIL_LEADING
    top = box.bottom() - pixels * DETAIL * DETAIL_LEADING * DETAIL_LINES - 0.05 * pixels
    for line in lines:
        ink.text(painter, QRectF(left, top, room, step), line, small, colours.faint)
        top += step


def paint_brief(painter: QPainter, box: QRectF, sentence: Sentence, colours: Palette) -> None:
    """Paint sign and sentence into one line, beside a figure that explains them."""
    high = box.height()
    shape = QRectF(0.2 * high, 0.14 * high, 0.72 * high, 0.72 * high)
    paint_shape(painter, shape, sentence.certainty, sentence.share, colours)
    sign = ink.font(high * BRIEF_SIGN, bold=True)
    wide = min(ink.width_of(sentence.sign, sign) + 4, box.width() * 0.3)
    right = QRectF(box.right() - wide - 0.3 * high, box.top(), wide, high)
    sign = ink.fitted(sentence.sign, high * BRIEF_SIGN, wide, bold=True)
    ink.text(painter, right, sentence.sign, sign, colours.ink, ink.RIGHT)
    left = shape.right() + 0.25 * high
    room = QRectF(left, box.top(), right.left() - left - 0.3 * high, high)
    type_ = ink.fitted(sentence.text, high * BRIEF_TYPE, room.width(), bold=True)
    ink.text(painter, room, sentence.text, type_, colours.ink)


def set_reason(detail: str, width: float, window_height: float) -> tuple[int, tuple[str, ...]]:
    """Return type in pixels and lines of the reason that a class reads with the answer."""
    pixels = math.ceil(window_height * FAR_DETAIL)
    room = width - REASON_LEFT * window_height * FAR_SHARE - pixels
    return pixels, ink.wrapped(detail, ink.font(pixels), max(50.0, room), FAR_DETAIL_LINES)


def _paint_reason(
    painter: QPainter, box: QRectF, detail: str, window_height: float, colours: Palette
) -> None:
    """Paint the reason below the line of the answer, and under the answer's own words."""
    pixels, lines = set_reason(detail, box.width(), window_height)
    line = window_height * FAR_SHARE
    room = QRectF(box.left() + REASON_LEFT * line, box.top() + 0.9 * line, 0, 0)
    room.setSize(QSizeF(box.right() - room.left(), pixels * DETAIL_LEADING))
    for words in lines:
        ink.text(painter, room, words, ink.font(pixels), colours.ink)
        room.translate(0, pixels * DETAIL_LEADING)


def _paint_certainty(
    painter: QPainter, box: QRectF, sentence: Sentence, pixels: float, colours: Palette
) -> None:
    side = 1.15 * pixels
    shape = QRectF(0, 0, side, side)
    shape.moveCenter(QPointF(box.center().x(), box.top() + 0.25 * pixels + side / 2))
    paint_shape(painter, shape, sentence.certainty, sentence.share, colours)
    under = QRectF(box.left(), shape.bottom() + 0.08 * pixels, box.width(), 0.8 * pixels)
    lines = paint_certainty_word(painter, under, sentence.word, 0.32 * pixels, colours)
    under.translate(0, lines)
    if sentence.near:
        size = ink.fitted(sentence.near, 0.3 * pixels, box.width() * 0.94, bold=True)
        under.setHeight(0.4 * pixels)
        ink.text(painter, under, sentence.near, size, colours.ink, ink.CENTRE)


def paint_shape(
    painter: QPainter, box: QRectF, certainty: Certainty, share: float, colours: Palette
) -> None:
    """Paint the shape that says how sure, told apart by its outline alone."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    thick = box.width() * 0.09
    pen = QPen(QColor(colours.ink), thick)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    inside = box.adjusted(thick, thick, -thick, -thick)
    painter.setPen(pen)
    match certainty:
        case Certainty.SURE:
            painter.setBrush(QColor(colours.ink))
            painter.drawEllipse(inside)
            painter.setPen(QPen(QColor(colours.sheet), thick * 1.4))
            painter.drawPolyline(_points(box, [(0.28, 0.53), (0.44, 0.69), (0.73, 0.34)]))
        case Certainty.NOT_YET:
            painter.setPen(QPen(QColor(colours.rule), thick))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(inside)
            painter.setPen(pen)
            painter.drawArc(inside, 90 * 16, -round(360 * 16 * max(0.02, min(share, 1.0))))
            type_ = ink.font(box.height() * 0.5, bold=True)
            ink.text(painter, box, "?", type_, colours.ink, ink.CENTRE)
        case Certainty.WITHDRAWN:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(inside)
            painter.drawLine(inside.topLeft(), inside.bottomRight())
            painter.drawLine(inside.topRight(), inside.bottomLeft())
        case Certainty.WAITING:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QBrush(QColor(colours.ink)))
            for at in (0.2, 0.5, 0.8):
                spot = QPointF(box.left() + at * box.width(), box.center().y())
                painter.drawEllipse(spot, thick * 0.9, thick * 0.9)
        case Certainty.HIDDEN:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPolygon(_points(box, [(0.5, 0.1), (0.92, 0.88), (0.08, 0.88)]))
        case Certainty.ANSWERED:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colours.ink))
            for at in (0.26, 0.58):
                bar = QRectF(at * box.width(), 0.14 * box.height(), 0.17 * box.width(), 1)
                bar.setHeight(0.72 * box.height())
                painter.drawRect(bar.translated(box.topLeft()))
    painter.restore()


def _points(box: QRectF, shares: list[tuple[float, float]]) -> QPolygonF:
    return QPolygonF(
        [QPointF(box.left() + x * box.width(), box.top() + y * box.height()) for x, y in shares]
    )


class VerdictBand(QWidget):
    """The band as a widget."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sentence = Sentence(Certainty.WAITING, "", "")
        self._colours = LIGHT
        self._brief = self._far = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName("Verdict")

    @property
    def sentence(self) -> Sentence:
        """What stands there."""
        return self._sentence

    def be_brief(self, brief: bool, *, far: bool = False) -> None:
        """Stand in one line beside a figure, which needs the room; or large, read from afar.

        Parameters
        ----------
        far : bool
            The line too is read from the last row of a class.
        """
        if (brief, far) != (self._brief, self._far):
            self._brief, self._far = brief, far
            self.settle()
            self.update()

    def show_sentence(self, sentence: Sentence, colours: Palette) -> None:
        """Show another sentence; nothing is painted where nothing has changed."""
        if sentence == self._sentence and colours is self._colours:
            return
        self._sentence, self._colours = sentence, colours
        self.setAccessibleDescription(f"{sentence.sign}: {sentence.text}")
        self.settle()
        self.update()

    def settle(self) -> None:
        """Take the height that the sentence needs at the window's present size."""
        if self._brief:
            near = BRIEF_PX * scale_of(self)
            height = round(max(near, self._window_height() * FAR_SHARE) if self._far else near)
            if self._gives_reason:
                pixels, lines = set_reason(
                    self._sentence.detail, self.width(), self._window_height()
                )
                height += round(pixels * DETAIL_LEADING * len(lines))
        else:
            setting = set_sentence(self._sentence, self.width(), self._window_height())
            height = round(setting.height)
        if height != self.height():
            self.setFixedHeight(height)

    @property
    def _gives_reason(self) -> bool:
        """Whether the reason stands below the line: the class has answered."""
        answered = self._sentence.certainty is Certainty.ANSWERED
        return self._far and answered and bool(self._sentence.detail)

    def _window_height(self) -> float:
        return float(self.window().height())

    def sizeHint(self) -> QSize:  # noqa: D102
        return QSize(800, round(self._window_height() * 0.27))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        box = QRectF(self.rect())
        if not self._brief:
            paint_band(painter, box, self._sentence, self._window_height(), self._colours)
        else:
            painter.fillRect(box, QColor(self._colours.sheet))
            line = QRectF(box)
            if self._gives_reason:
                line.setHeight(max(BRIEF_PX * scale_of(self), self._window_height() * FAR_SHARE))
                detail = self._sentence.detail
                _paint_reason(painter, box, detail, self._window_height(), self._colours)
            paint_brief(painter, line, self._sentence, self._colours)
            painter.setPen(QPen(QColor(self._colours.rule), 2))
            painter.drawLine(box.bottomLeft(), box.bottomRight())
        painter.end()
