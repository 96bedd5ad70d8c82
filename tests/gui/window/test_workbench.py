import gc
import math
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from strokewise.analysis.profile import Sensor
from strokewise.gui.models.figures.figure import Axis, Curve, Figure
from strokewise.gui.models.figures.laid import MOST_TRACES
from strokewise.gui.models.keys import KEYS, VIEWS
from strokewise.gui.models.sentence import sentence_for
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.models.turn.target import Target, targets
from strokewise.gui.pages.sign import Certainty
from strokewise.gui.window import ink, laying
from strokewise.gui.window.figure_view import few_ticks
from strokewise.gui.window.foot import show_foot
from strokewise.gui.window.verdict_band import SHAPE_COLUMN, set_sentence

SIZES = [(1366, 768), (1920, 1080), (3840, 2160)]


def press(qtbot, window, key, modifier=Qt.KeyboardModifier.NoModifier):
    qtbot.keyClick(window, key, modifier)


def test_shows_the_sentence_of_the_moment(window):
    opened = window()
    assert opened.band.sentence == opened.snapshot.sentence()
    assert opened.band.sentence.certainty is Certainty.SURE
    assert opened.chart_page.chart.chart.decided
    assert "firing" in opened.band.accessibleDescription()


@pytest.mark.parametrize("size", SIZES)
def test_the_sentence_is_at_least_a_tenth_of_the_windows_height(window, size):
    opened = window(size=size)
    setting = set_sentence(opened.band.sentence, opened.band.width(), opened.height())
    assert setting.pixels >= size[1] / 10
    assert ink.font(setting.pixels).pixelSize() >= size[1] / 10
    assert opened.band.height() < size[1] * 0.4


@pytest.mark.parametrize("size", [*SIZES, (1024, 768), (900, 1400)])
@pytest.mark.usefixtures("qapp")
def test_no_sentence_is_ever_cut_off(toy, deck, size):
    from strokewise.gui.models.turn.guide import TurnGuide
    from strokewise.gui.models.turn.target import position

    order = (1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10)
    profile = toy.profile(12, order, static_advance_btdc_deg=12.5, turning_back="never")
    snapshot = deck(profile).snapshot()
    for target in targets(profile):
        place = position(target, profile, snapshot.verdict)
        for offset in (-300, -100.4, -3, 0, 4):
            at = place.angle_deg + offset
            guide, _ = TurnGuide("never").follow(place, at - 10)
            _, guidance = guide.follow(place, at)
            sentence = sentence_for(profile, snapshot.verdict, at, guidance, target)
            setting = set_sentence(sentence, size[0], size[1])
            room = size[0] - SHAPE_COLUMN * setting.pixels
            for line, stretch in zip(setting.lines, setting.stretches, strict=True):
                type_ = ink.font(setting.pixels, bold=True, stretch=stretch)
                assert ink.width_of(line, type_) <= room, line
            assert " ".join(setting.lines) == f"{sentence.first} {sentence.second}".strip()


def test_every_key_of_the_list_does_something(window):
    opened = window()
    assert len(opened.actions_.shortcuts) == sum(len(key.keys) for key in KEYS)
    for key in KEYS:
        assert callable(getattr(opened.actions_, key.action)), key
    names = [name for key in KEYS for name in key.keys]
    assert len(names) == len(set(names))


def test_the_list_of_keys_is_one_key_away_and_leaves_again(qtbot, window):
    opened = window()
    press(qtbot, opened, Qt.Key.Key_F1)
    assert not opened.panel.isHidden()
    listed = opened.panel.held.buttons
    assert set(listed) == {key.action for key in KEYS if key.when not in ("live", "lesson")}
    press(qtbot, opened, Qt.Key.Key_Escape)
    assert opened.panel.isHidden()


@pytest.mark.parametrize("number", range(1, len(VIEWS) + 1))
def test_every_view_has_its_key_and_draws(qtbot, window, number):
    opened = window()
    press(qtbot, opened, Qt.Key(ord("0") + number))
    assert opened.view == VIEWS[number - 1][0]
    assert not opened.grab().isNull()
    if opened.view in ("angle", "volume", "loglog", "speed"):
        assert opened.figure.figure.curves
    press(qtbot, opened, Qt.Key.Key_Escape)
    assert opened.view == "chart"


def test_the_foot_says_which_run_it_is_and_how_it_stands(window):
    opened = window()
    assert opened.row.words == "toy.swr · paused"
    long = replace(opened.snapshot.link, name="a" * 60 + ".swr")
    show_foot(opened, replace(opened.snapshot, link=long))
    assert "…" in opened.row.words
    assert opened.row.words.endswith(".swr · paused")
    assert len(opened.row.words) < 60


