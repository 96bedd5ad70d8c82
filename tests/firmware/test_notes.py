"""Do the notes tell the truth? Commands parse, pins are the firmware's, the sums add up."""

import math
import re
import shlex
import subprocess
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from pathlib import Path

import pytest

from strokewise.gui import cli, registry

NOTES = Path(__file__).resolve().parents[2] / "firmware_notes"
PAGES = sorted(NOTES.glob("*.md"))
TEXTS = {page.name: page.read_text(encoding="utf-8") for page in PAGES}
COMMANDS = sorted(
    {line for text in TEXTS.values() for line in re.findall(r"^ +(strokewise .*)$", text, re.M)}
    | {line for text in TEXTS.values() for line in re.findall(r"`(strokewise [^`]*)`", text)}
)
MAKE_LINE = re.compile(r"^ +(make flash.*?)(?: {2,}#.*)?$", re.MULTILINE)
MAKES = sorted(set(MAKE_LINE.findall(TEXTS["programming.md"])))
DRAWINGS = sorted((NOTES / "drawings").glob("*.svg"))


def rows(page: str, head: str) -> list[list[str]]:
    """Return the cells of the table whose head line begins so."""
    lines = TEXTS[page].splitlines()
    begin = next(k for k, line in enumerate(lines) if line.startswith(head)) + 2
    end = next(k for k in range(begin, len(lines)) if not lines[k].startswith("|"))
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[begin:end]]


@pytest.mark.parametrize("line", COMMANDS)
def test_every_command_is_one_that_strokewise_takes(line: str) -> None:
    words = shlex.split(line)[1:]
    if len(words) == 1:  # a command named in running text
        assert words[0] in {command.name for command in registry.COMMANDS}
        return
    args = cli.build_parser().parse_args(words)
    assert callable(args.run)


@pytest.mark.parametrize("line", MAKES)
def test_every_flashing_ends_in_the_tool_that_writes(
    line: str, require: Callable[..., None]
) -> None:
    require("make")
    done = subprocess.run(
        [*shlex.split(line), "--dry-run", "-C", str(NOTES)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert re.search(r"(avrdude .* -P /dev/tty|stm32flash -w .* /dev/tty)", done.stdout)


def test_flashing_without_a_port_says_so(require: Callable[..., None], tmp_path: Path) -> None:
    require("make", "avr-gcc", "avr-objcopy")
    done = subprocess.run(
        ["make", "-C", str(NOTES), "flash", f"OUT={tmp_path}"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "say which port: make flash PORT=" in done.stderr


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    for link in re.findall(r"\]\((?!https?:)([^)#]+)\)", TEXTS[page.name]):
        assert (NOTES / link).exists(), link


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda drawing: drawing.name)
def test_every_drawing_is_shown_and_has_words_for_who_cannot_see_it(drawing: Path) -> None:
    root = ElementTree.parse(drawing).getroot()
    space = "{http://www.w3.org/2000/svg}"
    assert root.tag == f"{space}svg"
    assert root.findtext(f"{space}title")
    assert root.findtext(f"{space}desc")
    assert any(f"(drawings/{drawing.name})" in text for text in TEXTS.values())
    width, height = (float(size) for size in root.attrib["viewBox"].split()[2:])
    for text in root.iter(f"{space}text"):
        assert 0 <= float(text.attrib["x"]) <= width
        assert 0 <= float(text.attrib["y"]) <= height


@pytest.mark.parametrize(
    ("port", "drawing", "head"),
    [
        ("avr", "wiring-8-bit.svg", "| wire | pin of the chip |"),
        ("stm32", "wiring-32-bit.svg", "| wire | pin | how |"),
    ],
)
def test_pin_tables_drawings_and_firmware_name_the_same_pins(
    port: str, drawing: str, head: str
) -> None:
    source = (NOTES / port / "main.c").read_text().split("*/")[0]
    said = dict(re.findall(r"\b(P[A-D]\d+) +(encoder A|encoder B|encoder index|mark input 1|"
                           r"mark input 2|sensor|second sensor)\b", source))  # fmt: skip
    assert len(said) == 7
    table = {
        row[1]: row[0] for row in rows("wiring.md", head) if re.fullmatch(r"P[A-D]\d+", row[1])
    }
    words = {"encoder index Z": "encoder index", "mark 1": "mark input 1",
             "mark 2": "mark input 2", "sensor's signal": "sensor"}  # fmt: skip
    stated = {pin: words.get(what, what) for pin, what in table.items() if what != "serial out"}
    assert stated == said
    drawn = (NOTES / "drawings" / drawing).read_text()
    for pin, what in said.items():
        if what != "second sensor":
            assert re.search(rf">{pin}\b", drawn), (pin, what)


def number(cell: str) -> float:
    return float(re.search(r"[\d.,]+", cell)[0].replace(",", ""))


def test_the_hose_table_adds_up() -> None:
    """Speed of sound in air at 20 °C, 343 m/s: from memory."""
    for length, delay, angle, ring, volume in rows("fitting.md", "| hose | delay"):
        metres = number(length)
        assert number(delay) == pytest.approx(metres / 343 * 1e3, abs=0.06)
        assert number(angle) == pytest.approx(metres / 343 * 1200, abs=0.06)
        assert number(ring) == pytest.approx(343 / 4 / metres, rel=0.06)
        assert number(volume) == pytest.approx(math.pi / 4 * 0.4**2 * metres * 100, abs=0.06)


def test_the_table_of_eccentricity_adds_up() -> None:
    for gauge, off, *angles in rows("fitting.md", "| gauge reads"):
        assert number(gauge) == 2 * number(off)
        for arm_mm, angle in zip((100, 150, 250), angles, strict=True):
            assert number(angle) == pytest.approx(math.degrees(number(off) / arm_mm), abs=0.006)


def test_the_expected_readings_add_up() -> None:
    """0.5 V to 4.5 V of 5 V over 20 bar; on 3.3 V through two thirds."""
    bars = {"gauge sensor 0": 0.0, "absolute sensor 0": 1.013, "gauge sensor": 12.0,
            "absolute sensor": 13.013}  # fmt: skip
    table = {row[0]: row[1:] for row in rows("checking.md", "| | 8-bit board")}
    shown = [
        (bar, table[name])
        for key, bar in bars.items()
        for name in table
        if (key.endswith(" 0") and name.startswith(key)) or name.endswith(f"compression, {key}")
    ]
    assert len(shown) == 4
    for bar, (eight, thirty_two) in shown:
        share = 0.1 + 0.8 * bar / 20
        assert number(eight) == pytest.approx(share * 1024, abs=1)
        assert number(thirty_two) == pytest.approx(share * 5 * 2 / 3 / 3.3 * 4096, abs=1)


@pytest.mark.parametrize(
    "words",
    ["Spanner off before the starter", "Hose whip", "Hot parts", "No starter with a piston stop in",
     "Rotating parts", "Ignition and fuel disabled"],
)  # fmt: skip
def test_the_cautions_stand_where_the_rig_is_fitted(words: str) -> None:
    assert words in TEXTS["fitting.md"]
