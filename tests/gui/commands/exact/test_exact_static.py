"""``strokewise static``, every word of it: timing set after TDC for before is 12° out."""

from dataclasses import replace
from math import cos, radians, sin, sqrt

import pytest

from strokewise.gui import found

STEP = [
    "Turning the engine by hand",
    "Timing not proven (a rebuild, or a moved cam drive)",
    "Never turn back",
    "First of all",
]


def piston_mm(deg):
    """How far below its top the piston of a 94 mm stroke stands on a 168 mm rod."""
    throw, rod, at = 47.0, 168.0, radians(deg)
    return throw + rod - throw * cos(at) - sqrt(rod**2 - (throw * sin(at)) ** 2)


def test_the_whole_page(engine, page):
    said = page("static", "--engine", engine())
    assert (
        said.body
        == """\
TURN TO cylinder 1 at 6° before firing TDC, coming up in the engine's own
direction.

  Static timing        6° before TDC of cylinder 1
  On the rim           8.38 mm along it, 8.37 mm across
  On the flywheel      2.00 teeth
  Piston               0.329 mm below its top
  Turn guide           714° after firing TDC of cylinder 1"""
    )
    assert (said.warnings, said.cautions) == ([], STEP)
    assert piston_mm(6.0) == pytest.approx(0.329, abs=5e-4)


def test_after_tdc_of_a_cylinder_half_a_turn_on(engine, page, told):
    """Cylinder 3 fires 180° after cylinder 1: four degrees after its TDC is 184°, not 176°."""
    words = ("static", "--engine", engine(), "--advance", "4 deg ATDC", "--cylinder", "3")
    said = page(*words)
    assert said.plain.startswith(
        "TURN TO cylinder 3 at 4° after firing TDC, coming up in the engine's own direction."
    )
    assert said.facts == {
        "Static timing": "4° after TDC of cylinder 3",
        "On the rim": "5.59 mm along it, 5.58 mm across",
        "On the flywheel": "1.33 teeth",
        "Piston": "0.146 mm below its top",
        "Turn guide": "184° after firing TDC of cylinder 1",
    }
    assert said.cautions == STEP
    answer = told(*words)
    assert piston_mm(4.0) == pytest.approx(0.146, abs=5e-4)
    assert answer["advance"] == {
        "before_tdc": -4.0,
        "rim_along": "-5.585 mm",
        "rim_across": "-5.584 mm",
        "flywheel_teeth": -1.333,
        "piston_travel": "0.146 mm",
    }
    assert (answer["cylinder"], answer["target"]) == (3, {"after_firing_1": 184.0})
    assert (answer["decided"], answer["crank"], answer["moves"]) == (True, None, None)
    before = told("static", "--engine", engine(), "--cylinder", "3")
    assert before["target"] == {"after_firing_1": 174.0}


@pytest.fixture
def standing(toy_file, found_toy, monkeypatch):
    """Let the crank of a recording stand so many degrees past the firing TDC of cylinder 1."""

    def stand(after_deg, turning_back):
        seen = replace(
            found_toy,
            profile=replace(found_toy.profile, turning_back=turning_back),
            angle_deg=found_toy.firing_1_deg + after_deg,
        )
        monkeypatch.setattr(found, "found_in", lambda file, said, **_: seen)
        return toy_file

    return stand


def test_on_is_forward_and_back_is_back(standing, page, told):
    """At 80° of 714°: 634° on. At 20° past it: back past the play, and up again to the mark."""
    on = ("static", standing(80.0, "never"), "--advance", "6 deg BTDC")
    said = page(*on)
    assert said.plain.startswith(
        "TURN ON 634°, AND STOP ON THE MARK; THIS ENGINE MUST NOT BE TURNED BACK, SO GO ROUND"
        " AGAIN: cylinder 1 at 6° before firing TDC."
    )
    assert said.facts["Crank"] == "80.0° after firing TDC of cylinder 1"
    assert said.cautions == STEP
    [move] = told(*on)["moves"]
    assert move["turn"] == pytest.approx(634.0, abs=1e-3)
    back = ("static", standing(14.0, "allowed"), "--advance", "6 deg BTDC")
    said = page(*back)
    assert said.facts["Move 1"] == "go back 50°, past the play"
    assert said.facts["Move 2"] == "come up again 30°, and stop on the mark"
    assert said.plain.startswith("GO BACK 50°, PAST THE PLAY: cylinder 1 at 6° before")
    assert said.cautions == [*STEP[:2], "Turning back", STEP[3]]
    turns = [move["turn"] for move in told(*back)["moves"]]
    assert turns == pytest.approx([-50.0, 30.0], abs=1e-3)


