"""How sure is a step's answer? Its sign, in a word and a shape that agree with its words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from strokewise.gui.models.sentence import Certainty
from strokewise.gui.steps import Step


@dataclass(frozen=True, slots=True)
class StepSign:
    """What stands beside the headline.

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


NONE = StepSign(Certainty.WAITING, "NO ANSWER YET")
"""Nothing was answered: still in work, or something has to be said first."""
HIDDEN = StepSign(Certainty.HIDDEN, Certainty.HIDDEN.value)
SURE = StepSign(Certainty.SURE, Certainty.SURE.value)
NOT_SURE = StepSign(Certainty.NOT_YET, Certainty.NOT_YET.value)
CAUSE_OPEN = StepSign(Certainty.NOT_YET, "CAUSE OPEN", 0.5)
"""What was measured is sure; why it is so has more than one answer."""
TO_CONFIRM = StepSign(Certainty.NOT_YET, "TO CONFIRM", 0.5)
"""The figures are sure; what they suggest is no diagnosis before it is confirmed."""
MOST_PROBABLE = "MOST PROBABLE"
"""One cause stands out: it may be acted on, yet it is weighed and not seen."""
OPEN_CULPRITS = ("mark or static setting", "unknown")


def sign_of(step: Step | None, *, hidden: bool = False) -> StepSign:
    """Return the sign of an answer; ``hidden`` while the class is to answer first."""
    if step is None or step.answer is None:
        return NONE
    if not step.decided:
        return HIDDEN if hidden and step.name != "compare" else NOT_SURE
    if step.name == "compare" and step.answer["findings"]:
        return TO_CONFIRM
    if _cause_open(step.name, step.answer):
        return CAUSE_OPEN
    if step.name == "marks" and step.answer["findings"]:
        return StepSign(Certainty.NOT_YET, MOST_PROBABLE, step.answer["findings"][0]["probability"])
    return SURE


def _cause_open(name: str, answer: dict[str, Any]) -> bool:
    """Tell whether an answer measures what is off without saying which of several causes it has."""
    match name:
        case "marks":
            return bool(answer["findings"]) and not answer["cause_decided"]
        case "drive":  # the drive is half a turn out, or cylinder 1 stands at overlap
            return answer["found"] is not None and answer["found"]["half_turn"]
        case "static":
            strobe = answer["strobe"]
            return strobe is not None and any(one in OPEN_CULPRITS for one in strobe["culprits"])
        case _:
            return False
