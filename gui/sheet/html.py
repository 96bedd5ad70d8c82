"""How does the sheet become one page of HTML that needs nothing else, everything escaped?"""

from __future__ import annotations

from markupsafe import Markup

from strokewise.gui.pages.html import environment
from strokewise.gui.safe_text import safe_text
from strokewise.gui.sheet.pictures import Picture
from strokewise.gui.sheet.sheet import Sheet

TEMPLATE = "sheet.html"


def sheet_html(sheet: Sheet) -> str:
    """Return the sheet as one self-contained HTML file, its pictures as drawings within."""
    shown = [Markup('<img alt="" src="{}">').format(photo.address) for photo in sheet.photos]
    return _render(sheet, [_inline(picture) for picture in sheet.pictures], shown, for_print=False)


def print_html(sheet: Sheet) -> str:
    """Return the sheet for Qt's text engine, its pictures named ``picture:0``, ``picture:1``, …

    The photos follow the drawings in the count.
    """
    count = len(sheet.pictures) + len(sheet.photos)
    names = [Markup('<img src="picture:{}">').format(i) for i in range(count)]
    drawings, photos = names[: len(sheet.pictures)], names[len(sheet.pictures) :]
    return _render(sheet, drawings, photos, for_print=True)


def _inline(picture: Picture) -> Markup:
    # Drawn by ElementTree, which escapes every text and attribute that goes into it.
    return Markup(picture.svg)


def _render(sheet: Sheet, drawings: list[Markup], photos: list[Markup], *, for_print: bool) -> str:
    template = environment("strokewise.gui.sheet").get_template(TEMPLATE)
    shown = list(zip(photos, sheet.photos, strict=True))
    html = template.render(sheet=sheet, drawings=drawings, photos=shown, for_print=for_print)
    return safe_text(html)
