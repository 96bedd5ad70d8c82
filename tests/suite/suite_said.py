"""Is what a command says what was kept: the same words, and nearly the same figures?

Kept answers lie in ``tests/gui/commands/said``; who changes what is said writes them anew and reads
the difference as a mechanic would.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import shlex
from collections.abc import Mapping
from functools import cache
from typing import Any

import pytest
from suite_imports import ROOT

SAID = ROOT / "tests" / "gui" / "commands" / "said"

FIGURE = re.compile(r"[-+]?\d[\d,]*(?:\.\d+)?")

LAST_DIGITS = 2.0
RELATIVE, ABSOLUTE = 1e-4, 3e-3
"""How far a figure may be off: units of its last digit; of an unrounded one this share, or this.
Fits differ so much between machines."""


def asked(line: str, *more: str) -> str:
    """Return a command's exit code and all that it says; profiles are those beside the answers."""
    from strokewise.gui import cli

    words = [
        str(SAID / word) if word.endswith(".toml") else word for word in (*shlex.split(line), *more)
    ]
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(ROOT), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = cli.main(words)
    return f"exit code {code}\n{err.getvalue()}{out.getvalue()}".replace(str(SAID), "said")


def found_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Find what a recording holds once for every command that is asked about it."""
    from strokewise.gui import found

    found_in = found.found_in

    def once(file: Any, said: Any, **how: str) -> Any:
        given = tuple(how.items())
        return _found(found_in, str(file), said.engine, tuple(said.settings or ()), given)

    monkeypatch.setattr(found, "found_in", once)


@cache
def _found(
    found_in: Any,
    file: str,
    engine: str | None,
    settings: tuple[str, ...],
    how: tuple[tuple[str, str], ...],
) -> Any:
    from strokewise.gui.options import SaidOfEngine

    return found_in(file, SaidOfEngine(engine, settings), **dict(how))


def hold(name: str, line: str) -> None:
    """Hold the words of a command, and its answer for programs, against the kept ones."""
    compare(asked(line), _read(f"{name}.txt"))
    told, _, answer = asked(line, "--json").partition("\n{")
    kept, _, kept_answer = _read(f"{name}.json").partition("\n{")
    compare(told, kept)
    assert bool(answer) == bool(kept_answer)
    if answer:
        compare_json(json.loads("{" + answer), json.loads("{" + kept_answer), "answer")


def compare(said: str, kept: str) -> None:
    """Hold a text against a kept one: words alike, line by line, and figures nearly."""
    assert FIGURE.sub("#", said) == FIGURE.sub("#", kept)
    for figure, before in zip(FIGURE.findall(said), FIGURE.findall(kept), strict=True):
        digits = len(before.partition(".")[2])
        one, other = (float(each.replace(",", "")) for each in (figure, before))
        most = LAST_DIGITS * 10.0**-digits if digits else 0.0
        assert abs(one - other) <= most * 1.001, f"{figure} for {before}, in\n{said}"
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
        assert said == pytest.approx(kept, rel=RELATIVE, abs=ABSOLUTE), where
    else:
        assert said == kept, where


def keep(lines: Mapping[str, str]) -> None:
    """Write the kept answers anew."""
    for name, line in lines.items():
        (SAID / f"{name}.txt").write_text(asked(line), encoding="utf-8")
        told, brace, answer = asked(line, "--json").partition("\n{")
        if answer:
            answer = json.dumps(json.loads("{" + answer), indent=1, ensure_ascii=False)[1:] + "\n"
        (SAID / f"{name}.json").write_text(told + brace + answer, encoding="utf-8")


def _read(name: str) -> str:
    return (SAID / name).read_text(encoding="utf-8")
