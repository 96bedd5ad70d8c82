"""How is the number drawn that says how far to turn? Large, with its ± and which way."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPolygonF

from strokewise.gui.models.near import ROUGH_DEG, within_words
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.turn.guide import Guidance
from strokewise.gui.window import ink

TENTHS_BELOW_DEG = 15.0
"""Nearer than this single degrees are too coarse."""
EXACT = 0.26
"""Height of the ± under the large number, of the whole."""


def number_text(guidance: Guidance) -> str:
    """Return the large number: degrees to go, finer as the target nears."""
    degrees = guidance.back_deg if guidance.phase == "go back" else guidance.remaining_deg
    if degrees is None:
        return "–"
    if guidance.phase == "there":
        return "0°"
    if guidance.phase == "past":
        return f"+{-(guidance.remaining_deg or 0.0):.0f}°"
    return f"{degrees:.1f}°" if degrees < TENTHS_BELOW_DEG else f"{degrees:.0f}°"


def paint_number(
    painter: QPainter, box: QRectF, guidance: Guidance, half_deg: float, colours: Palette
) -> None:
    """Paint arrow, number and ± into a box."""
    arrow = QRectF(box.left(), box.top(), box.width() * 0.24, box.height())
    _paint_arrow(painter, arrow, guidance, colours)
    room = QRectF(arrow.right(), box.top(), box.width() - arrow.width(), box.height())
    if half_deg and guidance.remaining_deg is not None:
        below = QRectF(box.left(), box.bottom() - box.height() * EXACT, box.width(), 0.0)
        below.setHeight(box.height() * EXACT)
        room.setBottom(below.top())
        exact = within_words(half_deg)
        type_ = ink.fitted(exact, below.height() * 0.85, below.width(), bold=half_deg > ROUGH_DEG)
        ink.text(painter, below, exact, type_, colours.ink, ink.RIGHT)
    words = number_text(guidance)
    type_ = ink.fitted(words, room.height() * 0.95, room.width(), bold=True)
    ink.large(
        painter,
        room,
        words,
        type_,
        colours.ink,
        ink.RIGHT,
    )


def _paint_arrow(painter: QPainter, box: QRectF, guidance: Guidance, colours: Palette) -> None:
    side = min(box.width(), box.height() * 0.55)
    room = QRectF(0, 0, side, side)
    room.moveCenter(box.center())
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(colours.ink))
    if guidance.phase == "there":
        painter.drawRect(room.adjusted(side * 0.1, side * 0.1, -side * 0.1, -side * 0.1))
        return
    if guidance.arrow == 0:
        return
    shares = [
        (0.0, 0.32),
        (0.5, 0.32),
        (0.5, 0.05),
        (1.0, 0.5),
        (0.5, 0.95),
        (0.5, 0.68),
        (0.0, 0.68),
    ]
    if guidance.arrow < 0:
        shares = [(1 - x, y) for x, y in shares]
    painter.drawPolygon(
        QPolygonF([QPointF(room.left() + x * side, room.top() + y * side) for x, y in shares])
    )
