"""How does a question stand in the window? All that would answer it is hidden, until it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer

from strokewise.analysis.errors import InputError
from strokewise.gui.models.figures.views import OF_PASSES
from strokewise.gui.models.keys import KEYS
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.sentence import Sentence, hidden
from strokewise.gui.sayings.saying import capital

if TYPE_CHECKING:
    from strokewise.gui.models.classroom.questions import Question, QuestionKind
    from strokewise.gui.window.page_controllers import Rooms
    from strokewise.gui.window.workbench import Workbench

MOMENT_MS, MOMENTS_WAITED = 40, 25
"""A second in all: the starter has gone on by then, and a crank that stands will not."""
Answers = Sequence[tuple[str, Callable[[], None] | None]]
KEPT_FROM_CLASS = frozenset(
    {
        *(key.action for key in KEYS if key.group in ("replay", "places", "turning")),
        "show_steps",
        "show_job",
        "previous_part",
        "keep_answer",
        "previous_step",
        "open_overlay",
        "toggle_healthy",
        "toggle_recording",
        "press_mark",
        "next_mark",
        "keep_trace",
        "print_worksheet",
        "print_answers",
        "save_worksheet",
    }
    - {"show_cautions"}
)
"""Actions that would move on from the moment, or answer the question."""


class Questioning:
    """The question that stands, or the moment that is held with its answer."""

    def __init__(self, window: Workbench, rooms: Rooms) -> None:
        self.window, self._rooms = window, rooms
        self.answered_question: tuple[Question, str] | None = None
        """The last question with what the class made of it, while its moment is held."""

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
            return hidden(question.words)
        if self.answered_question is not None:
            from strokewise.gui.models.classroom.questions import answered_sentence

            return answered_sentence(*self.answered_question)
        return snapshot.sentence()

    def ask(self, kind: QuestionKind, again: int = MOMENTS_WAITED) -> None:
        """Hide the verdict and ask; asked again, let the class go on.

        Parameters
        ----------
        again : int
            So many moments more are waited for a fair one, while the engine turns.
        """
        from strokewise.gui.models.classroom.questions import UnfairMomentError

        window = self.window
        if self.stands is not None or self.answered_question is not None:
            self.go_on()
            return
        try:
            question = self._rooms.classroom.ask(kind, window.run.snapshot)
        except InputError as error:
            if isinstance(error, UnfairMomentError) and window.live is not None and again:
                QTimer.singleShot(MOMENT_MS, window, partial(self.ask, kind, again - 1))
                return
            window.say(capital(str(error)))
            return
        self.show(question)

    def show(
        self, question: Question, who: str = "The class", take: Callable[[str], None] | None = None
    ) -> None:
        """Show the question with its answers; whatever else lay over the window is gone.

        Parameters
        ----------
        who : str
            Who is to answer.
        take : callable, optional
            Called with the answer, in the place of :meth:`answered`.
        """
        window = self.window
        window.panel.dismiss()
        window.bar.clear()
        window.show_view("chart")
        self.answered_question = None
        window.chart_page.guide.hide()  # nobody turns anything: the picture has its room
        bar, take = window.question_bar, take or self.answered
        # The sentence above asks already.
        if question.kind == "fault":
            bar.ask(f"{who} says:", window.colours, ())
            self._offer(question, take)
        else:
            answers = [(choice, partial(take, choice)) for choice in question.choices]
            bar.ask(f"{who} says cylinder:", window.colours, answers)
        window.redraw()

    def _offer(self, question: Question, take: Callable[[str], None]) -> None:
        """Offer answers of many words beside the picture."""
        window = self.window
        window.answers.offer(question.choices, question.given, window.colours, take)

    def take_keyboard(self) -> None:
        """Give the keyboard to the answers of the question that stands."""
        self.window.answers.take_keyboard()
        self.window.question_bar.take_keyboard()

    def answered(self, text: str) -> None:
        """Take the class's answer in, and show the moment with its verdict until told to go on."""
        question = self.stands
        given = self._rooms.classroom.answer(text)
        if question is None or given is None:
            return
        self.hold(
            question,
            "right" if given.right else f"the class said {given.answer}",
            f"Right: {given.truth}."
            if given.right
            else f"Not right: the class said {given.answer}. The answer: {given.truth}.",
            (("Go on", self.go_on),),
        )

    def hold(self, question: Question, said: str, words: str, answers: Answers) -> None:
        """Hold a moment with its answer.

        Parameters
        ----------
        said : str
            What the class made of it, for the headline.
        words, answers
            What the bar says, and its buttons.
        """
        self._rooms.classroom.question = None
        self.answered_question = question, said
        self.window.answers.clear()
        self.window.show_view(self.window.view)  # the headline has its room again
        if question.view != self.window.view or _has_healthy(question):
            answers_too = (*answers, ("Show it", partial(self._show_why, words, answers)))
        else:
            answers_too = tuple(answers)  # it is shown
        self.window.question_bar.ask(words, self.window.colours, answers_too)
        self._rooms.fill_class()
        self.window.redraw()

    def _show_why(self, words: str, answers: Answers) -> None:
        """Show the view in which the reason is seen; the moment stays held."""
        if self.answered_question is None:
            return
        question, _ = self.answered_question
        self.window.show_view(question.view)
        if _has_healthy(question):
            self.window.actions_.lay_healthy()
        self.window.question_bar.ask(words, self.window.colours, answers)

    def wait(self, words: str) -> None:
        """Let the moment stand as it does, hidden or held, until the next question comes."""
        self.window.answers.clear()
        self.window.question_bar.ask(words, self.window.colours, ())

    def go_on(self) -> None:
        """Follow the run again."""
        if self._rooms.has_classroom:
            self._rooms.classroom.question = None
        self.answered_question = None
        self.window.laid = self.window.laid.without_healthy()  # it was laid behind that moment
        self.window.answers.clear()
        self.window.chart_page.guide.show()
        self.window.question_bar.clear()
        self.window.show_view(self.window.view)
        self.window.redraw()

    def refuses(self, action: str) -> bool:
        """Tell, and say, where an action would move on from the moment or answer the question."""
        if self.stands is None or action not in KEPT_FROM_CLASS:
            return False
        self.window.say("A question stands: answer it first, or Q lets it go unanswered")
        return True


def _has_healthy(question: Question) -> bool:
    """Tell whether the reason is seen beside a healthy trace."""
    return question.kind == "fault" and question.view in OF_PASSES
