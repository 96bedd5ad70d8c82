"""How is a whole recording drawn at a glance? A strip to drag along, with the passes marked."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QWidget

from strokewise.gui.models.overview import Overview
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.snapshot import Replay
from strokewise.gui.window import ink


def clock_text(seconds: float) -> str:
    """Return minutes and seconds, ``"3:07.2"``."""
    minutes, rest = divmod(max(0.0, seconds), 60)
    return f"{int(minutes)}:{rest:04.1f}"


class Strip(QWidget):
    """The overview of a recording; a click or a drag goes there."""

    wanted = Signal(float)
    """The place that a person goes to, in seconds."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay: Replay | None = None
        self._overview: Overview | None = None
        self._playing = False
        self._colours = LIGHT
        self._still: QPixmap | None = None
        self._still_of: tuple[object, ...] = ()
        self.setAccessibleName("Recording")
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def sizeHint(self) -> QSize:  # noqa: D102
        return QSize(600, max(56, round(self.window().height() * 0.09)))

    def settle(self) -> None:
        """Take the height that goes with the window's size."""
        self.setFixedHeight(self.sizeHint().height())

    def show_replay(
        self, replay: Replay, overview: Overview, playing: bool, colours: Palette
    ) -> None:
        """Show where a replay stands."""
        self._replay, self._overview = replay, overview
        self._playing, self._colours = playing, colours
        self.update()

    def place_of(self, x: float) -> float:
        """Return the second of the recording under a pixel."""
        if self._replay is None:
            return 0.0
        track = self._track()
        share = (x - track.left()) / max(1.0, track.width())
        return min(max(share, 0.0), 1.0) * self._replay.length_s

    def x_of(self, position_s: float) -> float:
        """Return the pixel of a second of the recording."""
        track = self._track()
        length = self._replay.length_s if self._replay else 0.0
        return track.left() + (position_s / length if length else 0.0) * track.width()

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: D102
        self.wanted.emit(self.place_of(event.position().x()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: D102
        if event.buttons() & Qt.MouseButton.LeftButton:
            self.wanted.emit(self.place_of(event.position().x()))

    def _track(self) -> QRectF:
        side = self.height() * 2.1
        return QRectF(
            side, 4, max(10.0, self.width() - side - self.height() * 1.4), self.height() - 8
        )

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        colours = self._colours
        painter.fillRect(self.rect(), QColor(colours.sheet))
        if self._replay is not None and self._overview is not None:
            painter.drawPixmap(0, 0, self._kept(self._replay, self._overview))
            self._paint_place(painter, self._replay)
            self._paint_words(painter, self._replay)
        painter.end()

    def _kept(self, replay: Replay, overview: Overview) -> QPixmap:
        """Return what stands still, painted once."""
        still_of = (overview, self.size(), self._colours.theme, self.devicePixelRatioF())
        if self._still is None or not _same(still_of, self._still_of):
            ratio = self.devicePixelRatioF()
            self._still = QPixmap(round(self.width() * ratio), round(self.height() * ratio))
            self._still.setDevicePixelRatio(ratio)
            self._still.fill(QColor(self._colours.sheet))
            painter = QPainter(self._still)
            self._paint_track(painter, replay, overview)
            painter.end()
            self._still_of = still_of
        return self._still

    def _paint_track(self, painter: QPainter, replay: Replay, overview: Overview) -> None:
        track, colours = self._track(), self._colours
        painter.fillRect(track, QColor(colours.paper))
        low, high = overview.envelope(max(1, int(track.width())), replay.length_s)
        if np.isfinite(high).any():
            top, bottom = np.nanmax(high), min(0.0, float(np.nanmin(low)))
            scale = (track.height() * 0.72) / max(top - bottom, 1e-6)
            painter.setPen(QPen(QColor(colours.curves[0]), 1))
            for i in np.flatnonzero(np.isfinite(high)).tolist():
                x = track.left() + i
                y0 = track.bottom() - (low[i] - bottom) * scale
                y1 = track.bottom() - (high[i] - bottom) * scale
                painter.drawLine(QPointF(x, y0), QPointF(x, min(y1, y0 - 1)))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(QColor(colours.ink))
        painter.setPen(Qt.PenStyle.NoPen)
        size = track.height() * 0.09
        for at in replay.passes_s:
            x = self.x_of(at)
            painter.drawPolygon(
                QPolygonF(
                    [
                        QPointF(x - size, track.top()),
                        QPointF(x + size, track.top()),
                        QPointF(x, track.top() + size * 1.6),
                    ]
                )
            )

    def _paint_place(self, painter: QPainter, replay: Replay) -> None:
        track, colours = self._track(), self._colours
        if replay.loaded < 1:
            seen = QRectF(track.left(), track.bottom() - 4, track.width() * replay.loaded, 4)
            painter.fillRect(seen, QColor(colours.target))
        x = self.x_of(replay.position_s)
        painter.setPen(QPen(QColor(colours.now), 3))
        painter.drawLine(QPointF(x, track.top()), QPointF(x, track.bottom()))

    def _paint_words(self, painter: QPainter, replay: Replay) -> None:
        colours, height = self._colours, float(self.height())
        big, small = ink.font(height * 0.34, bold=True), ink.font(height * 0.26)
        left = QRectF(height * 0.15, 2, height * 1.85, height / 2)
        sign = "▶" if self._playing else "❚❚"
        words = f"{sign} {clock_text(replay.position_s)}"
        ink.text(
            painter,
            left,
            words,
            ink.fitted(words, height * 0.34, left.width(), bold=True),
            colours.ink,
        )
        left.moveTop(height / 2 - 2)
        words = f"of {clock_text(replay.length_s)}"
        if replay.loaded < 1:
            words = f"looking: {replay.loaded:.0%}"
        ink.text(painter, left, words, ink.fitted(words, height * 0.26, left.width()), colours.ink)
        right = QRectF(self.width() - height * 1.3, 2, height * 1.2, height / 2)
        ink.text(painter, right, f"{replay.speed:g}×", big, colours.ink, ink.RIGHT)
        right.moveTop(height / 2 - 2)
        ink.text(painter, right, "speed", small, colours.ink, ink.RIGHT)


def _same(one: tuple[object, ...], other: tuple[object, ...]) -> bool:
    """Compare by identity first: an overview holds arrays, which have no plain equality."""
    return len(one) == len(other) and all(
        a is b or (not isinstance(a, Overview) and a == b) for a, b in zip(one, other, strict=True)
    )