def test_nobody_said_that_it_may_be_turned_back(standing, page, told):
    said = page("static", standing(14.0, None), "--advance", "6 deg BTDC")
    assert said.facts["Move 1"] == (
        "turn on 700°, and stop on the mark; nobody said that this engine may be turned back, so go"
        " round again"
    )
    assert said.cautions == [*STEP[:2], "Turning back, nobody said", STEP[3]]
    there = page("static", standing(714.0, "allowed"), "--advance", "6 deg BTDC")
    assert there.plain.startswith(
        "STOP: YOU ARE THERE: cylinder 1 at 6° before firing TDC. Static timing"
    )
    assert there.facts["Move"] == "none: it stands there"


CURVE = ("--curve", "800=0,3000=20")


def test_a_strobe_page(engine, page, told):
    """Shown 13° where 6° should be, and 33° where 26° should be: both seven over."""
    words = ("static", "--engine", engine(), *CURVE, "--strobe", "700=13", "--strobe", "3200=33")
    said = page(*words)
    assert said.plain.startswith(
        "All readings are 7.0° over (5.0 to 9.0): the mark or the static setting is off (an advance"
        " stuck out of its rest looks the same); find the mark against true TDC to tell which."
        " Static"
    )
    assert said.facts["At 700 rev/min"] == "13° before TDC, 7.0° over what it should be"
    assert said.facts["At 3200 rev/min"] == "33° before TDC, 7.0° over what it should be"
    assert said.facts["Shared by all"] == "7.0° over (5.0 to 9.0)"
    assert said.facts["Advance"] == "100 % (86 to 114) of its curve"
    assert said.cautions == ["Engine running under a strobe", *STEP]
    strobe = told(*words)["strobe"]
    assert strobe["readings"] == [
        {"speed_rpm": 700.0, "before_tdc": 13.0, "excess": 7.0},
        {"speed_rpm": 3200.0, "before_tdc": 33.0, "excess": 7.0},
    ]
    assert strobe["offset"]["value"] == 7.0
    assert strobe["advance_share"]["value"] == 1.0


def test_under_is_not_over_and_after_is_not_before(engine, page, told):
    """Four after TDC at idle where six before should be, and sixteen before where 26 should be."""
    words = ("static", "--engine", engine(), *CURVE, "--strobe", "700=-4", "--strobe", "3200=16")
    said = page(*words)
    assert said.plain.startswith(
        "All readings are 10.0° under (8.0 to 12.0): the mark or the static setting"
    )
    assert said.facts["At 700 rev/min"] == "4° after TDC, 10.0° under what it should be"
    assert said.facts["At 3200 rev/min"] == "16° before TDC, 10.0° under what it should be"
    assert said.facts["Shared by all"] == "10.0° under (8.0 to 12.0)"
    assert told(*words)["strobe"]["offset"]["value"] == -10.0


def test_a_late_mark_is_taken_off_what_it_shows(engine, told):
    """A mark 7° late shows 7° more advance than there is: taken off, nothing is left to set."""
    words = ("static", "--engine", engine(), *CURVE, "--strobe", "700=13", "--strobe", "3200=33")
    strobe = told(*words, "--mark-late", "7,6.7,7.3")["strobe"]
    assert (strobe["culprits"], strobe["static_offset"]["value"]) == (["mark"], 0.0)
    strobe = told(*words, "--mark-late", "2.5,2.2,2.8")["strobe"]
    assert (strobe["culprits"], strobe["static_offset"]["value"]) == (
        ["mark", "static setting"],
        4.5,
    )
    half = ("--strobe", "700=6", "--strobe", "3200=16")  # ten of the curve's twenty are there
    check = told("static", "--engine", engine(), *CURVE, *half)["strobe"]
    assert (check["culprits"], check["advance_share"]["value"]) == (["advance"], 0.5)
    assert check["text"] == "The advance does not follow its curve: 50 % (36 to 64) of it is there."
