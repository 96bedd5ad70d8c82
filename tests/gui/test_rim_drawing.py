"""The rim at its pointer: both marks to scale, and on the side from which TDC still comes."""

import math
from xml.etree import ElementTree as ET

import pytest

from strokewise.gui.drawings.rim_svg import RIM_X, rim_svg

SVG = "{http://www.w3.org/2000/svg}"
RADIUS_MM = 80.0


def figures(before_deg):
    along = math.radians(before_deg) * RADIUS_MM
    return {"advance": {"before_tdc": before_deg, "rim_along": f"{along:.3f} mm"}}


def drawn(before_deg, rotation):
    return ET.fromstring(rim_svg(figures(before_deg), rotation))


def feet(root):
    return [float(line.get("x1")) for line in root.iter(f"{SVG}line")]


@pytest.mark.parametrize(
    ("before_deg", "rotation", "side"),
    [
        (6.0, "clockwise", -1),  # the rim goes to the right: what comes is at the left
        (6.0, "counter-clockwise", 1),
        (-4.0, "clockwise", 1),  # after TDC its mark has passed
        (6.0, None, -1),
    ],
)
def test_tdc_comes_from_its_own_side(before_deg, rotation, side):
    root = drawn(before_deg, rotation)
    at_pointer, tdc = feet(root)
    assert at_pointer == pytest.approx(RIM_X)
    assert math.copysign(1, tdc - RIM_X) == side
    words = " ".join(each.text for each in root.iter(f"{SVG}text"))
    assert ("mirrored" in words) == (rotation is None)


def test_marks_and_rim_are_to_one_scale():
    root = drawn(20.0, "clockwise")
    lines = list(root.iter(f"{SVG}line"))
    x0, y0, x1, y1 = (float(lines[i].get(key)) for i in (0, 1) for key in ("x1", "y1"))
    chord = math.hypot(x1 - x0, y1 - y0)
    radius_px = chord / 2 / math.sin(math.radians(10))
    rim, _turning = root.iter(f"{SVG}polyline")
    for point in rim.get("points").split():
        x, y = map(float, point.split(","))
        assert math.hypot(x - x0, y - (y0 + radius_px)) == pytest.approx(radius_px, abs=0.3)
    words = [each.text for each in root.iter(f"{SVG}text")]
    assert "27.9 mm along the rim" in words


@pytest.mark.parametrize(
    "figures",
    [
        {"advance": None},
        {"advance": {"before_tdc": 6.0, "rim_along": None}},
        {"advance": {"before_tdc": 0.0, "rim_along": "0.000 mm"}},
        {"advance": {"before_tdc": 80.0, "rim_along": "111.7 mm"}},
    ],
)
def test_what_cannot_be_seen_at_one_pointer_is_not_drawn(figures):
    assert rim_svg(figures, "clockwise") is None
