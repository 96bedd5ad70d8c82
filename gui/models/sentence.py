"""What is the one sentence to be read from two metres away?

Which cylinder is on its firing stroke and how far to turn; or that it is not sure, and what to do.
How sure it is stands in a word and a shape beside the sentence, never in a colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from strokewise.analysis.profile import Profile
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.models.near import ROUGH_DEG, firing_words, narrowing_words, near_words
from strokewise.gui.models.run.silence import Away, Ending, duration_words
from strokewise.gui.models.turn.guide import Guidance
from strokewise.gui.models.turn.rocking import Rocking
from strokewise.gui.models.turn.target import Target
from strokewise.gui.pages.sign import Certainty
from strokewise.gui.sayings import capital, say

LONG_UNCHECKED_S = 1.0
"""Shorter than this nobody counts."""


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
    near : str
        How near the angle is, apart from how sure the stroke is; empty where TDC is not known.
    rough : bool
        TDC is not near enough to set anything by: the sign speaks of the stroke alone.
    """

    certainty: Certainty
    first: str
    second: str
    detail: str = ""
    share: float = 0.0
    near: str = ""
    rough: bool = False

    @property
    def word(self) -> str:
        """The word under the sign."""
        return "STROKE SURE" if self.rough else self.certainty.value

    @property
    def sign(self) -> str:
        """The word with how near the angle is, in one line."""
        return f"{self.word}, {self.near}" if self.near else self.word

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
    ended: Ending = "",
    away: Away | None = None,
    trouble: str = "",
    news: str = "",
    blurred: bool = False,
    rocking: Rocking | None = None,
    now_s: float | None = None,
    replayed: bool = False,
) -> Sentence:
    """Return the sentence for one moment.

    Parameters
    ----------
    angle_deg : float or None
        Where the crank stands; None before the first sample.
    was_decided : bool
        An answer stood a moment ago: if it does not any more, it has been taken back.
    ended : {"", "restart", "encoder"}
        What has ended the hold that it belonged to.
    away : Away or None
        The board is silent, or its return not yet understood: nothing is sure then.
    trouble : str
        Why nothing arrives (port gone, board silent); empty when all is well.
    news : str
        What the board's return has told.
    blurred : bool
        The strokes follow each other faster than a person reads, as with the starter.
    rocking : Rocking or None
        While the crank is rocked its count stands in the place of how far to turn.
    now_s : float or None
        The board's clock, to say for how long the clamp has been unchecked.
    replayed : bool
        A recording is played: there is no board to wait for.
    """
    if trouble and angle_deg is None:
        return Sentence(
            Certainty.WAITING, "Nothing from the board yet:", "look at plug and port", trouble
        )
    if away is not None:
        return _away(away, trouble)
    if ended and (verdict is None or not verdict.decided):
        return _ended(ended, verdict, news or trouble)
    if (angle_deg is None or verdict is None) and replayed:
        if angle_deg is None:
            return Sentence(Certainty.WAITING, "At the start:", "play, or go on along the strip")
        return Sentence(Certainty.WAITING, "No answer up to here yet:", "a moment, or play on")
    if angle_deg is None or verdict is None:
        return Sentence(
            Certainty.WAITING, "Waiting for the board:", "turn the engine when ready", news
        )
    step = "" if rocking is None or not rocking.wanted else rocking.short
    said = _said(verdict, trouble or news, now_s)
    if verdict.decided and verdict.firing_deg is not None:
        return _sure(profile, verdict, angle_deg, guidance, target, said, step, blurred=blurred)
    open_ = _not_sure(verdict, guidance, was_decided, said)
    return replace(open_, second=step) if step and not was_decided else open_


def _away(away: Away, trouble: str) -> Sentence:
    if away.back:
        return Sentence(
            Certainty.WAITING,
            "The board is back:",
            "did it start anew? It will tell",
            "Within some seconds it says whether it has counted on, and what was known still holds",
        )
    return Sentence(
        Certainty.WAITING,
        f"Board silent for {duration_words(away.silent_s)}:",
        "look at plug, cable and board",
        f"{trouble}. ".lstrip(". ") + "Where the crank stands is not known. What was known counts"
        " again only if the board has counted on",
    )


def _ended(ended: Ending, verdict: Verdict | None, said: str) -> Sentence:
    why = said or ("" if verdict is None else capital(say(verdict.reason)))
    if ended == "encoder":
        first, second = "Encoder does not follow the crank:", "look at cable and clamp, turn on"
    else:
        first, second = "The board has started anew:", "turn two full turns again"
    share = 0.0 if verdict is None else verdict.probability
    return Sentence(Certainty.WITHDRAWN, first, second, why, share)


def _said(verdict: Verdict, trouble: str, now_s: float | None) -> str:
    """Return the small type: trouble, and for how long nothing has checked the clamp."""
    said = trouble or capital(say(verdict.reason))
    since_s = verdict.unchecked_since_s
    if since_s is None or now_s is None or now_s - since_s < LONG_UNCHECKED_S:
        return said
    ago = duration_words(now_s - since_s)
    return f"Sensor out? Nothing has checked the clamp for {ago}. {said}"


def hidden(question: str = "Which cylinder is firing?") -> Sentence:
    """Return what stands there while a class is still to answer."""
    return Sentence(Certainty.HIDDEN, question, "answer, then it is shown")


def answered(was_so: str, said: str, why: str) -> Sentence:
    """Return what stands there once a class has answered: what was so, of a moment that is held."""
    return Sentence(Certainty.ANSWERED, f"{was_so}:", said, why)


def _sure(
    profile: Profile,
    verdict: Verdict,
    angle_deg: float,
    guidance: Guidance | None,
    target: Target | None,
    said: str,
    step: str,
    *,
    blurred: bool,
) -> Sentence:
    assert verdict.firing_deg is not None
    half = 0.0 if verdict.tdc is None else verdict.tdc.angle_deg.half_width
    rough = half > ROUGH_DEG
    first = firing_words(profile, verdict.firing_deg[1], angle_deg, half)
    second = turning_words(guidance, target)
    if blurred:
        first = "Every stroke is known" if rough else "Every firing TDC is known"
        second = f"turn by hand to {target.short}" if target else "now turn by hand"
    second = step or narrowing_words(half, profile.turning_back) or second
    return Sentence(
        Certainty.SURE,
        first + (":" if second else ""),
        second,
        said,
        verdict.probability,
        "" if verdict.tdc is None else near_words(half),
        rough,
    )


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
    verdict: Verdict, guidance: Guidance | None, was_decided: bool, detail: str
) -> Sentence:
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
