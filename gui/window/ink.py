"""How is it drawn? Pens, hatchings and type, for any paint device."""

from __future__ import annotations

import math
import re
from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QWidget

from strokewise.gui.models.palette import Fill, Hatch

FAMILIES = ["Source Sans 3", "Segoe UI", "Helvetica Neue", "Noto Sans", "DejaVu Sans"]
"""Plain upright type that Windows, macOS and Linux have; the first one found is used."""
NARROWEST = 62
"""Type squeezed below this percentage stops being readable from afar."""
SMALLEST = 6
"""Type in pixels below which nothing is set at all."""
HATCH_STEP = 9
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
CENTRE = Qt.AlignmentFlag.AlignCenter
ONE_LINE = {align: int(align | Qt.TextFlag.TextSingleLine) for align in (LEFT, RIGHT, CENTRE)}
"""How a line may stand in its box. Put together once: at thirty pictures a second Python's flags
cost as much as the letters."""

READ_FROM, READ_TO = 768.0, 1080.0
"""Windows so high are all read from the same distance, an arm's length."""


def steady(window_height: float) -> float:
    """Return the height that type is measured by where it is read at arm's length.

    A larger window gets more room for its plots and not larger letters; only where a screen has
    more pixels than any of that distance, letters take more of them.
    """
    if window_height <= READ_FROM:
        return window_height
    return READ_FROM * max(1.0, window_height / READ_TO)


TYPE_PARTS = re.compile(r"\d|[^\d\s]+\s*|\s+")
"""Digits, which stand as wide as each other, and words with the space behind them."""
OVERHANG = 0.15
"""Of its height: a letter reaches out of its own width by no more."""


@lru_cache(maxsize=512)
def font(pixels: float, *, bold: bool = False, stretch: int = 100) -> QFont:
    """Return the window's type at a height in pixels, to be used and not to be changed."""
    made = QFont()
    made.setFamilies(FAMILIES)
    made.setPixelSize(max(SMALLEST, round(pixels)))
    made.setBold(bold)
    made.setStretch(stretch)
    return made


@lru_cache(maxsize=2048)
def width_of(text: str, type_: QFont) -> float:
    """Return how wide a text is set."""
    return QFontMetricsF(type_).horizontalAdvance(text)


@lru_cache(maxsize=2048)
def squeeze(text: str, pixels: float, width: float, *, bold: bool = False) -> int:
    """Return the stretch, in per cent up to 100, at which a text fits, readable or not."""
    natural = width_of(text, font(pixels, bold=bold))
    if natural <= width:
        return 100
    stretch = int(100 * width / natural)
    while stretch > 1 and width_of(text, font(pixels, bold=bold, stretch=stretch)) > width:
        stretch -= 1
    return stretch


@lru_cache(maxsize=1024)
def fitted(text: str, pixels: float, width: float, *, bold: bool = False) -> QFont:
    """Return type in which a text fits: squeezed first, then made smaller."""
    stretch = squeeze(text, pixels, width, bold=bold)
    if stretch >= NARROWEST:
        return font(pixels, bold=bold, stretch=stretch)
    while pixels > SMALLEST and stretch < NARROWEST:
        pixels *= 0.92
        stretch = squeeze(text, pixels, width, bold=bold)
    return font(pixels, bold=bold, stretch=max(stretch, NARROWEST))


@lru_cache(maxsize=256)
def unsqueezed(text: str, pixels: float, width: float) -> QFont:
    """Return type in which a text fits as it is: made smaller, where it stands beside others."""
    while pixels > SMALLEST and width_of(text, font(pixels)) > width:
        pixels -= 1
    return font(pixels)


SHRINKS_TO = 0.8
"""Lines that need more room are made smaller by no more, of their size."""


@lru_cache(maxsize=64)
def paragraphs(
    text: str, pixels: float, width: float, height: float, least: float | None = None
) -> QFont:
    """Return type in which wrapped lines fit into a box: smaller, down to a limit."""
    least = SHRINKS_TO * pixels if least is None else least
    size, room = pixels, QRectF(0, 0, width, 1e6)
    while size > least:
        set_ = QFontMetricsF(font(size)).boundingRect(room, Qt.TextFlag.TextWordWrap, text)
        if set_.height() <= height:
            break
        size = max(least, size * 0.96)
    return font(size)


@lru_cache(maxsize=2048)
def elided(text: str, type_: QFont, width: float) -> str:
    """Return the text cut with an ellipsis where it is too long."""
    return QFontMetricsF(type_).elidedText(text, Qt.TextElideMode.ElideRight, width)


