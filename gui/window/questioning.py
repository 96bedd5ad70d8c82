"""How does a question stand in the window? All that would answer it is hidden, until it is."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from strokewise.analysis.errors import InputError
from strokewise.gui.models.keys import KEYS
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.sentence import Sentence, hidden

if TYPE_CHECKING:
    from strokewise.gui.models.classroom.questions import Question, QuestionKind
    from strokewise.gui.window.page_controllers import Rooms
    from strokewise.gui.window.workbench import Workbench

MOST_BUTTONS = 13
"""Twelve cylinders and "none" are the most answers that fit into a bar."""
KEPT_FROM_CLASS = frozenset(
    {
        *(key.action for key in KEYS if key.group in ("replay", "turning")),
        "show_steps",
        "previous_step",
        "open_overlay",
        "toggle_recording",
        "press_mark",
        "next_mark",
        "keep_trace",
    }
    - {"show_cautions"}
)
"""Actions that would move on from the moment, or answer the question."""


class Questioning:
    """The question that stands, or the moment that is held with its answer."""

    def __init__(self, window: Workbench, rooms: Rooms) -> None:
        self.window, self._rooms = window, rooms
        self.answered_question: tuple[Question, str] | None = None
        """The last question with its answer, while its moment is held."""

    @property
    def stands(self) -> Question | None:
        """The question that is still to be answered."""
        return self._rooms.classroom.question if self._rooms.has_classroom else None

    def moment(self, snapshot: Snapshot) -> Snapshot:
        """Return what may be drawn: while a question is open, the frozen moment, masked."""
        if (question := self.stands) is not None:
            from strokewise.gui.models.classroom.questions import masked

            return masked(question.moment, question.kind)
        if self.answered_question is not None:
            from strokewise.gui.models.classroom.questions import held

            return held(self.answered_question[0].moment)
        return snapshot

    def sentence(self, snapshot: Snapshot) -> Sentence:
        """Return the sentence that may be read."""
        if (question := self.stands) is not None:
            return hidden(question.words, question.given)
        if self.answered_question is not None:
            from strokewise.gui.models.classroom.questions import answered_sentence

            return answered_sentence(*self.answered_question)
        return snapshot.sentence()

    def ask(self, kind: QuestionKind) -> None:
        """Hide the verdict and ask; asked again, let the class go on."""
        if self.stands is not None or self.answered_question is not None:
            self.go_on()
            return
        try:
            question = self._rooms.classroom.ask(kind, self.window.run.snapshot)
        except InputError as error:
            self.window.say(str(error)[:1].upper() + str(error)[1:])
            return
        self.show(question)

    def show(self, question: Question) -> None:
        """Show the question with its answers; whatever else lay over the window is gone."""
        window = self.window
        window.panel.dismiss()
        window.bar.clear()
        window.show_view("chart")
        bar = window.question_bar
        # The sentence above asks already.
        if len(question.choices) > MOST_BUTTONS or question.kind == "fault":
            bar.ask_choice("The class says:", window.colours, question.choices, self.answered)
        else:
            answers = [(choice, partial(self.answered, choice)) for choice in question.choices]
            bar.ask("The class says cylinder:", window.colours, answers)
        window.redraw()

    def answered(self, text: str) -> None:
        """Take the class's answer in, and show the moment with its verdict until told to go on."""
        question = self.stands
        given = self._rooms.classroom.answer(text)
        if question is None or given is None:
            return
        window = self.window
        self.answered_question = question, given.answer
        words = "Right" if given.right else "Not right"
        window.question_bar.ask(
            f"{words}: the class said {given.answer}; it is {given.truth}.",
            window.colours,
            (("Go on", self.go_on), ("Show it", self.show_why)),
        )
        self._rooms.fill_class()
        window.redraw()

    def show_why(self) -> None:
        """Show the view in which the reason is seen; the moment stays held."""
        if self.answered_question is None:
            return
        question, answer = self.answered_question
        self.window.show_view(question.view)
        words = "Right" if answer in question.truths else "Not right"
        self.window.question_bar.ask(
            f"{words}: {question.truth}.", self.window.colours, (("Go on", self.go_on),)
        )

    def go_on(self) -> None:
        """Follow the run again."""
        if self._rooms.has_classroom:
            self._rooms.classroom.question = None
        self.answered_question = None
        self.window.question_bar.clear()
        self.window.redraw()

    def refuses(self, action: str) -> bool:
        """Tell, and say, where an action would move on from the moment or answer the question."""
        if self.stands is None or action not in KEPT_FROM_CLASS:
            return False
        self.window.say("A question stands: answer it first, or Q lets it go unanswered")
        return True
