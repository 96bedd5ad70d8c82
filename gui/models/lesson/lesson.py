"""What has a trainer prepared? A class as one readable file: questions, order, groups, notes."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.scenarios.scenarios import Scenario, scenario
from strokewise.daq.bench.stated_profile import toml_text
from strokewise.gui.models.classroom.causes import (
    CAUSES,
    causes_of,
    reference_of,
    why_no_fault,
)
from strokewise.gui.models.classroom.questions import QuestionKind

ASKS: Mapping[str, QuestionKind] = {"who fires": "firing", "what is wrong": "fault"}
"""How a question is named in the file."""
ASK_WORDS = {kind: words for words, kind in ASKS.items()}
MOVES_THE_ANGLE = ("slip", "counts", "bytes", "order")
"""With these causes no angle of the recording's end names the stroke of an earlier moment."""
TWO_GROUPS = ("Group A", "Group B")
MOST_GROUPS = 12
LESSON_KEYS = ("title", "groups", "seconds", "notes", "questions")
QUESTION_KEYS = (
    "scenario", "recording", "ask", "settings", "seed", "at", "answer", "why", "notes",
)  # fmt: skip
FILE_HEAD = """\
A class: open it with `strokewise class FILE`. Keys of a question:
  scenario = "worn-rings"      of the bench engine (`strokewise simulate --list`), or
  recording = "van.swr"        a recording beside this file
  ask = "who fires"            or "what is wrong"
  settings = { cylinder = "3" }  of the scenario, as with `strokewise simulate --set`
  seed = 7                     the same trace every time; left out, a new one in every session
  at = 2.5                     seconds into the trace; left out, a fair moment is looked for
  answer = "3"                 of a recording: what is so ("rings" and the like for what is wrong)
  why = "..."                  said with the answer, before the reason that is known
  notes = "..."                for the trainer alone"""


@dataclass(frozen=True, slots=True)
class LessonItem:
    """One question of a class.

    Attributes
    ----------
    scenario, recording : str
        What it is asked of; one of them.
    seed : int or None
        None: drawn anew for every session.
    at_s : float or None
        None: a fair moment is looked for.
    answer : str
        Of a recording: what is so, where the trainer states it.
    """

    kind: QuestionKind
    scenario: str = ""
    recording: str = ""
    settings: Mapping[str, str] = field(default_factory=dict)
    seed: int | None = None
    at_s: float | None = None
    answer: str = ""
    why: str = ""
    notes: str = ""

    @property
    def asked_of(self) -> str:
        """The scenario or the recording."""
        return self.scenario or self.recording


@dataclass(frozen=True, slots=True)
class Lesson:
    """A class as it was prepared.

    Attributes
    ----------
    limit_s : float
        To answer one question; 0 for as long as it takes.
    folder : Path
        Where its recordings are looked for.
    """

    title: str
    items: tuple[LessonItem, ...]
    groups: tuple[str, ...] = TWO_GROUPS
    limit_s: float = 0.0
    notes: str = ""
    folder: Path = Path()


def class_text(path: Path) -> str:
    """Read the text of a class's file; a session keeps it as it was.

    Raises
    ------
    InputError
    """
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise InputError(f"{path}: is no text; a class is a TOML file") from None