def test_targets_are_gone_through_by_key(qtbot, window, wait):
    opened = window()
    opened.begin()
    press(qtbot, opened, Qt.Key.Key_T)
    wait(lambda: opened.snapshot.target == Target("firing", 3))
    assert "firing TDC of 3" in opened.bar.words
    press(qtbot, opened, Qt.Key.Key_T, Qt.KeyboardModifier.ShiftModifier)
    wait(lambda: opened.snapshot.target == Target("firing", 1))
    assert "firing TDC of 1" in opened.band.sentence.second


def test_an_advance_is_asked_for_and_taken(qtbot, window, wait):
    opened = window()
    opened.begin()
    press(qtbot, opened, Qt.Key.Key_A)
    assert opened.bar.asking
    qtbot.keyClicks(opened.bar._entry, "12 3")
    qtbot.keyClick(opened.bar._entry, Qt.Key.Key_Return)
    wait(lambda: opened.snapshot.target == Target("advance", 3, 12.0))
    for nonsense in ("", "x", "100", "12 9"):
        opened.actions_._take_advance(nonsense)
        assert "cannot be" in opened.bar.words or "is not an advance" in opened.bar.words


def test_unit_and_theme_are_remembered(qtbot, window, kept):
    opened = window()
    press(qtbot, opened, Qt.Key.Key_U)
    press(qtbot, opened, Qt.Key.Key_L)
    assert (kept[-1].unit, kept[-1].theme) == ("kPa", "dark")
    assert opened.colours.theme == "dark"
    press(qtbot, opened, Qt.Key.Key_2)
    assert "kPa" in opened.figure.figure.y_axis.title


def test_no_view_takes_its_scale_from_the_one_before(qtbot, window):
    opened = window()
    numbers = [str(i + 1) for i in range(1, len(VIEWS) - 1)]  # all but the chart and the overlay
    for number in (*numbers, *reversed(numbers), "4", "7", "4", "2"):
        press(qtbot, opened, Qt.Key(ord(number)))
        opened.grab()
        for plot in (opened.figure._plot, opened.figure._below):
            for side in ("bottom", "left"):
                assert plot.getAxis(side).autoSIPrefixScale == 1.0, (number, side)
        curves = opened.figure.figure.curves
        if not curves or opened.figure.figure.x_axis.log:
            continue
        low, high = opened.figure._plot.viewRange()[0]
        span = max(c.x.max() for c in curves) - min(c.x.min() for c in curves)
        assert span < high - low < 1.2 * span, number


def test_small_residuals_are_shown_as_they_are(window):
    opened = window()
    opened.show_view("angle")
    x = np.linspace(-100, 100, 50)
    axis = Axis("crank angle", "°")
    small = Figure("less", axis, Axis("pressure", "bar"), (Curve("a", x, 1e-3 * np.sin(x)),))
    whole = replace(small, title="fit", curves=(Curve("b", x, 9 * np.cos(x)),), below=small)
    log = replace(
        small, title="log", x_axis=replace(axis, log=True), curves=(Curve("c", x + 101, x + 101),)
    )
    for figure in (log, whole, small, whole):
        opened.figure.show_figure(figure, opened.colours)
        opened.grab()
        for plot in (opened.figure._plot, opened.figure._below):
            for side in ("bottom", "left"):
                axis_item = plot.getAxis(side)
                assert axis_item.autoSIPrefixScale == 1.0, (figure.title, side)
                assert "x0.001" not in axis_item.labelString()


@pytest.mark.parametrize("most", [0.0, 1e-4, 0.02, 0.9, 1.0, 1.3, 7.0, 300.0])
def test_a_low_plot_has_a_tick_to_either_side(most):
    x = np.linspace(0, 1, 9)
    axis = Axis("a", "b")
    [ticks] = few_ticks(Figure("t", axis, axis, (Curve("c", x, -most * x),)))
    assert [place for place, _ in ticks] == [-ticks[2][0], 0.0, ticks[2][0]]
    if most:
        assert 0.4 * most <= ticks[2][0] <= 0.8 * most + 1e-12
    assert few_ticks(Figure("none", axis, axis))


