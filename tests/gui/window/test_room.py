"""Nothing is cut off at the three sizes, explaining views have the room, plots read as they say."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QLabel

from strokewise.analysis.profile import Mark
from strokewise.gui.models.figures.figure import Axis, Curve, Figure
from strokewise.gui.models.keys import VIEWS
from strokewise.gui.models.palette import LIGHT
from strokewise.gui.models.sentence import hidden
from strokewise.gui.models.turn.target import targets
from strokewise.gui.pages.sign import Certainty
from strokewise.gui.window import ink
from strokewise.gui.window.chart import stroke_painting
from strokewise.gui.window.figure_axes import SignedAxis
from strokewise.gui.window.verdict_band import set_sentence

THREE_SIZES = [(1366, 768), (1280, 800), (1920, 1080)]
TWELVE = (1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10)


@pytest.fixture
def cut(monkeypatch):
    """What was set with an ellipsis for want of room."""
    found, whole = [], ink.elided

    def elided(text, type_, width):
        shown = whole(text, type_, width)
        if shown != text:
            found.append((text, shown))
        return shown

    monkeypatch.setattr(ink, "elided", elided)
    ink.wrapped.cache_clear()
    return found


@pytest.mark.parametrize("size", THREE_SIZES)
def test_nothing_is_cut_in_the_longest_words(window, toy, cut, qtbot, size):
    profile = toy.profile(12, TWELVE, marks=(Mark("pulley notch"), Mark("flywheel line")))
    opened = window(size=size, profile=profile)
    for target in targets(profile):
        opened.run._deck.choose(target)
        opened.run.newest.put(opened.run._deck.snapshot())
        for view in ("chart", "angle"):
            opened.show_view(view)
            opened.grab()
    assert cut == []
    opened.actions_.show_keys()
    qtbot.wait(1)
    opened.grab()
    assert cut == []


@pytest.mark.parametrize("size", THREE_SIZES)
@pytest.mark.parametrize("view", [name for name, _ in VIEWS if name != "chart"])
def test_the_figures_have_the_room(window, qtbot, size, view):
    opened = window(size=size)
    opened.show_view(view)
    qtbot.wait(1)
    assert opened.band.height() < 60
    assert opened.stack.height() > 0.74 * size[1]
    for label in opened.figure.findChildren(QLabel):
        if label.isVisible() and not label.wordWrap():
            assert label.sizeHint().width() <= label.width(), label.text()
    opened.show_view("chart")
    assert opened.band.height() > 0.2 * size[1]


@pytest.mark.parametrize("size", THREE_SIZES)
def test_what_a_fit_leaves_over_has_room_to_be_seen(window, qtbot, size):
    opened = window(size=size)
    axis, x = Axis("crank angle", "°"), np.linspace(-90.0, 90.0, 50)
    left = Figure("Measured less fitted", axis, Axis("pressure", "bar"), (Curve("1", x, x),))
    whole = replace(left, title="Fit", below=left)
    opened.show_view("fit")
    for _ in range(2):  # what is dressed before it was laid out is so once more
        opened.figure.show_figure(replace(whole, title="other"), LIGHT)
        opened.figure.show_figure(whole, LIGHT)
        qtbot.wait(1)
    above, below = (plot.vb.height() for plot in (opened.figure._plot, opened.figure._below))
    assert below > 0.13 * size[1]
    assert above > 1.5 * below


def test_a_larger_window_gives_the_plots_the_room_and_not_the_type(window, qtbot):
    kept = []
    for size in ((1366, 768), (1920, 1080)):
        opened = window(size=size)
        opened.show_view("angle")
        qtbot.wait(1)
        plot = opened.figure._graphics
        kept.append((opened.figure._type_px, plot.width(), plot.height()))
    (type_, wide, high), (larger_type, wider, higher) = kept
    assert larger_type == type_
    assert wider / wide > 1920 / 1366
    assert higher / high > 1080 / 768
    assert ink.steady(2160) == pytest.approx(2 * ink.steady(1080))


def test_both_lines_of_the_sentence_are_squeezed_alike(qapp):
    for width in (1000, 1366):
        setting = set_sentence(hidden("Which of the twelve cylinders is firing here?"), width, 768)
        assert len(set(setting.stretches)) == 1


@pytest.mark.parametrize("size", THREE_SIZES)
def test_beside_the_strokes_every_word_is_in_one_type(window, monkeypatch, size):
    opened = window(size=size)
    chart, said, whole = opened.chart_page.chart, [], ink.text

    def text(painter, room, word, type_, *more):
        said.append((room, word, (type_.stretch(), type_.pixelSize())))
        whole(painter, room, word, type_, *more)

    monkeypatch.setattr(ink, "text", text)
    box = QRectF(chart.rect())
    doing = ("compression", "valves rock", "exhaust", "intake")
    rows = [replace(r, doing=d) for r, d in zip(chart.chart.rows, doing, strict=True)]
    shown = replace(chart.chart, rows=tuple(rows))
    image = QImage(chart.size(), QImage.Format.Format_RGB32)
    painter = QPainter(image)
    stroke_painting.paint_still(painter, box, shown, LIGHT)
    stroke_painting.paint_moving(painter, box, shown, (), opened.unit, LIGHT)
    painter.end()
    edge = stroke_painting.lay_out(box, shown).rows.right()
    labels = {block.label for row in rows for block in row.blocks}
    types = {
        "strokes": {t for room, word, t in said if word in labels and room.right() < edge},
        "doing": {t for room, word, t in said if word in doing and room.left() > edge},
        "legend": {t for room, word, t in said if word[0] in "▼▽▬▭⊙" and room.left() > edge},
        "unit": {t for _, word, t in said if word == "bar abs."},
    }
    for part, used in types.items():
        assert len(used) == 1, (part, used)
    assert all(stretch == 100 for part in ("doing", "unit") for stretch, _ in types[part])


def test_the_now_line_runs_through_no_word(window, monkeypatch):
    opened = window()
    painted = []
    monkeypatch.setattr(
        stroke_painting, "_paint_word", lambda *args, **more: painted.append(args[2])
    )
    line = stroke_painting._paint_now
    monkeypatch.setattr(
        stroke_painting, "_paint_now", lambda *args: painted.append("line") or line(*args)
    )
    chart = opened.chart_page.chart
    image = QImage(900, 420, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    shown = chart.chart
    stroke_painting.paint_moving(painter, QRectF(0, 0, 900, 420), shown, (), opened.unit, LIGHT)
    painter.end()
    after = painted[painted.index("line") + 1 :]
    under = [
        block.label
        for row in shown.rows
        for block in row.blocks
        if block.start_deg <= shown.now_deg <= block.end_deg
    ]
    assert after == under != []


def test_axis_and_cursor_count_from_the_same(window, deck):
    opened = window(until_s=2.0, judged=False)
    opened.show_view("angle")
    first = opened.figure._plot.getAxis("bottom").labelText
    opened.run.newest.put(deck().snapshot())
    opened.redraw()
    opened.figure.put_cursor(10.0)
    label = opened.figure._plot.getAxis("bottom").labelText
    assert label != first
    assert opened.figure.reading.startswith(label.split(" (")[0])


def test_the_cursor_of_pressure_and_volume_goes_by_crank_angle(window):
    opened = window()
    for view in ("volume", "loglog"):
        opened.show_view(view)
        figure = opened.figure
        figure.put_by_crank(-40.0)
        before = figure.reading
        figure.put_by_crank(40.0)
        after = figure.reading
        assert "before TDC, compression" in before
        assert "after TDC, expansion" in after
        # The same volume, to the width of a sample, and two pressures
        volumes = [float(text.split("clearance volume ")[1].split()[0]) for text in (before, after)]
        assert volumes[0] == pytest.approx(volumes[1], rel=0.1)
        figure.move_cursor(1)
        assert figure.reading != after
        assert len(figure._now.data) == 1


def test_a_pass_that_was_turned_back_compresses_after_tdc():
    axis = Axis("x", "")
    y = np.array([1.0, 2.0, 1.0])
    curve = Curve("back", y, y, at_deg=np.array([30.0, 0.0, -30.0]), forward=False)
    figure = Figure("f", axis, axis, (curve,))
    assert "30.0° after TDC, compression, turned back" in figure.reading_by(29.0)
    assert "expansion" in figure.reading_by(-31.0)


def test_the_axis_has_a_minus(qapp):
    assert SignedAxis("left").tickStrings([-50.0, 0.0, 50.0], 1.0, 50.0) == ["−50", "0", "50"]
    assert Axis("a", "°").text(-3.04) == "−3.0 °"
    assert Axis("a", "°").text(-0.04) == "0.0 °"


def test_the_unit_key_changes_the_headline_too(window, monkeypatch):
    opened = window()
    detail = "Compression of 11.8 bar seen 8 times, 1.2 to 11.8 bar, at 1.013 ± 0.002 bar"
    said = replace(opened.snapshot.sentence(), detail=detail)
    monkeypatch.setattr(type(opened.snapshot), "sentence", lambda self: said)
    opened.redraw()
    assert opened.band.sentence.detail == detail
    opened.actions_.next_unit()
    assert opened.band.sentence.detail == (
        "Compression of 1180 kPa seen 8 times, 120 to 1180 kPa, at 101.3 ± 0.2 kPa"
    )
    opened.actions_.next_unit()
    assert "of 171 psi seen" in opened.band.sentence.detail


def test_a_replay_waits_for_no_board_and_n_works_from_its_start(window, wait):
    opened = window(until_s=0.0, judged=False)
    opened.begin()
    sentence = opened.snapshot.sentence()
    assert sentence.certainty is Certainty.WAITING
    assert "board" not in sentence.text.lower()
    wait(lambda: opened.snapshot.replay.loaded == 1)
    opened.actions_.next_tdc()
    wait(lambda: opened.snapshot.replay.position_s > 0.1)
    assert opened.snapshot.replay.position_s in opened.snapshot.replay.passes_s
