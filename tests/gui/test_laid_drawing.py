"""Two compressions over each other: each about its own TDC, with its name, peak and speed."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from strokewise.analysis.compression.compression_curve import CompressionCurve
from strokewise.gui.drawings.in_colours import in_colours, words_in
from strokewise.gui.drawings.laid_svg import laid_svg
from strokewise.gui.models.palette import DARK, LIGHT, contrast

SVG = "{http://www.w3.org/2000/svg}"


def curve(cylinder, peak_bar, number=3):
    angle = np.linspace(-120, 120, 241)
    return CompressionCurve(
        cylinder, number, angle, 1 + (peak_bar - 1) * np.exp(-((angle / 40) ** 2)), 195.0
    )


def test_both_are_drawn_to_one_scale_and_named():
    root = ET.fromstring(laid_svg((curve(3, 6.0), curve(1, 12.0, number=5))))
    low, high = root.iter(f"{SVG}polyline")
    tops = [min(float(p.split(",")[1]) for p in line.get("points").split()) for line in (low, high)]
    feet = [max(float(p.split(",")[1]) for p in line.get("points").split()) for line in (low, high)]
    # 5 bar above its foot against 11: the same scale for both.
    assert (feet[0] - tops[0]) / (feet[1] - tops[1]) == pytest.approx(5 / 11, rel=0.01)
    assert low.get("stroke-dasharray") != high.get("stroke-dasharray")  # told apart in grey, too
    words = words_in(ET.tostring(root, encoding="unicode"))
    assert "Cylinder 3, compression 3: 6.0 bar at 195 rev/min" in words
    assert "Cylinder 1, compression 5: 12.0 bar at 195 rev/min" in words
    assert "12.5" not in words  # figures of the axes are not read out


def test_one_alone_is_laid_over_nothing():
    assert laid_svg((curve(1, 12.0),)) is None
    assert laid_svg(()) is None


@pytest.mark.parametrize("colours", [LIGHT, DARK])
def test_words_and_lines_are_seen_on_either_ground(colours):
    root = ET.fromstring(in_colours(laid_svg((curve(3, 6.0), curve(1, 12.0))), colours))
    ground = root[0].get("fill")
    assert ground == colours.sheet
    for words in root.iter(f"{SVG}text"):
        assert contrast(words.get("fill"), ground) >= 4.5, words.text
    for line in root.iter(f"{SVG}polyline"):
        assert contrast(line.get("stroke"), ground) >= 3.0
