"""A mark on the rim at true TDC: to scale, on the side from which it still comes, and how sure."""

import math
from xml.etree import ElementTree as ET

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.gui.drawings.in_colours import words_in
from strokewise.gui.drawings.mark_svg import MarkOnRim, mark_svg
from strokewise.gui.drawings.rim_svg import RIM_X

SVG = "{http://www.w3.org/2000/svg}"


def mark(after_deg, stated_deg=0.0, rotation="clockwise", radius_mm=80.0, name="notch", wide=0.4):
    after = Interval(after_deg, after_deg - wide, after_deg + wide)
    return MarkOnRim(name, after, stated_deg, radius_mm, rotation, "7.4° late", "on the rim 10 mm")


def drawn(*said, **more):
    return ET.fromstring(mark_svg(mark(*said, **more)))


def ticks(root):
    """Return the marks drawn on the rim, without the samples before the names."""
    return [line for line in root.iter(f"{SVG}line") if line.get("y1") != line.get("y2")]


def foot(line):
    return float(line.get("x1"))


@pytest.mark.parametrize(
    ("after_deg", "rotation", "side"),
    [
        (7.4, "clockwise", -1),  # late: still to come, and the rim goes to the right
        (7.4, "counter-clockwise", 1),
        (-5.0, "clockwise", 1),  # early: it has passed
        (7.4, None, -1),
    ],
)
def test_a_mark_stands_on_the_side_from_which_it_comes(after_deg, rotation, side):
    root = drawn(after_deg, rotation=rotation)
    tdc, there = ticks(root)
    # With no figure but TDC, where it would be right is the pointer itself: an upright line.
    assert foot(tdc) == pytest.approx(RIM_X)
    assert math.copysign(1, foot(there) - RIM_X) == side
    arrows = list(root.iter(f"{SVG}polygon"))
    assert len(arrows) == (1 if rotation is None else 2)
    assert ("mirrored" in words_in(ET.tostring(root, "unicode"))) == (rotation is None)


def test_both_marks_and_the_band_are_to_one_scale():
    root = drawn(17.0, stated_deg=-6.0, wide=2.0)
    tdc, stated, there = ticks(root)
    rim, _, band = root.iter(f"{SVG}polyline")
    x, y = (float(tdc.get(key)) for key in ("x1", "y1"))
    sines = [(foot(each) - x) for each in (there, stated)]
    # On one circle: chords go with the sines of the angles, whatever the radius in pixels is.
    assert sines[0] / sines[1] == pytest.approx(
        math.sin(math.radians(-17)) / math.sin(math.radians(6)), rel=1e-2
    )
    radius_px = -sines[0] / math.sin(math.radians(17))
    for point in rim.get("points").split():
        px, py = map(float, point.split(","))
        assert math.hypot(px - x, py - (y + radius_px)) == pytest.approx(radius_px, abs=0.5)
    ends = [tuple(map(float, p.split(","))) for p in band.get("points").split()]
    angles = [math.degrees(math.atan2(px - x, y + radius_px - py)) for px, py in ends]
    assert (min(angles), max(angles)) == pytest.approx((-19.0, -15.0), abs=0.1)


def test_it_says_what_each_line_is():
    words = words_in(mark_svg(mark(4.0, stated_deg=-10.0, name="n" * 60)))
    assert "n" * 27 + "…: 7.4° late" in words
    assert "on the rim 10 mm" in words
    assert "if right: 10° before TDC" in words
    assert "turning clockwise" in words


def test_without_a_diameter_the_angles_are_drawn_all_the_same():
    one, other = drawn(7.0, radius_mm=None), drawn(7.0, radius_mm=80.0)
    assert [foot(line) for line in ticks(one)] == [foot(line) for line in ticks(other)]


@pytest.mark.parametrize("said", [(80.0, 0.0), (3.0, -60.0)])
def test_what_is_not_seen_with_its_pointer_is_not_drawn(said):
    assert mark_svg(mark(*said)) is None
