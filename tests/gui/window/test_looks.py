"""What a look at every view showed cut off, crowded, too thin or empty stays mended."""

from types import SimpleNamespace

import pytest
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtWidgets import QComboBox, QLabel, QWidget

from strokewise.analysis.profile import ValveTiming
from strokewise.gui.models.figures.chart import Chart, Flag, StrokeRow
from strokewise.gui.models.figures.figure import Axis, Figure
from strokewise.gui.models.palette import DARK, LIGHT
from strokewise.gui.models.turn.guide import Guidance
from strokewise.gui.pages import page as pages
from strokewise.gui.window import ink
from strokewise.gui.window.actions import GAP_SHARE
from strokewise.gui.window.chart import rocking_painting, stroke_painting, turn_rule
from strokewise.gui.window.chart.mark_painting import BESIDE, mark_names
from strokewise.gui.window.chart.stroke_painting import lay_out
from strokewise.gui.window.controls import Choice, bars_style
from strokewise.gui.window.figure_view import HINT
from strokewise.gui.window.steps import step_sheet
from strokewise.gui.window.verdict_band import DETAIL, DETAIL_LINES, set_detail

LONG = "narrow white-painted notch on the outer rim of the crankshaft pulley"
TARGET = Flag(0.0, "firing TDC of 1", "target")


@pytest.fixture
def names(qapp):
    """The names over a chart: words and place."""

    def make(*marks, width=956):
        layout = lay_out(QRectF(0, 0, width, 420), Chart((), 0.0, 720.0, (), marks))
        placed = mark_names(layout, marks)
        for i, one in enumerate(placed):
            assert layout.flags.left() <= one.room.left()
            assert one.room.right() <= layout.flags.right() + 1
            assert not any(one.room.intersects(other.room) for other in placed[i + 1 :])
        return [name.words for name in placed]

    return make


def test_marks_at_one_angle_are_named_beside_each_other(names):
    dot = Flag(0.0, "cam dot", "mark")
    assert names(TARGET, dot) == ["▼ firing TDC of 1", f"{BESIDE} cam dot"]


def test_a_mark_of_both_turns_is_named_once_where_its_own_place_is_free(names):
    both = [Flag(angle, "pulley notch", "mark") for angle in (0.0, 360.0)]
    dot = Flag(0.0, "cam dot", "mark")
    assert names(TARGET, *both, dot) == ["▼ firing TDC of 1", "pulley notch", f"{BESIDE} cam dot"]


def test_a_mark_crowded_out_at_both_turns_is_named_once(names):
    other = [Flag(angle, "flywheel line", "mark") for angle in (0.0, 360.0)]
    both = [Flag(angle, "pulley notch", "mark") for angle in (0.0, 360.0)]
    assert sum("pulley notch" in name for name in names(*other, *both)) == 1


def test_a_long_name_stands_whole_where_nothing_is_near(names):
    assert LONG in names(TARGET, Flag(360.0, LONG, "mark"))


def test_a_name_is_never_put_beside_that_of_another_angle(names):
    dot = Flag(0.0, "punched dot on the camshaft sprocket beside the keyway", "mark")
    shown = names(TARGET, Flag(180.0, LONG, "mark"), dot, width=600)
    assert shown[0] == "▼ firing TDC of 1"
    assert not any(words.startswith(BESIDE) for words in shown[2:])


def drawn(paint, width, height):
    image = QImage(width, height, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    paint(painter, QRectF(0, 0, width, height))
    painter.end()
    return image


def ink_in(image, columns):
    """How many pixels of some columns are dark."""
    return sum(
        QColor(image.pixel(x, y)).lightnessF() < 0.4 for x in columns for y in range(image.height())
    )


class Line(QWidget):
    """A line of type, set in one way or the other."""

    def __init__(self, put, align):
        super().__init__()
        self.put, self.align = put, align
        self.resize(600, 120)

    def paintEvent(self, event):
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor("#ffffff"))
        box, type_ = QRectF(10, 10, 580, 100), ink.font(80, bold=True)
        self.put(painter, box, "Wave 81.5°", type_, "#000000", self.align)
        painter.end()

    def dark_columns(self):
        image = self.grab().toImage()
        return [x for x in range(image.width()) if ink_in(image, [x])]


@pytest.mark.parametrize("align", [ink.LEFT, ink.CENTRE, ink.RIGHT])
def test_large_type_stands_where_other_type_would(qtbot, align):
    large, plain = Line(ink.large, align), Line(ink.text, align)
    for line in (large, plain):
        qtbot.addWidget(line)
    ours, others = large.dark_columns(), plain.dark_columns()
    assert ours[0] == pytest.approx(others[0], abs=2)
    assert ours[-1] == pytest.approx(others[-1], abs=2)


