"""No headline says what its own page contradicts, over some thirty answers of all steps.

A few of what ``tests/benchmarks/headlines.py`` makes hundreds of, read by the same reader; and the
reader finds what is put wrong on purpose.
"""

import importlib.util
import sys
from pathlib import Path

import pytest

from strokewise.gui import found
from strokewise.gui.options import SaidOfEngine
from strokewise.gui.pages.text import page_text
from strokewise.gui.steps import ask

BENCHMARKS = Path(__file__).parents[1] / "benchmarks"
RECORDINGS = Path(__file__).parents[2] / "recordings"
ENGINE = Path(__file__).parent / "commands" / "said" / "four.toml"

ASKED = (
    ("find", {}),
    ("marks", {}),
    ("marks", {"earlier": ["pulley notch=2.4,2.1,2.7"]}),
    ("cam", {"clearances_set": "yes"}),
    ("cam", {}),
    ("valves", {}),
    ("valves", {"gap": ["4I=0.3 mm", "1E=0.35 mm", "2I=0.42 mm"]}),
    ("valves", {"gap": ["1I=0.3 mm"], "done": "1E,1I,2E,2I,3E,3I,4E,4I"}),
    ("drive", {}),
    ("drive", {"found_deg": "181"}),
    ("static", {}),
    ("static", {"strobe": ["700=13", "3200=33"], "curve": "800=0,3000=20"}),
)


@pytest.fixture(scope="module")
def reader():
    spec = importlib.util.spec_from_file_location("reader", BENCHMARKS / "headline_reader.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules[spec.name]


@pytest.mark.parametrize("name", ["cranked", "hand-turned", "marks-that-lie"])
def test_no_headline_says_what_its_page_contradicts(name, reader):
    about = found.found_in(RECORDINGS / f"{name}.swr", SaidOfEngine(ENGINE))
    said = [(step, ask(step, about, typed)) for step, typed in ASKED]
    assert [
        line
        for step, each in said
        for line in reader.contradictions(step, page_text(each.page), each.json)
    ] == []


INTERVAL = {"value": 7.4231, "low": 6.7, "high": 8.1}
SOUND = {"decided": True, "warnings": []}
TDC = {"angle": 81.523, "low": 81.2, "high": 81.8}
FIND = SOUND | {"tdc": TDC, "firing": {"1": 81.523, "3": 261.523}}
LATE = SOUND | {"findings": [], "marks": [{"name": "notch", "late": INTERVAL}]}
VALVE = {"valve": "1E", "ready": False, "done": False}
GAP = {"valve": "1E", "status": "good"}


@pytest.mark.parametrize(
    ("step", "head", "answer", "why"),
    [
        ("find", "DECIDED, TDC ± 0.3°: cylinder 1 fires at 81.523°.", FIND, "more exact"),
        ("find", "DECIDED, TDC ± 0.1°: cylinder 1 fires at 81.5°.", FIND, "TDC ± 0.1° for"),
        ("find", "DECIDED, TDC ± 0.3°: cylinder 3 fires at 81.5°.", FIND, "does not fire"),
        ("find", "DECIDED.", FIND | {"decided": False}, "undecided and sure"),
        ("find", "NOT SURE.", FIND, "decided and not sure"),
        (
            "find",
            "DECIDED.",
            FIND | {"tdc": TDC | {"low": 77.0}},
            "decided with TDC ±",
        ),
        (
            "find",
            "DECIDED.",
            FIND | {"warnings": [{"code": "clamp-unchecked", "text": "flat"}]},
            "unchecked and sure",
        ),
        ("marks", "Notch right to a tenth of a degree.", LATE, "right to a tenth"),
        ("marks", "Notch 7.4° early (6.7 to 8.1).", LATE, "wrong side"),
        ("marks", "Notch 7.4° late (7.2 to 7.6).", LATE, "no interval of the answer"),
        ("marks", "Notch right within 0.3°.", LATE, "not right within"),
        ("cam", "DECIDED: Cam on time.", SOUND | {"half_turn": {"out": True}}, "half a turn"),
        ("valves", "SET NOW: 1E.", SOUND | {"valves": [VALVE], "gaps": []}, "not to be set"),
        ("valves", "TURN.", SOUND | {"valves": [VALVE], "gaps": [GAP]}, "judged where"),
    ],
)
def test_the_reader_finds_what_is_wrong(step, head, answer, why, reader):
    assert any(why in line for line in reader.contradictions(step, f"{head}\n\n  Facts", answer))
