"""How does the piston go up and down beside the trace? Cylinder, valves, rod and crank, painted."""

from __future__ import annotations

from math import cos, radians, sin

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QLabel, QWidget

from strokewise.gui.models.figures.piston import Piston
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.window import ink

BORE, PISTON_HIGH, PIN_DOWN = 1.05, 0.85, 0.5
"""Half the bore, height of the piston, and of its pin below the crown, in crank radii."""
HEAD_ROOM, LIFT, UNDER_CRANK = 1.0, 0.4, 1.25
"""Room for the valves, how far they open, and room below the crank, in crank radii."""
LEAST_EMS, MOST_EMS = 9.0, 15.0
"""Height of the drawing in heights of the type beside it: a lower one says nothing."""
TITLE_AND_READING_EMS = 5
"""Height of the lines above and below the column."""
GAP = 0.12
"""Between piston at TDC and head, in crank radii."""
FACTS_TYPE = 1.15
"""Type of the facts above it, of the figure's; as small as that where they need the column."""


class PistonView(QWidget):
    """Draws the piston of one cylinder; its words are beside it and read out."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._piston: Piston | None = None
        self._colours = LIGHT
        self._size = 16
        self.setAccessibleName("Piston")
        self.hide()

    @property
    def piston(self) -> Piston | None:
        """What is drawn."""
        return self._piston

    def show_below(
        self, facts: QLabel, piston: Piston | None, colours: Palette, type_px: int
    ) -> None:
        """Draw a moment in what room the figures above leave in their column."""
        wide, beside = facts.width(), self.parentWidget()
        column = 0 if beside is None else round(beside.height() - TITLE_AND_READING_EMS * type_px)
        type_ = ink.paragraphs(facts.text(), type_px * FACTS_TYPE, wide, column, type_px)
        if type_.pixelSize() != facts.font().pixelSize():
            facts.setFont(type_)
        taken = facts.heightForWidth(wide) if facts.text() else 0
        self.show_piston(piston, colours, type_px, QSize(wide, column - taken - type_px))

    def show_piston(
        self, piston: Piston | None, colours: Palette, type_px: int, room: QSize
    ) -> None:
        """Draw another moment, where there is room; nothing is painted where nothing changed."""
        high = min(room.height(), round(MOST_EMS * type_px))
        self.setVisible(piston is not None and high >= LEAST_EMS * type_px)
        if self.isHidden():
            return
        self.setFixedSize(room.width(), high)
        if (piston, colours, type_px) != (self._piston, self._colours, self._size):
            self._piston, self._colours, self._size = piston, colours, type_px
            said = "" if piston is None else ", ".join((*piston.words, *piston.notes))
            self.setAccessibleDescription(said)
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._colours.paper))
        if self._piston is not None:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            self._paint(painter, self._piston)
        painter.end()

    def _paint(self, painter: QPainter, piston: Piston) -> None:
        colours, high = self._colours, float(self.height())
        radius = high / (HEAD_ROOM + GAP + PIN_DOWN + piston.rod_ratio + 1 + UNDER_CRANK)
        centre = QPointF(BORE * radius + 4, high - UNDER_CRANK * radius)
        head = HEAD_ROOM * radius
        crown = head + (GAP + 2 * piston.down) * radius
        pin = QPointF(centre.x(), crown + PIN_DOWN * radius)
        turned = radians(piston.after_tdc_deg)
        crank = centre + QPointF(sin(turned), -cos(turned)) * radius
        wide = max(2.0, radius * 0.1)
        painter.setPen(QPen(QColor(colours.ink), wide))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for side in (-1, 1):
            x = centre.x() + side * BORE * radius
            painter.drawLine(QPointF(x, head), QPointF(x, head + (GAP + 2.6) * radius))
        self._paint_valves(painter, piston, centre.x(), head, radius, wide)
        painter.setPen(QPen(QColor(colours.faint), max(1.0, wide / 2)))
        painter.drawEllipse(centre, radius, radius)
        painter.setPen(QPen(QColor(colours.target), 2 * wide))
        painter.drawLine(pin, crank)
        painter.drawLine(centre, crank)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(colours.faint))
        painter.drawRect(
            QRectF(
                centre.x() - BORE * radius + wide,
                crown,
                2 * (BORE * radius - wide),
                PISTON_HIGH * radius,
            )
        )
        painter.setBrush(QColor(colours.ink))
        for joint in (pin, crank, centre):
            painter.drawEllipse(joint, 1.4 * wide, 1.4 * wide)
        self._paint_words(painter, piston, centre.x() + BORE * radius + self._size)

    def _paint_valves(
        self, painter: QPainter, piston: Piston, x: float, head: float, radius: float, wide: float
    ) -> None:
        """Paint the head with a seat for each valve; they go down as they open."""
        colours = self._colours
        painter.drawLine(QPointF(x - BORE * radius, head), QPointF(x + BORE * radius, head))
        valves = ((-1, piston.inlet, colours.inlet), (1, piston.exhaust, colours.exhaust))
        for side, lift, colour in valves:
            if lift is None:
                continue
            at, down = x + side * 0.52 * radius, head + LIFT * lift * radius
            painter.setPen(QPen(QColor(colour), wide))
            painter.drawLine(QPointF(at, down - 0.8 * radius), QPointF(at, down))
            painter.setPen(QPen(QColor(colour), 2 * wide))
            painter.drawLine(QPointF(at - 0.36 * radius, down), QPointF(at + 0.36 * radius, down))

    def _paint_words(self, painter: QPainter, piston: Piston, left: float) -> None:
        step = self._size * 1.35
        for i, words in enumerate(piston.words):
            box = QRectF(left, i * step, self.width() - left, step)
            type_ = ink.fitted(words, self._size * 1.1, box.width(), bold=i == 1)
            ink.text(painter, box, words, type_, self._colours.ink)
