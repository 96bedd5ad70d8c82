"""Why do marks and cam stand where they stand? Named causes weighed together by Bayes' rule.

Every part of the engine has a list of its own whose probabilities add up to one; the parts are
weighed together, summed over what the rig may have done to all marks alike. Two causes that explain
the figures equally well come out equally probable, whatever their rank.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.cam_evidence import (
    CAM_TEETH_PRIORS,
    ShiftChance,
    TrainCase,
    cam_cause,
    train_cases,
)
from strokewise.analysis.marks.mark_evidence import (
    AS_STATED,
    CLAMP,
    CLAMP_HELD,
    CRANK_MARK_SIGMA_DEG,
    HALF,
    HELD_SINCE,
    OTHER,
    REORDERED,
    SOUND,
    Case,
    FloatArray,
    Part,
    crank_parts,
    elsewhere_words,
    log_sum,
)
from strokewise.analysis.marks.marks import MarkPlace
from strokewise.analysis.marks.next_look import Look, next_look
from strokewise.analysis.marks.rig_states import Clamp, RigStates, Sensed, rig_states
from strokewise.analysis.profile import Profile

CAUSE_DECIDED_AT = 0.95
"""From here one cause is spoken of as the cause; below it the next look is named."""

TOLD_FROM = 0.5
"""A mark less likely than this to be this engine's own, and with its cam, tells no half turn."""

KEPT_FROM = 1e-4
"""Less probable causes are put under ``OTHER`` of their part, where it has that."""

SEEN_TO_SLIP = 0.99
"""How sure a slip is that the recording shows."""

HARM: tuple[str, ...] = (HALF, "cam sprocket", "drive gear", "sensor in cylinder", REORDERED)
"""Beginnings of what breaks or hurts something if it is acted on otherwise."""

