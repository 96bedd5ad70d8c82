"""How sure is an answer? Its sign, in a word and a shape, never in a colour alone."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Certainty(Enum):
    """How sure: each has its word and its shape (see :data:`SHAPES`)."""

    SURE = "SURE"
    NOT_YET = "NOT SURE YET"
    WITHDRAWN = "TAKEN BACK"
    WAITING = "WAITING"
    HIDDEN = "YOUR ANSWER?"
    ANSWERED = "HELD"


SHAPES: dict[Certainty, str] = {
    Certainty.SURE: "filled disc with a tick",
    Certainty.NOT_YET: "ring filled as far as the turning needed has been done",
    Certainty.WITHDRAWN: "square struck through",
    Certainty.WAITING: "three dots",
    Certainty.HIDDEN: "open triangle",
    Certainty.ANSWERED: "two upright bars: the moment is held",
}


@dataclass(frozen=True, slots=True)
class Sign:
    """What stands beside a headline.

    Attributes
    ----------
    word : str
        In two lines at the most.
    share : float
        Of a ring that is not full: how much of the answer there is.
    """

    certainty: Certainty
    word: str
    share: float = 0.0


NONE = Sign(Certainty.WAITING, "NO ANSWER YET")
"""Nothing was answered: still in work, or something has to be said first."""
HIDDEN = Sign(Certainty.HIDDEN, Certainty.HIDDEN.value)
SURE = Sign(Certainty.SURE, Certainty.SURE.value)
STROKE_SURE = Sign(Certainty.SURE, "STROKE SURE")
"""Which stroke is sure; TDC is not near enough to set anything by."""
NOT_SURE = Sign(Certainty.NOT_YET, Certainty.NOT_YET.value)
CAUSE_OPEN = Sign(Certainty.NOT_YET, "CAUSE OPEN", 0.5)
"""What was measured is sure; why it is so has more than one answer."""
TO_CONFIRM = Sign(Certainty.NOT_YET, "TO CONFIRM", 0.5)
"""The figures are sure; what they suggest is no diagnosis before it is confirmed."""


def most_probable(share: float) -> Sign:
    """Return the sign of one cause that stands out: it is weighed, and was not seen."""
    return Sign(Certainty.NOT_YET, "MOST PROBABLE", share)
