"""What crank, encoder and firing order come to at cases without symmetry: kept to eight digits.

Everything later hangs on these. A sign that is wrong twice, a term that vanishes without pin
offset, a cylinder taken for the one 360° away: each passes any even four-cylinder engine. So the
engines here are uneven, offset and turned either way.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/crank
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from suite_kept import error_of, held, sweep, turns_at

from strokewise.analysis.crank import kinematics as k
from strokewise.analysis.crank.angle import angle_of_count, deg_per_count, motion_of
from strokewise.analysis.crank.count_faults import count_faults, count_notices, stated_otherwise
from strokewise.analysis.crank.strokes import (
    companions,
    firing_1_from,
    firing_offsets,
    firing_tdcs,
    nearest,
    overlap_window,
    phase_at,
    stroke_at,
    within,
)
from strokewise.analysis.profile import Encoder, Profile, ValveTiming, even_intervals_deg
from strokewise.analysis.samples import Events

ANGLES = np.array([-351.0, -190.0, -75.5, -12.0, 0.0, 3.5, 48.0, 101.0, 179.0, 260.0, 719.0])
SHAPE: dict[str, Any] = {"rod_ratio": 3.1, "pin_offset_ratio": 0.07}
CRANK = k.Crank.from_stroke(81.5, 137.0, 2.4)

FIVE = Profile(5, (1, 2, 4, 5, 3), even_intervals_deg(5, 720.0))
TWIN = Profile(2, (2, 1), (405.0, 315.0))
VEE = Profile(
    6,
    (1, 4, 2, 5, 3, 6),
    (90.0, 150.0) * 3,
    valve_timing=ValveTiming(9.0, 50.0, 48.0, 21.0, 0.5),
)
FOUR = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720.0))
STROKER = Profile(3, (1, 3, 2), even_intervals_deg(3, 360.0), cycle="two-stroke")
BANG = Profile(4, (1, 2, 3, 4), (0.0, 290.0, 0.0, 430.0))
ENGINES = {"five": FIVE, "twin": TWIN, "vee": VEE, "two-stroke": STROKER, "two at once": BANG}

THOUSAND = Encoder(counts_per_rev=1000)
ENCODER = Encoder(counts_per_rev=720, drive_ratio=1.5, direction=-1)


def turned(rate_hz: float, rpm: float, seconds: float = 0.4, seed: int = 3) -> Any:
    """Return board time and counts of a crank whose speed wavers, with lost samples."""
    time_us = np.arange(0, seconds * 1e6, 1e6 / rate_hz).astype(np.int64)
    kept = np.ones(len(time_us), bool)
    kept[len(kept) // 3 : len(kept) // 3 + 4] = False
    time_us = time_us[kept]
    time_s = time_us * 1e-6
    angle = 6.0 * rpm * time_s + 14.0 * np.sin(9.0 * time_s + 0.3) + 31.7
    return time_us, np.floor(angle / deg_per_count(ENCODER)).astype(np.int64)


def motion(*, rate_hz: float, rpm: float, gap_s: float = 0.0, first: int = 0) -> Any:
    time_us, count = turned(rate_hz, rpm)
    time_us = np.where(np.arange(len(time_us)) > 300, time_us + int(gap_s * 1e6), time_us)
    return motion_of(time_us[first:], count[first:], ENCODER)


def index(*counts: int, other: int = 1) -> Events:
    """Return meetings with the index, a mark input's between them."""
    count = np.array([n for each in counts for n in (each, each + 77)], np.int64)
    time_us = 250_000 * np.arange(1, len(count) + 1)
    return Events(time_us.astype(np.int64), count, np.array([0, other] * len(counts), np.int64))


def faults(*counts: int, encoder: Encoder = THOUSAND) -> Any:
    events = index(*counts)
    return {
        "faults": count_faults(events, encoder),
        "otherwise": stated_otherwise(events, encoder),
        "said": count_notices(events, encoder),
    }