PARTS_IN_ORDER: tuple[Part, ...] = (
    "sensor",
    "encoder",
    "cam sprocket",
    "cam",
    "distributor",
    "pulley",
    "flywheel",
)
"""What is off in one of these may be behind what is off in those after it."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause with its probability.

    Attributes
    ----------
    part : str
        The part of engine or rig in whose list it stands.
    cause : str
        Stable words, ``"mark right"``, …; teeth with their number and way.
    marks : tuple of str
        Names of the marks it is about; empty for all.
    places : tuple of MarkPlace
        The marks whose figures speak for it or against it.
    """

    part: Part
    cause: str
    marks: tuple[str, ...]
    probability: float
    places: tuple[MarkPlace, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong with the part."""
        return self.cause in SOUND or self.cause == HELD_SINCE

    @property
    def harms(self) -> bool:
        """Whether something breaks or hurts where this is so and is not heeded."""
        return self.cause.startswith(HARM) and not self.sound


@dataclass(frozen=True, slots=True)
class MarkCauses:
    """The causes: parts with a fault first, and of each part the most probable first.

    Attributes
    ----------
    decided : bool
        Every part has one cause, or is right, with at least ``CAUSE_DECIDED_AT``.
    next_look : str
        The one further observation that would tell the first two apart; empty when decided.
    teeth : tuple of (int, float)
        Whole teeth that the cam is late, the most probable, and their probability; nothing without
        anything that tells of the cam.
    """

    findings: tuple[Cause, ...]
    decided: bool
    next_look: Look
    teeth: tuple[int, float] | None = None

    def of(self, part: Part) -> tuple[Cause, ...]:
        """Return the list of one part, the most probable first; empty where nothing tells of it."""
        return tuple(cause for cause in self.findings if cause.part == part)

    @property
    def leading(self) -> tuple[Cause, ...]:
        """The most probable cause of every part."""
        firsts: dict[Part, Cause] = {}
        for cause in self.findings:
            firsts.setdefault(cause.part, cause)
        return tuple(firsts.values())

    def chance(self, part: Part, cause: str) -> float:
        """Return the probability of a cause, whichever marks it is about."""
        return sum(found.probability for found in self.of(part) if found.cause == cause)


NO_CAUSES = MarkCauses((), False, "")


def weigh_causes(
    places: Sequence[MarkPlace],
    profile: Profile,
    *,
    seen: ShiftChance | None = None,
    earlier_late: Mapping[str, Interval] | None = None,
    clamp: Clamp = "unknown",
    sensed: Sensed | None = None,
) -> MarkCauses:
    """Return why marks and cam stand where they stand.

    Parameters
    ----------
    places : sequence of MarkPlace
        Marks as measured; those that state nothing, or were not met, tell nothing.
    seen : ShiftChance, optional
        What pressure says of the cam's shift; blind to half a turn.
    earlier_late : mapping of name to Interval, optional
        How late each mark was at an earlier time, with the same parts.
    clamp : {"steady", "unknown", "slipped", "held since"}
        What the recording says of the encoder's clamp.
    sensed : Sensed, optional
        The cylinder that the sensor was taken to sit in.

    Returns
    -------
    MarkCauses
        No findings when nothing was measured that could tell.
    """
    known = tuple(place for place in places if place.late is not None)
    rig = rig_states(profile, clamp, sensed)
    crank = crank_parts(known, profile, earlier_late or {}, rig)
    train = train_cases(known, profile, seen, rig)
    if not crank and not train:
        return NO_CAUSES
    chances = _posterior(crank, train, rig)
    if known:
        chances |= _of_rig(chances.pop("encoder"), rig, clamp, sensed)
    else:
        del chances["encoder"]
    findings = _ordered(
        [
            Cause(part, cause, marks, chance, _named(known, part, marks))
            for part, states in chances.items()
            for (cause, marks), chance in _kept(states).items()
        ]
    )
    return _concluded(findings, known)


Chances = dict[tuple[str, tuple[str, ...]], float]


def _posterior(
    crank: Mapping[Part, Sequence[Case]], train: Sequence[TrainCase], rig: RigStates
) -> dict[Part, Chances]:
    """Probability of each cause of each part; under ``"encoder"`` that of each state of the rig."""
    sums = [log_sum(np.stack([case.fit for case in cases])) for cases in crank.values()]
    if train:
        sums.append(log_sum(np.stack([case.fit for case in train])))
    whole = rig.log_prior + np.sum(sums, axis=0)
    rigs = np.exp(whole - np.logaddexp.reduce(whole))
    chances: dict[Part, Chances] = {}
    for (part, cases), part_sum in zip(crank.items(), sums, strict=False):
        for case in cases:
            chance = float(np.sum(rigs * np.exp(case.fit - part_sum)))
            _add(chances, part, case.cause, case.marks, chance)
    for state in train:
        chance = float(np.sum(rigs * np.exp(state.fit - sums[-1])))
        for part, cause, marks in state.causes:
            _add(chances, part, cause, marks, chance)
    for number, chance in enumerate(rigs.tolist()):
        _add(chances, "encoder", str(number), (), chance)
    return chances


def _add(
    chances: dict[Part, Chances], part: Part, cause: str, marks: tuple[str, ...], chance: float
) -> None:
    own = chances.setdefault(part, {})
    own[cause, marks] = own.get((cause, marks), 0.0) + chance


def _of_rig(
    states: Chances, rig: RigStates, clamp: Clamp, sensed: Sensed | None
) -> dict[Part, Chances]:
    """The lists of encoder and sensor, from the probabilities of the rig's states."""
    weights: FloatArray = np.array(list(states.values()), np.float64)
    # a slip that was seen is one, whether or not marks and TDC came out in one frame after all
    slipped = SEEN_TO_SLIP if clamp == "slipped" else float(weights[rig.slipped].sum())
    held = HELD_SINCE if clamp == "held since" else CLAMP_HELD
    lists: dict[Part, Chances] = {"encoder": {(held, ()): 1.0 - slipped, (CLAMP, ()): slipped}}
    elsewhere = np.flatnonzero((rig.cylinder > 0) & ~rig.reordered)
    if sensed is not None and len(elsewhere):
        # An order that moves no mark is seen by nothing: of it nothing is said.
        told = rig.reordered & (rig.moved_deg != 0.0)
        lists["sensor"] = {
            (AS_STATED, ()): 1.0 - float(weights[elsewhere].sum() + weights[told].sum())
        }
        if told.any():
            lists["sensor"][REORDERED, ()] = float(weights[told].sum())
        for at in elsewhere.tolist():
            words = elsewhere_words(int(rig.cylinder[at]), sensed.cylinder)
            lists["sensor"][words, ()] = float(weights[at])
    return lists


def _kept(states: Chances) -> Chances:
    """Return a part's list with what is too improbable to name put under ``OTHER``."""
    others = [key for key in states if key[0] == OTHER]
    if not others:
        return states
    kept = {key: chance for key, chance in states.items() if chance >= KEPT_FROM}
    rest = sum(states.values()) - sum(kept.values())
    if rest > 0:
        kept[others[0]] = kept.get(others[0], 0.0) + rest
    return kept


def _named(
    places: Sequence[MarkPlace], part: Part, names: tuple[str, ...]
) -> tuple[MarkPlace, ...]:
    if part in ("encoder", "sensor"):
        return tuple(places)
    return tuple(place for place in places if place.mark.name in names)


def _ordered(findings: list[Cause]) -> list[Cause]:
    """Parts whose first cause is a fault come first, what harms before what does not."""
    findings.sort(key=lambda cause: -cause.probability)
    firsts: dict[Part, Cause] = {}
    for cause in findings:
        firsts.setdefault(cause.part, cause)

    def rank(part: Part) -> tuple[int, int]:
        first = firsts[part]
        return (0 if first.harms else 2 if first.sound else 1), PARTS_IN_ORDER.index(part)

    return sorted(findings, key=lambda cause: rank(cause.part))  # of one part: as they stand


def _concluded(findings: Sequence[Cause], known: Sequence[MarkPlace]) -> MarkCauses:
    whole = MarkCauses(tuple(findings), False, "")
    open_to = [cause for cause in whole.leading if cause.probability < CAUSE_DECIDED_AT]
    look: Look = ""
    if open_to:
        rivals = [cause.cause for cause in whole.of(open_to[0].part)]
        backward = all(place.backward_only for place in known) if known else False
        look = next_look(rivals, narrow=_narrow(known), backward=backward)
    return MarkCauses(whole.findings, not open_to, look, _teeth(whole))


def _teeth(whole: MarkCauses) -> tuple[int, float] | None:
    if not whole.of("cam"):
        return None
    each = {
        teeth: whole.chance("cam", cam_cause(teeth))
        for count in CAM_TEETH_PRIORS
        for teeth in (count, -count)
    }
    best = max(each, key=lambda teeth: each[teeth])
    return best, each[best]


def _narrow(places: Sequence[MarkPlace]) -> bool:
    lates = [place.late for place in places if place.late is not None]
    return bool(lates) and all(late.half_width < CRANK_MARK_SIGMA_DEG for late in lates)
