"""What the page of compared compressions says, from answers made up for it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from strokewise.analysis.compression.compare import CompressionFinding, FindingCode
from strokewise.analysis.compression.compare_answer import (
    CompareQuestion,
    Measured,
    compare_answer,
)
from strokewise.analysis.compression.cylinder_compression import CylinderCompression
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.gui.pages.compare import CONFIRM_WORDS, compare_page, suggests
from strokewise.gui.pages.page import Page, Table
from strokewise.gui.pages.sign import NOT_SURE, SURE, TO_CONFIRM


def cylinder(number: int, peak: float) -> CylinderCompression:
    interval = Interval(peak, peak - 0.1, peak + 0.1)
    return CylinderCompression(number, interval, 200.0, Atmosphere(), 6, passes_to_peak=2)


def page_for(*peaks: float, oiled: float | None = None) -> Page:
    dry = tuple(cylinder(number, peak) for number, peak in enumerate(peaks, start=1))
    wet = () if oiled is None else (cylinder(3, oiled),)
    return compare_page(compare_answer(CompareQuestion(), Measured(dry, wet, len(peaks))))


def tables(page: Page) -> list[Table]:
    return [part for part in page.parts if isinstance(part, Table)]


def test_one_low_cylinder_is_to_be_confirmed() -> None:
    page = page_for(12.0, 12.2, 7.5, 12.1)
    assert page.sign == TO_CONFIRM
    assert page.headline.startswith("Cylinder 3: 38.0 % below the others (36.9 to 39.1): suggests")
    peaks, suggested = tables(page)
    assert peaks.title == "Absolute peaks, made comparable at 200 rev/min, 1.013 bar"
    assert peaks.rows[2][:2] == ("3", "7.5 (7.4 to 7.6)")
    assert peaks.rows[2][3:] == ("38.5 %", "2")
    assert suggested.rows[0][0] == "3"
    assert "leak-down" in suggested.rows[0][2]


def test_alike_ones_are_sure_and_too_few_are_not() -> None:
    assert page_for(12.0, 12.2, 11.9, 12.1).sign == SURE
    few = page_for(12.0)
    assert few.sign == NOT_SURE
    assert few.headline.startswith("NOT SURE. Two cylinders or more")
    assert tables(few) == []


def test_what_oil_changed_stands_among_what_is_suggested() -> None:
    _, suggested = tables(page_for(12.0, 12.2, 7.5, 12.1, oiled=10.6))
    assert [row[0] for row in suggested.rows] == ["3", "3"]
    assert suggested.rows[1][1].startswith("With oil it stood 41.3 % higher (")


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("one-low", "38 % below the others (30 to 40)"),
        ("one-high", "38 % below the others (30 to 40): suggests carbon"),
        ("slow-to-build", "took 6 passes to its peak, the others 2"),
        ("oil-raises", "past the rings"),
        ("oil-changes-little", "valves"),
        ("oil-unclear", "oil's own room does (10 %)"),
        ("neighbours-low", "if they sit side by side"),
    ],
)
def test_every_finding_has_its_words(code: FindingCode, words: str) -> None:
    finding = CompressionFinding(
        code, (2,), Interval(-0.38, -0.4, -0.3), passes=6, usual_passes=2.0
    )
    assert words in suggests(finding)
    assert CONFIRM_WORDS[code]


def test_neighbours_that_were_named_are_not_asked_about() -> None:
    named = CompressionFinding("neighbours-low", (2, 3), neighbours_said=True)
    assert "if they sit" not in suggests(named)
    assert "if they sit" in suggests(replace(named, neighbours_said=False))
