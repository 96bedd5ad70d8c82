"""How is a step's answer set? In large type, with a shape for how sure it is."""

from __future__ import annotations

import html
import re
from textwrap import wrap

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent, QPen
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QWidget

from strokewise.gui.drawings.drive_svg import CAP, DRIVE_HEIGHT, MIDDLE_X, MIDDLE_Y
from strokewise.gui.drawings.in_colours import in_colours
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.steps.step_book import StepView
from strokewise.gui.models.steps.step_tables import LiveTable
from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.page import Part, Table, Text, facts_of, words_of
from strokewise.gui.pages.sign import NONE, Sign
from strokewise.gui.window import ink
from strokewise.gui.window.certainty_word import paint_certainty_word
from strokewise.gui.window.verdict_band import paint_shape

HEAD_SHARE = 0.21
"""Height of the headline, of the window's."""
LARGEST_HEADLINE, SMALLEST_HEADLINE = 0.1, 0.026
"""Type of the headline, of the window's height: as large as all of it has room for."""
SHEET_LINE = 1.18
WORD_SHARE = 0.14
"""Type of the word under the sign, of the headline's height: the largest that two lines have."""
LONE = 3
"""A last line of so few letters is a unit that has lost its figure."""
READ_ON = "PgDn: read on"
FACT_LABEL_PER_CENT = 28
LONGEST_LABEL = 30
"""A longer one would stand in its narrow column as a tower of words."""
CAPTIONS = {
    "drive": "Broken line: where the rotor starts. Whole line: where it ends. Short strokes: one"
    " tooth. Numbers: the leads’ cylinders. Seen on the cap; up is 0°. Below, where known: the oil"
    " pump’s slot, before (broken) and with the gear home (whole)."
}
"""What stands beside a drawing, by step; a drawing without one has the whole width."""
BESIDE_SHARE, WHOLE_SHARE = 0.42, 0.94
"""Width of a drawing with words beside it, and without, of the column's."""
LONG_WORD, WORD_MOST, MAY_BREAK = re.compile(r"\w{31,}"), 20, "\u200b"
"""No word of the trade is so long, but a mark's name may be: it alone is torn, at such places."""
DRAWING_NAME = "drawing"
"""Under this name the drawing stands among a document's pictures."""


CAP_ROOM = CAP + 8.0
"""Half of the drawing that is shown, in its own units."""


