"""Why is a mark not where it should be? Named causes weighed against each other by Bayes' rule.

The evidence of each part is in :mod:`strokewise.analysis.marks.mark_evidence`; here it is put
together, summed over what a slipped encoder clamp may have done to all marks alike. Two causes that
explain the figures equally well come out equally probable, whatever their rank.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_evidence import (
    CLAMP,
    CLAMP_PRIORS,
    CRANK_MARK_SIGMA_DEG,
    MARK_RIGHT,
    Case,
    Clamp,
    FloatArray,
    cam_parts,
    crank_parts,
    log_sum,
    slip_steps,
)
from strokewise.analysis.marks.marks import MarkPlace
from strokewise.analysis.marks.next_look import Look, next_look
from strokewise.analysis.profile import Profile

CAUSE_DECIDED_AT = 0.95
"""From here one cause is spoken of as the cause; below it the next look is named."""

SHOWN_FROM = 0.005  # findings less probable than this are left out


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause with its probability.

    Attributes
    ----------
    cause : str
        Stable words, ``"mark right"``, …; teeth with their number and way.
    marks : tuple of str
        Names of the marks it is about; empty for all.
    places : tuple of MarkPlace
        The marks whose figures speak for it or against it.
    """

    cause: str
    marks: tuple[str, ...]
    probability: float
    places: tuple[MarkPlace, ...]


@dataclass(frozen=True, slots=True)
class MarkCauses:
    """The causes, most probable first.

    Attributes
    ----------
    decided : bool
        Every part has one cause, or is right, with at least ``DECIDED_AT``.
    next_look : str
        The one further observation that would tell the first two apart; empty when decided.
    """

    findings: tuple[Cause, ...]
    decided: bool
    next_look: Look


def weigh_causes(
    places: Sequence[MarkPlace],
    profile: Profile,
    *,
    cam_shift: Interval | None = None,
    earlier_late: Mapping[str, Interval] | None = None,
    clamp: Clamp = "unknown",
) -> MarkCauses:
    """Return why marks stand where they stand.

    Parameters
    ----------
    places : sequence of MarkPlace
        Marks as measured; those that state nothing, or were not met, tell nothing.
    cam_shift : Interval, optional
        Shift of the cam found from pressure, crank degrees, late positive; blind to half a turn.
    earlier_late : mapping of name to Interval, optional
        How late each mark was at an earlier time, with the same parts.
    clamp : {"steady", "unknown", "slipped"}
        What the recording says of the encoder's clamp.

    Returns
    -------
    MarkCauses
        No findings when nothing was measured that could tell.
    """
    known = tuple(place for place in places if place.late is not None)
    slips = slip_steps()
    parts = crank_parts(known, profile, earlier_late or {}, slips)
    parts += cam_parts(known, profile, cam_shift, slips)
    if not parts:
        return MarkCauses((), False, "")
    weights = _slip_weights(slips, clamp)
    chances, all_right, slipped = _posterior(parts, weights)
    findings = [Cause(MARK_RIGHT, (), all_right, known)]
    findings += [
        Cause(cause, marks, chance, _named(known, marks))
        for (cause, marks), chance in chances.items()
        if cause != MARK_RIGHT
    ]
    if known:
        findings.append(Cause(CLAMP, (), slipped, known))
    findings.sort(key=lambda finding: -finding.probability)
    # one cause is not the cause while another explains the same part nearly as well
    open_to = [f for f in findings if 1 - CAUSE_DECIDED_AT <= f.probability < CAUSE_DECIDED_AT]
    decided = not open_to and findings[0].probability >= CAUSE_DECIDED_AT
    look: Look = ""
    if not decided:
        look = next_look([f.cause for f in open_to or findings], narrow=_narrow(known))
    shown = tuple(f for f in findings if f.probability >= SHOWN_FROM)
    return MarkCauses(shown, decided, look)


def _narrow(places: Sequence[MarkPlace]) -> bool:
    lates = [place.late for place in places if place.late is not None]
    return bool(lates) and all(late.half_width < CRANK_MARK_SIGMA_DEG for late in lates)


def _named(places: Sequence[MarkPlace], names: tuple[str, ...]) -> tuple[MarkPlace, ...]:
    return tuple(place for place in places if place.mark.name in names)


def _slip_weights(slips: FloatArray, clamp: Clamp) -> FloatArray:
    slipped = CLAMP_PRIORS[clamp]
    return np.where(slips == 0, 1 - slipped, slipped / (len(slips) - 1))


def _posterior(
    parts: list[list[Case]], weights: FloatArray
) -> tuple[dict[tuple[str, tuple[str, ...]], float], float, float]:
    """Probability of each cause of each part, of everything right, and of a slipped clamp."""
    sums = [_weighted(cases) for cases in parts]
    whole = np.log(weights) + np.sum([log_sum(part) for part in sums], axis=0)
    peak = float(whole.max())
    total = float(np.exp(whole - peak).sum())
    chances: dict[tuple[str, tuple[str, ...]], float] = {}
    right = whole[0]
    for cases, part in zip(parts, sums, strict=True):
        rest = whole - log_sum(part)
        for case, fit in zip(cases, part, strict=True):
            chance = float(np.exp(rest + fit - peak).sum()) / total
            for cause in case.causes:
                chances[cause] = chances.get(cause, 0.0) + chance
        fits_right = [f[0] for c, f in zip(cases, part, strict=True) if _is_right(c)]
        right += float(np.logaddexp.reduce(fits_right)) - float(log_sum(part)[0])
    slipped = float(np.exp(whole[1:] - peak).sum()) / total
    return chances, float(np.exp(right - peak)) / total, slipped


def _is_right(case: Case) -> bool:
    return all(cause == MARK_RIGHT for cause, _ in case.causes)


def _weighted(cases: list[Case]) -> FloatArray:
    return np.stack([np.log(case.prior) + case.fit for case in cases])
