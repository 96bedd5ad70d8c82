"""Layers: overrides from the command line, merging, and the line behind every key."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strokewise.analysis.errors import ProfileError
from strokewise.daq.profile.known import known_engine
from strokewise.daq.profile.layers import (
    COMMAND_LINE,
    RECORDED,
    Layer,
    key_lines,
    layer_from_toml,
    merge_tables,
    override_layer,
    parse_override,
    where_said,
)


@pytest.mark.parametrize(
    ("text", "table"),
    [
        ("encoder.counts_per_rev=1440", {"encoder": {"counts_per_rev": 1440}}),
        ("compression_ratio=9", {"compression_ratio": 9}),
        ("compression_ratio = 8.6", {"compression_ratio": 8.6}),
        ("bore=82 mm", {"bore": "82 mm"}),
        ('bore="82 mm"', {"bore": "82 mm"}),
        ("name=Bench = four", {"name": "Bench = four"}),
        ("name=", {"name": ""}),
        ("firing_order=[1, 3, 4, 2]", {"firing_order": [1, 3, 4, 2]}),
        ("firing_order=1-3-4-2", {"firing_order": [1, 3, 4, 2]}),
        ("firing_order=1 3 4 2", {"firing_order": [1, 3, 4, 2]}),
        ("firing_order=1", {"firing_order": 1}),
        ("name=2001-02-03", {"name": "2001-02-03"}),
        ("sensor={channel = 1}", {"sensor": {"channel": 1}}),
        ("name=x\ncylinders = 3", {"name": "x\ncylinders = 3"}),
        ("name='x'\ncylinders = 3", {"name": "'x'\ncylinders = 3"}),
    ],
)
def test_an_override_is_a_table(text: str, table: dict):
    assert parse_override(text) == table


@pytest.mark.parametrize("text", ["", "bore", "=3", "a..b=3", ".a=3", "a b=3", "é=3"])
def test_what_is_no_override_is_refused(text: str):
    with pytest.raises(ProfileError, match="is not key=value, such as encoder"):
        parse_override(text)


def test_a_later_override_goes_before_an_earlier():
    layer = override_layer(["encoder.direction=1", "encoder.drive_ratio=2", "encoder.direction=-1"])
    assert layer.table == {"encoder": {"direction": -1, "drive_ratio": 2}}


def test_tables_merge_and_arrays_are_replaced_whole():
    below = {"a": {"x": 1, "y": 2}, "list": [1, 2, 3], "one": [{"p": 1, "q": 2}], "two": [{}, {}]}
    above = {"a": {"y": 3}, "list": [4], "one": {"q": 5}, "two": {"q": 6}}
    assert merge_tables(above, below) == {
        "a": {"x": 1, "y": 3},
        "list": [4],
        "one": {"p": 1, "q": 5},
        "two": {"q": 6},
    }
    assert below["a"] == {"x": 1, "y": 2}, "the layers themselves stay as they were"


TEXT = '''\
# a comment
"cylinders" = 4   # four

notes = """
bore = 3
[encoder]
"""
order = [
  1, # bore = 4
  3,
]
valves.order = "EI"
encoder = { direction = 1, drive_ratio = 2 }
[pulley]
radius = "80 mm"
[[marks]]
name = "a"
[[marks]]

name = "b"
[ cam_drive ]
cam_teeth = 42
[a.b]
c = 1'''


def test_every_key_has_its_line():
    assert key_lines(TEXT) == {
        ("cylinders",): 2,
        ("notes",): 4,
        ("order",): 8,
        ("valves",): 12,
        ("valves", "order"): 12,
        ("encoder",): 13,
        ("encoder", "direction"): 13,
        ("encoder", "drive_ratio"): 13,
        ("pulley",): 14,
        ("pulley", "radius"): 15,
        ("marks", 0): 16,
        ("marks", 0, "name"): 17,
        ("marks", 1): 18,
        ("marks", 1, "name"): 20,
        ("cam_drive",): 21,
        ("cam_drive", "cam_teeth"): 22,
        ("a", "b"): 23,
        ("a", "b", "c"): 24,
    }


def test_the_origin_is_the_layer_that_won():
    file = layer_from_toml('bore = "1 mm"\n[[sensor]]\nchannel = 0\ncylinder = 2\n', "bench.toml")
    said = override_layer(["sensor.cylinder=3"])
    layers = [said, file]
    assert where_said(layers, ("sensor", "cylinder")) == "command line"
    assert where_said(layers, ("sensor", "channel")) == "bench.toml, line 3"
    assert where_said(layers, ("bore",)) == "bench.toml, line 1"
    assert where_said([file], ("sensor", 0, "cylinder")) == "bench.toml, line 4"
    assert where_said([file], ("sensor", 0, "place")) == "bench.toml, line 2"
    assert where_said([Layer("here", {"sensor": {"channel": 1}})], ("sensor", 0)) == "here"
    assert where_said([], ("bore",)) == "engine profile"


names = st.text("abcxyz", min_size=1, max_size=3)
values = st.recursive(
    st.integers(0, 9) | st.sampled_from(["x", "# no", "[a]", 'q"q', "a\nb"]),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=4,
)


@settings(deadline=None)  # loading pint or a busy machine is no failure
@given(st.dictionaries(names, values, min_size=1, max_size=6), st.booleans())
def test_the_found_line_holds_the_key_however_it_is_written(table: dict, spread: bool):
    """Written by another library in either layout, every top key is found where it begins."""
    import tomli_w

    text = tomli_w.dumps(table, multiline_strings=spread)
    assert tomllib.loads(text) == table
    lines = text.split("\n")
    found = key_lines(text)
    for name in table:
        assert lines[found[(name,)] - 1].startswith(f"{name} = ")


def test_who_said_what_is_known_key_by_key():
    said = known_engine(
        overrides=["rod_length=150 mm", "sensor.cylinder=2"],
        engine=layer_from_toml("cylinders = 4\nfiring_order = [1, 3, 4, 2]\n", "bench.toml"),
        header={
            "engine": {
                "cylinders": 1,
                "pin_offset": "0.6 mm",
                "sensor": {"cylinder": 1, "reference": "absolute"},
            }
        },
    )
    assert said.said_by("cylinders") == ("bench.toml",)
    assert said.said_by("pin_offset") == (RECORDED,)
    assert said.said_by("rod_length") == (COMMAND_LINE,)
    assert said.said_by("sensor") == (COMMAND_LINE, RECORDED)
    assert said.said_by("sensor", "reference") == (RECORDED,)
    assert said.said_by("bore") == ()
