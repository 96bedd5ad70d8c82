"""What does each step from TDC to a set engine say about what was seen? The commands, without one.

For Python and for views: what was found once is asked about as often as wanted, with the options
of the command line.
"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import InputError, StrokewiseError
from strokewise.gui.cli import build_parser
from strokewise.gui.found import Found, found_in
from strokewise.gui.standing import standing_of

MEASURED = ("marks", "cam")
"""Steps that measure on the recording; the others need only know where the crank stands."""

STEPS = (*MEASURED, "valves", "drive", "static")


@dataclass(frozen=True, slots=True)
class Step:
    """What a step says.

    Attributes
    ----------
    words : str
        All that the command prints; one line of what is missing where it cannot be asked.
    answer : dict or None
        What it prints with ``--json``; None where it cannot be asked.
    """

    name: str
    words: str
    answer: dict[str, Any] | None

    @property
    def decided(self) -> bool:
        """Whether there is an answer to act on."""
        return self.answer is not None and self.answer["decided"] is True


def seen_in(
    file: str | Path, *, engine: str | Path | None = None, settings: Sequence[str] = ()
) -> Found:
    """Read a recording and find its TDC, with a profile and ``KEY=VALUE`` as on the command line.

    Raises
    ------
    StrokewiseError
        For a file or a profile that cannot be used.
    """
    said = Namespace(engine=None if engine is None else str(engine), settings=list(settings))
    return found_in(file, said)


def step(name: str, seen: Found, options: Sequence[str] = ()) -> Step:
    """Return what one of ``STEPS`` says.

    Parameters
    ----------
    options : sequence of str
        As on the command line: ``("--done", "1E,2I")``. Those about the engine have no say here:
        ``seen`` has its profile already.

    Raises
    ------
    InputError
        For a name that is none of ``STEPS``.
    """
    if name not in STEPS:
        raise InputError(f'"{name}" is no step; there are {", ".join(STEPS)}')
    args = _typed((name, str(seen.file), *options))
    command = import_module(f"strokewise.gui.commands.{name}")
    said = import_module(f"strokewise.gui.pages.{name}_words")
    try:
        about = seen if name in MEASURED else standing_of(seen, _after_tdc(args.__dict__))
        answer = command.answer_for(about, args)
    except StrokewiseError as error:
        return Step(name, str(error), None)
    words = getattr(said, f"{name}_words")(answer)
    return Step(name, words, getattr(said, f"{name}_answer")(answer))


def compared(files: Sequence[str | Path], options: Sequence[str] = ()) -> Step:
    """Return what ``strokewise compare`` says of recordings, one for each cylinder.

    Parameters
    ----------
    options : sequence of str
        As on the command line: ``("--throttle-open", "yes")``.
    """
    from strokewise.gui.commands.compare import answer_for
    from strokewise.gui.pages.compare_words import compare_answer, compare_words

    args = _typed(("compare", *map(str, files), *options))
    try:
        answer = answer_for(args)
    except (StrokewiseError, OSError) as error:
        return Step("compare", str(error), None)
    return Step("compare", compare_words(answer), compare_answer(answer))


@lru_cache(maxsize=32)
def _typed(words: tuple[str, ...]) -> Namespace:
    """Return a command line as its command reads it: a view asks the same many times."""
    return build_parser().parse_args(words)


def _after_tdc(options: dict[str, Any]) -> float | None:
    from strokewise.gui.typed import number

    typed = options.get("after_tdc")
    return None if typed is None else number("--after-tdc", typed)
