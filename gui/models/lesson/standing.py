"""What does the desk show of a class? Who said what, what is so, and how it stands."""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.gui.models.classroom.questions import Question
from strokewise.gui.models.lesson.lesson import ASK_WORDS, LessonItem
from strokewise.gui.models.lesson.session import GroupAnswer, Session

HIDDEN_WORDS = "hidden until it is shown"


def item_words(session: Session, index: int, *, hides: bool) -> str:
    """Return the line of a question in the list; what would answer it only to the trainer."""
    item = session.lesson.items[index]
    done = session.is_done(index)
    sign = "✓" if done else "▸" if index == session.at else " "
    told = f": {item.asked_of}" if done or not hides else ""
    return f"{sign} {index + 1}. {ASK_WORDS[item.kind]}{told}"


def answer_words(
    session: Session, question: Question | None, *, hides: bool
) -> tuple[str, str, str]:
    """Return what is so, why, and the trainer's notes on the question that is on."""
    if question is None:
        return "", "", ""
    item: LessonItem = session.item
    if hides and not session.is_done(session.at):
        return HIDDEN_WORDS, "", ""
    return f"{question.was_so} ({question.scenario})", question.why, item.notes


def said_words(answers: Sequence[GroupAnswer], groups: Sequence[str]) -> str:
    """Return what the groups made of a question, for the headline."""
    right = [each.group for each in answers if each.right]
    if not right:
        return "nobody was right"
    if len(right) == len(groups) > 1:
        return "all were right"
    if len(right) == 1:
        return f"{right[0]} was right"
    return f"{', '.join(right[:-1])} and {right[-1]} were right"


def each_said(answers: Sequence[GroupAnswer]) -> str:
    """Return who said what, for under the headline."""
    said = [f"{each.group} {'✓' if each.right else '✗'} {each.answer}" for each in answers]
    return "; ".join(said) or "Nobody answered"


def score_words(session: Session) -> str:
    """Return how it stands."""
    return ", ".join(f"{group} {right} of {of}" for group, (right, of) in session.scores().items())


def left_words(limit_s: float, passed_s: float) -> str:
    """Return the time that is left to answer; empty where there is no limit."""
    if not limit_s:
        return ""
    left_s = limit_s - passed_s
    if left_s <= 0:
        return "time is up"
    minutes, seconds = divmod(round(left_s), 60)
    return f"{minutes}:{seconds:02} left"
