"""What do several sensors say together? A second cylinder checks the firing order."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.crank.strokes import firing_offsets, firing_tdcs, nearest, within
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.analysis.verdict.judge import Judgement
from strokewise.analysis.verdict.verdict import DECIDED_AT, TDC_MOST_DEG, Verdict

SAME_DEG = 45.0
"""Two cylinders that disagree by less than half of the closest usual firing interval agree."""


AGAINST = 0.2
"""An unsure cylinder that gives what the sure one says so much less than its own best speaks
against it."""


@dataclass(frozen=True, slots=True)
class Ruled:
    """One sensor with its judgement and the verdict that it comes to alone."""

    sensor: Sensor
    judgement: Judgement
    verdict: Verdict


def together(ruled: tuple[Ruled, ...], profile: Profile) -> tuple[Ruled, Verdict]:
    """Return the sensor that the answer rests on, and the answer.

    A sensor in a plug hole goes before one in the manifold, a sure one before an unsure one.
    Another
    plug hole that decides is held against the firing order: where they contradict each other there
    is no answer.
    """
    best = max(ruled, key=_rank)
    others = [
        r
        for r in ruled
        if r is not best and r.sensor.place == "plug hole" and r.sensor.cylinder is not None
    ]
    if best.sensor.place != "plug hole" or not others or best.verdict.tdc is None:
        return best, best.verdict
    verdict = best.verdict
    for other in others:
        if other.verdict.decided and verdict.decided:
            wrong = _contradiction(best, other, profile)
            if wrong:
                return best, _refused(verdict, wrong)
            verdict = _warned(verdict, notice("second-agrees", cylinder=other.sensor.cylinder))
        elif verdict.decided:
            doubt = _doubt(best, other, profile)
            if doubt:
                return best, _refused(verdict, doubt)
            silent = notice(
                "second-silent", cylinder=other.sensor.cylinder, why=other.verdict.reason
            )
            verdict = _warned(verdict, silent)
        elif other.verdict.tdc is not None:
            verdict = _combined(verdict, other.verdict, profile)
    return best, verdict


def _warned(verdict: Verdict, warning: Notice) -> Verdict:
    return replace(verdict, warnings=(*verdict.warnings, warning))


def _rank(ruled: Ruled) -> tuple[bool, bool, bool]:
    return (
        ruled.verdict.decided,
        ruled.sensor.place == "plug hole",
        ruled.verdict.tdc is not None,
    )


def _contradiction(one: Ruled, other: Ruled, profile: Profile) -> Remark | None:
    """Return what the trace says against the profile, None where they agree."""
    first, second = one.verdict.candidates[0], other.verdict.candidates[0]
    off = nearest(second.firing_1_deg - first.firing_1_deg, profile.cycle_deg)
    if abs(off) <= SAME_DEG:
        return None
    a, b = one.sensor.cylinder or 1, other.sensor.cylinder or 1
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    stated = within(offsets[b] - offsets[a], profile.cycle_deg)
    seen = within(stated + off, profile.cycle_deg)
    return remark(
        "firing-order-contradicts",
        one=a,
        other=b,
        seen_deg=seen,
        stated_deg=stated,
        order=profile.firing_order,
    )


def _doubt(one: Ruled, other: Ruled, profile: Profile) -> Remark | None:
    """Return what speaks against a sure cylinder in one that is not sure, None where none does."""
    first = one.verdict.candidates[0].firing_1_deg
    tdc, candidates = other.verdict.tdc, other.verdict.candidates
    if tdc is None or not candidates:
        return None
    # So wide a TDC that it might be either of its candidates' is near the sure one at its best.
    reach = SAME_DEG + max(SAME_DEG, tdc.angle_deg.half_width)
    near = max(
        (
            c.probability
            for c in candidates
            if abs(nearest(c.firing_1_deg - first, profile.cycle_deg)) <= reach
        ),
        default=0.0,
    )
    if near >= AGAINST * max(c.probability for c in candidates):
        return None
    return remark(
        "other-speaks-against",
        sure=one.sensor.cylinder or 1,
        other=other.sensor.cylinder,
        order=profile.firing_order,
    )


def _refused(verdict: Verdict, reason: Remark) -> Verdict:
    halved = tuple(
        replace(c, probability=1.0 / len(verdict.candidates)) for c in verdict.candidates
    )
    return replace(
        verdict,
        decided=False,
        reason=reason,
        firing_deg=None,
        candidates=halved,
        probability=halved[0].probability if halved else 0.0,
    )


def _combined(verdict: Verdict, other: Verdict, profile: Profile) -> Verdict:
    """Add the evidence of another cylinder to one that cannot decide alone."""
    if len(verdict.candidates) < 2 or len(other.candidates) < 2:
        return verdict
    weights = []
    for mine in verdict.candidates:
        near = min(
            other.candidates,
            key=lambda c: abs(nearest(c.firing_1_deg - mine.firing_1_deg, profile.cycle_deg)),
        )
        if abs(nearest(near.firing_1_deg - mine.firing_1_deg, profile.cycle_deg)) > SAME_DEG:
            return verdict
        weights.append(mine.probability * near.probability)
    # What neither explanation covers stays as likely as both sensors together leave it.
    rest = max(0.0, 1.0 - sum(c.probability for c in verdict.candidates))
    rest *= max(0.0, 1.0 - sum(c.probability for c in other.candidates))
    share = np.array(weights) / (sum(weights) + rest)
    candidates = tuple(
        sorted(
            (
                replace(c, probability=float(p))
                for c, p in zip(verdict.candidates, share, strict=True)
            ),
            key=lambda c: -c.probability,
        )
    )
    rough = verdict.tdc is None or verdict.tdc.angle_deg.half_width > TDC_MOST_DEG
    if rough or candidates[0].probability < DECIDED_AT:
        return replace(verdict, candidates=candidates, probability=candidates[0].probability)
    return replace(
        verdict,
        decided=True,
        reason=remark("both-together"),
        candidates=candidates,
        probability=candidates[0].probability,
        firing_deg=firing_tdcs(profile, candidates[0].firing_1_deg),
    )
