"""How does the sheet become a PDF without a screen? Qt's text engine, pictures staying drawings."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from strokewise.analysis.errors import InputError
from strokewise.daq.recording.atomic import write_atomically
from strokewise.gui.sheet.html import print_html
from strokewise.gui.sheet.sheet import Sheet

if TYPE_CHECKING:
    from PySide6.QtCore import QSizeF
    from PySide6.QtGui import (
        QPdfWriter,
        QTextBlock,
        QTextBlockFormat,
        QTextCursor,
        QTextDocument,
    )

Paper = Literal["a4", "letter"]

MARGIN_MM = 15.0
DOTS_PER_INCH = 1200
LAYOUT_DPI = 96.0  # of a pixel in the style sheet
FOOT_PX = 26.0  # room for the foot of the page
FOOT_TEXT_PX = 10
PICTURE_PREFIX = "picture:"


def write_pdf(sheet: Sheet, path: Path, paper: Paper = "a4") -> int:
    """Write the sheet as PDF and return its number of pages.

    Raises
    ------
    InputError
        Qt is not installed, or the file cannot be written.
    """
    try:
        from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QSizeF
        from PySide6.QtGui import QGuiApplication, QPageLayout, QPageSize, QPdfWriter
    except ImportError:
        raise InputError(
            f"{path}: no PDF without Qt; install strokewise[window], or print the HTML"
        ) from None
    application = QGuiApplication.instance()
    if application is None:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        application = QGuiApplication([])
    size = QPageSize(QPageSize.PageSizeId.A4 if paper == "a4" else QPageSize.PageSizeId.Letter)
    margins = QMarginsF(MARGIN_MM, MARGIN_MM, MARGIN_MM, MARGIN_MM)
    upright = QPageLayout.Orientation.Portrait
    content = QBuffer()  # in memory, so that a disk that refuses leaves an old sheet whole
    content.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(content)
    writer.setResolution(DOTS_PER_INCH)
    writer.setPageLayout(QPageLayout(size, upright, margins, QPageLayout.Unit.Millimeter))
    writer.setTitle(f"Job sheet: {sheet.name}")
    writer.setCreator(f"strokewise {sheet.version}")
    scale = DOTS_PER_INCH / LAYOUT_DPI
    page = QSizeF(writer.width() / scale, writer.height() / scale - FOOT_PX)
    document, keep = _document(sheet, page)
    pages = _paint(document, writer, page, f"Job sheet: {sheet.name}")
    del document, keep, writer, application  # in this order: pictures belong to the document
    try:
        write_atomically(path, bytes(content.data().data()))
    except OSError as error:
        raise InputError(f"{path}: the PDF cannot be written there: {error.strerror}") from None
    return pages


def _document(sheet: Sheet, page: QSizeF) -> tuple[QTextDocument, Any]:
    """Return the laid out document, and what must live as long as it does."""
    from PySide6.QtGui import QTextDocument

    document = QTextDocument()
    document.setDocumentMargin(0)
    document.setUseDesignMetrics(True)
    drawer = _drawer([picture.svg for picture in sheet.pictures], page.width())
    document.documentLayout().registerHandler(drawer.object_type, drawer)
    document.setHtml(print_html(sheet))
    _place_drawings(document, drawer.object_type)
    document.setPageSize(page)
    _keep_together(document, page.height())
    return document, drawer


def _drawer(drawings: list[str], width: float) -> Any:
    """Return what draws the pictures where the text has them, as wide as the page at the most."""
    from PySide6.QtCore import QSizeF
    from PySide6.QtGui import QPyTextObject, QTextFormat
    from PySide6.QtSvg import QSvgRenderer

    class Drawer(QPyTextObject):
        """Qt's own name for a drawing inside a text is a text object."""

        object_type = QTextFormat.ObjectTypes.UserObject.value + 1
        which = QTextFormat.Property.UserProperty.value + 1

        def __init__(self) -> None:
            super().__init__()
            self._renderers = [QSvgRenderer(svg.encode()) for svg in drawings]

        def intrinsicSize(self, document: Any, position: int, form: Any) -> QSizeF:
            size = self._renderers[form.property(self.which)].viewBoxF().size()
            shrink = min(1.0, width / size.width())
            return QSizeF(size.width() * shrink, size.height() * shrink)

        def drawObject(
            self, painter: Any, rect: Any, document: Any, position: int, form: Any
        ) -> None:
            self._renderers[form.property(self.which)].render(painter, rect)

    return Drawer()


