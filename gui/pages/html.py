"""How does a page look as HTML? Everything escaped; a notebook and the sheet share its parts."""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, FunctionLoader, StrictUndefined

from strokewise.gui.pages.page import Page
from strokewise.gui.pages.words import sentence
from strokewise.gui.safe_text import safe_text

HOME = "strokewise.gui.pages"


def environment(home: str = HOME) -> Environment:
    """Return what renders the templates of a package, and the parts of a page within them."""

    def source(name: str) -> str | None:
        for package in (home, HOME):
            file = files(package).joinpath(name)
            if file.is_file():
                return file.read_text(encoding="utf-8")
        return None

    return Environment(
        loader=FunctionLoader(source),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page_html(page: Page) -> str:
    """Return a page as a piece of HTML, to be shown within another such as a notebook's.

    Examples
    --------
    >>> from strokewise.gui import ask, found_in
    >>> said = ask("find", found_in("recordings/rocked.swr"))
    >>> "<b>SURE</b>" in page_html(said.page)
    True
    """
    warnings = [sentence(each.text) for each in page.warnings]
    html = environment().get_template("page.html").render(page=page, warnings=warnings)
    return safe_text(html)
