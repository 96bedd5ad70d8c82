"""The sheet's drawings: the figure's own curves, words escaped, ticks that a person can read."""

from __future__ import annotations

import math
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strokewise.analysis.crank.strokes import firing_tdcs
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Mark, Profile, ValveTiming, even_intervals_deg
from strokewise.analysis.verdict.verdict import Tdc, Verdict
from strokewise.gui.drawings.chart_svg import chart_svg
from strokewise.gui.drawings.drive_svg import MIDDLE_X, MIDDLE_Y, drive_svg
from strokewise.gui.drawings.figure_svg import MOST_CURVE_POINTS, figure_svg, log_ticks, ticks
from strokewise.gui.models.figures.chart import chart_for
from strokewise.gui.models.figures.figure import Axis, Curve, Figure, Line
from strokewise.gui.sayings import as_said

SVG = "{http://www.w3.org/2000/svg}"


def figure(*curves: Curve, log: bool = False, lines: tuple[Line, ...] = ()) -> Figure:
    return Figure("t", Axis("angle", "°"), Axis("pressure <abs>", "bar", log=log), curves, lines)


def curve(x, y, dash="line") -> Curve:
    return Curve("a & b", np.asarray(x, float), np.asarray(y, float), dash=dash)


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]


def points(svg: str) -> list[np.ndarray]:
    return [
        np.array([[float(v) for v in pair.split(",")] for pair in line.attrib["points"].split()])
        for line in ET.fromstring(svg).iter(f"{SVG}polyline")
    ]


def test_a_curve_lies_where_its_values_are():
    (line,) = points(figure_svg(figure(curve([0, 5, 10], [0, 1, 2]))))
    assert np.allclose(np.diff(line[:, 0]), np.diff(line[:, 0])[0]), "even steps stay even"
    assert np.all(np.diff(line[:, 1]) < 0), "more pressure is further up"


def test_decades_are_drawn_evenly():
    (line,) = points(figure_svg(figure(curve([1, 2, 3], [1, 10, 100]), log=True)))
    assert np.allclose(np.diff(line[:, 1]), np.diff(line[:, 1])[0], atol=0.02)


def test_a_hole_parts_a_curve():
    lines = points(figure_svg(figure(curve([0, 1, 2, 3, 4], [0, 1, math.nan, 1, 0]))))
    assert [len(line) for line in lines] == [2, 2]


def test_words_are_escaped_and_kept():
    said = texts(figure_svg(figure(curve([0, 1], [0, 1]), lines=(Line(0.5, "<TDC> & co"),))))
    assert "pressure <abs> (bar)" in said
    assert "<TDC> & co" in said
    assert "angle (°)" in said


def test_a_line_outside_is_not_drawn():
    assert "far" not in texts(figure_svg(figure(curve([0, 1], [0, 1]), lines=(Line(9, "far"),))))


def test_without_curves_the_reason_stands_there():
    empty = Figure("t", Axis("x"), Axis("y"), empty="No compression yet")
    assert texts(figure_svg(empty)) == ["No compression yet"]


def test_points_are_dots_and_many_are_thinned():
    many = curve(np.arange(50_000), np.zeros(50_000), "points")
    assert (
        len(list(ET.fromstring(figure_svg(figure(many))).iter(f"{SVG}circle"))) <= MOST_CURVE_POINTS
    )


@pytest.mark.parametrize("values", [[3.0, 3.0], [0.0, 0.0], [math.nan, 1.0], [-1.0, 1e9]])
def test_odd_ranges_are_drawn(values: list[float]):
    for log in (False, True):
        svg = figure_svg(figure(curve([0, 1], values), log=log))
        assert "nan" not in svg
        assert "inf" not in svg


@settings(deadline=None)
@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6))
def test_ticks_are_few_round_and_inside(low: float, span: float):
    high = low + span
    found = ticks(low, high)
    assert 1 <= len(found) <= 8 or high - low < 1e-9 * abs(low)
    assert found == sorted(found)
    slack = 1e-6 * max(span, abs(low))
    assert all(low - slack <= value <= high + slack for value in found)


