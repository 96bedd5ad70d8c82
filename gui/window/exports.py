"""How does a view leave the window? As picture, drawing, table, or by the clipboard."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QBuffer, QByteArray, QMimeData, QRect, QRectF, QSize
from PySide6.QtGui import QImage, QImageWriter, QPainter
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QApplication

PICTURE_SIZE = (1920, 1080)


class Exportable(Protocol):
    """A view that can paint itself anywhere and state its numbers."""

    def paint_on(self, painter: QPainter, box: QRectF) -> None: ...  # noqa: D102
    def csv(self) -> str: ...  # noqa: D102


def picture(view: Exportable, size: tuple[int, int] = PICTURE_SIZE) -> QImage:
    """Return the view as an image."""
    image = QImage(*size, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    view.paint_on(painter, QRectF(0, 0, *size))
    painter.end()
    return image


def save_png(view: Exportable, path: Path, size: tuple[int, int] = PICTURE_SIZE) -> None:
    """Save the view as a picture.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    buffer = QBuffer()
    buffer.open(QBuffer.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, QByteArray(b"PNG")).write(picture(view, size))
    path.write_bytes(bytes(buffer.data().data()))


def save_svg(view: Exportable, path: Path, size: tuple[int, int] = PICTURE_SIZE) -> None:
    """Save the view as a drawing.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    buffer = QBuffer()
    buffer.open(QBuffer.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setSize(QSize(*size))
    generator.setViewBox(QRect(0, 0, *size))
    generator.setTitle("strokewise")
    painter = QPainter(generator)
    view.paint_on(painter, QRectF(0, 0, *size))
    painter.end()
    path.write_bytes(bytes(buffer.data().data()))


def save_csv(view: Exportable, path: Path) -> None:
    """Save the view's numbers as a table.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    path.write_text(view.csv(), encoding="utf-8")


def copy(view: Exportable) -> bool:
    """Put picture and table on the clipboard; of a view that speaks, its words, which is said."""
    words: str | None = getattr(view, "words", None)
    data = QMimeData()
    data.setImageData(picture(view))
    data.setText(view.csv() if words is None else words)
    QApplication.clipboard().setMimeData(data)
    return words is not None
