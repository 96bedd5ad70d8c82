"""Every line and word of the drawings, as kept in ``said/``: a bar that moves is a valve set wrong.

The same for drawings as ``test_said_exactly`` is for words; coordinates may differ by a tenth.

    PYTHONPATH=tests/suite python tests/gui/commands/test_drawn_exactly.py

draws them all anew: look at each before it is kept.
"""

from __future__ import annotations

import contextlib
import io
import re
import tempfile
from pathlib import Path

import numpy as np
import pytest
from suite_drawn import by_element, held_drawn
from suite_imports import ROOT
from suite_said import SAID

from strokewise.gui import cli
from strokewise.gui.drawings.figure_svg import figure_svg
from strokewise.gui.drawings.key_svg import DRAWN_KEYS, key_svg
from strokewise.gui.models.figures.figure import Axis, Curve, Figure, Line

DRIVES = {
    "drive-four": "four.toml",
    "drive-four-away": "four.toml --lead-1 300 --after-tdc 50",
    "drive-twin": "twin.toml --lead-1 40 --after-tdc 12",
    "drive-bare": "bare.toml --end 75",
}

SHEET = ("strokes", "tdc", "passes", "drive")
"""What is drawn on the sheet of one recording, in order."""


X = np.array([0.5, 1.0, 2.0, 3.0, 4.5, 6.0])

FIGURES = {
    "figure-log": Figure(
        "pressure over volume",
        Axis("volume", "cm³", log=True),
        Axis("pressure", "bar", log=True),
        (
            Curve("squeezed", X, 40.0 / X**1.3, dash="line"),
            Curve("let out", X, 31.0 / X**1.2, dash="dashes"),
            Curve("met", X[::2], 25.0 / X[::2], dash="points"),
        ),
        (Line(0.7, "opens"), Line(2.5, "shuts"), Line(9.0, "far")),
    ),
    "figure-plain": Figure(
        "loss",
        Axis("speed", "rev/min"),
        Axis("loss angle", "°"),
        (
            Curve("one", X * 100, np.array([1.0, -2.0, np.nan, 3.0, 4.0, 2.5]), dash="dots"),
            Curve("other", X * 90, -X, dash="line"),
        ),
        tuple(Line(each, f"line {each:.0f}") for each in (60.0, 70.0, 80.0, 90.0, 100.0)),
    ),
}
"""Made up, so that every part of a figure stands somewhere."""

KEYS = {
    "rotation": "clockwise",
    "distributor.rotation": "counter-clockwise",
    "drive_gear.hand": "left",
    "pin_offset": "0.8 mm",
    "valves.order": "EIIEEIIE",
    "drive_gear.slot_angle": "-35 deg",
}
"""What is said of each key that has a small drawing beside it."""


def drawn_drive(words: str, folder: Path) -> str:
    """Return the drawing that ``drive --picture`` writes."""
    profile, *more = words.split()
    out = folder / "drive.svg"
    assert cli.main(["drive", "--engine", str(SAID / profile), "--picture", str(out), *more]) == 0
    return out.read_text(encoding="utf-8")


def drawn_sheet(folder: Path) -> list[str]:
    """Return the drawings on the sheet of a job with one recording."""
    job = str(folder / "job")
    profile = ["--engine", str(SAID / "four.toml")]
    assert cli.main(["job", "new", job, "--name", "Bench four (invented)", *profile]) == 0
    recording = str(ROOT / "recordings" / "cranked.swr")
    assert cli.main(["job", "add", job, recording, "--ask", "find", "--ask", "drive"]) == 0
    assert cli.main(["sheet", job, "--html-only"]) == 0
    page = (folder / "job-sheet.html").read_text(encoding="utf-8")
    return re.findall(r"<svg.*?</svg>", page, re.DOTALL)


def drawn_key(key: str) -> str:
    """Return the small drawing beside a key of the profile."""
    drawn = key_svg(key, KEYS[key])
    assert drawn is not None
    return drawn


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_is_drawn_as_kept(name: str) -> None:
    held_drawn(figure_svg(FIGURES[name]), SAID / f"{name}.svg")


@pytest.mark.parametrize("key", DRAWN_KEYS)
def test_a_keys_small_drawing_is_drawn_as_kept(key: str) -> None:
    """It says which way round the answer is meant: a mirrored one asks for the wrong answer."""
    held_drawn(drawn_key(key), SAID / f"key-{key}.svg")


@pytest.mark.parametrize("name", DRIVES)
def test_the_drive_is_drawn_as_kept(name: str, tmp_path: Path) -> None:
    held_drawn(drawn_drive(DRIVES[name], tmp_path), SAID / f"{name}.svg")


def test_the_sheet_is_drawn_as_kept(tmp_path: Path) -> None:
    drawn = drawn_sheet(tmp_path)
    assert len(drawn) == len(SHEET)
    for name, svg in zip(SHEET, drawn, strict=True):
        held_drawn(svg, SAID / f"sheet-{name}.svg")


def _draw_all() -> None:
    with tempfile.TemporaryDirectory() as name, contextlib.redirect_stdout(io.StringIO()):
        folder = Path(name)
        for figure, made in FIGURES.items():
            (SAID / f"{figure}.svg").write_text(by_element(figure_svg(made)))
        for key in KEYS:
            (SAID / f"key-{key}.svg").write_text(by_element(drawn_key(key)))
        for drive, words in DRIVES.items():
            (SAID / f"{drive}.svg").write_text(by_element(drawn_drive(words, folder)))
            (folder / "drive.svg").unlink()
        for part, svg in zip(SHEET, drawn_sheet(folder), strict=True):
            (SAID / f"sheet-{part}.svg").write_text(by_element(svg))


if __name__ == "__main__":
    _draw_all()
