"""What a profile lacks is said in the form's words, never as a file spells its keys."""

import pytest

from strokewise.analysis.errors import NotStatedError
from strokewise.analysis.ignition.drive_gear import GEAR_KEYS, gear_of
from strokewise.gui.models.setup.lacking import (
    as_in_form,
    button_words,
    lacking_facts,
    lacking_words,
)
from strokewise.gui.models.setup.profile_words import KEY_WORDS


def test_keys_of_one_thing_are_said_together():
    line = lacking_words(GEAR_KEYS)
    assert line == (
        "The profile does not say yet: Drive gear (teeth; helix, from its axis; pitch diameter;"
        " meshes for; hand of the helix). Fill it in there."
    )
    assert lacking_words(("stroke", "rod_length")) == (
        "The profile does not say yet: Stroke; Rod, centre to centre. Fill it in there."
    )


def test_a_field_that_may_be_said_instead_is_named():
    line = lacking_words(("static_timing.advance",), "“Advance”")
    assert line.endswith("Fill it in there, or say “Advance” on the left.")


def test_each_key_says_how_it_is_written():
    [row] = lacking_facts(("pulley.radius",)).rows
    assert row.label == "Pulley radius at the marks"
    assert row.text.startswith("such as")
    assert "mm" in row.text


def test_words_of_a_page_call_keys_as_the_form_does():
    assert as_in_form("set distributor.rotation") == "set “Rotor turns, seen on the cap”"
    assert as_in_form("name them under [[marks]] in it") == "name them under “Marks” in it"
    assert as_in_form("add drive_gear.slot_angle and drive_gear.slot_depth") == (
        "add “Oil pump's slot, clockwise from the rotor's key” and “Tongue in the pump's slot, how"
        " deep”"
    )
    assert as_in_form("set pulley.radius and turn on") == (
        "set “Pulley radius at the marks” and turn on"
    )
    assert as_in_form("say so in the profile (turning_back).") == (
        "say so in the profile (“Turning back”)."
    )
    for no_key in ("bench.encoder.direction", "firing_orders", "stroke and cylinders"):
        assert as_in_form(no_key) == no_key
    assert as_in_form("turn on. at 3.5 mm e.g. so") == "turn on. at 3.5 mm e.g. so"


def test_every_key_that_a_step_may_lack_has_its_words(toy):
    with pytest.raises(NotStatedError) as told:
        gear_of(toy.profile())
    assert set(told.value.keys) <= set(KEY_WORDS)
    assert button_words(told.value.keys) == "Fill in: Drive gear: teeth …"
    assert button_words(("marks",)) == "Name a mark in the profile …"
