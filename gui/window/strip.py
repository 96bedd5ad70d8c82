"""How is a whole recording drawn at a glance? A strip to drag along, with the passes marked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QWidget

from strokewise.gui.models.figures.overview import Overview
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.run.places import Places, round_steps
from strokewise.gui.models.run.snapshot import Replay
from strokewise.gui.window import ink
from strokewise.gui.window.kept import KeptPicture
from strokewise.gui.window.key_button import TARGET_PX, Spot

HIGH_SHARE, FAR_HIGH_SHARE = 0.09, 0.1
"""Height of the strip, of the window's: at arm's length, and where a class reads its figures."""
LINE_SHARE, NOW_SHARE, LOADED_SHARE = 0.016, 0.036, 0.05
"""Width of the pressure's line, of that of the present place, and height of the bar that says how
far it has been looked through; of the strip's height."""

SCALE_SHARE, FLAG_SHARE, LOOP_ALPHA = 0.28, 0.3, 0.18
"""Height of the time scale, of the strip's; of a bookmark's flag, of the track's; and how strongly
a loop is shaded."""
BUTTON_SHARE = 0.66
"""Width of the buttons for the speed, of the strip's height."""


def clock_text(seconds: float) -> str:
    """Return minutes and seconds, ``"3:07.2"``."""
    minutes, rest = divmod(max(0.0, seconds), 60)
    return f"{int(minutes)}:{rest:04.1f}"


def scale_text(seconds: float) -> str:
    """Return a place of the time scale, ``"0:02"``, with tenths only where it has some."""
    words = clock_text(seconds)
    return words.removesuffix(".0")


@dataclass(frozen=True, slots=True)
class _StripShown:
    """All that is seen."""

    replay: Replay
    overview: Overview
    playing: bool
    colours: Palette