@lru_cache(maxsize=256)
def wrapped(text: str, type_: QFont, width: float, most: int) -> tuple[str, ...]:
    """Return the text in at most so many lines; the last is cut with an ellipsis."""
    lines: list[str] = []
    words = text.split()
    while words and len(lines) < most:
        line = words.pop(0)
        while words and width_of(f"{line} {words[0]}", type_) <= width:
            line += " " + words.pop(0)
        lines.append(line)
    if words:
        lines[-1] = elided(f"{lines[-1]} {' '.join(words)}", type_, width)
    return tuple(elided(line, type_, width) for line in lines)


@lru_cache(maxsize=64)
def hatching(colour: str, ink: str, hatch: Hatch, step: int = HATCH_STEP) -> QPixmap:
    """Return a seamless tile of a fill."""
    tile = QPixmap(step, step)
    tile.fill(QColor(colour))
    if hatch == "solid":
        return tile
    painter = QPainter(tile)
    line = QColor(ink)
    line.setAlpha(70)
    painter.setPen(QPen(line, max(1.0, step / 9)))
    if hatch == "rising":
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for shift in (-step, 0, step):
            painter.drawLine(QPointF(shift, step), QPointF(shift + step, 0))
    elif hatch == "falling":
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for shift in (-step, 0, step):
            painter.drawLine(QPointF(shift, 0), QPointF(shift + step, step))
    elif hatch == "level":
        painter.drawLine(0, step // 2, step, step // 2)
    elif hatch == "dots":
        painter.fillRect(QRectF(step / 2 - 1, step / 2 - 1, 2, 2), line)
    painter.end()
    return tile


def brush(fill: Fill, scale: float = 1.0) -> QBrush:
    """Return the brush of a fill; ``scale`` widens the hatching for large screens."""
    step = max(7, round(HATCH_STEP * scale))
    return QBrush(hatching(fill.colour, fill.ink, fill.hatch, step))


def translucent(colour: str, share: float) -> QColor:
    """Return a colour at a share of its strength."""
    made = QColor(colour)
    made.setAlphaF(max(0.0, min(1.0, share)))
    return made


def text(
    painter: QPainter,
    box: QRectF,
    words: str,
    type_: QFont,
    colour: str,
    align: Qt.AlignmentFlag = LEFT,
) -> None:
    """Set one line of text in a box, cut with an ellipsis if need be.

    Parameters
    ----------
    align : Qt.AlignmentFlag
        LEFT, RIGHT or CENTRE.
    """
    painter.setFont(type_)
    painter.setPen(QColor(colour))
    painter.drawText(box, ONE_LINE[align], elided(words, type_, box.width()))


def large(
    painter: QPainter,
    box: QRectF,
    words: str,
    type_: QFont,
    colour: str,
    align: Qt.AlignmentFlag = LEFT,
) -> None:
    """Set one line of large type in a box, as :func:`text` does, quickly where it is on a screen.

    Qt fills the outlines of letters above 64 pixels anew each time, which takes two milliseconds a
    line. So words, and the digits of a number that counts, are put down as pictures.
    """
    if not isinstance(painter.device(), QWidget):
        text(painter, box, words, type_, colour, align)
        return
    parts = TYPE_PARTS.findall(words)
    ratio, margin = painter.device().devicePixelRatioF(), OVERHANG * type_.pixelSize()
    spare = box.width() - sum(width_of(part, type_) for part in parts)
    x = box.left() + {LEFT: 0.0, CENTRE: spare / 2, RIGHT: spare}[align]
    top = box.center().y() - QFontMetricsF(type_).height() / 2
    for part in parts:
        # On whole pixels of the screen, else the picture would be blurred.
        at = QPointF(round((x - margin) * ratio) / ratio, round(top * ratio) / ratio)
        painter.drawPixmap(at, _picture(part, type_, colour, ratio))
        x += width_of(part, type_)


@lru_cache(maxsize=48)
def _picture(word: str, type_: QFont, colour: str, ratio: float) -> QPixmap:
    """Return a picture of a word or digit, its overhang to either side included."""
    margin, height = OVERHANG * type_.pixelSize(), QFontMetricsF(type_).height()
    width = width_of(word, type_) + 2 * margin
    made = QPixmap(math.ceil(width * ratio), math.ceil(height * ratio))
    made.setDevicePixelRatio(ratio)
    made.fill(Qt.GlobalColor.transparent)
    painter = QPainter(made)
    painter.setFont(type_)
    painter.setPen(QColor(colour))
    painter.drawText(QRectF(margin, 0, width, height), ONE_LINE[LEFT], word)
    painter.end()
    return made
