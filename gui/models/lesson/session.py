"""What has a class answered so far, and where does it go on? Kept so that nothing is lost.

Every event is a line of its own at the end of the file, on the disk before the window goes on. A
power cut can tear the last line alone, and that one is left out when the session is read again.
"""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from strokewise.analysis.errors import InputError
from strokewise.gui.models.classroom.questions import Question
from strokewise.gui.models.lesson.lesson import Lesson, LessonItem, lesson_of

SESSION_SUFFIX = ".session"
MOST_SEED = 2**31


@dataclass(frozen=True, slots=True)
class GroupAnswer:
    """What one group said to one question.

    Attributes
    ----------
    number : int
        Of the question, from 1.
    took_s : float
        From the question to the answer.
    """

    number: int
    group: str
    answer: str
    truth: str
    right: bool
    asked_of: str
    words: str
    seed: int
    took_s: float
    when: str


@dataclass(slots=True)
class Session:
    """A class under way.

    Parameters
    ----------
    path : Path or None
        Where it is kept; None keeps nothing.
    text : str
        The class's file as it was when the session began: what counts, whatever becomes of it.
    seed : int
        Every question's own comes of it: another session has other traces.
    """

    lesson: Lesson
    groups: tuple[str, ...]
    seed: int
    path: Path | None = None
    text: str = ""
    now: Callable[[], datetime] = datetime.now
    at: int = 0
    given: list[GroupAnswer] = field(default_factory=list)
    revealed: set[int] = field(default_factory=set)

    @property
    def item(self) -> LessonItem:
        """The question that is on."""
        return self.lesson.items[self.at]

    @property
    def count(self) -> int:
        """How many questions there are."""
        return len(self.lesson.items)

    @property
    def ended(self) -> bool:
        """Whether every question has been answered by every group, or shown."""
        return all(self.is_done(i) for i in range(self.count))

    def is_done(self, index: int) -> bool:
        """Tell whether a question's answer may be seen."""
        return index in self.revealed or not self.waiting(index)

    def waiting(self, index: int | None = None) -> tuple[str, ...]:
        """Return the groups that have not answered a question."""
        number = (self.at if index is None else index) + 1
        said = {each.group for each in self.given if each.number == number}
        return tuple(group for group in self.groups if group not in said)

    def answers(self, index: int | None = None) -> tuple[GroupAnswer, ...]:
        """Return what was said to a question."""
        number = (self.at if index is None else index) + 1
        return tuple(each for each in self.given if each.number == number)

    def seed_of(self, index: int) -> int:
        """Return the seed of a question: no two questions, and no two sessions, share one."""
        own = self.lesson.items[index].seed
        if own is not None:
            return own
        drawn = np.random.SeedSequence((self.seed, index)).generate_state(1, np.uint64)
        return int(drawn[0])

    def give(self, group: str, answer: str, question: Question, took_s: float) -> GroupAnswer:
        """Keep what a group said to the question that is on.

        Raises
        ------
        InputError
            For a group that is none, or has answered.
        """
        if group not in self.waiting():
            raise InputError(f"{group} has no answer to give here")
        said = GroupAnswer(
            self.at + 1,
            group,
            answer,
            question.truth,
            answer in question.truths,
            question.scenario,
            question.words,
            self.seed_of(self.at),
            round(took_s, 1),
            self.now().isoformat(timespec="seconds"),
        )
        self.given.append(said)
        self._write({"given": asdict(said)})
        return said

    def take_back(self) -> GroupAnswer | None:
        """Take the last answer to this question back; None where there is none or it was shown."""
        if self.at in self.revealed or not self.answers():
            return None
        last = self.answers()[-1]
        self.given.remove(last)
        self._write({"taken_back": [last.number, last.group]})
        return last

    def reveal(self) -> None:
        """Show the answer, whoever has not answered."""
        if self.at not in self.revealed:
            self.revealed.add(self.at)
            self._write({"revealed": self.at + 1})

    def go_to(self, index: int) -> None:
        """Go to a question."""
        self.at = min(max(index, 0), self.count - 1)
        self._write({"at": self.at + 1})

    def scores(self) -> dict[str, tuple[int, int]]:
        """Return how many each group had right, and of how many, of those that were shown."""
        shown = [each for each in self.given if self.is_done(each.number - 1)]
        return {
            group: (
                sum(each.right for each in shown if each.group == group),
                sum(self.is_done(i) for i in range(self.count)),
            )
            for group in self.groups
        }

    def csv(self) -> str:
        """Return everything that was answered as a table, and the scores under it."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(
            ["when", "question", "asked of", "seed", "words", "group", "answer", "right answer",
             "right", "seconds"]
        )  # fmt: skip
        for each in sorted(self.given, key=lambda given: given.number):
            right = "yes" if each.right else "no"
            writer.writerow(
                [each.when, each.number, each.asked_of, each.seed, each.words, each.group,
                 each.answer, each.truth, right, f"{each.took_s:g}"]
            )  # fmt: skip
        return out.getvalue()

    def _write(self, event: dict[str, Any]) -> None:
        if self.path is None:
            return
        with self.path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(event, ensure_ascii=False) + "\n")
            file.flush()
            os.fsync(file.fileno())


def begin(
    lesson: Lesson,
    text: str,
    path: Path | None,
    *,
    seed: int | None = None,
    now: Callable[[], datetime] = datetime.now,
) -> Session:
    """Begin a session; the class itself is kept in its file, whatever becomes of the other.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    drawn = int(np.random.default_rng().integers(MOST_SEED)) if seed is None else seed
    session = Session(lesson, lesson.groups, drawn, path, text, now)
    if path is not None:
        path.unlink(missing_ok=True)
    session._write({"class": text, "groups": list(lesson.groups), "seed": drawn})
    return session


