"""The worksheet on paper: every label where its value stands, and answers that can be read off."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.gui.drawings.worksheet_svg import (
    PAGE_HIGH_MM,
    PAGE_WIDE_MM,
    SMALL_MM,
    angle_axis,
    answer_pages,
    pressure_axis,
    worksheet_pages,
)
from strokewise.gui.models.classroom.worksheet import Worksheet, tasks_of_all, tasks_of_one
from strokewise.gui.models.figures.trail import Trail
from strokewise.gui.models.figures.units import BAR, KPA, PSI, SENSOR_RANGE

SVG = "{http://www.w3.org/2000/svg}"
PEAK_BAR, TDC_DEG, EARLY_DEG = 13.7, 410.0, 3.0


def trace(peak_bar=PEAK_BAR, span_deg=1440.0):
    """Return humps of 1 bar and more, their tops a little before TDC once in 720°."""
    angle = 123.4 + np.arange(0.0, span_deg + 0.1, 0.5)
    away = (angle - 123.4 - TDC_DEG + EARLY_DEG + 360.0) % 720.0 - 360.0
    return Trail(angle, 0.8 + (peak_bar - 0.8) * np.exp(-((away / 30.0) ** 2)))


def sheet(**more):
    known = {
        "title": "a <b>title</b>",
        "trail": trace(),
        "answer": "cylinder 1 fires",
        "tdc_deg": Interval(173.4, 173.2, 173.6),  # 410° of the sheet, in a turn of the encoder
        "firing_deg": 173.4 + 360.0,
    }
    return Worksheet(**(known | more))


def texts(page):
    return [each.text or "" for each in ET.fromstring(page).iter(f"{SVG}text")]


def scale_of(page, along, across):
    """Return what a place on the page stands for, by the trace drawn there and its numbers."""
    drawn = [
        tuple(map(float, pair.split(",")))
        for line in ET.fromstring(page).iter(f"{SVG}polyline")
        for pair in line.get("points").split()
    ]
    xy = np.array(drawn)
    return lambda axis: np.polyfit(xy[:, axis], (along, across)[axis], 1)


@pytest.mark.parametrize("unit", [BAR, KPA, PSI, SENSOR_RANGE])
@pytest.mark.parametrize("peak_bar", [1.07, 3.33, 9.99, 13.7, 41.0])
@pytest.mark.parametrize("span_deg", [467.0, 700.0, 1440.0])
def test_every_label_stands_where_its_value_stands(unit, peak_bar, span_deg):
    made = sheet(trail=trace(peak_bar, span_deg), unit=unit)
    for page in worksheet_pages([made]):
        root = ET.fromstring(page)
        count = sum(len(line.get("points").split()) for line in root.iter(f"{SVG}polyline"))
        low = made.large_deg[0] if "drawn large" in page else 0.0
        begin = int(np.searchsorted(made.angle_deg, low - 1e-9))
        part = slice(begin, begin + count)
        fit = scale_of(page, made.angle_deg[part], made.pressure[part])
        per_mm, zero = fit(1)
        labels = [each for each in root.iter(f"{SVG}text") if each.get("class") == "pressure"]
        assert len(labels) >= 3
        rules = [float(each.get("y1")) for each in root.iter(f"{SVG}line")]
        for label in labels:
            at = float(label.get("y")) - SMALL_MM * 0.36
            value = float(label.text.replace("−", "-"))
            assert per_mm * at + zero == pytest.approx(value, abs=abs(per_mm) * 0.05)
            assert min(abs(rule - at) for rule in rules) < 0.02
        per_mm, zero = fit(0)
        angles = [each for each in root.iter(f"{SVG}text") if each.get("text-anchor") == "middle"]
        assert len(angles) >= 3
        uprights = [
            float(each.get("x1"))
            for each in root.iter(f"{SVG}line")
            if each.get("x1") == each.get("x2")
        ]
        for label in angles:
            at, value = float(label.get("x")), float(label.text)
            assert value % 10 == 0
            assert per_mm * at + zero == pytest.approx(value, abs=per_mm * 0.05)
            assert min(abs(upright - at) for upright in uprights) < 0.02


@pytest.mark.parametrize("high", [0.013, 0.7, 1.0, 1.0001, 3.2, 14.5, 99.0, 2340.0])
def test_an_axis_ends_on_a_label_and_holds_its_values(high):
    axis = pressure_axis(0.0, high, 120.0, 40.0)
    assert axis.low == 0.0
    assert axis.high >= high
    assert axis.labels[-1][0] == pytest.approx(axis.high)
    assert 3 <= len(axis.labels) <= 12
    assert all(float(words) == pytest.approx(value, rel=1e-9) for value, words in axis.labels)
    apart = np.diff([axis.place(value) for value in axis.lines])
    assert np.abs(apart).min() > 1.0


@pytest.mark.parametrize("span", [10.0, 147.3, 360.0, 719.0, 1440.0, 2880.0])
def test_an_axis_of_angle_has_no_label_beyond_its_end(span):
    axis = angle_axis(0.0, span, 30.0, 280.0)
    assert axis.high >= span
    assert all(0.0 <= value <= axis.high for value, _ in axis.labels)


def test_one_compression_is_drawn_large_enough_to_measure_a_degree():
    _, large = worksheet_pages([sheet()])
    low, high = sheet().large_deg
    places = [
        float(each.get("x"))
        for each in ET.fromstring(large).iter(f"{SVG}text")
        if each.get("text-anchor") == "middle"
    ]
    assert (max(places) - min(places)) / (high - low) > 1.5  # millimetres for a degree
    assert low <= TDC_DEG - EARLY_DEG <= high


def test_the_page_says_from_where_pressure_is_counted():
    whole, _ = worksheet_pages([sheet()])
    assert "absolute pressure (bar): counted from a vacuum" in whole
    bare, _ = worksheet_pages([sheet(unit=SENSOR_RANGE)])
    assert "no pressure is stated" in bare
    assert "air outside" not in bare


def test_the_answers_are_those_that_the_trace_was_made_with():
    all_, one = tasks_of_all(sheet()), tasks_of_one(sheet())
    assert "once in 720°; read from top to top: 720°" in all_[0].answer
    assert all_[1].answer.startswith("0.80 bar absolute")
    assert "below the air outside" in all_[1].answer
    assert one[0].answer == f"{PEAK_BAR:.2f} bar absolute at {TDC_DEG - EARLY_DEG:.1f}°"
    left, right, middle = map(float, re.findall(r"([\d.]+)°", one[1].answer))
    assert middle == pytest.approx(TDC_DEG - EARLY_DEG, abs=0.3)
    assert right - left == pytest.approx(2 * 30.0 * np.sqrt(np.log(12.9 / 6.5)), abs=2.0)
    assert "TDC at 410.0° (95 %: 409.8" in one[2].answer.replace("409.80", "409.8").replace(
        "410.00", "410.0"
    )
    assert "3.0° before it" in one[2].answer
    assert sheet(tdc_deg=None).tdcs_deg == ()
    assert "was not found" in tasks_of_one(sheet(tdc_deg=None))[2].answer


def test_strokes_are_filled_in_on_the_answers_alone():
    made = sheet()
    ends = {start: words for start, _, words in made.strokes if start > 0}
    assert ends[TDC_DEG] == "firing"
    assert ends[TDC_DEG - 180.0] == "compression"
    assert ends[TDC_DEG + 180.0] == "exhaust"
    front, back = worksheet_pages([made]), answer_pages([made])
    words = [words for page in front for words in texts(page)]
    assert "strokes" in words
    assert not {"firing", "compression", "exhaust", "intake", "TDC"} & set(words)
    assert {"firing", "compression", "exhaust", "intake", "TDC"} <= set(texts(back[0]))
    assert "cylinder 1 fires" not in "".join(front)
    assert "cylinder 1 fires" in back[0]
    assert not sheet(firing_deg=None).strokes


def test_a_manifold_is_asked_for_its_dips_and_not_for_compressions():
    made = sheet(humps=False)
    words = " ".join(task.words for task in (*tasks_of_all(made), *tasks_of_one(made)))
    assert "dips" in words
    assert "compression" not in words
    assert "TDC" not in words
    assert "strokes" not in texts(worksheet_pages([made])[0])


def test_all_words_stand_on_the_page():
    long = "a long answer that goes on and on about what is wrong with this engine. " * 4
    for page in (*worksheet_pages([sheet()]), *answer_pages([sheet(wrong=long, answer=long)])):
        root = ET.fromstring(page)
        assert root.get("viewBox") == f"0 0 {PAGE_WIDE_MM:g} {PAGE_HIGH_MM:g}"
        for each in (*root.iter(f"{SVG}text"), *root.iter(f"{SVG}line")):
            y = max(float(each.get(name, 0)) for name in ("y", "y1", "y2"))
            assert 0 < y < PAGE_HIGH_MM - 5.0
