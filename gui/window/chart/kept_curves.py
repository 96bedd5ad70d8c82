"""How is a growing curve drawn? What is drawn of it stays; only what is new is put to it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtGui import QPainter, QPixmap

from strokewise.gui.models.figures.trail import TrailStretch

Stretches = tuple[TrailStretch, ...]

JOIN = 2
"""Points that are drawn again, so that a curve is joined as if drawn at once."""


class KeptCurves:
    """A still picture with curves over it, the last of which grows from one look to the next."""

    def __init__(self) -> None:
        self._pixmap = QPixmap()
        self._over: object = None
        self._stretches: Stretches = ()

    def picture(
        self,
        still: QPixmap,
        stretches: Stretches,
        of: object,
        paint: Callable[[QPainter, Stretches], None],
    ) -> QPixmap:
        """Return the still picture with the stretches over it.

        Parameters
        ----------
        of : object
            All that decides how a stretch is painted; compared with that of the last picture.
        paint : callable
            Paints some stretches.
        """
        over = still.cacheKey(), of
        new = _gone_on(self._stretches, stretches) if over == self._over else None
        if self._pixmap.size() != still.size():
            self._pixmap = QPixmap(still.size())
        self._pixmap.setDevicePixelRatio(still.devicePixelRatio())
        painter = QPainter(self._pixmap)
        if new is None:
            painter.drawPixmap(0, 0, still)
        paint(painter, stretches if new is None else new)
        painter.end()
        self._over, self._stretches = over, stretches
        return self._pixmap


def _gone_on(before: Stretches, now: Stretches) -> Stretches | None:
    """Return what is new of curves of which the last may have grown; None where they are others."""
    if not before or len(before) != len(now):
        return None
    drawn, last = len(before[-1].x_deg), now[-1]
    known = *now[:-1], _part(last, slice(drawn))
    if not all(map(_same, before, known)):
        return None
    if drawn == len(last.x_deg):
        return ()
    return (_part(last, slice(max(drawn - JOIN, 0), None)),)


def _part(stretch: TrailStretch, which: slice) -> TrailStretch:
    return TrailStretch(stretch.x_deg[which], stretch.pressure_bar[which], stretch.weight)


def _same(one: TrailStretch, other: TrailStretch) -> bool:
    return (
        one.weight == other.weight
        and np.array_equal(one.x_deg, other.x_deg)
        and np.array_equal(one.pressure_bar, other.pressure_bar)
    )
