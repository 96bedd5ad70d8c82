"""What does a sensor in the intake manifold, or in one runner, tell? Pulses of every cylinder's
drawing-in.

An evenly firing engine draws in once every firing interval, and the manifold cannot say whose turn
it is: as many candidates remain as there are cylinders. What tells them apart is one cylinder that
differs: the runner that the sensor sits in, or a plug taken out (that cylinder draws through its
plug hole too), or a person who sees a named pair of valves rock (:mod:`rocking_valves`). A single
has nobody to be mixed up with. Where cylinders fire unevenly, pulses run into each other by their
heights and shapes, which nobody knows: that is left to a plug hole.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.strokes import firing_offsets, firing_tdcs, within
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import Remark, remark
from strokewise.analysis.samples import Press
from strokewise.analysis.tails import student_below
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.analysis.verdict.verdict import DECIDED_AT, Candidate, Tdc, Verdict

PULSE_BIN_DEG = 10.0
"""Pressure is looked at in steps of so much crank angle; pulses are ten times as long."""

FEWEST_CYCLES = 2
"""Pulses must come back: one alone may be a touch of the throttle."""

PULSES_CRANKED_RPM = 60.0
"""Slower than this the manifold fills up between pulses."""

PULSE_SIGMAS = 6.0
"""The pulses' swing over their scatter from cycle to cycle, or nothing is there."""

PULSE_BAR = 0.0008
"""And at the least so much: a vacuum sensor's 12 bit step is a third of it."""

LOWEST_AFTER_DEG = {
    1: 145.0,
    2: 113.0,
    3: 92.0,
    4: 97.0,
    5: 115.0,
    6: 60.0,
    7: 65.0,
    8: 60.0,
    9: 52.0,
    10: 47.0,
    11: 49.0,
    12: 45.0,
}
"""How long after an overlap TDC the ground wave of the pulses is lowest, modulo the firing
interval, by the number of cylinders. From 40 draws of the bench engine (1, 7 and 9 to 12: 6 to 16),
throttle nearly shut to half open; no outside source."""

LOWEST_SPREAD_SHARE, LOWEST_SPREAD_MOST_DEG = 0.2, 60.0
"""The draws scattered by up to this share of the firing interval, a single's by 40°."""

UNEVEN_DEG = 1.0
"""Firing intervals that differ by more are uneven."""

DRAWS_FROM_DEG, DRAWS_TO_DEG = 20.0, 150.0
"""The part of the intake stroke in which a cylinder draws most."""

EVIDENCE_MOST = 1e-6
"""However clear the figures, a sensor in another runner than stated is not less likely than
this."""

MODEL_SHIFT_DEG = 130.0
"""With the throttle all but shut the draught shows up to 100° later than with it open: cylinders
that fire closer than this are not told apart by which pulse differs."""

NEIGHBOUR = 0.1
"""Weight that such neighbours keep."""

