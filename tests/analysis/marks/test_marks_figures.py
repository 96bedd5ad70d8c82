"""What marks come to, and what each cause of theirs weighs, at cases without symmetry: as kept.

A wrong cause sends a mechanic to take off a pulley that is right. The causes are weighed by small
priors and spreads; here the chances of all of them are kept in powers of ten, where each shows.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/marks
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from suite_kept import held, sweep, turns_at

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks import cam_evidence as train
from strokewise.analysis.marks import mark_evidence as evidence
from strokewise.analysis.marks.half_turn import half_turn_from
from strokewise.analysis.marks.mark_causes import weigh_causes
from strokewise.analysis.marks.mark_edges import edges_agree, pressed_agree
from strokewise.analysis.marks.marks import (
    MarkPlace,
    place_mark,
    shared_step_deg,
    turns_at_half_speed,
)
from strokewise.analysis.marks.next_look import next_look
from strokewise.analysis.marks.rig_states import Sensed, rig_states
from strokewise.analysis.profile import CamDrive, DriveGear, Mark, Profile, even_intervals_deg
from strokewise.analysis.trace.marks_met import MarkPass, MarkPress, MarkSeen

FIVE = Profile(
    5,
    (1, 2, 4, 5, 3),
    even_intervals_deg(5, 720.0),
    static_advance_btdc_deg=7.0,
    pulley_radius_mm=71.0,
    flywheel_teeth=116,
    cam_drive=CamDrive(21, 42),
    drive_gear=DriveGear(13, 32.0, 21.0, 8.0, "right"),
)
TWIN = Profile(2, (1, 2), (405.0, 315.0))
STROKER = Profile(3, (1, 3, 2), even_intervals_deg(3, 360.0), cycle="two-stroke")

PULLEY = Mark("notch", 1, "pulley", 0.0)
FLYWHEEL = Mark("ball", 2, "flywheel", -12.0)
SPROCKET = Mark("dot", 3, "cam sprocket", 4.0, "firing")
ROTOR = Mark("rotor", 4, "distributor", -7.0, "overlap")
TDC = Interval.from_sigma(81.3, 0.11)
RIG = rig_states(FIVE, "unknown", Sensed(1))
LEAST = 1e-5
"""What is less probable decides nothing."""


def interval(value: float, sigma: float = 0.2) -> Interval:
    return Interval.from_sigma(value, sigma)


def at(mark: Mark, late: float, sigma: float = 0.2, **more: Any) -> MarkPlace:
    """Return a mark so many degrees late."""
    stated = mark.stated_atdc_deg or 0.0
    return MarkPlace(
        mark, 4, interval(late + stated, sigma), interval(late, sigma), turn=mark.turn, **more
    )


def chances(
    *places: MarkPlace, profile: Profile = FIVE, shift: Interval | None = None, **more: Any
) -> Any:
    """Return every cause with the power of ten of its chance, and what follows from them."""
    seen = None if shift is None else train.chance_of(shift)
    found = weigh_causes(places, profile, seen=seen, **more)
    said = [
        [f"{f.part}: {f.cause} {', '.join(f.marks)}", math.log10(f.probability)]
        for f in found.findings
        if f.probability > LEAST
    ]
    return [said, found.decided, found.next_look, found.teeth]


def states(late: float, *, shift: float | None = None, in_cycle: float | None = None) -> Any:
    """Return what the evidence is of each state of cam and drive, not summed over anything."""
    places = [at(SPROCKET, late, late_in_cycle_deg=in_cycle), at(ROTOR, late + 3.0)]
    seen = None if shift is None else train.chance_of(interval(shift, 0.7))
    cases = train.train_cases(places, FIVE, seen, RIG)
    best = max(float(case.fit[0]) for case in cases)
    return [
        [[cause for _, cause, _ in c.causes], float(c.fit[0]), float(c.fit[30]), float(c.fit[-1])]
        for c in cases
        if c.fit[0] > best + math.log(LEAST)
    ]


def crank(*places: MarkPlace, earlier: Any = None) -> Any:
    parts = evidence.crank_parts(places, FIVE, earlier or {}, RIG)
    return [
        [part]
        + [[c.cause, c.marks, float(c.fit[0]), float(c.fit[50]), float(c.fit[-1])] for c in cases]
        for part, cases in parts.items()
    ]


def turn_told(late: float) -> Any:
    """Return what a mark in step with the cam tells of half a turn."""
    places = [at(SPROCKET, late, late_in_cycle_deg=late)]
    shown = train.chance_of(interval(late - 360.0 if late > 180.0 else late, 1.0))
    found = half_turn_from(places, weigh_causes(places, FIVE, seen=shown))
    return [found, found.out]


def edges(*degrees: float, period: float = 360.0, cell: float = 0.3) -> Any:
    return edges_agree("notch", np.array(degrees), period, cell)


def met(mark: Mark, *degrees: float, back: tuple[float, ...] = (), press: Any = ()) -> MarkSeen:
    passes = [MarkPass(d, True) for d in degrees] + [MarkPass(d, False) for d in back]
    return MarkSeen(mark, tuple(passes), tuple(MarkPress(*p) for p in press), 0.3)


def placed(seen: MarkSeen, firing: float | None = 441.3, profile: Profile = FIVE) -> MarkPlace:
    return place_mark(seen, profile, TDC, firing)


SEEN = {
    "notch": met(PULLEY, 83.1, 443.4, 803.2, back=(85.0, 445.2)),
    "notch drifting": met(PULLEY, *(83.0 + 360.0 * n + 0.1 * n * n for n in range(7))),
    "notch, five": met(PULLEY, *(83.0 + 360.0 * n + 0.1 * n * n for n in range(5))),
    "ball": met(FLYWHEEL, 66.0, 426.2, 786.3),
    "dot": met(SPROCKET, 453.1, 1173.5, 1893.2),
    "dot, a turn on": met(SPROCKET, 93.1, 813.5, 1533.2),
    "rotor": met(ROTOR, 70.0, 790.4),
    "rotor, a turn on": met(ROTOR, 430.0, 1150.4),
    "stepped": met(PULLEY, 83.0, 443.1, 819.2, 1179.0),
    "strays": met(PULLEY, 83.0, 443.1, 803.2, 1163.0, 1523.1, 1700.0),
    "several": met(PULLEY, 83.0, 200.1, 443.1, 559.0, 803.2),
    "back only": met(PULLEY, back=(85.0, 445.2)),
    "pressed": met(PULLEY, press=((84.0, 5.0), (445.5, 20.0), (803.7, 0.0))),
    "pressed once": met(PULLEY, press=((84.0, 5.0),)),
    "pressed back": met(PULLEY, press=((84.0, -5.0), (445.0, -0.5))),
    "pressed back alone": met(PULLEY, press=((84.0, -5.0),)),
    "not met": met(PULLEY),
    "bare": met(Mark("chalk"), 300.0, 660.4),
    "on one turn": met(Mark("chalk", 5, "pulley", None, "firing"), 300.0, 1020.2),
}

CASES: dict[str, Any] = {
    "edges": lambda: [
        edges(),
        edges(10.0),
        edges(10.0, 370.6),
        edges(359.0, 361.0, 720.5, 1.2),
        edges(10.0, 370.2, 729.8, 1090.9, cell=1.5),
        edges(700.0, 1420.3, 2141.0, period=720.0),
    ],
    "edges that stepped": lambda: [
        edges(10.0, 370.2, 747.0, 1107.3, 1466.0),
        edges(27.0, 387.2, 730.0),
        edges(27.0, 387.2, 731.0, 1090.2),
        edges(10.0, 370.2, 747.0),
        edges(10.0, 387.2, 730.0, 1107.0),
    ],
    "edges at several places": lambda: [
        edges(10.0, 130.0, 370.2, 490.0, 730.0, 850.0),
        edges(10.0, 370.2, 730.0, 1090.0, 1330.0),
        edges(10.0, 370.2, 730.0, 1210.0),
        edges(0.0, 120.0, 240.0),
    ],
    "presses": lambda: [
        pressed_agree("notch", [MarkPress(*p) for p in some], 360.0)
        for some in (
            ((10.0, 0.0),),
            ((10.0, 30.0),),
            ((10.0, 0.0), (371.0, 12.0), (729.6, 3.0)),
            ((10.0, 0.0), (376.0, 12.0), (724.6, 3.0)),
            ((10.0, -2.0), (371.0, 12.0), (731.5, 0.0)),
            ((10.0, -2.0),),
        )
    ],
    "places": lambda: {name: placed(seen) for name, seen in SEEN.items()},
    "places, the stroke open": lambda: {n: placed(SEEN[n], None) for n in ("notch", "dot")},
    "places of a two-stroke": lambda: [
        placed(SEEN["notch"], 81.3, STROKER),
        placed(SEEN["bare"], 81.3, STROKER),
        placed(SEEN["bare"], None, STROKER),
    ],
    "places of a twin": lambda: [placed(SEEN[n], 441.3, TWIN) for n in ("dot", "rotor", "bare")],
    "which cylinder fires there": lambda: sweep(
        lambda deg: placed(met(SPROCKET, 441.3 + deg)).firing_cylinder, np.arange(0.0, 720.0, 1.0)
    ),
    "on which turn": lambda: sweep(
        lambda deg: placed(met(SPROCKET, 441.3 + deg)).turn, np.arange(-360.0, 360.0, 1.0)
    ),
    "half speed": lambda: [
        [turns_at_half_speed(m, p) for m in (PULLEY, FLYWHEEL, SPROCKET, ROTOR)]
        + [turns_at_half_speed(replace(PULLEY, turn="overlap"), p)]
        for p in (FIVE, STROKER)
    ],
    "jumped alike": lambda: (
        [
            shared_step_deg([at(PULLEY, 0.0, step_deg=a), at(FLYWHEEL, 0.0, step_deg=b)])
            for a, b in ((4.0, 5.4), (4.0, 5.6), (4.0, None), (None, None), (-4.0, -3.0))
        ]
        + [
            shared_step_deg([at(PULLEY, 0.0, step_deg=4.0), at(PULLEY, 0.0, step_deg=4.1)]),
            shared_step_deg(
                [at(m, 0.0, step_deg=s) for m, s in ((PULLEY, 4.0), (FLYWHEEL, 4.9), (ROTOR, 4.2))]
            ),
        ]
    ),
    "half a turn out": lambda: [turn_told(late) for late in (3.0, 34.0, 361.0, 326.0)],
    "states of the rig": lambda: [RIG, rig_states(TWIN, "slipped", None)],
    "pulley": lambda: crank(at(PULLEY, 11.0)),
    "pulley and flywheel": lambda: crank(at(PULLEY, 4.0), at(FLYWHEEL, 12.4)),
    "two on a pulley that agree": lambda: crank(
        at(PULLEY, 4.0), at(replace(PULLEY, name="white", stated_atdc_deg=-7.0), 4.9)
    ),
    "two on a pulley that do not": lambda: crank(
        at(PULLEY, 4.0), at(replace(PULLEY, name="white", stated_atdc_deg=-7.0), 9.9)
    ),
    "a pulley that drifts": lambda: crank(at(PULLEY, 5.0, drift=interval(2.0, 0.3))),
    "a pulley that moved since": lambda: crank(
        at(PULLEY, 5.0), earlier={"notch": interval(-3.0, 0.5), "ball": interval(0.0)}
    ),
    "cam and rotor": lambda: states(17.0),
    "cam and rotor, by pressure too": lambda: states(17.0, shift=15.0),
    "cam and rotor, the turn known": lambda: states(-2.0, in_cycle=358.0),
    "cam of unknown teeth": lambda: [
        [[cause for _, cause, _ in case.causes], float(case.fit[0])]
        for case in train.train_cases(
            [at(SPROCKET, -19.0)],
            TWIN,
            train.chance_of(interval(-17.0)),
            rig_states(TWIN, "unknown", None),
        )
    ],
    "cam by pressure alone": lambda: [
        [[cause for _, cause, _ in case.causes], float(case.fit[0])]
        for case in train.train_cases([], FIVE, train.chance_of(interval(30.0)), RIG)
    ],
    "a stated shift": lambda: train.chance_of(Interval(3.0, 1.0, 9.0)),
    "causes of one mark": lambda: [
        chances(at(PULLEY, late, 0.3)) for late in (0.4, -2.7, 7.0, 72.0, -144.0, 33.0)
    ],
    "causes with a steady clamp": lambda: chances(at(PULLEY, 6.0), clamp="steady"),
    "causes with a slipped clamp": lambda: chances(
        at(PULLEY, 6.0), at(FLYWHEEL, 6.3), clamp="slipped"
    ),
    "causes of marks late alike": lambda: chances(
        at(PULLEY, 6.0), at(FLYWHEEL, 6.3), at(SPROCKET, 5.0, 1.0)
    ),
    "causes of a ring that moves": lambda: chances(at(PULLEY, 6.0, drift=interval(2.2))),
    "causes of a mark that moved since": lambda: chances(
        at(PULLEY, 6.0), earlier_late={"notch": interval(1.0, 0.4)}
    ),
    "causes of a cam teeth out": lambda: [
        chances(at(SPROCKET, late, 1.0), shift=interval(late + 1.0, 1.0))
        for late in (17.0, -34.0, 51.0, 8.0)
    ],
    "causes of a cam half a turn out": lambda: chances(
        at(SPROCKET, -2.0, 1.0, late_in_cycle_deg=358.0), at(PULLEY, 0.3)
    ),
    "causes of a rotor a tooth out": lambda: chances(
        at(SPROCKET, 0.5, 1.0), at(ROTOR, 55.0, 1.0, late_in_cycle_deg=55.0)
    ),
    "causes of a rotor that goes with the cam": lambda: chances(
        at(SPROCKET, 17.5, 1.0), at(ROTOR, 16.0, 1.0)
    ),
    "causes of the shift alone": lambda: chances(shift=interval(17.0, 1.5)),
    "causes of nothing": lambda: chances(MarkPlace(PULLEY, 0)),
    "causes in a twin": lambda: chances(at(PULLEY, 45.0, 0.5), profile=TWIN),
    "causes with the sensor elsewhere": lambda: [
        chances(
            at(PULLEY, late, 0.3),
            at(SPROCKET, late, 0.5, late_in_cycle_deg=in_cycle),
            shift=interval(0.4, 1.0),
            sensed=Sensed(1, said),
        )
        for late, in_cycle, said in ((144.0, 144.0, "stated"), (72.0, -288.0, "assumed"))
    ],
    "causes with another engine's dot": lambda: chances(
        at(SPROCKET, 17.0, 0.5, late_in_cycle_deg=17.0), shift=interval(0.4, 1.0)
    ),
    "causes, widely known": lambda: chances(at(PULLEY, 2.0, 1.2), at(FLYWHEEL, 8.0, 2.0)),
    "next look": lambda: (
        {
            f"{one} / {other}": [next_look((one, other), narrow=n) for n in (False, True)]
            for one in (evidence.MARK_RIGHT, evidence.POINTER, evidence.RING, evidence.OTHER)
            for other in (
                evidence.MARK_RIGHT,
                evidence.RING,
                evidence.CYLINDER,
                evidence.STATIC,
                evidence.HALF,
                evidence.CLAMP_HELD,
                evidence.FOREIGN,
                evidence.AS_STATED,
                "cam sprocket 1 tooth late",
            )
        }
        | {"one alone": next_look((evidence.MARK_RIGHT,), narrow=False)}
    ),
    "teeth in words": lambda: [train.teeth_words("gear", n) for n in (-2, -1, 1, 2)],
}


@pytest.mark.parametrize("name", CASES)
def test_marks_and_their_causes_come_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES)


def test_a_jump_is_shared_within_what_a_few_passes_scatter() -> None:
    """Only the clamp moves both alike; called so by mistake it hides a loose ring."""

    def alike(by: float) -> bool:
        steps = [at(PULLEY, 0.0, step_deg=4.0), at(FLYWHEEL, 0.0, step_deg=4.0 + by)]
        return shared_step_deg(steps) is not None

    assert turns_at(alike, 0.0, 20.0) == pytest.approx(1.5)


def test_a_mark_within_thirty_degrees_of_a_firing_tdc_is_of_that_cylinder() -> None:
    def of_1(by: float) -> bool:
        return placed(met(SPROCKET, 441.3 - by)).firing_cylinder == 1

    assert turns_at(of_1, 0.0, 60.0) == pytest.approx(30.0)


def test_edges_more_than_five_degrees_apart_are_two_marks() -> None:
    assert turns_at(lambda by: len(edges(10.0, 10.0 + by)[1]), 0.1, 40.0) == pytest.approx(5.0)


def test_of_ten_passes_two_may_be_strays_and_not_three() -> None:
    """A fifth of edges elsewhere is noise; more is two marks under one pickup, never averaged."""
    said = [
        edges(*(10.0 + 360.0 * n for n in range(10 - n)), *(200.0 + 31.0 * k for k in range(n)))
        for n in (1, 2, 3)
    ]
    assert [agreed is not None for agreed, _ in said] == [True, True, False]