def test_half_a_number_is_not_shown_at_the_rule_s_edge(qapp, monkeypatch):
    said = []
    text = turn_rule.ink.text
    monkeypatch.setattr(
        turn_rule.ink, "text", lambda *args: said.append((args[2], args[1])) or text(*args)
    )
    box = QRectF(0, 0, 400, 80)
    for remaining in (10.8, 9.0, 33.0, 58.0):
        guidance = Guidance("go on", remaining, 1, "turn on")
        drawn(
            lambda painter, box, g=guidance: turn_rule._paint_rule(painter, box, g, 0.1, LIGHT),
            400,
            80,
        )
    assert said
    for words, room in said:
        assert words.isdigit()
        assert box.left() <= room.left() < room.right() <= box.right()


def test_an_empty_figure_says_why_where_its_curves_would_be(window, qtbot):
    opened = window(until_s=0.1, judged=False)
    for view in ("angle", "volume", "loglog", "speed", "fit", "tdc"):
        opened.show_view(view)
        figure = opened.figure
        assert figure.figure.empty
        assert figure._empty.isVisible()
        assert figure._empty.text() == figure.figure.empty
        assert not figure._graphics.isVisible()  # axes of nothing would show made-up figures
        assert figure.reading == ""


def test_a_figure_without_facts_has_the_whole_width(window):
    opened = window()
    opened.show_view("speed")
    qt_settled(opened)
    assert opened.figure._graphics.isVisible()
    assert opened.figure.reading == HINT
    beside = opened.figure._graphics.width()
    opened.figure.show_piston(None)
    qt_settled(opened)
    assert opened.figure._graphics.width() > max(beside, 0.95 * opened.stack.width())
    opened.show_view("angle")
    qt_settled(opened)
    assert opened.figure._graphics.width() < 0.8 * opened.stack.width()


def qt_settled(opened):
    opened.figure.layout().activate()


@pytest.mark.parametrize(("size", "least"), [((1366, 768), 1), ((3840, 2160), 2)])
def test_thin_lines_grow_with_the_screen(window, size, least):
    opened = window(size=size)
    opened.show_view("angle")
    line = opened.figure._lines[0].pen
    assert line.isCosmetic()
    assert line.width() >= least
    assert opened.figure._wide > line.width()


def test_an_empty_figure_is_exported_with_its_reason(window, tmp_path):
    opened = window(until_s=0.1, judged=False)
    opened.show_view("angle")
    image = drawn(opened.figure.paint_on, 960, 540)
    below = image.copy(0, 100, 960, 440)
    assert ink_in(below, range(960)) > 100


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=lambda colours: colours.theme)
@pytest.mark.parametrize("size", [17, 48])
def test_a_list_to_choose_from_has_an_arrow_that_grows(qtbot, colours, size):
    def strokes(made):
        made.setStyleSheet(
            f"QComboBox {{ background: {colours.sheet}; color: {colours.ink}; border: none;"
            f" font-size: {size}px; }}" + bars_style(size, colours)
        )
        qtbot.addWidget(made)
        made.addItem("")
        made.resize(10 * size, 2 * size)
        image = made.grab().toImage()
        ground = QColor(image.pixel(2, 2)).lightnessF()
        right = range(image.width() - 2 * size, image.width() - 2)
        return sum(
            abs(QColor(image.pixel(x, y)).lightnessF() - ground) > 0.3
            for x in right
            for y in range(2, image.height() - 2)
        )

    assert strokes(Choice()) > max(8, size)
    assert strokes(QComboBox()) < size  # which is why there is one of our own


def test_what_the_class_is_to_answer_leaves_no_part_without_a_word(window):
    opened = window()
    opened.rooms.classroom  # noqa: B018 - loads what a question needs
    opened.rooms.ask("firing")
    assert "hidden until the class has answered" in opened.chart_page.guide.words
    opened.rooms.questioning.go_on()
    assert "hidden" not in opened.chart_page.guide.words


def test_a_panel_with_little_to_say_says_it_in_large_type(window, qtbot):
    opened = window()
    opened.actions_.show_cautions()
    body = opened.panel.findChild(QLabel)
    assert body.font().pixelSize() > 0.025 * opened.height()
    scroll = opened.panel._scroll.verticalScrollBar()
    qtbot.wait(1)
    assert scroll.maximum() == 0


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("scale", [1, 2.8])
def test_what_to_do_at_the_end_of_a_long_reason_is_not_cut_off(scale):
    reason = (
        "The manifold shows a pulse for every cylinder but not whose: cylinder 1 fires at one of"
        " 8°, 188°, 368°, 548° (encoder frame). To decide: sense one cylinder at its plug hole; or"
        " take one plug out and press the mark 'plug out N'; or turn by hand and press 'valves"
        " rock N' when both valves of cylinder N rock"
    )
    pixels, width = 77.0 * scale, 1184.0 * scale
    size, lines = set_detail(reason, width, pixels)
    assert " ".join(lines) == reason
    assert len(lines) * size <= DETAIL_LINES * DETAIL * pixels
    assert set_detail("Short.", width, pixels) == (DETAIL * pixels, ("Short.",))