@pytest.mark.parametrize("turning_back", ["allowed", "never", None])
@pytest.mark.parametrize("size", SIZES)
def test_keys_and_cautions_are_seen_whole_without_scrolling(qtbot, window, toy, size, turning_back):
    opened = window(size=size, profile=toy.profile(turning_back=turning_back))
    for show, area in (
        (opened.actions_.show_keys, opened.panel._held),
        (opened.actions_.show_cautions, opened.panel._scroll),
    ):
        show()
        qtbot.wait(20)
        assert not area.verticalScrollBar().isVisible(), show
        assert not area.horizontalScrollBar().isVisible(), show
        opened.panel.dismiss()
    assert opened.panel._body.font().pixelSize() >= 16


def test_the_labels_of_lines_stand_above_the_curves(qtbot, window):
    opened = window()
    for number in "27":
        press(qtbot, opened, Qt.Key(ord(number)))
        figure = opened.figure
        top = max(curve.y.max() for curve in figure.figure.curves)
        assert figure._plot.viewRange()[1][1] > 1.1 * top


@pytest.fixture
def bare(window, toy):
    """A window on an engine whose sensor has no known points."""
    return window(profile=toy.profile(sensors=(Sensor(cylinder=1),)))


def painted_words(monkeypatch, paint):
    """Return every text that is painted meanwhile."""
    said, text = [], ink.text

    def noted(painter, box, words, *rest):
        said.append(words)
        text(painter, box, words, *rest)

    monkeypatch.setattr(ink, "text", noted)
    paint()
    return said


def test_a_sensor_without_known_points_shows_no_pressure(qtbot, bare, monkeypatch):
    chart = painted_words(monkeypatch, bare.chart_page.chart.repaint)
    assert "% of range" in chart
    assert "uncalibrated sensor: no pressure is stated" in chart
    assert not {"bar", "kPa", "psi"} & {word for words in chart for word in words.split()}
    for key in (Qt.Key.Key_2, Qt.Key.Key_3, Qt.Key.Key_4):
        press(qtbot, bare, key)
        figure = bare.figure.figure
        assert figure.curves
        assert figure.y_axis.title == "uncalibrated (% of range)"
        assert "uncalibrated (% of range)" in bare.figure.csv().splitlines()[0]
        bare.figure.put_cursor(1.0)
        assert " bar" not in bare.figure.reading


def test_a_unit_chosen_for_such_a_sensor_is_kept_and_said(qtbot, bare, kept):
    press(qtbot, bare, Qt.Key.Key_U)
    assert kept[-1].unit == "kPa"
    assert bare.bar.words.startswith("kPa chosen; here not calibrated")


def test_known_points_show_the_chosen_unit(window, monkeypatch):
    opened = window()
    chart = painted_words(monkeypatch, opened.chart_page.chart.repaint)
    assert "bar abs." in chart
    assert not any("calibrated" in words for words in chart)


def test_cautions_are_one_key_away(qtbot, window):
    opened = window()
    press(qtbot, opened, Qt.Key.Key_C)
    assert "two full turns by hand" in opened.panel.words
    assert "Stop at any resistance" in opened.panel.words
    assert opened.panel.words.index("by hand") < opened.panel.words.index("starter")


def test_timing_under_suspicion_asks_for_two_turns_by_hand(qtbot, window, wait):
    opened = window()
    opened.begin()
    press(qtbot, opened, Qt.Key.Key_B)
    wait(lambda: opened.snapshot.first_turns.suspect)
    assert "two full turns by hand" in opened.bar.words
    assert "by hand" in opened.snapshot.first_turns.words


