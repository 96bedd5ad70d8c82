"""What becomes of a judgement, and what ends, doubts or completes an answer: as kept.

Which cylinder fires is said here, and every reason not to say it is given here: each by its code,
its facts and the chances left, at engines of which no two cylinders are alike.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/verdict
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from suite_kept import held, sweep, turns_at
from suite_turned import BARE, ENGINE, SENSOR, UNSAID, turned

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Encoder, Profile, Sensor, even_intervals_deg
from strokewise.analysis.remark import Notice, notice, remark
from strokewise.analysis.samples import Events, Health, Press, Samples
from strokewise.analysis.stroke.passages import Visit
from strokewise.analysis.stroke.phase import Phase
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump, humps_of
from strokewise.analysis.verdict.earlier import Before, by_index, with_earlier, with_why
from strokewise.analysis.verdict.find import closing_verdict
from strokewise.analysis.verdict.found import Found, Standing, standing_of
from strokewise.analysis.verdict.hold import Ended, HoldWatch
from strokewise.analysis.verdict.judge import Judgement, judge, pulses_only
from strokewise.analysis.verdict.manifold import odd_cylinder, rule_manifold
from strokewise.analysis.verdict.methods import BASELINES, tdc_by, why_none
from strokewise.analysis.verdict.now import moment_of
from strokewise.analysis.verdict.reasons import why, why_nothing
from strokewise.analysis.verdict.rocking_valves import with_rocking
from strokewise.analysis.verdict.ruling import Evidence, index_deg, no_samples, rule
from strokewise.analysis.verdict.several import Ruled, together
from strokewise.analysis.verdict.silent import silent_notice
from strokewise.analysis.verdict.suspicion import held_back, last_off_deg
from strokewise.analysis.verdict.taken_back import taken_back
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.turned_back import (
    cranked_backwards,
    direction_matters,
    direction_notices,
)
from strokewise.analysis.verdict.unchecked import unchecked_notice, weighed
from strokewise.analysis.verdict.verdict import Candidate, Tdc, Verdict

FITTED = 1e-4

FIVE = Profile(5, (1, 2, 4, 5, 3), even_intervals_deg(5, 720.0), sensors=(SENSOR,))
FOUR = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720.0), sensors=(SENSOR,))
TWIN = Profile(2, (1, 2), (405.0, 315.0), sensors=(SENSOR,))
STROKER = Profile(2, (1, 2), (180.0, 180.0), cycle="two-stroke", sensors=(SENSOR,))
NO_EVENTS = Events.empty()
SURE = remark("by-your-word", cylinder=1)


@cache
def whole() -> Nodes:
    return turned(4)


def judged(nodes: Nodes, profile: Profile = FIVE, *, fitted: bool = False) -> Judgement:
    return judge(nodes, profile, profile.sensors[0], fitted=fitted)


def told(verdict: Verdict) -> Any:
    """Return a verdict with everything in it, reasons as they print."""
    return {
        "decided": verdict.decided,
        "reason": repr(verdict.reason),
        "warnings": [[w.code, repr(w.remark)] for w in verdict.warnings],
        "tdc": verdict.tdc,
        "firing": verdict.firing_deg,
        "probability": verdict.probability,
        "unsure": [math.log10(max(1.0 - c.probability, 1e-16)) for c in verdict.candidates],
        "candidates": [[c.firing_1_deg, c.within_deg] for c in verdict.candidates],
        "compression": verdict.compression,
        "clipped": verdict.clipped,
        "earlier": repr(verdict.earlier),
    }


def ruled(nodes: Nodes, profile: Profile = FIVE, *, fitted: bool = False, **more: Any) -> Any:
    more.setdefault("events", NO_EVENTS)
    judgement = judged(nodes, profile, fitted=fitted)
    judgement = replace(judgement, **more.pop("change", {}))
    return told(rule(Evidence(judgement, profile, profile.sensors[0], **more)))


def visit(turn: int, rise_bar: float, **change: Any) -> Visit:
    made = Visit(
        turn, 0.3 * turn, rise_bar, 0.006, True, False, 1.0, 0.0, False, 180.0, True, 0.004, 2.0
    )
    return replace(made, **change)


def phase(*visits: Visit, even: float = 0.3, odd: float = 0.3, **more: Any) -> Phase:
    every, none = more.pop("every", 0.2), more.pop("none", 0.2)
    more.setdefault("weighed", len(visits))
    return Phase(even, odd, every, none, visits, **more)


def reason(some: Phase, profile: Profile = FIVE, *, decided: bool = False, bar: bool = True) -> str:
    judgement = Judgement(whole(), (), (), (), None, some)
    return repr(why(judgement, profile, 3, decided, calibrated=bar))


def nothing(nodes: Nodes, clipped: float = 0.0, *, humps: Any = (), bar: bool = True) -> str:
    judgement = Judgement(nodes, (), humps, (), None, phase())
    return repr(why_nothing(judgement, clipped, calibrated=bar))


def flat(turned_deg: float, swing_bar: float = 0.0, cell_deg: float = 0.15) -> Nodes:
    angle = np.linspace(0.0, turned_deg, 60)
    one = np.ones(60)
    bar = 1.0 + swing_bar * np.linspace(0.0, 1.0, 60)
    return Nodes(np.linspace(0.0, 2.0, 60), angle, one, bar, one, one < 0, 0.01, cell_deg, 0.005)


def verdict(*chances: float, first: float = 71.0, decided: bool = False, **more: Any) -> Verdict:
    places = tuple(
        Candidate((first + 720.0 / len(chances) * n) % 720.0, p) for n, p in enumerate(chances)
    )
    tdc = Tdc(Interval(first % 360.0, first % 360.0 - 0.3, first % 360.0 + 0.2), 1, "fit", 4, 12.5)
    firing = {1: first, 2: (first + 144.0) % 720.0} if decided else None
    made = Verdict(decided, SURE, (), tdc, firing, chances[0], places)
    return replace(made, **more)


def sensed(cylinder: int | None, some: Verdict, place: Any = "plug hole") -> Ruled:
    sensor = Sensor(cylinder=cylinder, place=place)
    return Ruled(sensor, pulses_only(whole()), some)


def both(*some: Ruled, profile: Profile = FIVE) -> Any:
    best, said = together(some, profile)
    return [best.sensor.cylinder, best.sensor.place, told(said)]


def pulses(
    profile: Profile, first: float, odd: int | None = None, by: float = 0.0, cycles: int = 5
) -> Nodes:
    """Return what a manifold shows: a pulse for each cylinder, one of them another."""
    angle = np.arange(0.0, 720.0 * (cycles + 0.4), 2.3)
    bar = np.full_like(angle, 0.8)
    for number, cylinder in enumerate(profile.firing_order):
        centre = first + 360.0 + 720.0 * number / profile.cylinders + 95.0
        off = (angle - centre + 360.0) % 720.0 - 360.0
        depth = 0.03 + (by if cylinder == odd else 0.0)
        bar -= depth * np.exp(-0.5 * (off / 35.0) ** 2)
    bar += 0.0004 * np.sin(0.37 * angle)
    one = np.ones_like(angle)
    speed = 6.0 * 210.0
    return Nodes(angle / speed, angle, speed * one, bar, one, one < 0, 0.001, 0.15, 0.0003)


def in_manifold(profile: Profile, nodes: Nodes, cylinder: int | None = None, *keys: str) -> Any:
    presses = tuple(Press(key, 1_000_000) for key in keys)
    return told(rule_manifold(nodes, profile, Sensor(place="manifold", cylinder=cylinder), presses))


def rocked(some: Verdict, *keys: tuple[str, float], profile: Profile = FIVE) -> Any:
    nodes = whole()
    presses = tuple(
        Press(name, round(1e6 * float(np.interp(at, nodes.angle_deg, nodes.time_s))))
        for name, at in keys
    )
    return told(with_rocking(some, nodes, presses, profile))


def watched(count: np.ndarray, bar: np.ndarray, rate_hz: float = 1000.0, **more: float) -> Any:
    """Return every end and beginning of a hold, by the second at which it is seen."""
    watch = HoldWatch(more.get("cell_deg", 0.15), 1.01)
    time_us = (1e6 / rate_hz * np.arange(len(count))).astype(np.int64)
    seen, at = [], 0
    while True:
        change = watch.feed(time_us[at:], count[at:].astype(np.int64), bar[at:])
        if change is None:
            return seen
        at += change.at
        seen.append([time_us[at] * 1e-6, change.ended])


def hold(by: float, *, moves: float = 0.0, first: float = 1.2, step_s: float = 0.0) -> Any:
    """Turn for two seconds, then stand while the pressure goes to ``by`` bar at once or slowly."""
    turning = np.arange(2500)
    count = np.concatenate([2.0 * turning, 5000.0 + moves * (np.arange(1500) % 2)])
    swing = first + 0.15 * np.sin(turning / 150.0)
    stands = np.full(1500, swing[-1])
    ramp = np.clip(np.arange(1100) / max(step_s * 1000.0, 1.0), 0.0, 1.0)
    stands[400:] += (by - swing[-1]) * ramp
    return watched(count, np.concatenate([swing, stands]))


def flat_from(first: int, last: int) -> Nodes:
    at = np.arange(len(whole()))
    bar = np.where((at >= first) & (at < last), 1.0, whole().pressure_bar)
    return replace(whole(), pressure_bar=bar)


def going(way: float, speed: float) -> Nodes:
    nodes = whole()
    return replace(nodes, angle_deg=way * nodes.angle_deg, speed_deg_s=speed * nodes.speed_deg_s)


def hump(angle: float, way: int = 1, *, moving: bool = True, at: int = 300) -> Hump:
    return Hump(at, angle, 9.0, 8.0, way, moving)


def last_off(*angles: float, last: float = 5000.0, rpm: float = 230.0, way: int = 1) -> float:
    nodes = whole()
    nodes = replace(
        nodes,
        speed_deg_s=np.full(len(nodes), 6.0 * rpm),
        angle_deg=np.where(np.arange(len(nodes)) == len(nodes) - 1, last, nodes.angle_deg),
    )
    humps = tuple(hump(a, way, at=40 + 60 * n) for n, a in enumerate(angles))
    return last_off_deg(Judgement(nodes, (), humps, (), None, phase()))


def index_events(*counts: int) -> Events:
    count = np.array(counts, np.int64)
    time_us = np.linspace(0.3e6, 1.4e6, len(counts)).astype(np.int64)
    return Events(time_us, count, np.zeros(len(counts), np.int64))


def stands(some: Standing) -> Any:
    return [some.after_deg, repr(some.why_not), len(some.warnings), some.measured]


BOTH_WAYS = Before(1, Ended(12.34, 11.2))

CASES: dict[str, Callable[[], Any]] = {
    "ruled": lambda: {
        name: ruled(whole(), profile)
        for name, profile in (("five", FIVE), ("twin", TWIN), ("single", ENGINE))
    },
    "ruled of a two-stroke": lambda: ruled(whole(), STROKER),
    "ruled, another cylinder": lambda: ruled(
        whole(), replace(FIVE, sensors=(replace(SENSOR, cylinder=4),))
    ),
    "ruled, nobody said": lambda: ruled(whole(), replace(BARE, sensors=(UNSAID,)), clipped=0.031),
    "ruled, fitted": lambda: ruled(whole(), FIVE, fitted=True),
    "ruled by each method": lambda: {
        method: repr(tdc_by(method, judged(whole(), ENGINE, fitted=True), ENGINE))
        for method in ("fit",)
    },
    "ruled by a stop": lambda: ruled(whole(), FIVE, method="stop"),
    "ruled, drifting": lambda: ruled(
        whole(), FIVE, fitted=True, change={"drift_deg": 0.4, "doubt": None}
    ),
    "ruled, doubted": lambda: ruled(
        whole(), FIVE, fitted=True, change={"doubt": remark("every-charge-burns")}
    ),
    "ruled, refused": lambda: ruled(whole(), FIVE, change={"refusal": remark("first-samples")}),
    "ruled, too rough": lambda: ruled(
        whole(), FIVE, change={"tdc_deg": Interval(40.0, 5.0, 81.0), "phase_alone": False}
    ),
    "ruled, rough for the phase alone": lambda: [
        ruled(whole(), FIVE, change={"tdc_deg": Interval(40.0, 40.0 - half, 40.0 + half)})[
            "decided"
        ]
        for half in (29.0, 31.0, 49.0, 51.0)
    ],
    "ruled, nothing rises": lambda: [
        ruled(whole(), FIVE, change={"phase": phase(visit(0, rise), visit(1, 0.1), none=none)})
        for rise, none in ((0.19, 0.3), (0.21, 0.3), (0.1, 0.001))
    ],
    "ruled, turned back": lambda: ruled(
        replace(whole(), angle_deg=-whole().angle_deg, speed_deg_s=-whole().speed_deg_s), FIVE
    ),
    "ruled, with an index": lambda: ruled(
        whole(),
        replace(FIVE, encoder=Encoder(2400)),
        events=index_events(100, 2500, 4902),
    ),
    "ruled, of another count": lambda: [
        ruled(whole(), replace(FIVE, encoder=Encoder(2400)), events=index_events(*counts))["reason"]
        for counts in ((0, 2000, 4000, 6000, 8000), (0, 2410, 4820, 7230, 9640))
    ],
    "index": lambda: [
        index_deg(judged(whole()), replace(FIVE, encoder=encoder), index_events(100, 2500, 4901))
        for counts, ratio, way in ((2400, 1, 1), (2400, 1, -1), (1200, 0.5, 1), (2400, 2, 1))
        for encoder in (Encoder(counts, ratio, way),)
    ],
    "no samples": lambda: told(no_samples(remark("nothing-measured"))),
    "why decided": lambda: (
        [
            reason(
                phase(*some, even=0.99999, odd=0.0, every=0.0, none=0.0, changed=changed),
                decided=True,
                bar=bar,
            )
            for some in (
                (visit(0, 7.0), visit(1, 0.1), visit(2, 6.0), visit(3, 0.05), visit(4, 6.4)),
                (visit(0, 7.0, top_share=0.5), visit(2, 6.0, top_share=0.6)),
                (visit(0, 7.0, top_share=0.49),),
            )
            for changed, bar in ((False, True), (True, True), (False, False))
        ]
        + [reason(phase(visit(0, 3.0)), STROKER, decided=True)]
    ),
    "why not": lambda: [
        reason(some, profile, bar=bar)
        for some, profile in (
            (phase(), FIVE),
            (phase(visit(0, 3.0), visit(1, 3.1), every=0.5), FIVE),
            (phase(visit(0, 3.0), visit(2, 3.1), every=0.5), FIVE),
            (phase(visit(0, 3.0), visit(1, 3.1), every=0.1, none=0.3), FIVE),
            (phase(visit(0, 3.0, fell=False), visit(1, 0.1)), FIVE),
            (phase(visit(0, 3.0), visit(2, 2.0)), FIVE),
            (phase(visit(0, 0.3), visit(1, 0.2), every=0.0), FIVE),
            (phase(visit(0, 0.3, top_share=0.9), visit(1, 0.2, top_share=0.81), every=0.0), FIVE),
            (phase(visit(0, 0.3, top_share=0.9, level_bar=1.03), visit(1, 0.2), every=0.0), FIVE),
            (phase(visit(0, 0.3, top_share=0.9, level_bar=1.01), visit(1, 0.2), every=0.0), FIVE),
            (phase(visit(0, 3.0), visit(1, 2.0), changed=True), FIVE),
            (phase(visit(0, 3.0), visit(1, 0.1), changed=True, none=0.5), FIVE),
            (phase(visit(0, 3.0), visit(1, 0.1), changed=True, weighed=1), FIVE),
            (phase(visit(0, 0.1), visit(1, 0.1), changed=True), FIVE),
            (phase(visit(0, 0.1)), STROKER),
            (phase(even=0.0, odd=0.1), STROKER),
            (phase(visit(0, 0.1), even=0.0, odd=0.1), STROKER),
        )
        for bar in (True, False)
    ],
    "why nothing": lambda: [
        nothing(whole().part(0, 0)),
        nothing(flat(900.0), 0.51),
        nothing(flat(900.0), 0.49),
        nothing(flat(0.7)),
        nothing(flat(0.8)),
        nothing(flat(19.0, cell_deg=9.0)),
        nothing(flat(21.0, cell_deg=9.0)),
        nothing(flat(719.0), humps=(hump(3.0),)),
        nothing(flat(721.0), humps=(hump(3.0),)),
        nothing(flat(721.0, 0.029)),
        nothing(flat(721.0, 0.031)),
        nothing(flat(721.0, 0.031), bar=False),
    ],
    "what no method finds": lambda: (
        [repr(why_none(m)) for m in ("rocking", "peak")] + [sorted(BASELINES)]
    ),
    "several": lambda: [
        both(*some)
        for some in (
            (sensed(1, verdict(0.99999, 1e-5, decided=True)), sensed(4, verdict(0.6, 0.4))),
            (sensed(1, verdict(0.99999, 1e-5, decided=True)), sensed(4, verdict(0.1, 0.9))),
            (sensed(None, verdict(0.99999, 1e-5, decided=True)), sensed(4, verdict(0.1, 0.9))),
            (
                sensed(1, verdict(0.99999, 1e-5, decided=True)),
                sensed(4, verdict(0.99999, 1e-5, first=91.0, decided=True)),
            ),
            (
                sensed(1, verdict(0.99999, 1e-5, decided=True)),
                sensed(4, verdict(0.99999, 1e-5, first=171.0, decided=True)),
            ),
            (sensed(1, verdict(0.999, 0.001)), sensed(4, verdict(0.97, 0.03, first=81.0))),
            (sensed(1, verdict(0.9, 0.1)), sensed(4, verdict(0.7, 0.3))),
            (sensed(1, verdict(0.9, 0.1)), sensed(4, verdict(0.7, 0.3, first=171.0))),
            (sensed(1, verdict(0.9, 0.1)), sensed(4, verdict(0.7, 0.3, tdc=None))),
            (sensed(None, verdict(0.9, 0.1), "manifold"), sensed(4, verdict(0.7, 0.3))),
            (sensed(1, verdict(0.9, 0.1)), sensed(None, verdict(0.7, 0.3))),
            (sensed(2, verdict(0.9, 0.1, tdc=None)), sensed(3, verdict(0.7, 0.3))),
        )
    ],
    "manifold": lambda: {
        f"{name}, {odd}, {by:g}, {key}": in_manifold(
            profile, pulses(profile, 50.0, odd, by), None if key else odd, *([key] if key else [])
        )
        for name, profile, odd, by, key in (
            ("four", FOUR, None, 0.0, ""),
            ("four", FOUR, 3, 0.02, ""),
            ("four", FOUR, 3, -0.02, "Plug  out 3"),
            ("four", FOUR, 3, -0.02, "plug out 7"),
            ("five", FIVE, 4, 0.015, ""),
            ("single", ENGINE, None, 0.0, ""),
            ("twin", BARE, 2, 0.02, ""),
            ("uneven", TWIN, 2, 0.02, ""),
            ("two-stroke", STROKER, 2, 0.02, ""),
        )
    },
    "manifold, too little": lambda: (
        [in_manifold(FOUR, pulses(FOUR, 50.0, cycles=n)) for n in (0, 1, 2, 3)]
        + [
            in_manifold(FOUR, replace(p, pressure_bar=0.8 + factor * (p.pressure_bar - 0.8)))
            for p in (pulses(FOUR, 50.0),)
            for factor in (0.001, 0.01, 0.1)
        ]
        + [
            in_manifold(FOUR, replace(p, speed_deg_s=0.0 * p.angle_deg + 6.0 * rpm))["reason"]
            for p in (pulses(FOUR, 50.0),)
            for rpm in (59.0, 61.0)
        ]
    ),
    "the odd one": lambda: [
        odd_cylinder(Sensor(cylinder=c), tuple(Press(k, 0) for k in keys), FOUR)
        for c, keys in ((None, ()), (2, ()), (2, ("plug out 4",)), (2, ("plug out 5", "x")))
    ],
    "valves that rock": lambda: [
        rocked(some, *keys, profile=profile)
        for some, keys, profile in (
            (verdict(0.5, 0.5), (("valves rock 1", 431.0),), FIVE),
            (verdict(0.5, 0.5), (("Valve rocking 4", 800.0), ("notch", 3.0)), FIVE),
            (verdict(0.5, 0.5), (("valves rock 1", 431.0), ("valves rock 1", 800.0)), FIVE),
            (verdict(0.5, 0.5), (("valves rock 1", 431.0), ("valves rock 1", 460.0)), FIVE),
            (verdict(0.5, 0.5), (("valves rock 1", 477.0),), FIVE),
            (verdict(*(0.25,) * 4), (("valves rock 1", 440.0),), FOUR),
            (verdict(*(0.1,) * 10), (("valves rock 1", 440.0),), FIVE),
            (verdict(0.99999, 1e-5, decided=True), (("valves rock 1", 431.0),), FIVE),
            (verdict(0.99999, 1e-5, decided=True), (("valves rock 1", 791.0),), FIVE),
            (verdict(0.5, 0.5, tdc=None), (("valves rock 1", 431.0),), FIVE),
            (verdict(0.5), (("valves rock 1", 431.0),), ENGINE),
            (verdict(0.5, 0.5), (("valves rock 6", 431.0),), FIVE),
            (verdict(0.5, 0.5), (("valves rock 1", 431.0),), STROKER),
        )
    ],
    "from before": lambda: [
        [repr(b.why), [[n.code, repr(n.remark)] for n in b.notices]]
        for b in (Before(), Before(2), Before(3, Ended(12.34, 11.2)), BOTH_WAYS)
    ],
    "by the index": lambda: [
        told(by_index(now, BOTH_WAYS, old, index, -0.15, profile))
        for now, old, index, profile in (
            (verdict(0.5, tdc=None), verdict(0.9).tdc, 351.0, FIVE),
            (verdict(0.5, tdc=None), verdict(0.9).tdc, 351.0, STROKER),
            (verdict(0.5, tdc=None), replace(verdict(0.9).tdc, cylinder=4), 10.0, FIVE),
            (verdict(0.5, tdc=None), None, 351.0, FIVE),
            (verdict(0.5, tdc=None), replace(verdict(0.9).tdc, after_index_deg=None), 1.0, FIVE),
            (verdict(0.5, tdc=None), verdict(0.9).tdc, None, FIVE),
            (verdict(0.5), verdict(0.9).tdc, 351.0, FIVE),
            (verdict(0.5, tdc=None, decided=True), verdict(0.9).tdc, 351.0, FIVE),
        )
    ],
    "with what ended": lambda: [
        told(with_why(some, before))
        for before in (Before(), Before(2), BOTH_WAYS)
        for some in (
            verdict(0.5),
            verdict(0.99999, decided=True),
            verdict(0.5, reason=remark("tdc-by-index", why=None)),
        )
    ],
    "with an earlier answer": lambda: [
        told(with_earlier(now, old, BOTH_WAYS))
        for now in (verdict(0.5), verdict(0.99999, first=5.0, decided=True))
        for old in (None, verdict(0.99999, 1e-5, decided=True))
    ],
    "taken back": lambda: [
        told(taken_back(before, now, 720.0))
        for before in (
            verdict(0.5, warnings=(notice("withdrawn", why=SURE), notice("clipped", share=0.1))),
            verdict(0.99999, decided=True),
        )
        for now in (
            verdict(0.5),
            verdict(0.99999, first=90.0, decided=True),
            verdict(0.99999, first=92.0, decided=True),
            verdict(0.99999, first=711.0, decided=True),
            verdict(0.99999, first=431.0, decided=True),
        )
    ],
    "held back": lambda: [
        told(held_back(some, None)) for some in (verdict(0.5), verdict(0.99999, decided=True))
    ],
    "the last one off": lambda: (
        [last_off(40.0, 760.0, 1480.0, 2200.0 + by) for by in (0.0, 2.9, 3.1, -3.2, 5.0, 400.0)]
        + [last_off(40.0, 760.0 + 1.5, 1480.0 - 1.5, 2200.0 + by) for by in (4.4, 4.6)]
        + [
            last_off(40.0, 760.0, 1480.0),
            last_off(40.0, 760.0, 1490.0),
            last_off(40.0, 770.0),
            last_off(40.0, 760.0, 1480.0, 2210.0, last=2329.0),
            last_off(40.0, 760.0, 1480.0, 2210.0, last=2331.0),
            last_off(40.0, 760.0, 1480.0, 2210.0, rpm=69.0),
            last_off(40.0, 760.0, 1480.0, 2210.0, rpm=71.0),
            last_off(40.0, 760.0, 1480.0, 2210.0, way=-1),
            last_off(40.0, 760.0, 1480.0, 2210.0, way=-1, last=0.0),
            last_off(9.0, 740.0, 1480.0, 2200.0, 2920.0, 3640.0, 4360.0, 5087.0, last=6000.0),
        ]
    ),
    "turned back": lambda: [
        [
            repr(cranked_backwards(Judgement(n, (), (), (), None, phase()))),
            [
                [w.code, repr(w.remark)]
                for profile in (FIVE, TWIN, FOUR)
                for w in direction_notices(judged(n), profile, 2)
            ],
        ]
        for way, speed in ((1.0, 1.0), (-1.0, -1.0), (-1.0, -0.4), (-0.4, -1.0))
        for n in (going(way, speed),)
    ],
    "where the direction matters": lambda: {
        name: [direction_matters(e, c) for c in range(1, e.cylinders + 1)]
        for name, e in (("five", FIVE), ("four", FOUR), ("twin", TWIN), ("single", ENGINE))
    },
    "holds": lambda: {
        f"to {by:g} bar in {step_s:g} s, moving {moves:g}, from {first:g}": hold(
            by, moves=moves, first=first, step_s=step_s
        )
        for by in (0.7, 1.1, 1.3, 1.6, 2.6, 5.0)
        for step_s, moves, first in (
            (0.0, 0.0, 1.2),
            (0.6, 1.0, 1.2),
            (0.6, 2.0, 1.2),
            (0.3, 0.0, 3.0),
        )
    },
    "unchecked": lambda: (
        [
            [len(w.nodes), w.since_s]
            for first, last in (
                (9999, 9999),
                *((first, 9999) for first in range(300, 1200, 60)),
                *((500, 500 + width) for width in range(100, 600, 40)),
            )
            for w in (weighed(flat_from(first, last), 720.0),)
        ]
        + [len(weighed(whole().part(0, 40), 720.0).nodes)]
    ),
    "said of time": lambda: [
        [n.code, repr(n.remark)] for n in (unchecked_notice(3.4), silent_notice(12.5, 0.7))
    ],
    "now": lambda: [
        moment_of(
            Samples(
                np.array([1_000_000, 1_010_000, 1_025_000]),
                np.array([40, 44, 51]),
                np.array([[100, 7], [200, 7], [812, 9]], np.uint16),
                np.zeros(3, np.bool_),
            ),
            3,
            replace(FIVE, encoder=Encoder(720, 1.0, -1)),
            (SENSOR, Sensor(channel=1), Sensor(channel=2)),
            12,
            moved,
        )
        for moved in (1.025, 0.73, 0.72)
    ],
    "now, of few samples": lambda: [
        moment_of(
            Samples(
                1_000_000 + 5_000 * np.arange(count),
                40 + 3 * np.arange(count),
                np.full((count, 1), 812, np.uint16),
                np.zeros(count, np.bool_),
            ),
            0,
            FIVE,
            (SENSOR,),
            12,
            1.0,
        )
        for count in (1, 2, 3)
    ],
    "how it came through": lambda: [
        [
            [notice.code, repr(notice.remark)]
            for notice in closing_verdict(Tracker(FIVE), health).warnings
        ]
        for health in (
            Health(samples=9, frames=900),
            Health(frames=900, lost_frames=3, bad_frames=2),
            Health(frames=900, bad_frames=2),
            Health(frames=900, lost_frames=3, lost_about=True),
            Health(missing_bytes=31, left_out=4, unchecked_lines=5),
        )
    ],
    "found": lambda: (
        [
            [
                f.firing_1_deg,
                f.tdc_1,
                f.after_firing_1_deg,
                repr(f.why_no_angle),
                stands(standing_of(f)),
            ]
            for some, angle in (
                (verdict(0.99999, decided=True), 801.5),
                (verdict(0.99999, decided=True), None),
                (verdict(0.5), 801.5),
                (replace(verdict(0.5), tdc=replace(verdict(0.5).tdc, cylinder=4)), 10.0),
                (verdict(0.99999, decided=True, earlier=remark("from-before", why=SURE)), None),
                (verdict(0.5, tdc=None), None),
            )
            for f in (Found(FIVE, some, angle),)
        ]
        + [stands(Standing(FIVE, None, remark("first-samples")).at(a)) for a in (None, -3.5)]
        + [
            Found(FIVE, verdict(0.5), 1.0, judgement=j).held_since_s
            for j in (None, pulses_only(whole().part(400, 900)), pulses_only(whole().part(0, 0)))
        ]
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_verdicts_come_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES, relative=FITTED)


def test_a_share_of_clipped_readings_from_which_a_person_should_know() -> None:
    def warned(share: float) -> bool:
        said = ruled(whole(), FIVE, clipped=share)
        return any(code == "clipped" for code, _ in said["warnings"])

    assert turns_at(warned, 0.0, 0.5) == pytest.approx(0.02)


def test_two_cylinders_agree_within_forty_five_degrees() -> None:
    """Less than half of the closest usual firing interval; beyond, the profile is contradicted."""

    def agree(by: float) -> bool:
        first = sensed(1, verdict(0.99999, 1e-5, decided=True))
        other = sensed(4, verdict(0.99999, 1e-5, first=71.0 + by, decided=True))
        return together((first, other), FIVE)[1].decided

    assert turns_at(agree, 0.0, 150.0) == pytest.approx(45.0)


def test_humps_are_seen_in_what_the_tests_turn() -> None:
    assert len(humps_of(whole())) == 5
    assert sweep(lambda n: n, [1, 1, 2]) == [[1, 1], [2, 2]]
    assert isinstance(notice("clipped", share=0.1), Notice)
