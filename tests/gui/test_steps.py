"""The steps asked from Python say what the commands print."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from strokewise.analysis.errors import InputError
from strokewise.gui import cli, found
from strokewise.gui.options import SaidOfEngine
from strokewise.gui.pages.text import page_text
from strokewise.gui.registry import STEPS
from strokewise.gui.steps import ask, step_named, typed_from_words, words_from_typed

CRANKED = str(Path(__file__).parents[2] / "recordings" / "cranked.swr")
ON_ONE = [step.name for step in STEPS if step.asks in ("recording", "crank")]


@pytest.fixture(scope="module")
def seen():
    settings = (
        *("distributor.rotation=clockwise", "drive_gear.teeth=10", "drive_gear.hand=right"),
        *("drive_gear.helix_angle=45 deg", "drive_gear.engagement=12 mm"),
        *("drive_gear.pitch_diameter=25 mm", "static_timing.advance=6 deg BTDC"),
    )
    return found.found_in(CRANKED, SaidOfEngine(settings=settings))


@pytest.mark.parametrize("name", ON_ONE)
def test_a_step_says_what_its_command_prints(name, seen, monkeypatch, capsys):
    monkeypatch.setattr(found, "found_in", lambda file, said, **how: seen)
    said = ask(name, seen)
    assert said.decided
    assert cli.main([name, CRANKED]) == 0
    assert capsys.readouterr().out == page_text(said.page) + "\n"
    assert cli.main([name, CRANKED, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == said.json


def test_what_is_typed_is_as_on_the_command_line(seen):
    assert "1E" not in ask("valves", seen, {"done": ["1E"]}).page.headline
    at_tdc = ask("valves", seen, {"after_tdc_deg": "0"}).json
    assert at_tdc["crank"]["after_firing_1"] == 0.0


def test_what_cannot_be_asked_says_so_in_a_line(seen):
    with pytest.raises(InputError, match=r"^drive_gear is missing"):
        ask("drive", replace(seen, profile=replace(seen.profile, drive_gear=None)))
    with pytest.raises(InputError, match='"nothing" is no step; there are find, marks, cam'):
        ask("nothing", seen)


def test_fields_are_called_as_their_surface_calls_them(seen):
    with pytest.raises(InputError, match=r"^--keyway 7: "):
        ask("cam", seen, {"keyway": "7"})
    with pytest.raises(InputError, match=r"^“Keyway it sits on now” 7: "):
        ask("cam", seen, {"keyway": "7"}, in_window=True)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("static", ("--cylinder=2", "--strobe=700=13", "--strobe=3200=33", "--curve=0=0,3000=20")),
        ("cam", ("--separate-cams", "--keyway=2")),
        ("marks", ("--stated=pulley notch=123.4", "--cam-shift=17,15,19")),
        ("valves", ("--done=1E,2I", "--gap=1E=0.40 mm, -, 0.35 mm", "--engine-is=hot")),
        ("drive", ("--lead-1=300", "--found=12")),
    ],
)
def test_what_is_kept_as_words_is_read_back_the_same(name, words):
    step = step_named(name)
    typed = typed_from_words(step, words)
    assert words_from_typed(step, typed) == words
    apart = [part for word in words for part in word.split("=", 1)]
    assert typed_from_words(step, apart) == typed


def test_an_option_that_is_not_there_is_named_with_those_that_are():
    with pytest.raises(InputError, match="cam: no option --teeth; there are --separate-cams"):
        typed_from_words(step_named("cam"), ["--teeth=1"])
    with pytest.raises(InputError, match="cam --keyway: its value is missing"):
        typed_from_words(step_named("cam"), ["--keyway"])