class StepHead(QWidget):
    """The one sentence that a person came for, and what is being worked on."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: tuple[str, Sign, str, str] = ("", NONE, "", "")
        self._colours = LIGHT
        self.setAccessibleName("Answer of the step")

    def show_view(self, view: StepView, colours: Palette, *, more: bool = False) -> None:
        """Show another answer; ``more`` of it lies below what is seen."""
        self.setFixedHeight(round(self.window().height() * HEAD_SHARE))
        words = view.headline or view.about.question
        foot = view.working or (READ_ON if more else "")
        shown = (words, view.sign, view.crank, foot)
        if shown == self._shown and colours is self._colours:
            return
        self._shown, self._colours = shown, colours
        said = (f"{view.sign.word}: {words}", view.crank, foot)
        self.setAccessibleDescription(" · ".join(filter(None, said)))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint_head(painter, QRectF(self.rect()), self._shown, self.window().height(), self._colours)
        painter.end()


def paint_head(
    painter: QPainter,
    box: QRectF,
    shown: tuple[str, Sign, str, str],
    window_height: float,
    colours: Palette,
) -> None:
    """Paint the headline into a box: words, how sure, crank, what is in work."""
    words, sign, crank, foot_words = shown
    painter.fillRect(box, QColor(colours.sheet))
    foot = window_height * 0.034
    side = min(box.height() - foot, window_height * 0.12)
    shape = QRectF(box.left() + side * 0.15, box.top() + side * 0.12, side * 0.8, side * 0.8)
    paint_shape(painter, shape, sign.certainty, sign.share, colours)
    under = QRectF(box.left(), shape.bottom(), side * 1.1, box.bottom() - shape.bottom())
    paint_certainty_word(painter, under, sign.word, box.height() * WORD_SHARE, colours)
    left = box.left() + side * 1.15
    width = box.right() - left - side * 0.15
    pixels, lines = set_headline(words, width, box.height() - foot * 1.5, window_height)
    type_ = ink.font(pixels, bold=True)
    top = box.top() + foot * 0.25
    for line in lines:
        ink.text(painter, QRectF(left, top, width, pixels * SHEET_LINE), line, type_, colours.ink)
        top += pixels * SHEET_LINE
    small, row = ink.font(foot * 0.76), QRectF(left, box.bottom() - foot * 1.1, width, foot)
    ink.text(painter, row, crank, small, colours.faint)
    strong, right = ink.font(foot * 0.76, bold=True), Qt.AlignmentFlag.AlignRight
    ink.text(painter, row, foot_words, strong, colours.ink, right | Qt.AlignmentFlag.AlignVCenter)
    painter.setPen(QPen(QColor(colours.rule), 2))
    painter.drawLine(box.bottomLeft(), box.bottomRight())


def set_headline(
    words: str, width: float, height: float, window_height: float
) -> tuple[float, tuple[str, ...]]:
    """Return type and lines of a headline: the largest type in which all of it has room."""
    pixels = window_height * LARGEST_HEADLINE
    while True:
        type_ = ink.font(pixels, bold=True)
        lines = ink.wrapped(words, type_, width, 50)
        wide = max((ink.width_of(line, type_) for line in lines), default=0.0)
        whole = " ".join(lines) == " ".join(words.split())
        whole = whole and (len(lines) < 2 or len(lines[-1]) > LONE)
        if pixels <= window_height * SMALLEST_HEADLINE or (
            whole and wide <= width and len(lines) * pixels * SHEET_LINE <= height
        ):
            return pixels, lines
        pixels *= 0.94


def answer_html(view: StepView, size: int, colours: Palette) -> str:
    """Return table and sections as rich text; the headline and the cautions stand elsewhere."""
    parts = [] if view.table is None else [_table(view.table, size, colours)]
    if view.drawing:
        caption = CAPTIONS.get(view.about.name, "")
        beside = f"<td style='color:{colours.faint}'>{caption}</td>" if caption else ""
        parts.append(
            f"<table width='100%'><tr><td><img src='{DRAWING_NAME}'></td>{beside}</tr></table>"
        )
    # What speaks against an answer is read before its details.
    parts.append(_warnings(view.warnings, size, colours))
    parts += [_part(part, size, colours) for part in view.parts]
    return LONG_WORD.sub(lambda word: MAY_BREAK.join(wrap(word[0], WORD_MOST)), "".join(parts))


def drawing_image(svg: str, room: float, colours: Palette, *, beside: bool) -> QImage:
    """Return a drawing as a picture for a column so many pixels wide.

    Parameters
    ----------
    beside : bool
        Words stand beside it: then the cap of a drawing alone is shown, in less of the room.
    """
    renderer = QSvgRenderer(QByteArray(in_colours(svg, colours).encode()))
    if beside:
        high = renderer.viewBoxF().height()
        below = high - DRIVE_HEIGHT  # the pump's slot, where that is known
        cap = QRectF(MIDDLE_X - CAP_ROOM, MIDDLE_Y - CAP_ROOM, 2 * CAP_ROOM, 2 * CAP_ROOM + below)
        renderer.setViewBox(cap)
    box = renderer.viewBoxF()
    width = max(1, round(room * (BESIDE_SHARE if beside else WHOLE_SHARE)))
    image = QImage(width, round(width * box.height() / box.width()), QImage.Format.Format_ARGB32)
    image.fill(QColor(colours.sheet))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    renderer.render(painter)
    painter.end()
    return image


def caution_html(heading: str, cautions: tuple[Caution, ...], colours: Palette) -> str:
    """Return the step's cautions as rich text."""
    rows = "".join(
        f"<p style='margin-top:0.5em; margin-bottom:0'><b>{html.escape(one.heading)}</b><br>"
        f"{html.escape(one.text)}</p>"
        for one in cautions
    )
    head = f"<b style='color:{colours.warning}'>{html.escape(heading)}</b>"
    return f"<p style='margin:0'>{head}</p>{rows}"


