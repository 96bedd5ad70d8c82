"""A curve that grows is drawn on from where it was, and looks as if it had been drawn at once."""

import numpy as np
import pytest
from PySide6.QtGui import QColor, QImage, QPixmap

from strokewise.gui.models.figures.trail import TrailStretch
from strokewise.gui.models.figures.units import BAR
from strokewise.gui.models.palette import LIGHT
from strokewise.gui.window.chart.kept_curves import KeptCurves
from strokewise.gui.window.chart.stroke_chart import StrokeChart

MOST_PIXELS = 12
"""Where a curve bends just where it ended once, its square end stands out by a pixel or two."""


def stretch(points, weight=1.0, start_bar=1.0):
    x = np.linspace(0.0, 700.0, 1_400)[:points]
    return TrailStretch(x, start_bar + np.sin(x / 60.0), weight)


@pytest.fixture
def drawn(qapp):
    """What is drawn anew for each look, as the lengths of the stretches."""
    kept, still = KeptCurves(), QPixmap(40, 20)
    still.fill(QColor("white"))

    def look(*stretches, of="axis", over=still):
        new = []
        kept.picture(over, stretches, of, lambda painter, parts: new.extend(parts))
        return [len(part.x_deg) for part in new]

    return look


def test_only_what_is_new_is_drawn_and_joined_to_the_rest(drawn):
    old = stretch(1_400, 0.75)
    assert drawn(old, stretch(100)) == [1_400, 100]
    assert drawn(old, stretch(130)) == [32]
    assert drawn(old, stretch(130)) == []
    assert drawn(old, stretch(131)) == [3]


@pytest.mark.parametrize("now", [
    (stretch(1_400, 0.75), stretch(90)),  # shorter
    (stretch(1_400, 0.5), stretch(130)),  # older
    (stretch(1_399, 0.75), stretch(130)),
    (stretch(1_400, 0.75, start_bar=2.0), stretch(130)),
    (stretch(1_400, 0.75), stretch(130, start_bar=1.01)),
    (stretch(1_400, 0.5), stretch(1_400, 0.75), stretch(5)),  # another run over the axis
    (stretch(130),),
])  # fmt: skip
def test_other_curves_are_drawn_whole(drawn, now):
    drawn(stretch(1_400, 0.75), stretch(100))
    assert drawn(*now) == [len(each.x_deg) for each in now]


def test_another_axis_or_ground_draws_all_again(drawn):
    curves = stretch(1_400, 0.75), stretch(100)
    drawn(*curves)
    assert drawn(*curves, of="another axis") == [1_400, 100]
    other = QPixmap(40, 20)
    other.fill(QColor("grey"))
    assert drawn(*curves, of="another axis", over=other) == [1_400, 100]
    assert drawn(*curves, of="another axis", over=other) == []


def picture(chart):
    image = chart.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    row = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4)
    return row[:, : image.width()].copy()


def test_a_chart_that_went_on_looks_like_one_that_begins_there(deck):
    played, grown = deck(until_s=2.0), StrokeChart()
    grown.resize(900, 500)
    looks = 0
    for until_s in np.arange(2.0, 6.0, 0.05):
        played.seek(float(until_s))
        snapshot = played.snapshot()
        grown.show_snapshot(snapshot, BAR, LIGHT)
        now = picture(grown)
        if looks % 8 == 0:
            fresh = StrokeChart()
            fresh.resize(900, 500)
            fresh.show_snapshot(snapshot, BAR, LIGHT)
            beside = picture(fresh)
            assert np.count_nonzero((now[:, 60:] != beside[:, 60:]).any(axis=2)) <= MOST_PIXELS
        looks += 1
    assert looks > 40
