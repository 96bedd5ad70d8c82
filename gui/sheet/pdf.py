"""How does the sheet become a PDF without a screen? Qt's text engine, pictures staying drawings."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from strokewise.analysis.errors import InputError
from strokewise.daq.recording.atomic import write_atomically
from strokewise.gui.found import Going, unwatched
from strokewise.gui.sheet.html import print_html
from strokewise.gui.sheet.sheet import Sheet

if TYPE_CHECKING:
    from PySide6.QtCore import QSizeF
    from PySide6.QtGui import (
        QPdfWriter,
        QTextBlock,
        QTextDocument,
        QTextFrame,
    )

Paper = Literal["a4", "letter"]

MARGIN_MM = 15.0
DOTS_PER_INCH = 1200
LAYOUT_DPI = 96.0  # of a pixel in the style sheet
FOOT_PX = 26.0  # room for the foot of the page
FOOT_TEXT_PX = 10
PICTURE_PREFIX = "picture:"
LAID_SHARE = 0.5
"""Of the work, the laying out of the text; the rest is painting the pages."""
PHOTO_SHARES = (0.48, 0.3)
"""Width and height of a photo at the most, of the page's: two stand side by side."""


def write_pdf(
    sheet: Sheet,
    path: Path,
    paper: Paper = "a4",
    going: Going = unwatched,
) -> int:
    """Write the sheet as PDF and return its number of pages; in a thread of its own, too.

    Parameters
    ----------
    going : callable, optional
        Told the share that is done, 0 to 1; whoever raises in it stops, and nothing is written.

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
    going(0.0)
    document, keep = _document(sheet, page)
    pages = _paint(document, writer, page, f"Job sheet: {sheet.name}", going)
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
    drawings = [picture.svg for picture in sheet.pictures]
    drawer = _drawer(drawings, [photo.picture.jpeg for photo in sheet.photos], page)
    document.documentLayout().registerHandler(drawer.object_type, drawer)
    document.setHtml(print_html(sheet))
    _place_drawings(document, drawer.object_type)
    _close_up(document)
    document.setPageSize(page)
    _keep_together(document, page.height())
    return document, drawer


def _drawer(drawings: list[str], photos: list[bytes], page: QSizeF) -> Any:
    """Return what draws the pictures where the text has them: the drawings, then the photos.

    A drawing is as wide as the page at the most, a photo as its column.
    """
    from PySide6.QtCore import QSizeF
    from PySide6.QtGui import QImage, QPyTextObject, QTextFormat
    from PySide6.QtSvg import QSvgRenderer

    class Drawer(QPyTextObject):
        """Qt's own name for a drawing inside a text is a text object."""

        object_type = QTextFormat.ObjectTypes.UserObject.value + 1
        which = QTextFormat.Property.UserProperty.value + 1

        def __init__(self) -> None:
            super().__init__()
            self._renderers = [QSvgRenderer(svg.encode()) for svg in drawings]
            self._images = [QImage.fromData(jpeg) for jpeg in photos]

        def intrinsicSize(self, document: Any, position: int, form: Any) -> QSizeF:
            which = form.property(self.which)
            if which < len(self._renderers):
                size = self._renderers[which].viewBoxF().size()
                shrink = min(1.0, page.width() / size.width())
            else:
                size = QSizeF(self._images[which - len(self._renderers)].size())
                wide, high = PHOTO_SHARES[0] * page.width(), PHOTO_SHARES[1] * page.height()
                shrink = min(wide / size.width(), high / size.height())
            return QSizeF(size.width() * shrink, size.height() * shrink)

        def drawObject(
            self, painter: Any, rect: Any, document: Any, position: int, form: Any
        ) -> None:
            which = form.property(self.which)
            if which < len(self._renderers):
                self._renderers[which].render(painter, rect)
            else:
                painter.drawImage(rect, self._images[which - len(self._renderers)])

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


