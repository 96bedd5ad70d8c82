"""What is asked of a class about a moment, what is right, and why?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from strokewise.analysis.crank.angle import short_way
from strokewise.analysis.crank.strokes import EnginePhase, phase_at
from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.analysis.verdict.found import CLAMP_SLIP
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.models.classroom.causes import WELL, Ailment, Family, answers_for
from strokewise.gui.models.figures.chart import STROKE_DEG
from strokewise.gui.models.figures.views import PassLike
from strokewise.gui.models.run.snapshot import ANSWER_HIDDEN, HIDDEN_NAME, Link, Snapshot
from strokewise.gui.models.sentence import Sentence, answered
from strokewise.gui.models.turn.first_turns import FirstTurns
from strokewise.gui.sayings.saying import capital

QuestionKind = Literal["firing", "fault"]

WHO_FIRES = "Which cylinder is on its firing stroke?"
WHO_FIRED_LAST = "Which cylinder began its firing stroke last?"
WHAT_IS_WRONG = "What is wrong with this engine?"
NO_CYLINDER = "none"
FAIR_DEG = 6.0
"""So near to a firing TDC a class cannot tell the stroke by eye: two of the chart's painted
steps."""


class UnfairMomentError(InputError):
    """Nobody could tell the stroke at this very moment; some degrees on anybody can."""


@dataclass(frozen=True, slots=True)
class Question:
    """A moment put before the class.

    Attributes
    ----------
    choices : tuple of str
        What may be answered, always in one order.
    truths : tuple of str
        The right ones of them: of several faults any counts.
    moment : Snapshot
        What was frozen; shown without its verdict until it is answered.
    why : str
        The reason, said with the answer.
    view : str
        The view that shows the reason.
    scenario : str
        What it was asked of, for the table.
    given : str
        What was measured beside the trace and may be known.
    """

    kind: QuestionKind
    words: str
    choices: tuple[str, ...]
    truths: tuple[str, ...]
    moment: Snapshot
    why: str = ""
    view: str = "chart"
    scenario: str = ""
    given: str = ""

    @property
    def truth(self) -> str:
        """What was so, in one line."""
        return " and ".join(self.truths)

    @property
    def was_so(self) -> str:
        """What was so, as a sentence for the headline."""
        if self.kind == "firing":
            if self.truths == (NO_CYLINDER,):
                return "No cylinder was firing"
            return f"Cylinder {self.truth} was firing"
        return "All was well" if self.truths == (WELL.words,) else capital(self.truth)


def firing_question(
    moment: Snapshot, firing_deg: Mapping[int, float] | None = None, scenario: str = ""
) -> Question:
    """Return the question of who fires.

    Parameters
    ----------
    firing_deg : mapping of int to float, optional
        Where each cylinder truly fires, in the encoder frame; the verdict's where left out, of a
        recording whose truth nobody knows better.

    Raises
    ------
    InputError
        While nobody knows the answer, or no class could.
    """
    verdict, angle, profile = moment.verdict, moment.angle_deg, moment.profile
    known = firing_deg
    if known is None and verdict is not None and verdict.decided:
        known = verdict.firing_deg
    if known is None or angle is None:
        raise InputError("nothing to ask yet: nobody knows the answer before it is decided")
    phase = phase_at(profile, known[1], angle)
    stated = {one.cylinder: angle - one.after_firing_deg for one in phase.cylinders}
    apart = [short_way(stated[n] - known[n], profile.cycle_deg) for n in known if n in stated]
    if max(abs(float(by_deg)) for by_deg in apart) > FAIR_DEG:
        raise InputError(
            "nothing to ask here: the profile states a firing order that is not this engine's"
        )
    edges = [one.after_firing_deg - edge for one in phase.cylinders for edge in (0.0, STROKE_DEG)]
    if any(abs(float(short_way(edge, profile.cycle_deg))) < FAIR_DEG for edge in edges):
        raise UnfairMomentError(
            "nothing to ask here: a firing stroke just begins or ends; ask some degrees on"
        )
    firing = phase.on_firing_stroke
    names = tuple(str(one.cylinder) for one in phase.cylinders)
    return Question(
        "firing",
        WHO_FIRED_LAST if len(firing) > 1 else WHO_FIRES,
        names if firing else (*names, NO_CYLINDER),
        (str(_began_last(phase)),) if firing else (NO_CYLINDER,),
        revealed(moment, known),
        _why_firing(profile, phase, _sensed(profile)),
        "chart",
        scenario,
    )


def _began_last(phase: EnginePhase) -> int:
    firing = [phase.cylinder(number) for number in phase.on_firing_stroke]
    return min(firing, key=lambda one: one.after_firing_deg).cylinder


def _sensed(profile: Profile) -> int:
    holes = [each.cylinder or 1 for each in profile.sensors if each.place == "plug hole"]
    return holes[0] if holes else 1


def _why_firing(profile: Profile, phase: EnginePhase, sensed: int) -> str:
    after = phase.cylinder(sensed).after_firing_deg
    order = "-".join(str(number) for number in profile.firing_order)
    said = f"Cylinder {sensed}, with the sensor, had its firing TDC {after:.0f}° ago"
    if not phase.on_firing_stroke:
        return f"{said}: its firing stroke is over, and no other has begun"
    fires = _began_last(phase)
    ago = phase.cylinder(fires).after_firing_deg
    if fires == sensed:
        return f"{said}: less than 180°, so it is on its firing stroke"
    return f"{said}; in the order {order} cylinder {fires} had its own {ago:.0f}° ago"


def fault_question(
    moment: Snapshot, true: Sequence[Ailment], family: Family, given: str = "", scenario: str = ""
) -> Question:
    """Return the question of what is wrong.

    Parameters
    ----------
    true : sequence of Ailment
        What is wrong; none where all is well.
    given : str
        What was measured beside the trace and may be known.
    """
    right = tuple(true) or (WELL,)
    offered = answers_for(family, right)
    return Question(
        "fault",
        WHAT_IS_WRONG,
        tuple(cause.words for cause in offered),
        tuple(cause.words for cause in right),
        moment,
        ". ".join(cause.why for cause in right),
        right[0].view,
        scenario,
        given,
    )


def slipped_s(moment: Snapshot) -> float | None:
    """Return when the clamp slipped, from the first sample on; None where it did not."""
    warnings = () if moment.verdict is None else moment.verdict.warnings
    slips = (each.remark.figure("at_s") for each in warnings if each.code == CLAMP_SLIP)
    return next(slips, None)


def with_earlier(moment: Snapshot, earlier: Sequence[PassLike]) -> Snapshot:
    """Return a moment with the compressions that were seen before those that a run goes by."""
    if not moment.passes:
        return moment
    begins_s = float(moment.passes[0].time_s[0])
    before = (each for each in earlier if float(each.time_s[-1]) < begins_s)
    return replace(moment, passes=(*before, *moment.passes))


def revealed(moment: Snapshot, firing_deg: Mapping[int, float]) -> Snapshot:
    """Return a moment whose strokes are those that truly were, whatever the verdict was."""
    verdict = moment.verdict or Verdict(decided=False, reason=ANSWER_HIDDEN)
    verdict = replace(verdict, decided=True, firing_deg=dict(firing_deg))
    return replace(moment, verdict=verdict)


def masked(moment: Snapshot, kind: QuestionKind = "firing") -> Snapshot:
    """Return a moment that gives nothing away: the trace, and no verdict.

    Asked what is wrong, a class may see where TDC is: it reads the figures by that. Whatever names
    a run, counts its losses or says what to do next is gone.
    """
    verdict = moment.verdict
    shown = Verdict(decided=False, reason=ANSWER_HIDDEN)
    if kind == "fault" and verdict is not None:
        shown = replace(shown, tdc=verdict.tdc)
    return replace(held(moment), notices=(), verdict=shown, state="", link=_nameless(moment.link))


def held(moment: Snapshot) -> Snapshot:
    """Return a moment that stands: nobody is guided anywhere in it."""
    replay = moment.replay
    return replace(
        moment,
        was_decided=False,
        ended="",
        away=None,
        last=None,
        judgement=None,
        position=None,
        guidance=None,
        rocking=None,
        target=None,
        met=None,
        first_turns=FirstTurns(suspect=False),
        replay=None if replay is None else replace(replay, passes_s=()),
        link=replace(moment.link, state="held", trouble="", news=""),
    )


def _nameless(link: Link) -> Link:
    return Link(HIDDEN_NAME, "held", recording=link.recording, simulated=link.simulated)


def answered_sentence(question: Question, said: str) -> Sentence:
    """Return what stands there once the class has answered: what was so, and why."""
    return answered(question.was_so, said, question.why)
