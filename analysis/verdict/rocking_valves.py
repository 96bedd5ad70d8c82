"""Which candidate fits what a person saw? Both valves of a cylinder rock at its overlap TDC.

A press named ``valves rock N`` says that cylinder N stood at overlap then: its firing TDC is one
turn away. It tells candidates apart that pressure cannot; it is too coarse to say where TDC is.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from strokewise.analysis.crank.strokes import firing_1_from, firing_tdcs, nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, remark
from strokewise.analysis.samples import Press
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.verdict.verdict import Candidate, Tdc, Verdict

VALVES_ROCK = re.compile(r"valves?\s+rock(?:ing)?\s+(\d+)", re.IGNORECASE)

SEEN_WITHIN_DEG = 45.0
"""An eye, a hand at the key and an overlap of 20° to 60° place overlap TDC within this."""

SEEN_SHARE = 0.4
"""And within so much of the candidates' spacing, or it tells none of them from its neighbour."""

CANDIDATE_SHARE = 0.3
"""By so much of their spacing the candidates themselves may be off: half as much again as those
from the manifold scattered."""

PERSON_RIGHT = 0.99995
"""A person who looks at named valves rarely takes the wrong pair; two presses that differ count
for none."""


def with_rocking(
    verdict: Verdict, nodes: Nodes, presses: tuple[Press, ...], profile: Profile
) -> Verdict:
    """Return the verdict with the presses taken as evidence, or with the warning that they
    contradict."""
    seen = _pressed(nodes, presses, profile)
    if not seen or not verdict.candidates or profile.cycle == "two-stroke":
        return verdict
    cylinder, firing_1 = seen[-1]
    if any(abs(nearest(f - firing_1, 720.0)) > SEEN_WITHIN_DEG for _, f in seen):
        note = Notice("valves-rock", remark("presses-contradict"))
        return replace(verdict, warnings=(*verdict.warnings, note))
    near = sorted(verdict.candidates, key=lambda c: abs(nearest(c.firing_1_deg - firing_1, 720.0)))
    best = near[0]
    spacing = 720.0 / max(len(near), 1)
    if abs(nearest(best.firing_1_deg - firing_1, 720.0)) > min(
        SEEN_WITHIN_DEG, SEEN_SHARE * spacing
    ):
        note = Notice("valves-rock", remark("press-fits-none", cylinder=cylinder))
        return replace(verdict, warnings=(*verdict.warnings, note))
    if verdict.decided:
        if best.firing_1_deg == verdict.candidates[0].firing_1_deg:
            return verdict
        note = Notice("valves-rock", remark("press-against-pressure", cylinder=cylinder))
        return replace(verdict, warnings=(*verdict.warnings, note), decided=False, firing_deg=None,
                       reason=remark("two-explanations", why=note.remark))  # fmt: skip
    next_deg = 360.0
    if len(near) > 1:
        next_deg = abs(nearest(near[1].firing_1_deg - firing_1, 720.0)) - CANDIDATE_SHARE * spacing
    if next_deg < SEEN_WITHIN_DEG:
        note = Notice("valves-rock", remark("press-between-two", cylinder=cylinder))
        return replace(verdict, warnings=(*verdict.warnings, note))
    rest = (1.0 - PERSON_RIGHT) / max(len(near) - 1, 1)
    candidates = tuple(Candidate(c.firing_1_deg, PERSON_RIGHT if c is best else rest) for c in near)
    return replace(
        verdict,
        decided=True,
        reason=remark("by-your-word", cylinder=cylinder),
        candidates=candidates,
        probability=PERSON_RIGHT,
        firing_deg=firing_tdcs(profile, best.firing_1_deg),
        tdc=verdict.tdc or _coarse_tdc(best.firing_1_deg),
    )


def _coarse_tdc(firing_1: float) -> Tdc:
    angle = firing_1 % 360.0
    return Tdc(Interval(angle, angle - SEEN_WITHIN_DEG, angle + SEEN_WITHIN_DEG), 1, "rough", 1)


def _pressed(nodes: Nodes, presses: tuple[Press, ...], profile: Profile) -> list[tuple[int, float]]:
    """Return each press's cylinder and the firing TDC of cylinder 1 that it points to."""
    found = []
    for press in presses:
        match = VALVES_ROCK.search(press.name)
        time_s = press.time_us * 1e-6
        if match is None or not len(nodes) or not nodes.time_s[0] <= time_s <= nodes.time_s[-1]:
            continue
        cylinder = int(match[1])
        if 1 <= cylinder <= profile.cylinders:
            angle = float(np.interp(time_s, nodes.time_s, nodes.angle_deg))
            found.append((cylinder, firing_1_from(profile, cylinder, angle + 360.0)))
    return found
