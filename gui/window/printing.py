"""How do drawn pages get onto paper? Vectors, to a PDF or a printer that is asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QRectF, Qt
from PySide6.QtGui import QPagedPaintDevice, QPageLayout, QPageSize, QPainter, QPdfWriter
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QDialog, QWidget

from strokewise.daq.recording.atomic import write_atomically

PDF_DOTS_PER_INCH = 1200


def paint_pages(pages: Sequence[str], device: QPagedPaintDevice) -> bool:
    """Paint each SVG on a page of its own, as large as the paper lets it; False if it cannot."""
    painter = QPainter()
    if not painter.begin(device):
        return False
    painted = True
    for i, page in enumerate(pages):
        if i:
            painted = device.newPage() and painted
        renderer = QSvgRenderer(page.encode())
        renderer.setAspectRatioMode(Qt.AspectRatioMode.KeepAspectRatio)
        renderer.render(painter, QRectF(0, 0, device.width(), device.height()))
    return painter.end() and painted


def save_pages(pages: Sequence[str], path: Path, title: str) -> None:
    """Save pages as a PDF on A4, across.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    content = QBuffer()
    content.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(content)
    writer.setResolution(PDF_DOTS_PER_INCH)
    writer.setTitle(title)
    writer.setCreator("strokewise")
    size = QPageSize(QPageSize.PageSizeId.A4)
    across = QPageLayout.Orientation.Landscape
    writer.setPageLayout(QPageLayout(size, across, QMarginsF()))  # the pages have their own edges
    paint_pages(pages, writer)
    write_atomically(path, bytes(content.data().data()))


def ask_printer(
    window: QWidget, pages: Sequence[str], name: str, say: Callable[[str], object]
) -> QDialog | None:
    """Ask for a printer, then print; the window and the run go on meanwhile."""
    try:
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter
    except ImportError as error:
        say(f"This computer cannot print ({error}); Shift+P saves a PDF")
        return None
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setPageOrientation(QPageLayout.Orientation.Landscape)
    printer.setFullPage(True)
    printer.setDocName(name)
    dialog = QPrintDialog(printer, window)
    dialog.setWindowTitle(f"Print the {name}")
    dialog.setWindowModality(Qt.WindowModality.NonModal)  # the run goes on
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)

    def send() -> None:
        printed = paint_pages(pages, printer)
        where = printer.outputFileName() or printer.printerName()
        say(f"Sent to {where}" if printed else f"{where} did not take the {name}; Shift+P: a PDF")

    dialog.accepted.connect(send)
    dialog.show()
    return dialog
