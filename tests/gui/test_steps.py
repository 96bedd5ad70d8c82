"""The steps asked from Python say what the commands print."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from strokewise.analysis.errors import InputError
from strokewise.gui import cli, found
from strokewise.gui.steps import STEPS, seen_in, step

CRANKED = str(Path(__file__).parents[2] / "recordings" / "cranked.swr")


@pytest.fixture(scope="module")
def seen():
    settings = (
        *("distributor.rotation=clockwise", "drive_gear.teeth=10", "drive_gear.hand=right"),
        *("drive_gear.helix_angle=45 deg", "drive_gear.engagement=12 mm"),
        *("drive_gear.pitch_diameter=25 mm", "static_timing.advance=6 deg BTDC"),
    )
    return seen_in(CRANKED, settings=settings)


@pytest.mark.parametrize("name", STEPS)
def test_a_step_says_what_its_command_prints(name, seen, monkeypatch, capsys):
    monkeypatch.setattr(found, "found_in", lambda file, args: seen)
    said = step(name, seen)
    assert said.decided
    assert cli.main([name, CRANKED]) == 0
    assert capsys.readouterr().out == said.words + "\n"
    assert cli.main([name, CRANKED, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == said.answer


def test_options_are_those_of_the_command_line(seen):
    assert "1E" not in step("valves", seen, ("--done", "1E")).words.splitlines()[0]
    at_tdc = step("valves", seen, ("--after-tdc", "0")).answer
    assert at_tdc["crank"]["after_firing_1"] == 0.0


def test_what_cannot_be_asked_says_so_in_a_line(seen):
    said = step("drive", replace(seen, profile=replace(seen.profile, drive_gear=None)))
    assert not said.decided
    assert said.answer is None
    assert said.words.startswith("drive_gear is missing")
    with pytest.raises(InputError, match="there are marks, cam, valves, drive, static"):
        step("find", seen)
