"""Every sentence, word for word, with facts of which no two are alike: as kept.

A caution that loses its "never", a "later" for "earlier", a fact in the place of another: each
sentence is what somebody with a spanner goes by.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/gui/test_sayings_kept.py
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from itertools import product
from string import Formatter
from typing import Any

import pytest
from suite_kept import held

from strokewise.analysis.remark import Notice, Remark, remark
from strokewise.gui.sayings import as_said, capital, say, say_any, told
from strokewise.gui.sayings.ignition import ROUND_AGAIN
from strokewise.gui.sayings.rig import RATIO_MEANINGS
from strokewise.gui.sayings.spoken import SAYINGS
from strokewise.gui.sayings.steps import CONDITIONS

VALUES: dict[str, tuple[Any, ...]] = {
    "int": (0, 1, 2, 7),
    "int | None": (None, 3),
    "float": (-4.567, 12.345),
    "float | None": (None, 3.456),
    "bool": (False, True),
    "str": ("this", "other"),
    "str | None": (None, "cold", "hot"),
    "tuple[int, ...]": ((1, 3, 4, 2),),
    "tuple[float, ...]": ((12.3, 203.4),),
    "tuple[str, ...]": (("1E",), ("1E", "3I")),
    "tuple[tuple[str, str], ...]": ((("1", "4"), ("2", "3")),),
}
"""What each kind of fact is tried as."""

NAMED: dict[str, tuple[Any, ...]] = {
    "condition": tuple(CONDITIONS),
    "state": ("cold", "hot"),
    "by": (None, *RATIO_MEANINGS),
    "turning_back": tuple(ROUND_AGAIN),
}

MOST = 48
"""Sentences of one code: those with five facts have no more to say."""


def facts_of(code: str) -> Iterator[dict[str, Any]]:
    """Yield the facts that a sentence is tried with."""
    saying = SAYINGS[code]
    if isinstance(saying, str):
        names = {n: spec for _, n, spec, _ in Formatter().parse(saying) if n}
        yield {n: 1234.567 if spec else f"<{n}>" for n, spec in names.items()}
        return
    kinds = inspect.signature(saying).parameters
    values = [NAMED.get(name, VALUES[str(kind.annotation)]) for name, kind in kinds.items()]
    for _, chosen in zip(range(MOST), product(*values), strict=False):
        yield dict(zip(kinds, chosen, strict=True))


def said(code: str) -> list[str]:
    return [say(Remark(code, tuple(facts.items()))) for facts in facts_of(code)]


CASES: dict[str, Callable[[], Any]] = {
    **{code: lambda code=code: said(code) for code in sorted(SAYINGS)},
    "one within another": lambda: [
        say(remark("two-explanations", why=remark("by-your-word", cylinder=3))),
        say_any(None),
        say_any(as_said("x")),
        capital("of it"),
        told((Notice("valves-rock", remark("press-fits-none", cylinder=2)),)),
    ],
}


@pytest.mark.parametrize("name", CASES)
def test_a_sentence_is_the_one_kept(name: str) -> None:
    held(__file__, name, CASES)


def test_every_kept_sentence_is_said() -> None:
    """No fact is left out, and no brace is printed."""
    for code in SAYINGS:
        for text in said(code):
            assert text.strip() == text
            assert "{" not in text
