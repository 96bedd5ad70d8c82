"""What need not be painted anew? A picture of what stands still, kept until that changes."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QPainter, QPixmap
from PySide6.QtWidgets import QWidget


class KeptPicture:
    """A picture as large as a widget, painted again only where it would come out different.

    Parameters
    ----------
    widget : QWidget
        Whose size and whose screen's density the picture has.
    """

    def __init__(self, widget: QWidget) -> None:
        self._widget = widget
        self._pixmap = QPixmap()
        self._of: tuple[object, ...] = ()

    def picture(self, of: object, paint: Callable[[QPainter], None]) -> QPixmap:
        """Return the picture.

        Parameters
        ----------
        of : object
            All that is seen in it; compared with that of the last one.
        paint : callable
            Paints it whole, to its edges.
        """
        ratio = self._widget.devicePixelRatioF()
        now = (of, self._widget.size(), ratio)
        if now != self._of:
            self._pixmap = QPixmap(self._widget.size() * ratio)
            self._pixmap.setDevicePixelRatio(ratio)
            painter = QPainter(self._pixmap)
            paint(painter)
            painter.end()
            self._of = now
        return self._pixmap
