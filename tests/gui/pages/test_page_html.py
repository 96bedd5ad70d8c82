"""A page as HTML: all that its text says, and nothing that a recording or a profile can inject."""

from html.parser import HTMLParser

import pytest

from strokewise.analysis.remark import Notice
from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.headline import Claim
from strokewise.gui.pages.html import page_html
from strokewise.gui.pages.page import Facts, Page, Row, Table, Text, page_of
from strokewise.gui.pages.text import page_text
from strokewise.gui.sayings import as_said
from strokewise.gui.steps import Said


class Words(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.said = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)

    def handle_data(self, data):
        self.said += f" {data}"


@pytest.fixture
def page() -> Page:
    return page_of(
        "toy",
        (Claim("The notch is <b>late</b>."),),
        decided=False,
        reason="one reading",
        parts=(
            Facts((Row("Notch", "7.4°", columns=(("cyl 1",), ("81.5°",))),), "Marks"),
            Table("Gaps", ("Valve", "Gap"), (("1E", "0.35 mm"),)),
            Text("Look again.", "Next"),
        ),
        warnings=(Notice("cold-hot", as_said("the figures hold for a cold engine")),),
        cautions=(Caution("manual-first", "First of all", "The manual comes first."),),
        foot=(Text("Angles are crank degrees."),),
    )


def test_everything_is_said_and_nothing_is_markup(page):
    words = Words(page_html(page))
    for said in ("NOT SURE YET", "The notch is <b>late</b>.", "Marks", "7.4°", "cyl 1", "0.35 mm"):
        assert said in words.said
    for said in ("Look again.", "The figures hold for a cold engine.", "Angles are crank degrees."):
        assert said in words.said
    assert words.said.index("Before the next step") < words.said.index("The manual comes first.")
    assert "script" not in words.tags


def test_the_notebook_says_what_the_text_says(page):
    shown, printed = (
        {word.strip(".:;!-") for word in text.split()}
        for text in (Words(page_html(page)).said, page_text(page))
    )
    assert printed - shown == set()


def test_an_answer_prints_its_headline_and_shows_its_page(page):
    said = Said(page, None, {})
    assert str(said) == page.headline
    assert said._repr_html_() == page_html(page)