def resume(path: Path, *, now: Callable[[], datetime] = datetime.now) -> Session:
    """Go on with a session where it was interrupted.

    Raises
    ------
    InputError
        The file is none of a session.
    """
    events = _events(path)
    try:
        head = events[0]
        lesson = lesson_of(head["class"], path)
        session = Session(
            lesson, tuple(head["groups"]), int(head["seed"]), None, head["class"], now
        )
        for event in events[1:]:
            _follow(session, event)
    except (AttributeError, IndexError, KeyError, TypeError, ValueError) as error:
        raise InputError(
            f"{path}: is no session that can be resumed ({type(error).__name__}); "
            "move it away to begin anew"
        ) from None
    _cut_torn_end(path)
    session.path = path
    return session


def _events(path: Path) -> list[dict[str, Any]]:
    try:
        lines = path.read_bytes().split(b"\n")
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from None
    events: list[dict[str, Any]] = []
    for line in lines[:-1]:  # what stands after the last end of a line was torn
        try:
            events.append(json.loads(line))
        except ValueError:
            raise InputError(f"{path}: line {len(events) + 1} is damaged; move it away") from None
    return events


def _cut_torn_end(path: Path) -> None:
    """Cut what a power cut left of a line: the next one must begin on its own."""
    whole = path.read_bytes()
    end = whole.rfind(b"\n") + 1
    if end < len(whole):
        with path.open("r+b") as file:
            file.truncate(end)


def _follow(session: Session, event: dict[str, Any]) -> None:
    if "given" in event:
        session.given.append(GroupAnswer(**event["given"]))
    elif "taken_back" in event:
        number, group = event["taken_back"]
        session.given = [
            each for each in session.given if (each.number, each.group) != (number, group)
        ]
    elif "revealed" in event:
        session.revealed.add(int(event["revealed"]) - 1)
    elif "at" in event:
        session.at = min(max(int(event["at"]) - 1, 0), session.count - 1)
