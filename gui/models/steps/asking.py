"""How is a step asked without the picture waiting? Aside, one question at a time.

Where an answer takes long the next question rests the longer, so that a page that follows the crank
leaves the machine to the verdict and the picture.
"""

from __future__ import annotations

from dataclasses import dataclass

from strokewise.analysis.errors import NotStatedError
from strokewise.gui.models.run.aside import Aside
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.steps import Said


@dataclass(frozen=True, slots=True)
class Unanswered:
    """Why a step has no answer: one line of what is missing or cannot be used.

    Attributes
    ----------
    lacks : tuple of str
        The keys of the profile that are missing.
    instead : str
        What the field is called that may be said instead.
    """

    words: str
    lacks: tuple[str, ...] = ()
    instead: str = ""


Answered = Said | Unanswered


class Asking(Aside[Said]):
    """Asks a step one question at a time."""

    def answer(self) -> Answered | None:
        """Return the answer once it is there, and be free for the next question."""
        done = self.collect()
        if done is None:
            return None
        error = done.exception()
        # A fault of ours must neither stop a run nor pass unseen.
        if isinstance(error, NotStatedError):
            return Unanswered(str(error), error.keys, error.instead)
        return done.result() if error is None else Unanswered(fault_words("the step", error))