def _warnings(warnings: tuple[tuple[str, str], ...], size: int, colours: Palette) -> str:
    if not warnings:
        return ""
    pad = f"padding:{size // 5}px"
    sign = f"<td width='4%' style='{pad}'><b style='color:{colours.warning}'>!</b></td>"
    rows = "".join(
        f"<tr>{sign}<td style='{pad}'><b>{html.escape(label)}</b> {html.escape(text)}</td></tr>"
        for label, text in warnings
    )
    return f"<table width='100%' cellspacing='0'>{rows}</table>"


def _part(part: Part, size: int, colours: Palette) -> str:
    heading = "" if isinstance(part, Table) else part.heading
    if isinstance(part, Text):
        grey = "" if heading else f" style='color:{colours.faint}'"
        return f"{_heading(heading)}<p{grey}>{html.escape(part.text)}</p>"
    facts = facts_of(part)
    rows = "".join(
        _fact(row.label, words_of(row), f" bgcolor='{_stripe(i, colours)}'", size)
        for i, row in enumerate(facts.rows)
    )
    return f"{_heading(facts.heading)}<table width='100%' cellspacing='0'>{rows}</table>"


def _heading(words: str) -> str:
    return f"<h3 style='margin-bottom:4px'>{html.escape(words)}</h3>" if words else ""


def _fact(label: str, text: str, ground: str, size: int) -> str:
    """Return a labelled fact; a long label has a row of its own above it."""
    pad = f"padding:{size // 5}px {size // 2}px"
    name = f"<b>{html.escape(label)}</b>"
    if len(label) > LONGEST_LABEL:
        return (
            f"<tr{ground}><td colspan='2' style='{pad}'>{name}</td></tr>"
            f"<tr{ground}><td colspan='2' style='{pad}'>{html.escape(text)}</td></tr>"
        )
    return (
        f"<tr{ground}><td width='{FACT_LABEL_PER_CENT}%' style='{pad}'>{name}</td>"
        f"<td style='{pad}'>{html.escape(text)}</td></tr>"
    )


def _table(table: LiveTable, size: int, colours: Palette) -> str:
    """Return a table whose first column, a name of any length, has rows of its own."""
    pad = f"padding:{size // 6}px {size // 2}px"
    grey = f"{pad}; color:{colours.faint}"
    head = "".join(
        f"<td width='{width}%' style='{grey}'>{_whole(name)}</td>"
        for name, width in zip(table.columns[1:], table.widths, strict=True)
    )
    rows = "".join(
        f"<tr bgcolor='{_stripe(i, colours)}'>"
        f"<td colspan='{len(row) - 1}' style='{pad}'><b>{html.escape(row[0])}</b></td></tr>"
        f"<tr bgcolor='{_stripe(i, colours)}'>"
        + "".join(f"<td style='{pad}'>{_whole(text)}</td>" for text in row[1:])
        + "</tr>"
        for i, row in enumerate(table.rows)
    )
    return f"<table width='100%' cellspacing='0'><tr>{head}</tr>{rows}</table><br>"


def _whole(text: str) -> str:
    """Return a figure that is broken between lines before its "to" alone."""
    return html.escape(text).replace(" ", "&nbsp;").replace("&nbsp;to&nbsp;", " to&nbsp;")


def _stripe(row: int, colours: Palette) -> str:
    return colours.sheet if row % 2 == 0 else colours.paper
