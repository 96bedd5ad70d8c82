"""The small drawings beside the keys of a profile: what was said stands out, the hand is right."""

import re
from xml.etree import ElementTree as ET

import pytest

from strokewise.gui.drawings.key_svg import DRAWN_KEYS, KEY_WIDTH, key_svg
from strokewise.gui.models.palette import LIGHT
from strokewise.gui.models.setup.profile_words import KEY_WORDS

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("key", DRAWN_KEYS)
@pytest.mark.parametrize(
    "said", ["", "nonsense", "right", "counter-clockwise", "EIIEEIIE", "-30 deg"]
)
def test_every_drawing_is_one_whatever_is_said(key, said):
    assert key in KEY_WORDS
    root = ET.fromstring(key_svg(key, said))
    assert root.get("width") == str(KEY_WIDTH)
    assert len(root) > 3


NEEDED = {
    "rect": {"x", "y", "width", "height"},
    "circle": {"cx", "cy", "r"},
    "line": {"x1", "y1", "x2", "y2"},
    "polyline": {"points"},
    "polygon": {"points"},
    "text": {"x", "y", "fill"},
}
"""Without which a shape is not drawn, or lies in the corner (SVG 1.1, chapters 9 and 10)."""

STYLED = {"fill", "stroke", "stroke-width", "stroke-dasharray", "text-anchor", "font-weight"}


@pytest.mark.parametrize("key", DRAWN_KEYS)
def test_every_shape_is_drawn_where_it_belongs_and_in_colours_that_exist(key):
    """A viewer leaves out what it does not understand, and says nothing."""
    shapes = list(ET.fromstring(key_svg(key, "right")).iter())[1:]
    for shape in shapes:
        kind = shape.tag.removeprefix(SVG)
        assert NEEDED[kind] <= set(shape.keys()) <= NEEDED[kind] | STYLED, kind
        for name in ("fill", "stroke"):
            colour = shape.get(name, "none")
            assert colour == "none" or re.fullmatch("#[0-9a-fA-F]{6}", colour), colour
        assert shape.get("fill", "none") != "none" or shape.get("stroke"), f"unseen: {kind}"


def test_a_key_that_needs_none_has_none():
    assert key_svg("bore", "82 mm") is None


def words(svg):
    return {each.text: each.get("fill") for each in ET.fromstring(svg).iter(f"{SVG}text")}


def test_what_was_said_stands_out():
    drawn = words(key_svg("rotation", "clockwise"))
    assert drawn["clockwise"] == LIGHT.target
    assert drawn["counter-clockwise"] == LIGHT.faint


def test_the_teeth_of_a_right_hand_rise_to_the_right():
    lines = list(ET.fromstring(key_svg("drive_gear.hand", "")).iter(f"{SVG}line"))
    half = len(lines) // 2
    for line in lines[:half]:  # x grows, and so does the height: y falls
        assert float(line.get("x1")) < float(line.get("x2"))
        assert float(line.get("y1")) > float(line.get("y2"))
    for line in lines[half:]:
        assert float(line.get("y1")) < float(line.get("y2"))


def test_the_valves_stand_in_their_order_from_the_pulley_end():
    drawn = ET.fromstring(key_svg("valves.order", "eiie"))
    letters = [each for each in drawn.iter(f"{SVG}text") if each.text in ("E", "I")]
    along = sorted(letters, key=lambda each: float(each.get("x")))
    assert "".join(each.text for each in along) == "EIIE"
