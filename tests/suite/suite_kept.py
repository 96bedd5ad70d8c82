"""Are the figures still those that were kept? And where, between two ends, does an answer turn?

A file of tests names its cases; what they come to lies beside it in `figures/`, in a file of the
same name. Whoever changes on purpose what they come to writes them anew,

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/stroke

for a folder or a file, and says why each that moved is better now.
"""

from __future__ import annotations

import importlib.util
import json
import math
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.errors import NotStatedError
from strokewise.analysis.remark import Notice, Remark
from strokewise.gui.sayings import say

Cases = Mapping[str, Callable[[], Any]]

RELATIVE, ABSOLUTE = 1e-6, 1e-9
"""Another machine sums in another order, which shows in the eighth digit at the earliest."""

DIGITS = 8

SHOWN = 16
"""Of a longer row, every so many-th is kept, with its mean and its spread."""

HALVINGS = 36
"""Of the way between two ends: down to rounding."""

CASES = "CASES"
"""Name under which a file of tests has its cases, by what each looks at."""


def held(file: str, name: str, cases: Cases, *, relative: float = RELATIVE) -> None:
    """Hold what a case of a file of tests comes to against what was kept."""
    kept = json.loads(_place(file).read_text(encoding="utf-8"))
    other = kept.keys() ^ cases.keys()
    assert not other, f"kept or asked alone, see tests/suite/suite_kept.py: {other}"
    compare(json.loads(json.dumps(plain(cases[name]()))), kept[name], name, relative)


def sweep(answer: Callable[[Any], Any], values: Iterable[Any]) -> list[Any]:
    """Return where an answer becomes another along some values: [value, answer] of each stretch."""
    found: list[Any] = []
    for value in values:
        now = plain(answer(value))
        if not found or found[-1][1] != now:
            found.append([plain(value), now])
    return found


def error_of(call: Callable[[], Any]) -> str:
    """Return the kind and the text of the error that a call ends with, and what is not stated."""
    with pytest.raises(Exception) as caught:  # noqa: PT011 its text is held against the kept one
        call()
    lacks = f" [{', '.join(caught.value.keys)}]" if isinstance(caught.value, NotStatedError) else ""
    return f"{type(caught.value).__name__}: {caught.value}{lacks}"


def turns_at(holds: Callable[[float], Any], low: float, high: float) -> float:
    """Return where, between two ends at which they differ, an answer turns into another."""
    first, last = holds(low), holds(high)
    assert first != last, f"{first!r} at both ends"
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if holds(middle) == first:
            low = middle
        else:
            high = middle
    return high


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it, figures to eight digits; remarks as they are said."""
    if isinstance(value, Remark):
        return say(value)
    if isinstance(value, Notice):
        return {"code": value.code, "text": say(value.remark)}
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, np.ndarray):
        return _row(value)
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    if isinstance(value, set | frozenset):
        return sorted(plain(each) for each in value)
    if isinstance(value, Enum):
        return value.name
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else str(value)
    return value


def _row(value: np.ndarray[Any, Any]) -> Any:
    flat = value.ravel()
    if flat.size <= SHOWN:
        return [plain(each) for each in flat]
    if flat.dtype == bool:
        return [list(value.shape), "true at", [int(at) for at in np.flatnonzero(flat)[:SHOWN]]]
    some = flat[:: -(-flat.size // SHOWN)]
    seen = flat[np.isfinite(flat)].astype(float)
    whole = [seen.size, float(seen.mean()), float(seen.std())] if seen.size else [0]
    return [list(value.shape), plain(whole), [plain(each) for each in some]]


def compare(now: Any, kept: Any, where: str, relative: float = RELATIVE) -> None:
    """Hold figures against kept ones, and say which is another."""
    if isinstance(kept, dict):
        assert isinstance(now, dict), where
        assert now.keys() == kept.keys(), where
        for key in kept:
            compare(now[key], kept[key], f"{where} · {key}", relative)
    elif isinstance(kept, list):
        assert isinstance(now, list), where
        assert len(now) == len(kept), f"{where}: {now} for {kept}"
        for number, (one, other) in enumerate(zip(now, kept, strict=True)):
            compare(one, other, f"{where}[{number}]", relative)
    elif isinstance(kept, float):
        assert now == pytest.approx(kept, rel=relative, abs=ABSOLUTE), where
    else:
        assert now == kept, where


def _place(file: str) -> Path:
    return Path(file).parent / "figures" / f"{Path(file).stem.removeprefix('test_')}.json"


def write(file: Path) -> None:
    """Keep what the cases of a file of tests come to now."""
    spec = importlib.util.spec_from_file_location(file.stem, file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[file.stem] = module
    spec.loader.exec_module(module)
    cases: Cases | None = getattr(module, CASES, None)
    if cases is not None:
        place = _place(str(file))
        place.parent.mkdir(exist_ok=True)
        said = {name: plain(case()) for name, case in cases.items()}
        text = "{\n" + ",\n".join(f"{json.dumps(n)}: {_lines(v)}" for n, v in said.items()) + "\n}"
        place.write_text(text + "\n", encoding="utf-8")


def _lines(value: Any, deep: int = 1) -> str:
    """Return JSON with a line for whatever fits on one."""
    text = json.dumps(value, ensure_ascii=False)
    indent = " " * deep
    if len(text) <= 90 or not isinstance(value, dict | list):
        return text
    inner = f",\n{indent}"
    if isinstance(value, dict):
        parts = [f"{json.dumps(k)}: {_lines(v, deep + 1)}" for k, v in value.items()]
        return "{\n" + indent + inner.join(parts) + "\n" + indent[1:] + "}"
    parts = [_lines(v, deep + 1) for v in value]
    return "[\n" + indent + inner.join(parts) + "\n" + indent[1:] + "]"


if __name__ == "__main__":
    for name in sys.argv[1:]:
        path = Path(name)
        for each in sorted(path.rglob("test_*.py")) if path.is_dir() else [path]:
            if f"\n{CASES}" in each.read_text(encoding="utf-8"):
                write(each)