def _close_up(document: QTextDocument) -> None:
    """Let no room stand between two tables that follow each other: Qt puts an empty line there."""
    from PySide6.QtGui import QTextBlockFormat, QTextCursor

    after_table = False
    root = document.rootFrame().begin()
    while not root.atEnd():
        frame, block = root.currentFrame(), root.currentBlock()
        root += 1
        if frame is None and after_table and block.length() == 1:
            cursor = QTextCursor(block)
            form = cursor.blockFormat()
            form.setLineHeight(1.0, QTextBlockFormat.LineHeightTypes.FixedHeight.value)
            form.setTopMargin(0)
            form.setBottomMargin(0)
            cursor.setBlockFormat(form)
        after_table = frame is not None


def _keep_together(document: QTextDocument, page_px: float) -> None:
    """Break pages in front of what would be torn: a heading with what is under it, a row, a table.

    Qt knows no "avoid": whatever fits on a page but lies over its end is moved as a whole. Each
    break shifts what follows, so the search begins anew behind it.
    """
    done = -1
    while (torn := _first_torn(document, page_px, done)) is not None:
        done = torn.begin
        _break_before(torn.first)


@dataclass(frozen=True, slots=True)
class _Group:
    """What belongs together: its first part, where that begins in the text, and its place."""

    first: QTextBlock | QTextFrame
    begin: int
    top: float
    bottom: float


def _break_before(first: QTextBlock | QTextFrame) -> None:
    from PySide6.QtGui import QTextBlock, QTextCursor, QTextFormat, QTextTable

    always = QTextFormat.PageBreakFlag.PageBreak_AlwaysBefore
    if isinstance(first, QTextBlock):
        cursor = QTextCursor(first)
        form = cursor.blockFormat()
        form.setPageBreakPolicy(always)
        cursor.setBlockFormat(form)
    elif isinstance(first, QTextTable):
        table_form = first.format().toTableFormat()
        table_form.setPageBreakPolicy(always)
        first.setFormat(table_form)


def _first_torn(document: QTextDocument, page_px: float, done: int) -> _Group | None:
    """Return the first group that begins after ``done`` and is torn, or None."""
    for group in _groups(document):
        torn = group.top // page_px != (group.bottom - 1) // page_px
        if torn and group.bottom - group.top <= page_px and group.begin > done:
            return group
    return None


def _groups(document: QTextDocument) -> Iterator[_Group]:
    """Yield what belongs together, in pixels.

    Headings and all under them up to the end of a table, which may be a single row; after that,
    each table by itself.
    """
    layout = document.documentLayout()
    group: _Group | None = None
    filled = False  # something stands under the heading already
    root = document.rootFrame().begin()
    while not root.atEnd():
        frame, block = root.currentFrame(), root.currentBlock()
        root += 1
        if frame is not None:
            box = layout.frameBoundingRect(frame)
            alone = _Group(frame, frame.firstPosition(), box.top(), box.bottom())
            yield alone if group is None else replace(group, bottom=box.bottom())
            group = None
            continue
        box = layout.blockBoundingRect(block)
        is_heading = block.blockFormat().headingLevel() > 0
        if group is not None and filled and is_heading:
            yield group
            group = None
        if is_heading and group is None:
            group, filled = _Group(block, block.position(), box.top(), box.bottom()), False
        elif group is not None and block.text().strip():
            group = replace(group, bottom=box.bottom())
            filled = filled or not is_heading
    if group is not None:
        yield group


def _paint(
    document: QTextDocument,
    writer: QPdfWriter,
    page: QSizeF,
    foot: str,
    going: Going,
) -> int:
    """Paint page after page with its foot, telling how far, and return how many there are."""
    from PySide6.QtCore import QRectF, Qt
    from PySide6.QtGui import QAbstractTextDocumentLayout, QFont, QPainter

    painter = QPainter(writer)
    scale = DOTS_PER_INCH / LAYOUT_DPI
    painter.scale(scale, scale)
    pages = document.pageCount()
    try:
        for number in range(pages):
            going(LAID_SHARE + (1 - LAID_SHARE) * number / pages)
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
    finally:  # stopped, too, or Qt would complain of what is destroyed while painted on
        painter.end()
    return pages
