"""What is the one sentence to be read from two metres away?

Which cylinder is on its firing stroke and how far to turn; or that it is not sure, and what to do.
How sure it is stands in a word and a shape beside the sentence, never in a colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from strokewise.analysis.crank.strokes import EnginePhase, phase_at
from strokewise.analysis.profile import Profile
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.models.turn.guide import Guidance
from strokewise.gui.models.turn.rocking import Rocking
from strokewise.gui.models.turn.target import Target
from strokewise.gui.pages.sign import Certainty

AT_TDC_DEG = 1.0
"""Closer to a TDC than this, the piston stands still for the eye: it is at TDC, not past it."""
MOST_NAMED = 3
"""No engine of up to twelve even-firing cylinders has more than three on their firing stroke."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """The verdict in words.

    Attributes
    ----------
    certainty : Certainty
    first, second : str
        The two halves of the sentence, each fit for one line of the largest type.
    detail : str
        One or two lines of small type: the reason, with the interval.
    share : float
        For the ring of ``NOT_YET``: probability of the likeliest candidate, 0 to 1.
    """

    certainty: Certainty
    first: str
    second: str
    detail: str = ""
    share: float = 0.0

    @property
    def text(self) -> str:
        """The sentence in one line."""
        return f"{self.first} {self.second}".strip()


def sentence_for(
    profile: Profile,
    verdict: Verdict | None,
    angle_deg: float | None,
    guidance: Guidance | None = None,
    target: Target | None = None,
    *,
    was_decided: bool = False,
    trouble: str = "",
    blurred: bool = False,
    rocking: Rocking | None = None,
) -> Sentence:
    """Return the sentence for one moment.

    Parameters
    ----------
    angle_deg : float or None
        Where the crank stands; None before the first sample.
    was_decided : bool
        An answer stood a moment ago: if it does not any more, it has been taken back.
    trouble : str
        Why nothing arrives (port gone, board silent); empty when all is well.
    blurred : bool
        The strokes follow each other faster than a person reads, as with the starter.
    rocking : Rocking or None
        While the crank is rocked its count stands in the place of how far to turn.
    """
    step = "" if rocking is None or not rocking.wanted else rocking.short
    if trouble and angle_deg is None:
        return Sentence(
            Certainty.WAITING, "Nothing from the board yet:", "look at plug and port", trouble
        )
    if angle_deg is None or verdict is None:
        return Sentence(Certainty.WAITING, "Waiting for the board:", "turn the engine when ready")
    if verdict.decided and verdict.firing_deg is not None:
        sure = _sure(profile, verdict, angle_deg, guidance, target, trouble)
        if step:
            return replace(sure, first=sure.first.rstrip(":") + ":", second=step)
        if not blurred:
            return sure
        to = f"turn by hand to {target.short}" if target else "now turn by hand"
        return replace(sure, first="Every firing TDC is known:", second=to)
    open_ = _not_sure(verdict, guidance, was_decided, trouble)
    return replace(open_, second=step) if step and not was_decided else open_


def hidden(question: str = "Which cylinder is firing?") -> Sentence:
    """Return what stands there while a class is still to answer."""
    return Sentence(Certainty.HIDDEN, question, "answer, then it is shown")


def _sure(
    profile: Profile,
    verdict: Verdict,
    angle_deg: float,
    guidance: Guidance | None,
    target: Target | None,
    trouble: str,
) -> Sentence:
    assert verdict.firing_deg is not None
    phase = phase_at(profile, verdict.firing_deg[1], angle_deg)
    detail = trouble or _capital(verdict.reason)
    if verdict.tdc is not None:
        detail = f"TDC ± {verdict.tdc.angle_deg.half_width:.2g}°. {detail}"
    turning = turning_words(guidance, target)
    return Sentence(
        Certainty.SURE,
        firing_words(phase) + (":" if turning else ""),
        turning,
        detail,
        verdict.probability,
    )


def firing_words(phase: EnginePhase) -> str:
    """Return which cylinder is on its firing stroke, without a full stop."""
    at_tdc = [
        cylinder.cylinder
        for cylinder in phase.cylinders
        if min(cylinder.to_firing_deg, cylinder.after_firing_deg) <= AT_TDC_DEG
    ]
    if at_tdc:
        return f"{_numbered(at_tdc)} at firing TDC"
    firing = phase.on_firing_stroke[:MOST_NAMED]
    if not firing:
        return "No cylinder on its firing stroke"
    if len(firing) == 1:
        return f"Cylinder {firing[0]} is on its firing stroke"
    return f"{_numbered(firing)} on firing stroke"


def turning_words(guidance: Guidance | None, target: Target | None) -> str:
    """Return the second half of the sentence: how far to turn, and to what."""
    if guidance is None or target is None or guidance.remaining_deg is None:
        return ""
    remaining = guidance.remaining_deg
    match guidance.phase:
        case "there":
            return f"stop: {target.short}"
        case "past":
            return f"too far: back if allowed, else round {guidance.round_deg:.0f}°"
        case "go back":
            return f"too far: back {guidance.back_deg:.0f}°, then up again"
        case "go round":
            return f"round again {remaining:.0f}° to {target.short}"
        case "slowly":
            return f"slowly {remaining:.1f}° to {target.short}"
        case _:
            return f"turn on {remaining:.0f}° to {target.short}"


def _not_sure(
    verdict: Verdict, guidance: Guidance | None, was_decided: bool, trouble: str
) -> Sentence:
    detail = trouble or _capital(verdict.reason)
    if was_decided:
        return Sentence(
            Certainty.WITHDRAWN, "The answer is taken back:", "turn two full turns again", detail
        )
    if verdict.tdc is None:
        # With candidates the engine was turned enough: what else it takes is in the detail.
        first, second = (
            ("Turning alone does not tell:", "do what is said below")
            if verdict.candidates
            else ("No TDC found yet:", "turn two full turns")
        )
        return Sentence(Certainty.NOT_YET, first, second, detail, verdict.probability)
    cylinder = verdict.tdc.cylinder
    if guidance is not None and guidance.phase == "there":
        return Sentence(
            Certainty.NOT_YET,
            f"TDC of {cylinder}, firing or overlap?",
            "not sure which: turn on",
            detail,
            verdict.probability,
        )
    return Sentence(
        Certainty.NOT_YET,
        f"TDC of {cylinder} found, not which one:",
        "turn on two full turns",
        detail,
        verdict.probability,
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _numbered(numbers: list[int] | tuple[int, ...]) -> str:
    if len(numbers) == 1:
        return f"Cylinder {numbers[0]}"
    return "Cylinders " + ", ".join(map(str, numbers[:-1])) + f" and {numbers[-1]}"