CASES = {
    "way down": lambda: [k.travel(ANGLES, **SHAPE), k.travel(ANGLES, rod_ratio=3.9)],
    "its slope": lambda: [k.travel_slope(ANGLES, **SHAPE), k.travel_slope(ANGLES, rod_ratio=3.9)],
    "stroke and dead centres": lambda: [
        k.stroke_ratio(**SHAPE),
        k.tdc_from_line_up_deg(**SHAPE),
        k.bdc_atdc_deg(**SHAPE),
        k.bdc_atdc_deg(rod_ratio=3.3),
    ],
    "angle of a way down": lambda: [
        k.angle_of_travel([0.0, 0.11, 0.9, 1.7, 2.0], **SHAPE, side=side)
        for side in ("after", "before")
    ],
    "volume": lambda: [
        k.volume_ratio(ANGLES, 8.7, **SHAPE),
        k.volume_slope(ANGLES, 8.7, **SHAPE),
        k.volume_ratio(0.0, 8.7, **SHAPE),
    ],
    "in mm": lambda: [
        CRANK,
        CRANK.ratios,
        CRANK.stroke_mm,
        CRANK.travel_mm(ANGLES),
        CRANK.speed_m_s(ANGLES, 850.0),
        CRANK.angle_of_travel_deg([3.0, 30.0, 77.0]),
        CRANK.angle_of_travel_deg([3.0, 30.0, 77.0], "before"),
    ],
    "a profile's crank": lambda: [
        k.crank_of(replace(TWIN, stroke_mm=64.0, rod_length_mm=112.0, pin_offset_mm=-1.5)),
        k.crank_of(replace(TWIN, stroke_mm=64.0)),
        k.crank_of(replace(TWIN, rod_length_mm=64.0)),
    ],
    "what no crank can do": lambda: [
        error_of(lambda: k.travel(0.0, rod_ratio=1.05, pin_offset_ratio=-0.06)),
        error_of(lambda: k.travel_slope(0.0, rod_ratio=1.0)),
        error_of(lambda: k.stroke_ratio(rod_ratio=0.9)),
        error_of(lambda: k.bdc_atdc_deg(rod_ratio=0.9)),
        error_of(lambda: k.tdc_from_line_up_deg(rod_ratio=0.9)),
        error_of(lambda: k.angle_of_travel(2.1, rod_ratio=3.5)),
        error_of(lambda: k.angle_of_travel(-0.01, rod_ratio=3.5)),
        error_of(lambda: k.volume_ratio(3.0, 1.0, rod_ratio=3.0)),
        error_of(lambda: k.volume_slope(3.0, 0.5, rod_ratio=3.0)),
        error_of(lambda: k.Crank(0.0, 100.0)),
        error_of(lambda: k.Crank(50.0, 49.0)),
        error_of(lambda: k.Crank.from_stroke(0.0, 100.0)),
        error_of(lambda: k.Crank.from_stroke(80.0, 40.0)),
        error_of(lambda: k.Crank.from_stroke(80.0, 41.0, 12.0)),
        error_of(lambda: k.Crank.from_stroke(80.0, 39.0, 12.0)),
    ],
    "degrees of a count": lambda: [
        deg_per_count(ENCODER),
        deg_per_count(Encoder()),
        angle_of_count(np.array([-3, 0, 17, 2400]), ENCODER),
        angle_of_count(5.0, Encoder(counts_per_rev=1000)),
    ],
    "motion, by hand": lambda: motion(rate_hz=1000.0, rpm=9.0),
    "motion, by starter": lambda: motion(rate_hz=2000.0, rpm=230.0),
    "motion, running": lambda: motion(rate_hz=2000.0, rpm=2300.0),
    "motion, turned back": lambda: motion(rate_hz=1500.0, rpm=-140.0),
    "motion, few samples a second": lambda: motion(rate_hz=200.0, rpm=400.0),
    "motion, across a gap": lambda: motion(rate_hz=2000.0, rpm=230.0, gap_s=0.15),
    "motion, across a shorter gap": lambda: motion(rate_hz=2000.0, rpm=230.0, gap_s=0.05),
    "motion of a few samples": lambda: [
        motion(rate_hz=200.0, rpm=400.0, first=-n) for n in (1, 2, 4, 5, 6, 7, 11)
    ],
    "motion of none": lambda: motion_of(np.empty(0, np.int64), np.empty(0, np.int64), ENCODER),
    "standing": lambda: motion_of(
        np.arange(0, 40000, 500), np.full(80, 12, np.int64), Encoder(counts_per_rev=720)
    ),
    "nearly standing": lambda: motion_of(
        np.arange(0, 40000, 500), 12 + (np.arange(80) > 33).astype(np.int64), ENCODER
    ),
    "counts that jump at both ends": lambda: motion_of(
        np.arange(0, 5000, 500),
        np.array([0, 9, 10, 11, 11, 12, 13, 13, 14, 31], np.int64),
        Encoder(counts_per_rev=720),
    ),
    "index, sound": lambda: faults(1003, 2004, 3003, 4003),
    "index, lost twice": lambda: faults(1003, 1999, 2999, 4006),
    "index, lost going back from the first": lambda: faults(4010, 3003, 2003, 1003),
    "index, gained once": lambda: faults(0, 1000, 2003, 3003),
    "index, lost turning back": lambda: faults(4003, 3003, 2006, 1006),
    "index, turned to and fro": lambda: faults(1003, 2003, 3003, 2988, 1986, 986, 1001, 2003, 3001),
    "index, another number of counts": lambda: faults(1, 1201, 2402, 3601, 4803),
    "index, another number of counts, one lost": lambda: faults(1, 1201, 2402, 4803, 6003, 7203),
    "index, another number of counts, seen twice": lambda: faults(1, 1201, 2402),
    "index, no two turns alike": lambda: faults(1, 1201, 2301, 3641, 5001),
    "index, met once": lambda: [faults(5), faults()],
    "index, by the default": lambda: faults(0, 2400, 4797, encoder=Encoder()),
    "index, geared": lambda: faults(0, 720, 1448, 2168, encoder=ENCODER),
    "wrapped": lambda: [
        [within(a, 720.0) for a in (-0.5, 0.0, 719.0, 720.0, 1500.0, -1e-18)],
        [nearest(a, 360.0) for a in (-180.0, 180.0, 180.5, -170.0, 539.0, 541.0)],
    ],
    "firing": lambda: {
        name: [
            firing_offsets(e.firing_order, e.firing_intervals_deg),
            firing_tdcs(e, 613.5),
            [firing_1_from(e, c, 47.0) for c in range(1, e.cylinders + 1)],
            companions(e),
            overlap_window(e),
        ]
        for name, e in ENGINES.items()
    },
    "companions, and almost": lambda: [
        companions(replace(FOUR, firing_intervals_deg=(180.0 + by, 180.0, 180.0, 180.0 - by)))
        for by in (0.0, 0.9, 1.1)
    ],
    "overlap that there is none of": lambda: [
        overlap_window(replace(TWIN, valve_timing=ValveTiming(io, 50.0, 48.0, ec)))
        for io, ec in ((-9.0, 5.0), (-5.0, 5.0), (-5.0, 5.5), (-0.5, 2.0))
    ],
    "strokes": lambda: [
        sweep(lambda a, c=cycle: stroke_at(a, c), range(-100, 900)) for cycle in (720.0, 360.0)
    ],
    "where the engine stands": lambda: {
        name: [
            phase_at(e, 613.5, angle, turning)
            for angle in (12.0, 253.5, 613.5, 1000.0)
            for turning in (1, -1)
        ]
        for name, e in ENGINES.items()
    },
    "rocking": lambda: sweep(lambda a: phase_at(VEE, 100.0, a).rocking, np.arange(0.0, 720.0, 0.5)),
    "no firing order": lambda: (
        [
            error_of(lambda o=order, i=intervals: firing_offsets(o, i))
            for order, intervals in (
                ((), ()),
                (tuple(range(1, 14)), even_intervals_deg(13, 720.0)),
                ((1, 1, 2), (240.0,) * 3),
                ((1, 2, 4), (240.0,) * 3),
                ((1, 2), (720.0,)),
                ((1, 2), (800.0, -80.0)),
                ((1, 2), (300.0, 300.0)),
                ((1, 2), (360.0, 360.06)),
                ((1, 2), (180.0, 180.06)),
            )
        ]
        + [error_of(lambda: firing_1_from(FOUR, 5, 10.0))]
    ),
    "a firing order as printed": lambda: [
        firing_offsets((1, 2), (360.0, 360.04)),
        firing_offsets((2, 1), (180.0, 179.96)),
        firing_offsets(tuple(range(1, 13)), even_intervals_deg(12, 720.0)),
    ],
}


@pytest.mark.parametrize("name", CASES)
def test_crank_encoder_and_firing_order_come_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES)


def test_pistons_within_a_degree_move_together() -> None:
    def two(by: float) -> bool:
        order = replace(FOUR, firing_intervals_deg=(180.0 + by, 180.0, 180.0, 180.0 - by))
        return companions(order)[1] == (4,)

    assert turns_at(two, 0.0, 8.0) == pytest.approx(1.0)
