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
    return _render(sheet, [_inline(picture) for picture in sheet.pictures], for_print=False)


def print_html(sheet: Sheet) -> str:
    """Return the sheet for Qt's text engine, its pictures named ``picture:0``, ``picture:1``, …"""
    names = [Markup('<img src="picture:{}">').format(i) for i in range(len(sheet.pictures))]
    return _render(sheet, names, for_print=True)


def _inline(picture: Picture) -> Markup:
    # Drawn by ElementTree, which escapes every text and attribute that goes into it.
    return Markup(picture.svg)


def _render(sheet: Sheet, drawings: list[Markup], *, for_print: bool) -> str:
    template = environment("strokewise.gui.sheet").get_template(TEMPLATE)
    return safe_text(template.render(sheet=sheet, drawings=drawings, for_print=for_print))