PLUG_OUT = re.compile(r"plug\s+out\s+(\d+)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class OddPulses:
    """The one cylinder that differs: it draws more (its runner is sensed) or less (its plug is
    out)."""

    cylinder: int
    draws_less: bool


def rule_manifold(
    nodes: Nodes, profile: Profile, sensor: Sensor, presses: tuple[Press, ...]
) -> Verdict:
    """Return what the pulses in the manifold leave possible, and what would decide."""
    even = 1.0 / profile.cylinders
    if profile.cycle == "two-stroke":
        return Verdict(False, remark("two-strokes-intake"))
    if float(np.ptp(profile.firing_intervals_deg)) > UNEVEN_DEG:
        return Verdict(False, remark("uneven-in-manifold"), probability=min(even, 0.5))
    cycles = _cycles(nodes)
    if len(cycles) < FEWEST_CYCLES:
        return Verdict(False, remark("few-turns-in-manifold"), probability=min(even, 0.5))
    first = _first_candidate(cycles, profile)
    if first is None:
        return Verdict(False, remark("no-pulses-in-manifold"), probability=min(even, 0.5))
    places = _places(first, profile)
    odd = odd_cylinder(sensor, presses, profile)
    chances = np.full(len(places), 1.0 / len(places))
    if profile.cylinders == 1:
        chances = np.array([1.0 - EVIDENCE_MOST])
    elif odd is not None:
        chances = _by_odd_cylinder(cycles, places, odd, profile)
    candidates = tuple(
        sorted(
            (Candidate(place, float(p)) for place, p in zip(places, chances, strict=True)),
            key=lambda c: -c.probability,
        )
    )
    best = candidates[0]
    decided = best.probability >= DECIDED_AT
    spread = min(LOWEST_SPREAD_SHARE * 720.0 / profile.cylinders, LOWEST_SPREAD_MOST_DEG)
    angle = best.firing_1_deg % 360.0
    return Verdict(
        decided,
        _why(candidates, odd, profile, decided),
        tdc=Tdc(Interval(angle, angle - spread, angle + spread), 1, "rough", len(cycles))
        if decided
        else None,
        firing_deg=firing_tdcs(profile, best.firing_1_deg) if decided else None,
        probability=best.probability,
        candidates=candidates,
    )


def odd_cylinder(sensor: Sensor, presses: tuple[Press, ...], profile: Profile) -> OddPulses | None:
    """Return the cylinder that differs: a named runner, or ``plug out N`` pressed by a person."""
    said = [int(m[1]) for p in presses if (m := PLUG_OUT.search(p.name))]
    if said and said[-1] <= profile.cylinders:
        return OddPulses(said[-1], True)
    return None if sensor.cylinder is None else OddPulses(sensor.cylinder, False)


def _cycles(nodes: Nodes) -> FloatArray:
    """Return pressure by cycle and bin of 720°, (cycles, 72); only whole cycles turned forwards."""
    size = round(720.0 / PULSE_BIN_DEG)
    fast = nodes.speed_deg_s > PULSES_CRANKED_RPM * DEG_S_PER_RPM
    if fast.sum() < size:
        return np.empty((0, size))
    place = np.floor(nodes.angle_deg[fast] / PULSE_BIN_DEG).astype(np.int64)
    cycle = place // size
    inside = (cycle >= -(-place.min() // size)) & (cycle < place.max() // size)
    # Only cycles that were seen take up room: a damaged count may lie millions of turns away.
    numbers, row = np.unique(cycle[inside], return_inverse=True)
    count = len(numbers)
    if not count:
        return np.empty((0, size))
    at = row * size + place[inside] % size
    weight = np.bincount(at, minlength=count * size)
    total = np.bincount(at, nodes.pressure_bar[fast][inside], minlength=count * size)
    seen = weight > 0
    bins = (numbers[:, None] * size + np.arange(size)).ravel()
    filled = np.interp(bins, bins[seen], total[seen] / weight[seen])
    # A zero or a vacuum that drifts would begin every cycle anew, as a wave of its own.
    middles = (numbers + 0.5) * size
    filled -= np.interp(bins, middles, filled.reshape(count, size).mean(axis=1))
    whole = filled.reshape(count, size)
    gaps = (~seen).reshape(count, size).sum(axis=1)
    level = whole - whole.mean(axis=1, keepdims=True)
    return np.asarray(level[gaps < size // 6])


def _first_candidate(cycles: FloatArray, profile: Profile) -> float | None:
    """Return one firing TDC of cylinder 1 by the ground wave of the pulses; the others follow from
    it."""
    n = profile.cylinders
    angle = np.radians((np.arange(cycles.shape[1]) + 0.5) * PULSE_BIN_DEG / 2.0)
    waves = cycles @ np.exp(-1j * n * angle) / cycles.shape[1]
    swing = abs(complex(waves.mean()))
    scatter = float(np.abs(waves - waves.mean()).std() / np.sqrt(len(waves))) + 1e-9
    if n not in LOWEST_AFTER_DEG or 2.0 * swing < PULSE_BAR or swing < PULSE_SIGMAS * scatter:
        return None
    lowest = np.degrees((np.pi - np.angle(waves.mean())) / n) * 2.0
    # Cylinder 1 draws from its overlap TDC on, 360° from its firing TDC.
    return within(float(lowest) - LOWEST_AFTER_DEG[n] - 360.0, 720.0 / n)


def _places(first: float, profile: Profile) -> tuple[float, ...]:
    """Return every firing TDC of cylinder 1 that the pulses allow."""
    step = 720.0 / profile.cylinders
    return tuple(within(first + k * step, 720.0) for k in range(profile.cylinders))


def _by_odd_cylinder(
    cycles: FloatArray, places: tuple[float, ...], odd: OddPulses, profile: Profile
) -> FloatArray:
    """Return the chance of each candidate: under it, the odd cylinder draws where one differs."""
    offset = firing_offsets(profile.firing_order, profile.firing_intervals_deg)[odd.cylinder]
    centre = (np.arange(cycles.shape[1]) + 0.5) * PULSE_BIN_DEG
    scores = []
    for place in places:
        after = (centre - (place + offset + 360.0)) % 720.0
        draws = (after > DRAWS_FROM_DEG) & (after < DRAWS_TO_DEG)
        scores.append(cycles[:, draws].mean(axis=1))
    score = np.array(scores).T * (1.0 if odd.draws_less else -1.0)
    score = score - score.mean(axis=1, keepdims=True)
    order = np.argsort(score.mean(axis=0))
    best, second = order[-1], order[-2]
    apart = score[:, best] - score[:, second]
    sigma = float(apart.std(ddof=1) / np.sqrt(len(apart))) + 1e-5 if len(apart) > 1 else np.inf
    doubt = student_below(max(len(apart) - 1, 1), -apart.mean() / sigma)
    # The next best may also be chance; what the odd cylinder does not explain stays evenly spread.
    doubt = float(np.clip(doubt * (len(places) - 1), EVIDENCE_MOST, 1.0 - 1.0 / len(places)))
    chances = np.full(len(places), doubt / (len(places) - 1))
    chances[best] = 1.0 - doubt
    if 720.0 / len(places) < MODEL_SHIFT_DEG:
        near = [(best + 1) % len(places), (best - 1) % len(places)]
        chances[near] = NEIGHBOUR * chances[best]
    return np.asarray(chances / chances.sum())


def _why(
    candidates: tuple[Candidate, ...], odd: OddPulses | None, profile: Profile, decided: bool
) -> Remark:
    if profile.cylinders == 1:
        return remark("single-draws-in")
    if decided and odd is not None:
        return remark("odd-one-draws", cylinder=odd.cylinder, draws_less=odd.draws_less)
    places = tuple(c.firing_1_deg for c in sorted(candidates, key=_place))
    return remark("whose-pulse", places_deg=places)


def _place(candidate: Candidate) -> float:
    return candidate.firing_1_deg