def test_replay_by_keyboard(qtbot, window, wait):
    opened = window(until_s=4.0)
    opened.begin()
    wait(lambda: opened.snapshot.replay.loaded == 1)
    samples = opened.snapshot.link.samples
    press(qtbot, opened, Qt.Key.Key_Right)
    wait(lambda: opened.snapshot.link.samples == samples + 1)
    angle = opened.snapshot.angle_deg
    press(qtbot, opened, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    wait(lambda: opened.snapshot.angle_deg >= angle + 1)
    press(qtbot, opened, Qt.Key.Key_N)
    wait(
        lambda: (
            abs((opened.snapshot.angle_deg - 100) % 360) < 0.5
            or abs((opened.snapshot.angle_deg - 100) % 360 - 360) < 0.5
        )
    )
    press(qtbot, opened, Qt.Key.Key_Plus)
    wait(lambda: opened.snapshot.replay.speed == 2)
    press(qtbot, opened, Qt.Key.Key_Space)
    wait(lambda: opened.snapshot.link.state == "running")
    press(qtbot, opened, Qt.Key.Key_Home)
    wait(lambda: opened.snapshot.replay.position_s < 1)
    press(qtbot, opened, Qt.Key.Key_End)
    wait(lambda: opened.snapshot.link.state == "ended")


def test_the_strip_is_dragged_along(qtbot, window, wait):
    opened = window()
    opened.begin()
    x = round(opened.strip.x_of(5.0))
    qtbot.mouseClick(opened.strip, Qt.MouseButton.LeftButton, pos=QPoint(x, 20))
    wait(lambda: abs(opened.snapshot.replay.position_s - 5.0) < 0.05)


@pytest.mark.parametrize("view", [name for name, _ in VIEWS])
def test_every_view_leaves_as_picture_drawing_table_and_copy(qtbot, window, tmp_path, view):
    opened = window()
    opened.show_view(view)
    for key in (Qt.Key.Key_P, Qt.Key.Key_G, Qt.Key.Key_X):
        press(qtbot, opened, key)
        assert "Saved as" in opened.bar.words
    png, svg, table = (tmp_path / "out" / f"toy-{view}-1{s}" for s in (".png", ".svg", ".csv"))
    assert QImage(str(png)).size().toTuple() == (1920, 1080)
    assert b"<svg" in svg.read_bytes()
    assert "," in table.read_text().splitlines()[0]
    if view in ("chart", "angle", "volume", "loglog", "speed", "tdc"):
        assert len(table.read_text().splitlines()) > 10
    press(qtbot, opened, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    data = QApplication.clipboard().mimeData()
    assert data.hasImage()
    assert data.text() == table.read_text()


def test_nothing_is_written_over(qtbot, window, tmp_path):
    opened = window()
    press(qtbot, opened, Qt.Key.Key_X)
    press(qtbot, opened, Qt.Key.Key_X)
    assert len(list((tmp_path / "out").glob("*.csv"))) == 2


def test_a_folder_that_cannot_be_used_is_said(qtbot, window, tmp_path):
    (tmp_path / "file").write_text("")
    opened = window(settings=Settings(export_folder=str(tmp_path / "file" / "x")))
    press(qtbot, opened, Qt.Key.Key_P)
    assert "cannot be used" in opened.bar.words


def test_cursor_reads_values_with_units(qtbot, window):
    opened = window()
    press(qtbot, opened, Qt.Key.Key_2)
    opened.figure.put_cursor(0.0)
    assert "bar" in opened.figure.reading
    assert "0.0 °" in opened.figure.reading
    before = opened.figure.reading
    press(qtbot, opened, Qt.Key.Key_Right)
    assert opened.figure.reading != before
    low, high = opened.figure._plot.viewRange()[0]
    opened.figure.zoom(2.0)
    assert math.isclose(
        opened.figure._plot.viewRange()[0][1] - opened.figure._plot.viewRange()[0][0],
        (high - low) / 2,
    )


def test_a_second_recording_is_laid_over(qtbot, window, wait, tmp_path, toy):
    import numpy as np

    from strokewise.daq.profile.write import profile_to_table
    from strokewise.daq.recording.container import Chunk
    from strokewise.daq.recording.writer import RecordingWriter

    other = tmp_path / "worn.swr"
    with RecordingWriter(other, {"engine": profile_to_table(toy.profile())}) as writer:
        for k, data in enumerate(toy.bytes(np.linspace(-300, 1200, 6000))):
            writer.append(Chunk(k * 10_000, data))
    opened = window()
    opened.actions_.overlay_with(str(other))
    wait(lambda: opened.view == "overlay", 60)
    assert {curve.dash for curve in opened.figure.figure.curves} == {"line", "dashes"}
    opened.actions_.overlay_with(str(tmp_path / "none.swr"))
    wait(lambda: "no such file" in opened.bar.words)
    for count in range(2, MOST_TRACES):
        opened.actions_.overlay_with(str(other))
        wait(lambda count=count: len(opened.laid.others) == count)
    assert len(opened.figure.figure.legend) == MOST_TRACES
    legend = opened.figure._legend._item
    assert [label.text for _, label in legend.items][1:] == ["worn.swr"] * (MOST_TRACES - 1)
    opened.actions_.do("open_overlay")
    assert "Shift+O takes the last one off" in opened.bar.words
    press(qtbot, opened, Qt.Key.Key_O, Qt.KeyboardModifier.ShiftModifier)
    assert len(opened.figure.figure.legend) == MOST_TRACES - 1


def test_places_are_put_down_by_key_and_seen_on_the_strip(qtbot, window, wait):
    opened = window()
    opened.begin()
    before = opened.strip.grab().toImage()
    press(qtbot, opened, Qt.Key.Key_E)
    assert "D puts one here" in opened.bar.words
    press(qtbot, opened, Qt.Key.Key_D)
    assert "1 bookmark in" in opened.bar.words
    press(qtbot, opened, Qt.Key.Key_V)
    assert "V again for its end" in opened.bar.words
    opened.replay.seek(3.0)
    wait(lambda: abs(opened.run.snapshot.replay.position_s - 3.0) < 0.05)
    press(qtbot, opened, Qt.Key.Key_V)
    assert "V takes it away" in opened.bar.words
    wait(lambda: opened.run.snapshot.replay.places.loop_to_s is not None)
    opened.redraw()
    assert opened.strip.grab().toImage() != before
    assert "bookmarks: 1" in opened.strip.accessibleDescription()
    press(qtbot, opened, Qt.Key.Key_E)
    wait(lambda: abs(opened.run.snapshot.replay.position_s - 9.0) < 0.05)


def test_the_piston_moves_beside_the_figures_where_there_is_room(qtbot, window):
    opened = window()
    press(qtbot, opened, Qt.Key.Key_2)
    view = opened.figure._piston
    qtbot.wait(20)
    opened.redraw()
    assert view.isVisible()
    assert view.accessibleName() == "Piston"
    assert "after TDC" in view.accessibleDescription()
    stood = view.grab().toImage()
    moved = replace(view.piston, after_tdc_deg=90.0, down=0.55)
    view.show_piston(moved, opened.colours, opened.figure._type_px, view.size())
    assert view.grab().toImage() != stood
    assert opened.rect().contains(view.mapTo(opened, view.rect().bottomRight()))
    press(qtbot, opened, Qt.Key.Key_6)
    assert not view.isVisible()


def test_what_is_laid_pulls_nobody_from_the_page_opened_meanwhile(window, wait, monkeypatch):
    opened = window(until_s=8.0)
    opened.show_view("speed")
    asked = []
    monkeypatch.setattr(laying, "load", lambda *said: asked.append(said[3]))
    opened.actions_.overlay_with("other.swr")
    opened.show_page("job")
    subject = opened.snapshot.subject("other.swr")
    asked[0](subject)
    assert opened.view == "job"
    assert opened.bar.words == "other.swr is laid over: view 8"
    opened.show_view("speed")
    opened.actions_.overlay_with("other.swr")
    asked[1](subject)
    assert opened.view == "overlay"


def test_a_healthy_trace_is_laid_behind_by_key(qtbot, window, wait):
    opened = window()
    press(qtbot, opened, Qt.Key.Key_I)
    wait(lambda: opened.laid.healthy is not None, 120)
    assert opened.view == "angle"
    assert opened.figure.figure.shade
    assert not opened.figure._shade.path().isEmpty()
    assert opened.figure.figure.curves[0].name.startswith("healthy (simulated)")
    press(qtbot, opened, Qt.Key.Key_I)
    assert not opened.figure.figure.shade
    assert opened.figure._shade.path().isEmpty()


def test_small_and_large_windows_keep_everything_inside(window):
    for size in SIZES:
        opened = window(size=size)
        for widget in (
            opened.band,
            opened.stack,
            opened.strip,
            opened.row,
            opened.chart_page.chart,
        ):
            corner = widget.mapTo(opened, widget.rect().bottomRight())
            assert opened.rect().contains(corner), (size, widget)
        assert opened.stack.height() > size[1] * 0.45


def resident_kb():
    """Memory of this process, from /proc; 0 where there is none."""
    try:
        with open("/proc/self/status", encoding="ascii") as status:
            return int(next(line for line in status if line.startswith("VmRSS")).split()[1])
    except OSError:
        return 0


def test_a_thousand_repaints_neither_crash_nor_grow(window):
    opened = window(size=(900, 560))
    snapshot = opened.snapshot

    def repaint(times):
        for k in range(times):
            now = replace(snapshot.now, angle_deg=snapshot.now.angle_deg + k * 3.7)
            opened.draw(replace(snapshot, now=now, number=k))
            opened.chart_page.chart.repaint()
            opened.chart_page.guide.repaint()
            opened.band.repaint()

    repaint(200)
    gc.collect()
    before = resident_kb()
    repaint(1000)
    gc.collect()
    grown = resident_kb() - before
    print(f"{before / 1e3:.0f} MB after 200 repaints, {grown / 1e3:+.1f} MB by 1,000 more")
    assert grown < 8_000
