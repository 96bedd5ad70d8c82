"""Words and lines of every drawing stand out from what they stand on, in the light and the dark."""

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.valves.valves_answer import ValvesQuestion, valves_answer
from strokewise.analysis.verdict.found import Standing
from strokewise.daq.profile.known import known_engine
from strokewise.gui.drawings.head_svg import head_svg
from strokewise.gui.drawings.in_colours import in_colours
from strokewise.gui.drawings.mark_svg import MarkOnRim, mark_svg
from strokewise.gui.drawings.rim_svg import rim_svg
from strokewise.gui.models.palette import DARK, LIGHT, contrast
from strokewise.gui.pages.valves import valves_figures

SVG = "{http://www.w3.org/2000/svg}"
SAID = Path(__file__).parent / "commands" / "said"
OF_TEXT, OF_LINES = 4.5, 3.0  # WCAG 2.1, 1.4.3 and 1.4.11
FOUR = known_engine(overrides=["cylinders=4", "firing_order=1-3-4-2"]).profile


def head(**said):
    answer = valves_answer(ValvesQuestion(**said), Standing(FOUR, 349.0, measured=False))
    return head_svg(valves_figures(answer))


def mark():
    after = Interval(7.4, 6.8, 8.0)
    return mark_svg(MarkOnRim("notch", after, 0.0, 80.0, "clockwise", "7.4° late", "on the rim"))


DRAWINGS = {
    "head": lambda: head(done=("1E",)),
    "mark": mark,
    "rim": lambda: rim_svg({"advance": {"before_tdc": 6.0, "rim_along": "8.4 mm"}}, "clockwise"),
    **{
        path.stem: path.read_text
        for path in sorted(SAID.glob("*.svg"))
        if path.stem.startswith(("drive", "key"))  # those of plots are turned: see the palette's
    },
}


def numbers(element, *names):
    return [float(element.get(name, "0")) for name in names]


def box_of(element):
    """Return where a filled shape lies: left, top, right, bottom."""
    tag = element.tag.removeprefix(SVG)
    if tag == "rect":
        x, y, wide, high = numbers(element, "x", "y", "width", "height")
        return x, y, x + wide, y + high
    if tag == "circle":
        x, y, r = numbers(element, "cx", "cy", "r")
        return x - r, y - r, x + r, y + r
    points = [tuple(map(float, point.split(","))) for point in element.get("points").split()]
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def ground_of(text, below):
    """Return the colour of the uppermost shape under the words."""
    x, y = numbers(text, "x", "y")
    inside = [
        fill
        for (left, top, right, bottom), fill in below
        if left <= x <= right and top <= y - 4 <= bottom
    ]
    return inside[-1]


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("name", DRAWINGS)
def test_words_and_lines_are_seen_on_either_ground(name, colours):
    svg = DRAWINGS[name]()
    assert "transform" not in svg
    below, texts, strokes = [], 0, 0
    for element in ET.fromstring(in_colours(svg, colours)).iter():
        tag, fill = element.tag.removeprefix(SVG), element.get("fill", "none")
        if tag == "text":
            texts += 1
            assert contrast(fill, ground_of(element, below)) >= OF_TEXT, element.text
            continue
        stroke = element.get("stroke", "none")
        if stroke.startswith("#") and stroke != colours.rule:  # grids and frames may be faint
            strokes += 1
            assert contrast(stroke, below[0][1]) >= OF_LINES, ET.tostring(element)
        if tag in ("rect", "circle", "polygon") and fill.startswith("#"):
            below.append((box_of(element), fill))
    assert below[0][1] == colours.sheet
    assert texts
    assert strokes