def _place_drawings(document: QTextDocument, object_type: int) -> None:
    """Put drawings in the place of the images that the HTML names."""
    from PySide6.QtGui import QTextCharFormat, QTextCursor, QTextFormat

    found = []
    block = document.begin()
    while block.isValid():
        fragments = block.begin()
        while not fragments.atEnd():
            fragment = fragments.fragment()
            if fragment.charFormat().isImageFormat():
                name = fragment.charFormat().toImageFormat().name()
                found.append((fragment.position(), int(name.removeprefix(PICTURE_PREFIX))))
            fragments += 1
        block = block.next()
    for position, number in found:
        form = QTextCharFormat()
        form.setObjectType(object_type)
        form.setProperty(QTextFormat.Property.UserProperty.value + 1, number)
        cursor = QTextCursor(document)
        cursor.setPosition(position)
        cursor.setPosition(position + 1, QTextCursor.MoveMode.KeepAnchor)
        cursor.insertText("\N{OBJECT REPLACEMENT CHARACTER}", form)


def _keep_together(document: QTextDocument, page_px: float) -> None:
    """Break pages in front of what would be torn: a heading with the table or drawing under it.

    Qt knows no "avoid": whatever fits on a page but lies over its end is moved as a whole. Each
    break shifts what follows, so the search begins anew behind it.
    """
    done = 0
    while (torn := _first_torn(document, page_px, done)) is not None:
        done, cursor, form = torn
        form.setPageBreakPolicy(form.PageBreakFlag.PageBreak_AlwaysBefore)
        cursor.setBlockFormat(form)


def _first_torn(
    document: QTextDocument, page_px: float, done: int
) -> tuple[int, QTextCursor, QTextBlockFormat] | None:
    """Return the first heading after ``done`` whose group is torn, or None."""
    from PySide6.QtGui import QTextCursor

    for heading, top, bottom in _groups(document):
        torn = top // page_px != (bottom - 1) // page_px and bottom - top <= page_px
        if torn and heading.position() > done:
            cursor = QTextCursor(heading)
            return heading.position(), cursor, cursor.blockFormat()
    return None


def _groups(document: QTextDocument) -> Iterator[tuple[QTextBlock, float, float]]:
    """Yield what belongs together: headings and all under them up to the end of a table.

    Each group is its first heading, where it begins and where it ends, in pixels.
    """
    layout = document.documentLayout()
    heading: QTextBlock | None = None
    top = bottom = 0.0
    filled = False  # something stands under the heading already
    root = document.rootFrame().begin()
    while not root.atEnd():
        frame, block = root.currentFrame(), root.currentBlock()
        root += 1
        is_heading = frame is None and block.blockFormat().headingLevel() > 0
        if heading is not None and filled and is_heading:
            yield heading, top, bottom
            heading = None
        if is_heading and heading is None:
            heading, top, filled = block, layout.blockBoundingRect(block).top(), False
        if heading is None or (frame is None and not block.text().strip()):
            continue
        box = layout.blockBoundingRect(block) if frame is None else layout.frameBoundingRect(frame)
        bottom, filled = box.bottom(), not is_heading
        if frame is not None:
            yield heading, top, bottom
            heading = None
    if heading is not None:
        yield heading, top, bottom


def _paint(document: QTextDocument, writer: QPdfWriter, page: QSizeF, foot: str) -> int:
    """Paint page after page with its foot; return how many there are."""
    from PySide6.QtCore import QRectF, Qt
    from PySide6.QtGui import QAbstractTextDocumentLayout, QFont, QPainter

    painter = QPainter(writer)
    scale = DOTS_PER_INCH / LAYOUT_DPI
    painter.scale(scale, scale)
    pages = document.pageCount()
    for number in range(pages):
        if number:
            writer.newPage()
        view = QRectF(0, number * page.height(), page.width(), page.height())
        painter.save()
        painter.translate(0, -view.top())
        painter.setClipRect(view)
        context = QAbstractTextDocumentLayout.PaintContext()
        context.clip = view
        document.documentLayout().draw(painter, context)
        painter.restore()
        font = QFont(document.defaultFont())
        font.setPixelSize(FOOT_TEXT_PX)  # points would be those of the device, and scaled again
        painter.setFont(font)
        box = QRectF(0, page.height(), page.width(), FOOT_PX)
        painter.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignBottom, foot)
        count = f"page {number + 1} of {pages}"
        painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignBottom, count)
    painter.end()
    return pages
