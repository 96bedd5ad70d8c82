"""Every drawing, line by line, at answers of which no two are alike: as kept in ``drawn/``.

A mark drawn on the wrong side of its pointer, a valve drawn free that is lifted, a rotor that turns
the other way: a drawing is looked at from two metres, and nobody reads the figures beside it then.

    PYTHONPATH=tests/suite python tests/gui/test_drawings_kept.py

draws them all anew: look at each before it is kept.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from suite_drawn import by_element, held_drawn

from strokewise.analysis.compression.compression_curve import CompressionCurve
from strokewise.analysis.crank.strokes import firing_tdcs
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.ignition.drive_answer import DriveQuestion, drive_answer
from strokewise.analysis.profile import (
    DriveGear,
    Mark,
    Profile,
    Valves,
    ValveTiming,
    even_intervals_deg,
)
from strokewise.analysis.valves.valves_answer import ValvesQuestion, valves_answer
from strokewise.analysis.verdict.found import Standing
from strokewise.analysis.verdict.verdict import Tdc, Verdict
from strokewise.gui.drawings.chart_svg import chart_svg
from strokewise.gui.drawings.drive_svg import drive_svg
from strokewise.gui.drawings.figure_svg import figure_svg, log_ticks, ticks
from strokewise.gui.drawings.files import write_drawing
from strokewise.gui.drawings.head_svg import head_svg
from strokewise.gui.drawings.in_colours import in_colours, words_in
from strokewise.gui.drawings.key_svg import key_svg
from strokewise.gui.drawings.laid_svg import laid_svg
from strokewise.gui.drawings.mark_svg import MarkOnRim, mark_svg
from strokewise.gui.drawings.rim_svg import rim_svg
from strokewise.gui.drawings.worksheet_svg import (
    angle_axis,
    answer_pages,
    pressure_axis,
    worksheet_pages,
)
from strokewise.gui.models.classroom.worksheet import Worksheet
from strokewise.gui.models.figures.chart import chart_for
from strokewise.gui.models.figures.figure import Axis, Curve, Figure, Line
from strokewise.gui.models.figures.trail import Trail
from strokewise.gui.models.figures.units import BAR, KPA, PSI, SENSOR_RANGE
from strokewise.gui.models.palette import DARK
from strokewise.gui.pages.drive import drive_figures
from strokewise.gui.pages.valves import valves_figures
from strokewise.gui.sayings import as_said

DRAWN = Path(__file__).parent / "drawn"

FOUR = Profile(
    4,
    (1, 3, 4, 2),
    even_intervals_deg(4, 720.0),
    valve_timing=ValveTiming(11.0, 47.0, 52.0, 16.0, 0.6),
    valves=Valves("EIIEEIIE", 0.2, 0.35),
    drive_gear=DriveGear(13, 34.0, 21.5, 9.3, "left"),
    distributor_rotation="counter-clockwise",
    marks=(Mark("notch", 1, "pulley", -4.0), Mark("dot", 1, "pulley", -4.0), Mark("line", 1)),
)
SIX = replace(
    FOUR,
    cylinders=6,
    firing_order=(1, 5, 3, 6, 2, 4),
    firing_intervals_deg=even_intervals_deg(6, 720.0),
    valves=Valves(),
)
TWELVE = replace(
    FOUR,
    cylinders=12,
    firing_order=(1, 12, 5, 8, 3, 10, 6, 7, 2, 11, 4, 9),
    firing_intervals_deg=even_intervals_deg(12, 720.0),
    valves=Valves("EI" * 12),
    valve_timing=None,
)
TWIN = Profile(2, (1, 2), (270.0, 450.0), valve_timing=ValveTiming(5.0, 40.0, 45.0, 9.0))


def head(profile: Profile, after_deg: float, **said: Any) -> str | None:
    standing = Standing(profile, after_deg, measured=False)
    return head_svg(valves_figures(valves_answer(ValvesQuestion(**said), standing)))


def drive(after_deg: float, profile: Profile = FOUR, **gear: Any) -> str | None:
    asked = {name: gear.pop(name) for name in ("lead_1_deg", "slot_deg") if name in gear}
    turned = replace(profile, drive_gear=replace(profile.drive_gear, **gear))
    answer = drive_answer(DriveQuestion(**asked), Standing(turned, after_deg, measured=False))
    return drive_svg(drive_figures(answer))


def chart(profile: Profile, *, decided: bool = True, target: float | None = None) -> str:
    firing = firing_tdcs(profile, 100.0) if decided else {}
    tdc = Tdc(Interval(100.0, 99.9, 100.1), 1, "fit", 9)
    verdict = Verdict(decided, as_said("seen"), tdc=tdc, firing_deg=firing)
    return chart_svg(chart_for(profile, verdict, 333.0, target, "stop" if target else ""))


def mark(value: float, stated: float = 0.0, **more: Any) -> str | None:
    usual = MarkOnRim(
        "notch", Interval(value, value - 0.7, value + 1.9), stated, 68.0, "clockwise",
        "7.4° late", "10 mm along the rim",
    )  # fmt: skip
    return mark_svg(replace(usual, **more))


def rim(before_tdc: float, along: str | None, rotation: str | None = "clockwise") -> str | None:
    return rim_svg({"advance": {"before_tdc": before_tdc, "rim_along": along}}, rotation)


def compression(cylinder: int, peak_bar: float, number: int) -> CompressionCurve:
    angle = np.linspace(-110.0, 95.0, 19)
    pressure = 0.9 + (peak_bar - 0.9) * np.exp(-(((angle + 3.0) / 38.0) ** 2))
    return CompressionCurve(cylinder, number, angle, pressure, 180.0 + 7 * number)


def trail(span_deg: float = 905.0, *, there_and_back: bool = False) -> Trail:
    angle = 123.4 + np.arange(0.0, span_deg, 6.5)
    if there_and_back:
        angle = np.concatenate([angle, angle[::-1] + 1.0])
    away = (angle - 123.4 - 407.0 + 360.0) % 720.0 - 360.0
    bent = 1.0 + 0.1 * (np.arange(len(angle)) > len(angle) / 2)
    return Trail(angle, 0.8 + 12.9 * bent * np.exp(-((away / 30.0) ** 2)))


def sheet(**more: Any) -> Worksheet:
    usual = Worksheet(
        "a <b>title</b>", trail(), "cylinder 1 fires", tdc_deg=Interval(173.4, 173.1, 173.8),
        firing_deg=533.4,
    )  # fmt: skip
    return replace(usual, **more)


LONG = "a long answer that goes on and on about what is wrong with this engine. " * 3

SHEETS = {
    "all": (sheet(), sheet(unit=SENSOR_RANGE, simulated=False, wrong=LONG, answer=LONG)),
    "rocked": (sheet(trail=trail(520.0, there_and_back=True), tdc_deg=None, firing_deg=None),),
    "gauge": (sheet(gauge=True, unit=PSI),),
    "manifold": (sheet(humps=False, unit=KPA, trail=trail(1600.0)),),
    "empty": (sheet(trail=Trail(np.array([]), np.array([]))), sheet(unit=BAR)),
}

X = np.array([0.5, 1.0, 2.0, 3.0, 4.5, 6.0])


def figure(*curves: Curve, log: bool = False, lines: tuple[Line, ...] = (), **more: Any) -> str:
    axes = Axis("angle", "°"), Axis("pressure <abs>", "bar", log=log)
    return figure_svg(Figure("t", *axes, curves, lines), **more)


FIGURES: dict[str, Callable[[], str]] = {
    "faint": lambda: figure(
        Curve("one", X, X**2 - 7.0, colour=7, weight=0.4),
        Curve("other", X, -X, colour=1, weight=0.7, dash="dashes"),
        lines=(Line(6.0, "end"), Line(0.5, "begin"), Line(6.2, "beyond"), Line(5.2, "near")),
    ),
    "flat": lambda: figure(Curve("flat", X, np.full(6, 3.0))),
    "nought": lambda: figure(Curve("flat", X, np.zeros(6)), width=300, height=200),
    "flat-log": lambda: figure(Curve("flat", X, np.full(6, 3.0)), log=True),
    "none-above-nought": lambda: figure(Curve("flat", X, -X), log=True),
    "not-known": lambda: figure(Curve("gone", X, np.full(6, np.nan))),
    "nothing": lambda: figure(),
    "reason": lambda: figure_svg(Figure("t", Axis("x"), Axis("y"), empty="No compression yet")),
    "thinned": lambda: figure(
        Curve("many", np.arange(4001.0), np.where(np.arange(4001) < 30, 1.0, np.nan))
    ),
}

KEYS = {
    "rotation": ("", "counter-clockwise"),
    "distributor.rotation": ("", "clockwise"),
    "drive_gear.hand": ("", "right"),
    "valves.order": ("", "EI" * 13, "ei x"),
    "drive_gear.slot_angle": ("", "nonsense", "+12.5 deg"),
}

DRAWINGS: dict[str, Callable[[], str | None]] = {
    "head": lambda: head(FOUR, 12.0, done=("2",)),
    "head-lifted": lambda: head(FOUR, 205.0),
    "head-near": lambda: head(FOUR, 65.0),
    "head-six": lambda: head(SIX, 305.0, done=("1E", "4I")),
    "head-twelve": lambda: head(TWELVE, 33.0),
    "laid": lambda: laid_svg((compression(3, 6.2, 3), compression(1, 12.4, 5))),
    "mark-late": lambda: mark(7.4),
    "mark-stated": lambda: mark(-5.1, -11.5, rotation="counter-clockwise"),
    "mark-after": lambda: mark(3.3, 6.25, rotation=None, radius_mm=None, on_rim="", name="n" * 28),
    "mark-named": lambda: mark(0.1, name="n" * 29),
    "mark-far": lambda: mark(40.0, -40.0),
    "rim": lambda: rim(7.0, "8.31 mm"),
    "rim-after": lambda: rim(-4.5, "-3.14 mm", "counter-clockwise"),
    "rim-mirrored": lambda: rim(40.0, "55.8 mm", None),
    "drive": lambda: drive(12.0, lead_1_deg=40.0),
    "drive-right": lambda: drive(
        400.0, replace(FOUR, distributor_rotation="clockwise"), hand="right"
    ),
    "drive-slot": lambda: drive(12.0, slot_angle_deg=-35.0),
    "drive-slot-said": lambda: drive(
        12.0, slot_angle_deg=20.0, slot_depth_mm=3.0, slot="turns", slot_deg=35.0
    ),
    "chart": lambda: chart(FOUR, target=640.0),
    "chart-undecided": lambda: chart(FOUR, decided=False),
    "chart-uneven": lambda: chart(TWIN),
    **{f"figure-{name}": made for name, made in FIGURES.items()},
    **{
        f"key-{key}-{number}": lambda key=key, said=said: key_svg(key, said)
        for key, every in KEYS.items()
        for number, said in enumerate(every, start=1)
    },
    "dark": lambda: in_colours(chart(TWIN) + (mark(-5.1, -11.5) or ""), DARK),
}


def pages() -> Iterator[tuple[str, str]]:
    """Yield the name of each page of the worksheets, and the page."""
    for name, sheets in SHEETS.items():
        for kind, made in (("asked", worksheet_pages(sheets)), ("answered", answer_pages(sheets))):
            for number, page in enumerate(made, start=1):
                yield f"sheet-{name}-{kind}-{number}", page


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_is_the_one_kept(name: str) -> None:
    drawn = DRAWINGS[name]()
    assert drawn is not None
    held_drawn(drawn, DRAWN / f"{name}.svg")


@pytest.mark.parametrize("name", SHEETS)
def test_the_pages_of_a_worksheet_are_those_kept(name: str) -> None:
    found = [(which, page) for which, page in pages() if which.startswith(f"sheet-{name}-")]
    assert len(found) == len(list(DRAWN.glob(f"sheet-{name}-*.svg")))
    for which, page in found:
        held_drawn(page, DRAWN / f"{which}.svg")


def test_what_cannot_be_seen_at_one_pointer_is_not_drawn() -> None:
    """At 40° either way it is, beyond it is not: the rim would lie down by then."""
    assert mark(40.1) is mark(0.0, 40.1) is None
    assert rim(40.1, "55.9 mm") is rim(0.0, "0.00 mm") is rim(5.0, None) is None
    assert rim_svg({}, "clockwise") is rim(3.0, "0.00 mm") is None


def test_the_steps_of_an_axis_are_those_of_the_trade() -> None:
    assert ticks(0.0, 7.0) == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
    assert ticks(0.0, 7.1) == [0.0, 2.0, 4.0, 6.0]
    assert ticks(-1.3, 15.1) == [0.0, 2.5, 5.0, 7.5, 10.0, 12.5, 15.0]
    assert ticks(3.0, 3.0) == ticks(3.0, float("inf")) == [3.0]
    assert log_ticks(0.03, 4.0) == pytest.approx([0.05, 0.1, 0.2, 0.5, 1.0, 2.0])
    steps = [angle_axis(0.0, span, 30.0, 280.0) for span in (160, 161, 321, 481, 961, 1441, 2881)]
    assert [(each.bold, each.fine) for each in steps] == [
        (10, 1), (20, 2), (30, 5), (60, 5), (90, 10), (180, 10), (360, 30),
    ]  # fmt: skip
    fine = [pressure_axis(0.0, 10.0, high, 40.0) for high in (161.0, 159.0)]
    assert [(each.bold, each.fine) for each in fine] == [(1.0, 0.1), (1.0, 0.2)]
    low = pressure_axis(-0.31, 0.42, 200.0, 40.0)
    assert [words for _, words in low.labels] == [
        "−0.4", "−0.3", "−0.2", "−0.1", "0.0", "0.1", "0.2", "0.3", "0.4", "0.5",
    ]  # fmt: skip


def test_words_of_valves_stand_on_two_levels_where_they_would_touch() -> None:
    """Nearer than 40 to each other they do: ten along the head of 412 have room, eleven not."""

    def levels(cylinders: int) -> int:
        every = [
            {"number": n, "valve": f"{n}E", "cylinder": n, "kind": "exhaust", "done": False,
             "ready": True, "on_base_circle": True}
            for n in range(1, cylinders + 1)
        ]  # fmt: skip
        drawn = head_svg({"valves": every})
        assert drawn is not None
        return len(set(re.findall(r'y="([\d.]+)"[^>]*>free<', drawn)))

    assert [levels(count) for count in (8, 10, 11, 12)] == [1, 1, 2, 2]


def test_a_drawing_is_heard_without_its_figures() -> None:
    assert words_in(rim(7.0, "8.31 mm") or "") == (
        "7° before; TDC; 8.3 mm along the rim; To scale, facing the pulley, turning clockwise."
    )


def test_a_file_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    place = tmp_path / "drawn.svg"
    write_drawing(str(place), {})
    assert not place.exists()
    write_drawing(str(place), {"head": "<svg>°</svg>", "other": "<svg/>"})
    assert place.read_text(encoding="utf-8") == "<svg>°</svg>"
    with pytest.raises(InputError) as caught:
        write_drawing(str(place), {"head": "<svg/>"})
    assert str(caught.value) == f"{place} is there already: choose another name"


def _draw_all() -> None:
    DRAWN.mkdir(exist_ok=True)
    for name, made in DRAWINGS.items():
        drawn = made()
        assert drawn is not None, name
        (DRAWN / f"{name}.svg").write_text(by_element(drawn), encoding="utf-8")
    for name, page in pages():
        (DRAWN / f"{name}.svg").write_text(by_element(page), encoding="utf-8")


if __name__ == "__main__":
    _draw_all()