def lesson_of(text: str, path: Path) -> Lesson:
    """Return the class that a text says; ``path`` names it in errors and holds its recordings.

    Raises
    ------
    InputError
        One line: what is wrong, in which question, and what to do.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path}: {str(error).splitlines()[0]}") from None
    try:
        _known(table, LESSON_KEYS)
        questions = table.get("questions", [])
        if not isinstance(questions, list) or not questions:
            raise InputError("there is no question in it; each begins with [[questions]]")
        items = tuple(_item(i, entry, path.parent) for i, entry in enumerate(questions, start=1))
        return Lesson(
            _text(table, "title") or path.stem,
            items,
            groups_of(table.get("groups", list(TWO_GROUPS))),
            _number(table, "seconds") or 0.0,
            _text(table, "notes"),
            path.parent,
        )
    except InputError as error:
        raise InputError(f"{path}: {error}") from None


def groups_of(names: Sequence[str]) -> tuple[str, ...]:
    """Return the names of groups or pupils.

    Raises
    ------
    InputError
        None, too many, or two of one name.
    """
    if not isinstance(names, list | tuple) or not all(isinstance(name, str) for name in names):
        raise InputError('groups must be names, like groups = ["Anna", "Ben"]')
    found = tuple(name.strip() for name in names if name.strip())
    if not 0 < len(found) <= MOST_GROUPS:
        raise InputError(f"{len(found)} groups; there can be 1 to {MOST_GROUPS}")
    if len(set(found)) < len(found):
        raise InputError("two groups have one name; give each its own")
    return found


def _item(number: int, table: Any, folder: Path) -> LessonItem:
    try:
        if not isinstance(table, dict):
            raise InputError("is no table; begin it with [[questions]]")
        _known(table, QUESTION_KEYS)
        ask = _text(table, "ask") or "who fires"
        if ask not in ASKS:
            raise InputError(f'ask = "{ask}" must be "who fires" or "what is wrong"')
        item = LessonItem(
            ASKS[ask],
            _text(table, "scenario"),
            _text(table, "recording"),
            _settings(table),
            _seed(table),
            _number(table, "at"),
            str(table.get("answer", "")),
            _text(table, "why"),
            _text(table, "notes"),
        )
        check_item(item, folder)
    except InputError as error:
        raise InputError(f"question {number}: {error}") from None
    return item


def check_item(item: LessonItem, folder: Path) -> None:
    """Check that a question can be asked.

    Raises
    ------
    InputError
    """
    if bool(item.scenario) == bool(item.recording):
        raise InputError("name either a scenario or a recording")
    if item.recording:
        _check_recording(item, folder)
        return
    if item.answer:
        raise InputError("answer is for a recording: that of a scenario is known from its engine")
    named = scenario(item.scenario)
    causes = _causes(named, item.settings)
    if item.kind == "fault" and (refused := why_no_fault(named)):
        raise InputError(f"{item.scenario}: {refused[:1].lower()}{refused[1:]}")
    if item.kind == "firing" and (moved := [c for c in causes if c in MOVES_THE_ANGLE]):
        raise InputError(
            f"{item.scenario}: who fires cannot be asked where {CAUSES[moved[0]].words}; "
            'ask = "what is wrong"'
        )


def _causes(named: Scenario, settings: Mapping[str, str]) -> tuple[str, ...]:
    found = causes_of(named.build(settings), reference_of(named), named)
    return tuple(cause.key for cause in found)


def _check_recording(item: LessonItem, folder: Path) -> None:
    if not (folder / item.recording).is_file():
        raise InputError(f"there is no recording {folder / item.recording}")
    if item.settings or item.seed is not None:
        raise InputError("settings and seed are for a scenario, not for a recording")
    if item.kind == "fault" and item.answer not in CAUSES:
        known = ", ".join(CAUSES)
        near = difflib.get_close_matches(item.answer, CAUSES, 1)
        hint = f"did you mean {near[0]}? " if near else ""
        raise InputError(f'answer = "{item.answer}" must say what is wrong: {hint}one of {known}')


def _known(table: Mapping[str, Any], keys: Sequence[str]) -> None:
    for key in table:
        if key not in keys:
            near = difflib.get_close_matches(key, keys, 1)
            hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(keys)}"
            raise InputError(f"there is nothing called {key}; {hint}")


def _text(table: Mapping[str, Any], key: str) -> str:
    value = table.get(key, "")
    if not isinstance(value, str):
        raise InputError(f'{key} must be a text, like {key} = "..."')
    return value.strip()


def _number(table: Mapping[str, Any], key: str) -> float | None:
    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e6:
        raise InputError(f"{key} must be a number of seconds, like {key} = 90")
    return float(value)


def _seed(table: Mapping[str, Any]) -> int | None:
    value = table.get("seed")
    if value is not None and (isinstance(value, bool) or not isinstance(value, int) or value < 0):
        raise InputError("seed must be a whole number from 0, like seed = 7")
    return value


def _settings(table: Mapping[str, Any]) -> dict[str, str]:
    value = table.get("settings", {})
    if not isinstance(value, dict):
        raise InputError('settings must be a table, like settings = { cylinder = "3" }')
    return {key: str(each) for key, each in value.items()}


def lesson_text(lesson: Lesson) -> str:
    """Return the file of a class."""
    table: dict[str, Any] = {"title": lesson.title, "groups": list(lesson.groups)}
    table["seconds"] = lesson.limit_s
    if lesson.notes:
        table["notes"] = lesson.notes
    questions = []
    for item in lesson.items:
        entry: dict[str, Any] = {"scenario": item.scenario, "recording": item.recording}
        entry |= {"ask": ASK_WORDS[item.kind], "settings": dict(item.settings)}
        entry |= {"seed": item.seed, "at": item.at_s}
        entry |= {"answer": item.answer, "why": item.why, "notes": item.notes}
        questions.append(
            {key: value for key, value in entry.items() if value not in ("", None, {})}
        )
    return toml_text({**table, "questions": questions}, FILE_HEAD)