def words_painted(monkeypatch, module):
    said = []
    text = module.ink.text
    monkeypatch.setattr(
        module.ink, "text", lambda *args: said.append((args[2], args[1], args[3])) or text(*args)
    )
    return said


@pytest.mark.parametrize(("width", "height"), [(956, 420), (2688, 1460)])
def test_no_angle_of_the_axis_is_cut_and_empty_rows_have_a_word(qapp, monkeypatch, width, height):
    rows = tuple(StrokeRow(number, sensed=False) for number in (1, 3))
    ticks = tuple((float(angle), str(angle)) for angle in range(0, 721, 90))
    chart = Chart(rows, 0.0, 720.0, ticks)
    said = words_painted(monkeypatch, stroke_painting)
    drawn(
        lambda painter, box: stroke_painting.paint_still(painter, box, chart, LIGHT), width, height
    )
    assert chart.bare in [words for words, _, _ in said]
    angles = [(words, room, type_) for words, room, type_ in said if words.endswith("°")]
    assert len(angles) == len(ticks)
    for words, room, type_ in angles:
        assert stroke_painting.ink.elided(words, type_, room.width()) == words


@pytest.mark.parametrize(("width", "height"), [(410, 419), (1152, 1185)])
@pytest.mark.parametrize("after", [-14.0, 0.0, 9.0])
def test_the_rocking_pointer_covers_no_word(qapp, monkeypatch, width, height, after):
    said, shapes = words_painted(monkeypatch, rocking_painting), []
    now = rocking_painting._paint_now
    monkeypatch.setattr(
        rocking_painting, "_paint_now", lambda *args: shapes.append(args[1:3]) or now(*args)
    )
    swung = SimpleNamespace(
        guidance=SimpleNamespace(before_deg=0.0, after_deg=103.0), after_tdc_deg=lambda angle: after
    )
    drawn(
        lambda painter, box: rocking_painting._paint_reach(painter, box, swung, 0.0, LIGHT),
        width,
        round(height * 0.17),
    )
    ((at, size),) = shapes
    pointer = QRectF(at.x() - size, at.y() - size, 2 * size, 1.9 * size)
    assert len(said) == 3
    for words, room, type_ in said:
        assert not pointer.intersects(room), words
        assert rocking_painting.ink.elided(words, type_, room.width()) == words


def test_a_long_label_has_a_row_of_its_own():
    short, long = (
        step_sheet._part(pages.Facts((pages.Row(label, "meets its pointer"),)), 20, LIGHT)
        for label in ("cam dot", LONG)
    )
    assert "colspan" not in short
    assert "colspan='2'" in long
    assert LONG in long
    assert long.count("meets its pointer") == 1


@pytest.mark.parametrize("size", [(1366, 768), (3840, 2160)])
def test_a_panel_s_columns_stand_apart_on_any_screen(window, size):
    opened = window(size=size)
    opened.actions_.show_cautions()
    gap = round(size[1] * GAP_SHARE)
    assert f"{gap}px" in opened.panel.words


@pytest.mark.parametrize("size", [(1366, 768), (3840, 2160)])
def test_a_long_name_in_the_profile_is_seen_whole(window, toy, size, qtbot):
    name = "The trainer's four-cylinder workshop engine on the green stand beside the north window"
    opened = window(
        profile=toy.profile(name=name, valve_timing=ValveTiming(12, 48, 46, 14)), size=size
    )
    opened.show_page("setup")
    opened.redraw()
    qtbot.wait(10)
    table = opened.pages["setup"].editor.table
    [item] = table.findItems(name, Qt.MatchFlag.MatchExactly)
    row = item.row()
    metrics = table.fontMetrics()
    room = table.visualItemRect(table.item(row, 1)).adjusted(4, 0, -4, 0)
    flags = int(Qt.TextFlag.TextWordWrap)
    needed = metrics.boundingRect(room.adjusted(0, 0, 0, 9999), flags, name)
    assert needed.height() <= room.height()


def test_an_empty_figure_of_the_model_is_drawn_without_curves(window):
    opened = window()
    axis = Axis("x", "")
    opened.figure.show_figure(Figure("Nothing", axis, axis, empty="Nothing yet"), LIGHT)
    assert opened.figure._empty.text() == "Nothing yet"
