"""Every table of words that pages say things from, and the page of compared cylinders: as kept.

A table has a row that is said once in a hundred recordings, and then to somebody whose engine is
odd: no answer that is asked for elsewhere says them all.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/gui/pages
"""

from __future__ import annotations

import importlib
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, get_args

import pytest
from suite_kept import error_of, held, plain

from strokewise.analysis.compression.compare import CompressionFinding, FindingCode
from strokewise.analysis.compression.compare_answer import (
    CompareQuestion,
    Measured,
    compare_answer,
)
from strokewise.analysis.compression.cylinder_compression import CylinderCompression
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.analysis.remark import notice
from strokewise.gui.pages import compare, find

PAGES = Path(find.__file__).parent

WORDS = (str, tuple, dict, Mapping)


def words_in(name: str) -> dict[str, Any]:
    """Return the tables of words that a module has of its own."""
    module = importlib.import_module(f"strokewise.gui.pages.{name}")
    found = {}
    for each, value in vars(module).items():
        if not each.isupper() or not isinstance(value, WORDS) or each == "STEP":
            continue
        said = plain(value)
        if any(letter.isalpha() for letter in json.dumps(said, default=str)):
            found[each] = json.loads(json.dumps(said, default=lambda other: type(other).__name__))
    return found


def cylinder(number: int, peak: float, **more: Any) -> CylinderCompression:
    interval = Interval(peak, peak - 0.13, peak + 0.17)
    more.setdefault("passes_to_peak", number)
    return CylinderCompression(number, interval, 190.0 + number, Atmosphere(), 6, **more)


def compared(*peaks: float, oiled: float | None = None, rpm: float = 0.0, **said: Any) -> Any:
    dry = tuple(cylinder(number, peak) for number, peak in enumerate(peaks, start=1))
    if rpm:
        dry = tuple(
            CylinderCompression(d.cylinder, d.peak, rpm, d.atmosphere, d.passes) for d in dry
        )
    wet = () if oiled is None else (cylinder(3, oiled),)
    asked = said.pop("asked", len(peaks))
    warned = (notice("clipped", share=0.123),)
    answer = compare_answer(CompareQuestion(**said), Measured(dry, wet, asked, warned))
    page = compare.compare_page(answer)
    said_page = plain(page) | {"cautions": [c.code for c in page.cautions]}
    return [said_page, compare.compare_figures(answer)]


def finding(code: FindingCode, **more: Any) -> list[str]:
    made = CompressionFinding(code, (2, 3), Interval(-0.31, -0.4, -0.25), 6, 2.5, **more)
    return [compare.suggests(made), compare.CONFIRM_WORDS[code]]


CASES: dict[str, Callable[[], Any]] = {
    **{
        f"words of {file.stem}": lambda name=file.stem: words_in(name)
        for file in sorted(PAGES.glob("[a-z]*.py"))
    },
    "compared": lambda: compared(12.0, 12.4, 11.9, 12.1),
    "compared, one low": lambda: compared(12.0, 12.4, 7.9, 12.1, warm=True, battery_good=False),
    "compared, neighbours low": lambda: compared(12.0, 7.4, 7.9, 12.1, neighbours=((2, 3),)),
    "compared, one high": lambda: compared(12.0, 12.1, 16.9, 12.2, speed_rpm=250.0),
    "compared, two": lambda: compared(12.0, 9.0),
    "compared, oiled": lambda: [
        compared(12.0, 12.4, 7.9, 12.1, oiled=bar)[1] for bar in (10.6, 8.0, 8.6)
    ],
    "compared, too few": lambda: [compared(12.0), compared(), compared(12.0, 12.1, asked=3)],
    "compared, slow": lambda: compared(12.0, 12.3, 12.1, rpm=55.0),
    "findings": lambda: {
        code: [finding(code, neighbours_said=said) for said in (False, True)]
        for code in get_args(FindingCode)
    },
    "oiled, and not dry": lambda: error_of(lambda: compared(12.0, 12.1, oiled=12.0)),
}


@pytest.mark.parametrize("name", CASES)
def test_words_and_comparisons_are_those_kept(name: str) -> None:
    held(__file__, name, CASES)
