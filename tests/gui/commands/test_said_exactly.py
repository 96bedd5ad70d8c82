"""Every word, sign and figure of the answers, as kept in ``said/``: nothing is dropped or turned.

A caution that is gone, early for late, inlet for exhaust, a sign: whoever changes what is said
changes a kept answer, and sees in the difference what a mechanic will read. Words are compared one
by one; a figure may differ by two of its last digit, as fits do between machines.

    python tests/gui/commands/test_said_exactly.py

writes them all anew.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shlex
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from strokewise.gui import cli, found

ROOT = Path(__file__).resolve().parents[3]
SAID = Path(__file__).parent / "said"

FIGURE = re.compile(r"[-+]?\d[\d,]*(?:\.\d+)?")

LAST_DIGITS = 2.0
RELATIVE = 2e-3
"""How far a figure may be off: units of its last digit, and of an unrounded one this share."""

ASKED = {
    "find-cranked": "find recordings/cranked.swr",
    "find-hand-turned": "find recordings/hand-turned.swr",
    "find-rocked": "find recordings/rocked.swr",
    "find-clamp-slipped": "find recordings/clamp-slipped.swr",
    "find-manifold": "find recordings/manifold.swr",
    "find-stop": "find recordings/stop-both-sides.swr --method stop",
    "find-stop-as-fit": "find recordings/stop-both-sides.swr",
    "find-peak": "find recordings/cranked.swr --method peak",
    "find-fixed-loss": "find recordings/cranked.swr --method fixed-loss",
    "find-chords": "find recordings/cranked.swr --method chords",
    "find-polytropic": "find recordings/cranked.swr --method polytropic",
    "find-heat-shape": "find recordings/cranked.swr --method heat-shape",
    "find-rocking": "find recordings/rocked.swr --method rocking",
    "check-cranked": "check recordings/cranked.swr",
    "cam-cranked": "cam recordings/cranked.swr",
    "cam-clearances-set": "cam recordings/cranked.swr --clearances-set",
    "cam-separate": "cam recordings/marks-that-lie.swr --separate-cams",
    "cam-marks-that-lie": "cam recordings/marks-that-lie.swr --clearances-set",
    "cam-other-cam": "cam recordings/cranked.swr --clearances-set --keyway 2"
    " --set 'valve_timing.intake_closes_abdc=30 deg' --set 'valve_timing.exhaust_opens_bbdc=69 deg'"
    ' --set \'cam_drive.keyway_offsets=["0 deg", "4 deg", "-5 deg"]\'',
    "cam-early": "cam recordings/cranked.swr --clearances-set"
    " --set 'valve_timing.intake_closes_abdc=69 deg' --set 'valve_timing.exhaust_opens_bbdc=27 deg'"
    " --set turning_back=never",
    "cam-hand-turned": "cam recordings/hand-turned.swr",
    "marks-cranked": "marks recordings/cranked.swr",
    "marks-that-lie": "marks recordings/marks-that-lie.swr",
    "marks-moved": "marks recordings/marks-that-lie.swr --cam-shift 17,15,19"
    " --earlier 'pulley notch=2.4,2.1,2.7' --set turning_back=never",
    "marks-read-off": "marks recordings/cranked.swr --stated 'cam dot=74.2'"
    " --stated 'pulley notch=95.5'",
    "marks-hand-turned": "marks recordings/hand-turned.swr",
    "valves-four": "valves --engine four.toml",
    "valves-four-gaps": "valves --engine four.toml --after-tdc 95 --done 1E,2I"
    " --gap '1E=0.40 mm, 0.36 mm, 0.35 mm' --gap '3I=0.22 mm' --fitted '3I=2.45 mm'"
    " --gap '4E=0.31 mm, 0.29 mm' --engine-is hot",
    "valves-four-inch": "valves --engine four.toml --after-tdc -40 --blades inch"
    " --gap '2I=0.009 in' --fitted '2I=2.45 mm' --shims '2.30 mm, 2.40 mm'",
    "valves-twin": "valves --engine twin.toml --after-tdc 30",
    "valves-twin-gaps": "valves --engine twin.toml --after-tdc 410 --engine-is cold"
    " --gap '2E=0.011 in' --gap '1I=0.020 in, 0.009 in, 0.008 in' --blades metric",
    "valves-done": "valves --engine twin.toml --done 1E,1I,2I,2E",
    "valves-bare": "valves --engine bare.toml --after-tdc 100",
    "valves-recording": "valves recordings/cranked.swr",
    "valves-undecided": "valves recordings/manifold.swr",
    "drive-four": "drive --engine four.toml",
    "drive-four-lead": "drive --engine four.toml --lead-1 300 --after-tdc -6",
    "drive-four-half-turn": "drive --engine four.toml --found 181",
    "drive-four-tooth-early": "drive --engine four.toml --found 36",
    "drive-four-teeth-late": "drive --engine four.toml --found 288",
    "drive-four-right": "drive --engine four.toml --found 0.4",
    "drive-twin": "drive --engine twin.toml --after-tdc 12 --lead-1 40",
    "drive-twin-late": "drive --engine twin.toml --found 28",
    "drive-twin-half-turn": "drive --engine twin.toml --found 207",
    "drive-bare": "drive --engine bare.toml",
    "drive-bare-away": "drive --engine bare.toml --after-tdc 30",
    "drive-recording": "drive recordings/cranked.swr --engine four.toml",
    "static-four": "static --engine four.toml",
    "static-four-3": "static --engine four.toml --cylinder 3",
    "static-rim": "static --engine four.toml --rim '8.4 mm'",
    "static-teeth": "static --engine four.toml --teeth 3 --cylinder 2",
    "static-travel": "static --engine four.toml --travel '1.2 mm'",
    "static-chord": "static --engine twin.toml --chord '7 mm' --cylinder 2",
    "static-twin": "static --engine twin.toml",
    "static-bare": "static --engine bare.toml --advance '10 deg BTDC'",
    "static-recording": "static recordings/cranked.swr --engine four.toml",
    "static-recording-2": "static recordings/cranked.swr --engine four.toml --cylinder 2"
    " --set turning_back=allowed",
    "static-strobe-mark": "static --engine four.toml --curve 800=0,3000=20 --strobe 700=13"
    " --strobe 3200=33 --mark-late 7,6.7,7.3",
    "static-strobe-open": "static --engine four.toml --curve 800=0,3000=20 --strobe 700=13"
    " --strobe 3200=33",
    "static-strobe-stuck": "static --engine four.toml --curve 800=0,3000=20 --strobe 700=7"
    " --strobe 3200=10",
    "static-strobe-alone": "static --engine four.toml --curve 800=0,3000=20 --strobe 3200=33",
    "compare-three": "compare recordings/cranked.swr recordings/marks-that-lie.swr"
    " recordings/clamp-slipped.swr --cylinders 1,3,2 --throttle-open no --plugs-out yes",
}
"""What is asked, by the name of the answer kept."""


@cache
def _once(file: str, engine: str | None, settings: tuple[str, ...], found_in: Any) -> found.Found:
    args = cli.build_parser().parse_args(
        ["find", file, *(["--engine", engine] if engine else [])]
        + [word for setting in settings for word in ("--set", setting)]
    )
    return found_in(file, args)


def _words(line: str, *more: str) -> list[str]:
    """Return the words of a command line, with profiles by their whole path."""
    return [
        str(SAID / word) if word.endswith(".toml") else word for word in (*shlex.split(line), *more)
    ]


@pytest.fixture
def ask(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """Return what asks a command, and gives back its exit code and all that it says.

    What a recording holds is found once for every command that is asked about it.
    """
    monkeypatch.chdir(ROOT)
    found_in = found.found_in

    def once(file: Any, args: Any) -> found.Found:
        return _once(str(file), args.engine, tuple(args.settings or ()), found_in)

    monkeypatch.setattr(found, "found_in", once)

    def say(line: str, *more: str) -> str:
        code = cli.main(_words(line, *more))
        told = capsys.readouterr()
        return f"exit code {code}\n{told.err}{told.out}".replace(str(SAID), "said")

    return say


@pytest.mark.parametrize("name", ASKED)
def test_words_are_those_kept(name: str, ask: Callable[..., str]) -> None:
    compare(ask(ASKED[name]), (SAID / f"{name}.txt").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", ASKED)
def test_the_answer_for_programs_is_the_one_kept(name: str, ask: Callable[..., str]) -> None:
    kept, _, kept_answer = (SAID / f"{name}.json").read_text(encoding="utf-8").partition("\n{")
    told, _, answer = ask(ASKED[name], "--json").partition("\n{")
    compare(told, kept)
    assert bool(answer) == bool(kept_answer)
    if answer:
        compare_json(json.loads("{" + answer), json.loads("{" + kept_answer), "answer")


def test_every_kept_answer_is_asked_for() -> None:
    assert {file.stem for file in SAID.glob("*.txt")} == set(ASKED)
    assert {file.stem for file in SAID.glob("*.json")} == set(ASKED)


def compare(said: str, kept: str) -> None:
    """Hold a text against a kept one: words alike, line by line, and figures nearly."""
    assert FIGURE.sub("#", said) == FIGURE.sub("#", kept)
    for figure, before in zip(FIGURE.findall(said), FIGURE.findall(kept), strict=True):
        digits = len(before.partition(".")[2])
        one, other = (float(each.replace(",", "")) for each in (figure, before))
        most = LAST_DIGITS * 10.0**-digits if digits else 0.0
        assert abs(one - other) <= most, f"{figure} for {before}, in\n{said}"
        assert figure[0] in "+-" or before[0] not in "+-"


def compare_json(said: Any, kept: Any, where: str) -> None:
    """Hold an answer against a kept one: the same keys, words and truth values; figures nearly."""
    assert type(said) is type(kept), where
    if isinstance(kept, dict):
        assert list(said) == list(kept), where
        for key in kept:
            compare_json(said[key], kept[key], f"{where}.{key}")
    elif isinstance(kept, list):
        assert len(said) == len(kept), where
        for number, (one, other) in enumerate(zip(said, kept, strict=True)):
            compare_json(one, other, f"{where}[{number}]")
    elif isinstance(kept, str):
        compare(said, kept)
    elif isinstance(kept, float):
        assert said == pytest.approx(kept, rel=RELATIVE, abs=RELATIVE), where
    else:
        assert said == kept, where


def _write_all() -> None:
    os.chdir(ROOT)
    for name, line in ASKED.items():
        for suffix, more in ((".txt", ()), (".json", ("--json",))):
            out, err = io.StringIO(), io.StringIO()
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
                code = cli.main(_words(line, *more))
            answer = out.getvalue()
            if more and answer:
                answer = json.dumps(json.loads(answer), indent=1, ensure_ascii=False) + "\n"
            said = f"exit code {code}\n{err.getvalue()}{answer}".replace(str(SAID), "said")
            (SAID / f"{name}{suffix}").write_text(said, encoding="utf-8")


if __name__ == "__main__":
    _write_all()
