"""Not a word of a command's answer is lost between text and page."""

from pathlib import Path

import pytest

from strokewise.gui.models.steps.sections import sections_of
from strokewise.gui.models.steps.step_cautions import BEFORE, cautions_before
from strokewise.gui.pages.words import fact, warning_words
from strokewise.gui.steps import STEPS, seen_in, step

CRANKED = Path(__file__).parents[3] / "recordings" / "cranked.swr"


@pytest.fixture(scope="module")
def answers():
    settings = (
        *("distributor.rotation=clockwise", "drive_gear.teeth=10", "drive_gear.hand=right"),
        *("drive_gear.helix_angle=45 deg", "drive_gear.engagement=12 mm"),
        *("drive_gear.pitch_diameter=25 mm", "static_timing.advance=6 deg BTDC"),
    )
    seen = seen_in(CRANKED, settings=settings)
    return {name: step(name, seen) for name in STEPS}, seen.profile


def spoken(sections):
    for section in sections:
        yield section.heading
        sign = {"warnings": "! ", "cautions": "- "}.get(section.kind, "")
        colon = ":" if section.kind == "cautions" else ""
        yield from (f"{sign}{label}{colon if label else ''} {text}" for label, text in section.rows)


@pytest.mark.parametrize("name", STEPS)
def test_every_word_is_there_in_its_order(answers, name):
    words = answers[0][name].words
    assert " ".join(" ".join(spoken(sections_of(words))).split()) == " ".join(words.split())


@pytest.mark.parametrize("name", STEPS)
def test_the_cautions_of_a_step_are_those_shown_before_its_answer(answers, name):
    said, profile = answers
    (shown,) = [s for s in sections_of(said[name].words) if s.kind == "cautions"]
    before = cautions_before(name, profile)
    assert before.heading == shown.heading
    assert sorted(before.rows) == sorted(shown.rows)


def test_every_step_has_cautions(toy):
    for name in BEFORE:
        assert any("manual" in text for _, text in cautions_before(name, toy.profile()).rows)


def test_facts_are_told_apart(answers):
    cam = sections_of(answers[0]["cam"].words)
    right = next(s for s in cam if s.heading.startswith("To put it right"))
    assert [label for label, _ in right.rows] == ["Cam", "else", "else"]
    valves = sections_of(answers[0]["valves"].words)
    assert valves[0].rows[0][1].startswith("SET NOW")
    assert ("warnings", "The figures hold for a cold engine.") in [
        (s.kind, text) for s in valves for _, text in s.rows
    ]


@pytest.mark.parametrize("length", [1, 19, 20, 21, 22, 60])
def test_a_label_of_any_length_stays_apart_from_its_text(length):
    label = "m" * length
    (section,) = sections_of("\n".join(fact(label, "seen twice " * 20)))
    assert section.rows == ((label, ("seen twice " * 20).strip()),)


def test_no_warnings_no_section():
    assert warning_words(()) == ""
    assert sections_of("") == ()


@pytest.mark.parametrize(
    "name",
    [
        "dot",
        "x" * 19,
        "x" * 20,
        "x" * 21,
        "narrow white-painted notch on the outer rim of the crankshaft pulley",
    ],
)
def test_a_name_of_any_length_stays_whole(name):
    (section,) = sections_of("\n".join(fact(name, "meets its pointer " + "late " * 30)))
    (row,) = section.rows
    assert row == (name, ("meets its pointer " + "late " * 30).strip())


def test_a_name_longer_than_a_line_loses_no_word():
    name = "long " * 20 + "name"
    (section,) = sections_of("\n".join(fact(name, "meets its pointer")))
    ((label, text),) = section.rows
    assert f"{label} {text}".split() == [*name.split(), "meets", "its", "pointer"]
