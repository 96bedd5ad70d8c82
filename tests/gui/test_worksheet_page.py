"""The worksheet on paper: every label where its value stands, and answers that can be read off."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.gui.drawings.worksheet_svg import (
    PAGE_HIGH_MM,
    PAGE_WIDE_MM,
    PLOT_LEFT_MM,
    PLOT_WIDE_MM,
    SMALL_MM,
    angle_axis,
    answer_pages,
    pressure_axis,
    worksheet_pages,
)
from strokewise.gui.models.classroom.sheet_tasks import tasks_of_all, tasks_of_one
from strokewise.gui.models.classroom.worksheet import Worksheet
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
    assert "level line at 8.00 bar absolute" in one[1].words
    assert right - left == pytest.approx(2 * 30.0 * np.sqrt(np.log(12.9 / 7.2)), abs=0.5)
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


@pytest.mark.parametrize("end_deg", [1439.6, 1437.0, 1410.0])
def test_the_word_at_a_tdc_stays_in_the_frame(end_deg):
    at = Interval(123.4 + end_deg, 123.2 + end_deg, 123.6 + end_deg)
    (page,) = answer_pages([sheet(tdc_deg=at, firing_deg=None)])
    words = [each for each in ET.fromstring(page).iter(f"{SVG}text") if each.text == "TDC"]
    assert len(words) >= 2
    for each in words:
        x, wide = float(each.get("x")), 3 * SMALL_MM  # three capitals are narrower
        end = x + wide if each.get("text-anchor") == "start" else x
        assert PLOT_LEFT_MM < end < PLOT_LEFT_MM + PLOT_WIDE_MM


def test_a_gauge_worksheet_counts_from_the_air_outside():
    up = Atmosphere(0.85, stated=True)
    made = sheet(gauge=True, atmosphere=up)
    whole, large = worksheet_pages([made])
    assert "gauge pressure (bar): 0 is the air outside (0.85 bar absolute)" in whole
    assert "absolute pressure" not in whole + large
    assert made.pressure[made.top] == pytest.approx(PEAK_BAR - 0.85, abs=0.01)
    all_, one = tasks_of_all(made), tasks_of_one(made)
    assert all_[1].answer.startswith("−0.05 bar gauge")
    assert "about that of the air outside (0.85 bar absolute)" in all_[1].answer
    assert one[0].answer.startswith(f"{PEAK_BAR - 0.85:.2f} bar gauge at")
    taken = worksheet_pages([sheet(gauge=True, unit=KPA)])[0]
    assert "0 is the air outside (taken as 101 kPa absolute)" in taken
    bare = sheet(gauge=True, unit=SENSOR_RANGE)
    assert "air outside" not in "".join(worksheet_pages([bare]))
    assert np.array_equal(bare.pressure, sheet(unit=SENSOR_RANGE).pressure)


@pytest.mark.parametrize("gauge", [False, True])
@pytest.mark.parametrize("unit", [BAR, KPA, PSI])
@pytest.mark.parametrize("peak_bar", [1.4, 3.33, 5.96, 13.7, 41.0])
def test_the_level_line_that_is_asked_for_stands_on_a_line_of_the_grid(unit, peak_bar, gauge):
    made = sheet(trail=trace(peak_bar), unit=unit, gauge=gauge)
    level = float(re.search(r"level line at (−?[\d.]+)", tasks_of_one(made)[1].words)[1])
    shown = made.pressure[(made.angle_deg >= made.large_deg[0] - 1e-9)]
    shown = shown[: int(made.large_deg[1] - made.large_deg[0]) * 2]
    axis = pressure_axis(min(0.0, float(shown.min())), float(shown.max()), 120.0, 40.0)
    assert min(abs(line - level) for line in axis.lines) < axis.bold * 1e-6


def test_a_top_that_the_sensor_cut_off_is_not_taken_for_one():
    whole = trace()
    cut = Trail(whole.angle_deg, np.minimum(whole.pressure_bar, 6.0))
    made = sheet(trail=cut, reads_to_bar=6.0)
    low, high = made.flat_deg
    assert low < TDC_DEG - EARLY_DEG < high
    assert high - low == pytest.approx(2 * 30.0 * np.sqrt(np.log(12.9 / 5.2)), abs=3.0)
    assert made.large_deg[0] < low
    assert high < made.large_deg[1]
    words = " ".join(f"{each.words} {each.answer}" for each in tasks_of_one(made))
    assert "Why is the top flat?" in words
    assert f"{low:.0f}° to {high:.0f}°; it was found at 410" in words
    assert "gas leaks" not in words  # nobody knows where the highest point is
    assert "level line" not in words
    assert "flank to flank" in tasks_of_all(made)[0].answer
    assert sheet(reads_to_bar=6.0).flat_deg is None  # its points end there, its readings do not


def test_a_pressure_that_is_held_in_has_no_compressions_to_measure():
    held = Trail(trace().angle_deg, 14.3 + 0.01 * np.sin(np.arange(len(trace().angle_deg))))
    made = sheet(trail=held, tdc_deg=None, firing_deg=None)
    assert made.level
    assert not made.tops
    assert "no compression comes and goes" in tasks_of_all(made)[0].answer
    words = " ".join(task.words + task.answer for task in tasks_of_one(made))
    assert "TDC" not in words
    assert "level line" not in words
    assert not sheet().level
    assert not sheet(trail=trace(1.07)).level


def test_compressions_are_counted_where_the_dips_are_deeper_than_they_are_high():
    angle = trace().angle_deg
    up = (angle - 123.4) % 720.0
    pressure = np.where(np.abs(up - 400.0) < 60.0, 1.15, 1.013)
    pressure = np.where(np.abs(up - 600.0) < 30.0, 0.7, pressure)
    made = sheet(trail=Trail(angle, pressure))
    assert len(made.tops) == 2