def test_log_ticks_are_one_two_five():
    assert log_ticks(1, 20) == [1, 2, 5, 10, 20]


def chart(order=(1, 3, 4, 2), **more) -> str:
    count = len(order)
    profile = Profile(count, order, even_intervals_deg(count, 720.0), **more)
    firing = firing_tdcs(profile, 100.0)
    tdc = Tdc(Interval(100, 99.9, 100.1), 1, "fit", 9)
    verdict = Verdict(True, as_said("seen"), tdc=tdc, firing_deg=firing)
    return chart_svg(chart_for(profile, verdict, None))


def test_the_chart_has_a_row_a_cylinder_in_firing_order():
    labels = [text for text in texts(chart()) if text.rstrip("*").isdigit() and len(text) <= 2]
    assert labels[:4] == ["1*", "3", "4", "2"]


def test_the_chart_names_strokes_marks_and_opens_valves():
    svg = chart(
        valve_timing=ValveTiming(12, 48, 46, 14),
        marks=(Mark("notch <1>", stated_atdc_deg=0.0), Mark("other", stated_atdc_deg=0.0)),
    )
    said = texts(svg)
    assert said.count("firing") == 4
    assert "notch <1>, other" in said, "two marks at one place do not lie over each other"
    assert len(list(ET.fromstring(svg).iter(f"{SVG}polygon"))) == 4


def test_twelve_cylinders_fit():
    height = float(ET.fromstring(chart(tuple(range(1, 13)))).attrib["height"])
    assert height < 900, "a page holds it"


def clock_deg(x: float, y: float) -> float:
    """Angle clockwise from the top of the drawing, about the cap's middle."""
    return math.degrees(math.atan2(x - MIDDLE_X, MIDDLE_Y - y)) % 360


def drive(start: float, turn: float) -> dict[str, object]:
    return {
        "meshing": {
            "start": start,
            "turn": turn,
            "turn_teeth": turn / 36,
            "end": (start + turn) % 360,
            "direction": "clockwise" if turn > 0 else "counter-clockwise",
            "tooth": 36.0,
            "tooth_crank": 72.0,
        },
        "leads": [{"cylinder": 3, "at": 90.0}],
        "drawing": {"teeth": [0.0, 36.0]},
    }


@pytest.mark.parametrize(("start", "turn"), [(305.0, 55.0), (28.0, -48.0), (10.0, 400.0)])
def test_the_rotor_is_drawn_from_start_to_end_the_way_it_turns(start: float, turn: float):
    svg = drive_svg(drive(start, turn))
    assert svg is not None
    rotors = [
        each for each in ET.fromstring(svg).iter(f"{SVG}line") if each.attrib["stroke-width"] == "4"
    ]
    at = [clock_deg(float(each.attrib["x2"]), float(each.attrib["y2"])) for each in rotors]
    assert at == pytest.approx([start, (start + turn) % 360], abs=0.1)
    [dashed] = [each for each in rotors if "stroke-dasharray" in each.attrib]
    assert dashed is rotors[0]
    (arc,) = points(svg)
    way = np.degrees(np.unwrap(np.radians([clock_deg(x, y) for x, y in arc])))
    assert way[-1] - way[0] == pytest.approx(turn, abs=0.5)
    assert f"going in it turns {abs(turn):g}° " in " ".join(texts(svg))
    [tower] = [each for each in ET.fromstring(svg).iter(f"{SVG}circle") if each.attrib["r"] == "14"]
    assert clock_deg(float(tower.attrib["cx"]), float(tower.attrib["cy"])) == pytest.approx(90)


def test_a_drive_that_is_not_known_has_no_drawing():
    assert drive_svg({"meshing": None, "drawing": None, "leads": []}) is None
