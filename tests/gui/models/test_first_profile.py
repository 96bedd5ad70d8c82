"""A new profile says what was answered, and every further line of it can be used as it stands."""

import re

import pytest

from strokewise.analysis.errors import InputError
from strokewise.daq.profile.keys import TABLES, TOP_TABLE
from strokewise.daq.profile.known import check_table
from strokewise.daq.profile.layers import layer_from_toml
from strokewise.gui.models.setup.first_profile import FirstAnswers, first_profile, order_of
from strokewise.gui.models.setup.sharpening import SHARPENINGS, engine_known

FOUR = FirstAnswers(4, (1, 3, 4, 2), 3, 'The "green" one')


def read(text):
    return check_table(layer_from_toml(text, "new").table, "new")


def test_what_was_answered_is_in_it():
    profile = read(first_profile(FOUR)).profile
    assert profile.firing_order == (1, 3, 4, 2)
    assert profile.name == 'The "green" one'
    assert [sensor.cylinder for sensor in profile.sensors] == [3]
    assert read(first_profile(FirstAnswers(1, (1,), two_stroke=True))).profile.cycle == "two-stroke"


def test_every_commented_line_can_be_used_as_it_stands():
    lines = first_profile(FOUR).splitlines()
    used = [line.removeprefix("# ") if re.match(r"# (\[|\w+ = )", line) else line for line in lines]
    profile = read("\n".join(used)).profile
    assert profile.valve_timing is not None
    assert profile.drive_gear is not None
    assert profile.marks
    table = layer_from_toml("\n".join(used), "new").table
    assert engine_known(table).missing == ()
    assert engine_known(table).assumed == ()


def test_every_key_of_a_profile_says_what_it_sharpens():
    keys = {key.name for key in TOP_TABLE.keys} - {"cylinders", "firing_order"}
    keys |= {
        f"{name}.{key.name}"
        for name, spec in TABLES.items()
        if name != "marks"
        for key in spec.keys
    }
    assert {each.key for each in SHARPENINGS} == keys
    assert all(each.sharpens for each in SHARPENINGS)


@pytest.mark.parametrize("text", ["1-3-4-2", "1 3 4 2", "1,3,4,2", " 1, 3, 4, 2 "])
def test_a_firing_order_is_said_as_everywhere(text):
    assert order_of(text, 4) == (1, 3, 4, 2)


@pytest.mark.parametrize("text", ["", "1-3-4", "1-3-4-4", "1-3-4-5", "one three", "1-3-4-2-5"])
def test_another_order_is_refused_with_an_example(text):
    with pytest.raises(InputError, match="1-3-4-2"):
        order_of(text, 4)


def test_what_is_known_assumed_and_missing_is_told_apart():
    engine = engine_known(layer_from_toml(first_profile(FOUR), "new").table)
    assert dict(engine.known)["firing_order"] == "1-3-4-2"
    assumed = {each.key: each.value for each in engine.assumed}
    assert assumed["cycle"] == "four-stroke"
    assert assumed["sensor.place"] == "plug hole"
    assert "cam_drive.keyway_offsets" not in assumed  # of a cam drive that nobody spoke of
    missing = {each.key for each in engine.missing}
    assert {"compression_ratio", "sensor.points", "marks"} <= missing
    assert not missing & (set(assumed) | {key for key, _ in engine.known})
