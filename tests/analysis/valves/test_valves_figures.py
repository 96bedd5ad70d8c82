"""What base circles, stops, gaps and feelers come to at cases without symmetry: as kept.

A gap set on a ramp burns a valve, a tight one called wide does, too. The engines are a five, a
twin of uneven intervals, and a head with two exhaust valves to a cylinder.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/valves
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from suite_kept import error_of, held, sweep, turns_at

from strokewise.analysis.profile import Profile, Valves, ValveTiming, even_intervals_deg
from strokewise.analysis.remark import remark
from strokewise.analysis.valves.base_circle import (
    Valve,
    check_keys,
    lifted_span,
    state_on_cam,
    valve_states,
    valves_of,
)
from strokewise.analysis.valves.clearances import (
    INCH_BLADES_MM,
    METRIC_BLADES_MM,
    Gap,
    check_gap,
    choose_shims,
    feeler_stacks,
    holds_otherwise,
    target_mm,
)
from strokewise.analysis.valves.valve_setting import (
    rocking_rule,
    sum_rule,
    valve_setting,
    working_list,
)
from strokewise.analysis.valves.valve_stops import fewest_stops
from strokewise.analysis.valves.valves_answer import ValvesQuestion, valves_answer
from strokewise.analysis.verdict.found import Standing
from strokewise.gui.sayings import say

TIMING = ValveTiming(13.0, 51.0, 55.0, 19.0, 0.5)
FIVE = Profile(
    5,
    (1, 2, 4, 5, 3),
    even_intervals_deg(5, 720.0),
    valve_timing=TIMING,
    valves=Valves("EIEIEIIEIE", 0.2, 0.35, "hot"),
)
FOUR = Profile(
    4,
    (1, 3, 4, 2),
    even_intervals_deg(4, 720.0),
    valve_timing=replace(TIMING, at_lift_mm=0.0),
    valves=Valves("EIIEEIIE", 0.15, 0.3, adjust="shim"),
)
TWIN = Profile(2, (1, 2), (405.0, 315.0))
THREE_EACH = Profile(2, (1, 2), (360.0, 360.0), valves=Valves("EIEEIE", lifters="hydraulic"))
SIX = Profile(
    6,
    (1, 5, 3, 6, 2, 4),
    even_intervals_deg(6, 720.0),
    valves=Valves("EIIEEIIEEIIE", 0.3, None, "either"),
)
WILD = replace(FOUR, valve_timing=ValveTiming(140.0, 150.0, 55.0, 19.0))
LONG = replace(FOUR, valve_timing=ValveTiming(95.0, 95.0, 60.0, 20.0))
STROKER = replace(TWIN, cycle="two-stroke", firing_intervals_deg=(180.0, 180.0))
ENGINES = {"five": FIVE, "four": FOUR, "twin": TWIN, "three each": THREE_EACH, "six": SIX}


def short(setting: Any) -> Any:
    """Return what a setting says, without what other cases hold."""
    return [
        [s.valve.key for s in setting.working.ready],
        [s.valve.key for s in setting.working.later],
        [v.key for v in setting.working.done],
        [
            [s.angle_deg, s.turn_deg, s.firing, s.rocking, [v.key for v in s.valves]]
            for s in setting.plan.stops
        ],
        setting.targets_mm,
        setting.gaps,
        setting.notices,
    ]


def ask(profile: Profile, after: float | None, why: str = "", **said: Any) -> Any:
    found = valves_answer(ValvesQuestion(**said), Standing(profile, after, why_not=why))
    return [short(found.setting), found.shims, found.feelers, found.decided]


CASES: dict[str, Any] = {
    "valves": lambda: {
        name: [[v.key, v.words, v.number, v.one_of] for v in valves_of(e)]
        for name, e in ENGINES.items()
    },
    "no such heads": lambda: (
        [
            error_of(lambda o=order: valves_of(replace(TWIN, valves=Valves(o))))
            for order in ("EIE", "EEII", "EIEX", "E", "EIEIEI"[:5])
        ]
        + [error_of(lambda: valves_of(STROKER)), error_of(lambda: check_keys(TWIN, ["1E", "3I"]))]
    ),
    "lifted": lambda: {
        name: [
            [span, span.fully_open_deg]
            for kind in ("inlet", "exhaust")
            for span in (lifted_span(e, kind),)
        ]
        for name, e in ENGINES.items()
    },
    "states": lambda: [
        [[s, s.spare_deg, s.ready] for s in valve_states(FIVE, 77.0, angle)]
        for angle in (0.0, 301.5)
    ],
    "one valve around": lambda: [
        sweep(
            lambda a, k=kind: state_on_cam(Valve(1, k), lifted_span(FIVE, k), a).ready,
            np.arange(0.0, 720.0, 0.5),
        )
        for kind in ("inlet", "exhaust")
    ],
    "one valve off its circle around": lambda: sweep(
        lambda a: state_on_cam(Valve(1, "inlet"), lifted_span(FIVE, "inlet"), a).on_base_circle,
        np.arange(0.0, 720.0, 0.5),
    ),
    "what to do": lambda: {
        name: [
            [[s.valve.key for s in w.ready], [s.valve.key for s in w.later], w.angle_deg]
            for angle in (33.0, 800.0)
            for w in (working_list(e, 11.0, angle, ("1E",)),)
        ]
        for name, e in ENGINES.items()
    },
    "stops": lambda: {
        name: [fewest_stops(e, 41.0, start) for start in (0.0, 400.0)]
        for name, e in ENGINES.items()
    },
    "stops for what is left": lambda: [
        fewest_stops(FIVE, 41.0, 10.0, ("1E", "1I", "3E", "4I")),
        fewest_stops(FOUR, 0.0, 0.0, [v.key for v in valves_of(FOUR)]),
        fewest_stops(FOUR, 0.0, 0.3),
        fewest_stops(FOUR, 0.0, 0.7),
    ],
    "stops that there are none of": lambda: [fewest_stops(e, 5.0, 0.0) for e in (WILD, LONG)],
    "rules": lambda: {
        name: [rocking_rule(e), sum_rule(e)]
        for name, e in (*ENGINES.items(), ("wild", WILD), ("long", LONG))
    },
    "gaps": lambda: [
        check_gap(Gap("1E", 0.3, *measured), adjust=adjust)
        for adjust in ("screw", "shim")
        for measured in (
            (),
            (0.33,),
            (0.32,),
            (0.2,),
            (0.4, 0.31),
            (0.4, 0.35),
            (0.4, 0.3, 0.27),
            (0.4, 0.3, 0.28),
            (None, None, 0.36),
            (None, 0.26),
        )
    ],
    "no such gaps": lambda: (
        [
            error_of(lambda m=m: Gap("1E", *m))
            for m in ((3.0,), (0.3, -0.1), (0.3, None, 12.0), (0.3, 0.2, 0.2, 30.0))
        ]
        + [Gap("1E", 2.99), Gap("1E", 0.0)]
    ),
    "gaps wanted": lambda: [
        [target_mm(e, k) for k in ("inlet", "exhaust")] for e in ENGINES.values()
    ],
    "cold and hot": lambda: [
        say(remark("cold-hot", state=state, engine_is=engine))
        if holds_otherwise(Valves(state=state, lifters=lifters), engine)
        else ""
        for state in ("cold", "hot", "either")
        for engine in ("cold", "hot", None)
        for lifters in ("solid", "hydraulic")
    ],
    "shims": lambda: [
        choose_shims(2.65, 0.41, 0.3),
        choose_shims(2.65, 0.12, 0.3, (2.4, 2.5, 2.45, 2.6)),
        choose_shims(2.625, 0.3, 0.3),
        choose_shims(0.06, 0.02, 0.05),
        choose_shims(2.6, 0.3004, 0.3, (2.6, 2.6008, 2.6001)),
        [
            error_of(lambda a=a: choose_shims(*a))
            for a in ((0.0, 0.1, 0.1), (1.0, -0.1, 0.1), (1.0, 0.1, -0.1))
        ],
        choose_shims(1.0, 0.0, 0.0),
    ],
    "feelers": lambda: [
        [METRIC_BLADES_MM, INCH_BLADES_MM],
        [feeler_stacks(t) for t in (0.3, 0.37, 1.13, 0.02)],
        [feeler_stacks(t, INCH_BLADES_MM, most=2) for t in (0.3, 0.015 * 25.4)],
        feeler_stacks(0.3, (0.1, 0.1, 0.2)),
        feeler_stacks(0.3, ()),
        feeler_stacks(0.3004, (0.3, 0.3008, 0.3001), most=1),
        error_of(lambda: feeler_stacks(0.0)),
    ],
    "the whole setting": lambda: {
        name: [
            short(valve_setting(e, 41.0, 99.0, done=("1I",), engine_is=engine))
            for engine in ("cold", "hot")
        ]
        for name, e in (
            *ENGINES.items(),
            ("wild", WILD),
            ("long", LONG),
            ("bare", replace(FOUR, valves=None)),
        )
    },
    "gaps where the crank stands": lambda: short(
        valve_setting(
            FIVE,
            41.0,
            41.0,
            done=("2E", "1I"),
            gaps=(
                Gap("1I", 0.2, 0.3, 0.26, 0.27),
                Gap("1E", 0.35, 0.36),
                Gap("2E", 0.35, 0.36),
                Gap("5I", 0.2, 0.2),
                Gap("3I", 0.2, 0.1),
                Gap("4E", 0.35),
            ),
        )
    ),
    "gaps where nobody knows": lambda: short(
        valve_setting(
            FIVE,
            0.0,
            0.0,
            done=("2E",),
            gaps=(Gap("1I", 0.2, 0.2), Gap("2E", 0.35, 0.9)),
            place_known=False,
        )
    ),
    "asked": lambda: [
        ask(FIVE, 12.0, done=("2", "3e"), gap=(("1", (0.4, 0.35)), ("1i", (0.3,)))),
        ask(FOUR, 5.0, gap=(("1", (0.4,)), ("2I", (0.15,))), fitted=(("1E", 2.5), ("2I", 2.2))),
        ask(FOUR, 5.0, gap=(("1", (0.4,)),), fitted=(("1", 2.5),), shims=(2.4, 2.7), blades="inch"),
        ask(FOUR, None, "no TDC yet", gap=(("1", (0.4,)),), fitted=(("1", 2.5),)),
        ask(FOUR, None, "no TDC yet", after_tdc_deg=-725.0, engine_is="hot"),
        ask(TWIN, 400.0),
        ask(THREE_EACH, 0.0, done=("1E2", "6")),
    ],
    "asked what cannot be": lambda: [
        error_of(lambda s=said, e=engine: ask(e, 0.0, **s))
        for engine, said in (
            (FOUR, {"gap": (("1", (0.1, 0.2, 0.3, 0.4)),)}),
            (TWIN, {"gap": (("1E", (0.1,)),)}),
            (SIX, {"gap": (("1E", (0.1,)),)}),
            (FOUR, {"fitted": (("1E", 2.5),)}),
            (FOUR, {"fitted": (("1E", 2.5),), "gap": (("1E", (None, 0.3)),)}),
            (FOUR, {"done": ("9",)}),
        )
    ],
}


@pytest.mark.parametrize("name", CASES)
def test_valves_come_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES)


def test_a_valve_is_ready_ten_degrees_within_its_base_circle() -> None:
    """A crank set by hand stands within this: a gap must never be set on a ramp."""
    span = lifted_span(FIVE, "inlet")

    def ready(after: float) -> bool:
        return state_on_cam(Valve(1, "inlet"), span, after).ready

    assert turns_at(ready, span.closes_deg - 30.0, span.closes_deg + 30.0) == pytest.approx(
        span.closes_deg + 10.0
    )
    assert turns_at(ready, 720.0 + span.opens_deg - 30.0, 720.0 + span.opens_deg) == pytest.approx(
        720.0 + span.opens_deg - 10.0
    )


def test_a_gap_is_right_within_a_thousandth_of_an_inch() -> None:
    def status(gap: float) -> str:
        return check_gap(Gap("1E", 0.3, gap)).status

    assert turns_at(status, 0.3, 0.6) == pytest.approx(0.325)
    assert turns_at(status, 0.3, 0.1) == pytest.approx(0.275)
    assert turns_at(lambda gap: check_gap(Gap("1E", 0.3, 0.5, gap, gap)).status, 0.3, 0.6) == (
        pytest.approx(0.325)
    )