class Strip(QWidget):
    """The overview of a recording; a click or a drag goes there."""

    wanted = Signal(float)
    """The place that a person goes to, in seconds."""
    play_wanted, slower_wanted, faster_wanted = Signal(), Signal(), Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: _StripShown | None = None
        self._far = False
        self._still = KeptPicture(self)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName("Recording")
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.play = Spot(self, "Play or pause", "key Space")
        self.slower = Spot(self, "Play slower", "key -")
        self.faster = Spot(self, "Play faster", "key +")
        self.play.clicked.connect(self.play_wanted.emit)
        self.slower.clicked.connect(self.slower_wanted.emit)
        self.faster.clicked.connect(self.faster_wanted.emit)

    def sizeHint(self) -> QSize:  # noqa: D102
        height = self.window().height()
        high = height * FAR_HIGH_SHARE if self._far else ink.steady(height) * HIGH_SHARE
        return QSize(600, max(56, round(high)))

    def be_far(self, far: bool) -> None:
        """Be read from the last row of a class, or at arm's length."""
        if far != self._far:
            self._far = far
            self.settle()

    def settle(self) -> None:
        """Take the height that goes with the window's size."""
        self.setFixedHeight(self.sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        left, right = self._sides()
        self.play.setGeometry(left.toRect())
        button = right.toRect()
        button.setWidth(max(TARGET_PX, round(self.height() * BUTTON_SHARE)))
        self.slower.setGeometry(button)
        button.moveRight(right.toRect().right())
        self.faster.setGeometry(button)

    def show_replay(
        self, replay: Replay, overview: Overview, playing: bool, colours: Palette
    ) -> None:
        """Show where a replay stands; nothing is painted where nothing has changed."""
        shown = _StripShown(replay, overview, playing, colours)
        if shown != self._shown:
            self._shown = shown
            self.play.setAccessibleName("Pause" if playing else "Play")
            for spot in (self.play, self.slower, self.faster):
                spot.colours = colours
            told = f"{clock_text(replay.position_s)} of {clock_text(replay.length_s)}"
            places = replay.places
            marked = f", bookmarks: {len(places.bookmarks_s)}" if places.bookmarks_s else ""
            looped = f", {places.loop_words}" if places.loop_from_s is not None else ""
            self.setAccessibleDescription(f"{told}, speed {replay.speed:g}{marked}{looped}")
            self.update()

    def place_of(self, x: float) -> float:
        """Return the second of the recording under a pixel."""
        track = self._track()
        share = (x - track.left()) / max(1.0, track.width())
        return min(max(share, 0.0), 1.0) * self._length_s

    def x_of(self, position_s: float) -> float:
        """Return the pixel of a second of the recording."""
        track, length = self._track(), self._length_s
        return track.left() + (position_s / length if length else 0.0) * track.width()

    @property
    def _length_s(self) -> float:
        return 0.0 if self._shown is None else self._shown.replay.length_s

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: D102
        track = self._track()
        if track.left() <= event.position().x() <= track.right():
            self.wanted.emit(self.place_of(event.position().x()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: D102
        if event.buttons() & Qt.MouseButton.LeftButton:
            self.wanted.emit(self.place_of(event.position().x()))

    def _sides(self) -> tuple[QRectF, QRectF]:
        """Where play and time stand, and where the speed stands."""
        high = float(self.height())
        wide = max(2 * TARGET_PX + 40.0, high * (2 * BUTTON_SHARE + 0.9))
        return QRectF(0, 0, high * 2.1, high), QRectF(self.width() - wide, 0, wide, high)

    def _track(self) -> QRectF:
        left, right = self._sides()
        return QRectF(
            left.right(), 4, max(10.0, right.left() - left.right() - 4), self.height() - 8
        )

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter, shown = QPainter(self), self._shown
        if shown is None:
            painter.fillRect(self.rect(), QColor(LIGHT.sheet))
        else:
            painter.drawPixmap(0, 0, self._kept(shown))
            self._paint_place(painter, shown.replay, shown.colours)
            self._paint_words(painter, shown.replay, shown.playing, shown.colours)
        painter.end()

    def _kept(self, shown: _StripShown) -> QPixmap:
        """Return what stands still, painted once."""

        def paint(painter: QPainter) -> None:
            painter.fillRect(self.rect(), QColor(shown.colours.sheet))
            self._paint_track(painter, shown.replay, shown.overview, shown.colours)

        replay = shown.replay
        of = (shown.overview, replay.passes_s, replay.length_s, replay.places, shown.colours)
        return self._still.picture(of, paint)

    def _paint_track(
        self, painter: QPainter, replay: Replay, overview: Overview, colours: Palette
    ) -> None:
        track = self._track()
        painter.fillRect(track, QColor(colours.paper))
        low, high = overview.envelope(max(1, int(track.width())), replay.length_s)
        if np.isfinite(high).any():
            top, bottom = np.nanmax(high), min(0.0, float(np.nanmin(low)))
            foot = track.bottom() - self._scale_high
            scale = (track.height() * 0.82 - self._scale_high) / max(top - bottom, 1e-6)
            wide = max(1.0, self.height() * LINE_SHARE)
            painter.setPen(QPen(QColor(colours.curves[0]), wide))
            y0, y1 = (foot - (side - bottom) * scale for side in (low, high))
            # Each column reaches to the one before: a steep flank has no holes.
            y0[1:], y1[1:] = np.fmax(y0[1:], y1[:-1]), np.fmin(y1[1:], y0[:-1])
            for i in np.flatnonzero(np.isfinite(high)).tolist():
                x = track.left() + i
                painter.drawLine(QPointF(x, y0[i]), QPointF(x, min(y1[i], y0[i] - wide)))
        self._paint_scale(painter, replay.length_s, colours)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_places(painter, replay.places, colours)
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

    @property
    def _scale_high(self) -> float:
        """Height of the time scale."""
        return self.height() * SCALE_SHARE

    def _paint_scale(self, painter: QPainter, length_s: float, colours: Palette) -> None:
        """Write the time along the foot, at round seconds or minutes."""
        track, high = self._track(), self._scale_high
        type_ = ink.font(high)
        wide = ink.width_of("00:00.0", type_) * 1.6
        painter.setPen(QPen(QColor(colours.faint), 1))
        for at_s in round_steps(length_s, max(1, int(track.width() / wide))):
            x = self.x_of(at_s)
            painter.drawLine(QPointF(x, track.bottom() - high), QPointF(x, track.bottom()))
            box = QRectF(x + 3, track.bottom() - high, wide, high)
            if box.left() + ink.width_of(scale_text(at_s), type_) < track.right():
                ink.text(painter, box, scale_text(at_s), type_, colours.ink)

    def _paint_places(self, painter: QPainter, places: Places, colours: Palette) -> None:
        """Shade the loop between its ends, and stand a flag at each bookmark."""
        track = self._track()
        ends = [each for each in (places.loop_from_s, places.loop_to_s) if each is not None]
        thick = max(2.0, self.height() * NOW_SHARE)
        if len(ends) == 2:
            box = QRectF(self.x_of(ends[0]), track.top(), 0, track.height() - self._scale_high)
            box.setRight(self.x_of(ends[1]))
            painter.fillRect(box, ink.translucent(colours.target, LOOP_ALPHA))
        painter.setPen(QPen(QColor(colours.target), thick))
        for each in ends:
            x = self.x_of(each)
            painter.drawLine(QPointF(x, track.top()), QPointF(x, track.bottom()))
        high = track.height() * FLAG_SHARE
        painter.setPen(QPen(QColor(colours.warning), max(1.0, thick / 2)))
        painter.setBrush(QColor(colours.warning))
        for each in places.bookmarks_s:
            x, top = self.x_of(each), track.top()
            painter.drawLine(QPointF(x, top), QPointF(x, track.bottom()))
            flag = [QPointF(x, top), QPointF(x + high, top + high / 2), QPointF(x, top + high)]
            painter.drawPolygon(QPolygonF(flag))

    def _paint_place(self, painter: QPainter, replay: Replay, colours: Palette) -> None:
        track = self._track()
        if replay.loaded < 1:
            thick = max(4.0, self.height() * LOADED_SHARE)
            seen = QRectF(track.left(), 0, track.width() * replay.loaded, thick)
            seen.moveBottom(track.bottom())
            painter.fillRect(seen, QColor(colours.target))
        x = self.x_of(replay.position_s)
        painter.setPen(QPen(QColor(colours.now), max(3.0, self.height() * NOW_SHARE)))
        painter.drawLine(QPointF(x, track.top()), QPointF(x, track.bottom()))

    def _paint_words(
        self, painter: QPainter, replay: Replay, playing: bool, colours: Palette
    ) -> None:
        height = float(self.height())
        left = QRectF(height * 0.15, 2, height * 1.85, height / 2)
        sign = "▶" if playing else "❚❚"
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
            words = f"looking: {100 * replay.loaded:.0f} %"
        ink.text(painter, left, words, ink.fitted(words, height * 0.26, left.width()), colours.ink)
        self._paint_speed(painter, replay.speed, colours)

    def _paint_speed(self, painter: QPainter, speed: float, colours: Palette) -> None:
        """Between the buttons that change it."""
        height = float(self.height())
        type_ = ink.font(height * 0.42, bold=True)
        for spot, sign in ((self.slower, "−"), (self.faster, "+")):
            box = QRectF(spot.geometry()).adjusted(4, height * 0.18, -4, -height * 0.18)
            painter.setPen(QPen(QColor(colours.ink), 1.5))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(box, 3, 3)
            ink.text(painter, box, sign, type_, colours.ink, ink.CENTRE)
        between = QRectF(self.slower.geometry().right(), height * 0.14, 0, height * 0.4)
        between.setRight(self.faster.geometry().left())
        words = f"{speed:g}×"
        big = ink.fitted(words, height * 0.34, between.width(), bold=True)
        ink.text(painter, between, words, big, colours.ink, ink.CENTRE)
        between.translate(0, height * 0.38)
        small = ink.fitted("speed", height * 0.26, between.width())
        ink.text(painter, between, "speed", small, colours.ink, ink.CENTRE)
