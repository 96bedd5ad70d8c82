"""How is a step asked without the picture waiting? In a thread of its own, one question at a time.

Where an answer takes long the next question rests the longer, so that a page that follows the crank
leaves the machine to the verdict and the picture.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.judging import CLOSING_S, REST_FACTOR, REST_LEAST_S
from strokewise.gui.steps import Said


@dataclass(frozen=True, slots=True)
class Unanswered:
    """Why a step has no answer: one line of what is missing or cannot be used."""

    words: str


Answered = Said | Unanswered


class Asking:
    """Asks one question at a time; used and listened to from one thread.

    Parameters
    ----------
    clock : callable
        Seconds, rising.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._thread: threading.Thread | None = None
        self._answer: Answered | None = None
        self._asked_s = 0.0
        self._next_s = float("-inf")
        self.busy = False
        """True while a question is open."""
        self.took_s = 0.0
        """How long the last one took."""

    @property
    def free(self) -> bool:
        """True when another question may be asked."""
        return not self.busy and self._clock() >= self._next_s

    def ask(self, question: Callable[[], Said], *, at_once: bool = False) -> bool:
        """Ask; False when it is not time yet.

        Parameters
        ----------
        at_once : bool
            A person waits for it, so there is no rest before it.
        """
        if self.busy or not (at_once or self.free):
            return False
        self.busy, self._asked_s = True, self._clock()

        def find_out() -> None:
            try:
                self._answer = question()
            except Exception as error:
                # A fault of ours must neither stop a run nor pass unseen.
                self._answer = Unanswered(fault_words("the step", error))

        self._thread = threading.Thread(target=find_out, name="step", daemon=True)
        self._thread.start()
        return True

    def collect(self) -> Answered | None:
        """Return the answer once it is there, and be free for the next question."""
        if self._answer is None:
            return None
        answer, self._answer, self.busy = self._answer, None, False
        now = self._clock()
        self.took_s = now - self._asked_s
        self._next_s = now + max(REST_LEAST_S, REST_FACTOR * self.took_s)
        return answer

    def close(self) -> None:
        """Wait a moment for a question still open; its answer is of no use any more."""
        if self._thread is not None:
            self._thread.join(CLOSING_S)
