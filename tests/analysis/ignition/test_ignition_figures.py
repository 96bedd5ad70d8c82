"""What drive gear, static timing and strobe come to at cases without symmetry: as kept.

The way a rotor turns, late for early, a tooth too many: each fires into an open inlet. Gear, cap
and engine here are uneven, seen from either side and turned either way.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/ignition
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from suite_kept import error_of, held, sweep, turns_at

from strokewise.analysis.estimate import Interval
from strokewise.analysis.ignition.drive_answer import DriveQuestion, drive_answer
from strokewise.analysis.ignition.drive_gear import (
    crank_per_turn,
    drawing,
    found_at,
    gear_of,
    leads,
    mesh_turn_deg,
    meshing,
    rotor_deg,
)
from strokewise.analysis.ignition.static_answer import StaticQuestion, static_answer
from strokewise.analysis.ignition.static_timing import (
    approach,
    btdc_from_arc,
    btdc_from_chord,
    btdc_from_teeth,
    btdc_from_travel,
    static_target,
    timing_point,
)
from strokewise.analysis.ignition.strobe import StrobeReading, check_strobe, curve_at
from strokewise.analysis.profile import DriveGear, Profile, even_intervals_deg
from strokewise.analysis.remark import Remark
from strokewise.analysis.verdict.found import Standing
from strokewise.gui.sayings import as_said

GEAR = DriveGear(13, 34.0, 21.5, 9.3, "left")
TWELVE = DriveGear(12, 28.0, 19.0, 7.0, "right")
FIVE = Profile(
    5,
    (1, 2, 4, 5, 3),
    even_intervals_deg(5, 720.0),
    drive_gear=GEAR,
    distributor_rotation="counter-clockwise",
    stroke_mm=77.0,
    rod_length_mm=128.0,
    pin_offset_mm=1.2,
    pulley_radius_mm=68.0,
    flywheel_teeth=121,
    static_advance_btdc_deg=7.5,
    turning_back="allowed",
)
FOUR = Profile(
    4,
    (1, 3, 4, 2),
    even_intervals_deg(4, 720.0),
    drive_gear=TWELVE,
    distributor_rotation="clockwise",
    turning_back="never",
)
STROKER = Profile(
    2,
    (1, 2),
    (180.0, 180.0),
    cycle="two-stroke",
    drive_gear=TWELVE,
    distributor_rotation="clockwise",
)
UNEVEN = replace(STROKER, firing_intervals_deg=(170.0, 190.0))
SILENT = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720.0), drive_gear=GEAR)
BARE = replace(SILENT, drive_gear=None)
ENGINES = {"five": FIVE, "four": FOUR, "two-stroke": STROKER, "uneven": UNEVEN, "silent": SILENT}

CURVE = ((700.0, 0.0), (1500.0, 9.0), (3100.0, 21.0))
LATE = Interval.from_sigma(3.3, 0.4)

NOT_DECIDED = as_said("not decided")


def ask_drive(profile: Profile, after: float | None, why: Remark | None = None, **said: Any) -> Any:
    return drive_answer(DriveQuestion(**said), Standing(profile, after, why))


def ask_static(
    profile: Profile, after: float | None, why: Remark | None = None, **said: Any
) -> Any:
    measured = said.pop("measured", True)
    return static_answer(StaticQuestion(**said), Standing(profile, after, why, measured=measured))


def strobe(
    *readings: tuple[float, float], curve: Any = CURVE, static: float = 8.0, **more: Any
) -> Any:
    return check_strobe([StrobeReading(*r) for r in readings], static, curve, **more)


def way_to(angle: float, target: float, **more: Any) -> Any:
    return [[m.degrees, m.way, m.said] for m in approach(angle, target, **more)]


CASES: dict[str, Any] = {
    "turn in mesh": lambda: [
        mesh_turn_deg(g, t) for g in (GEAR, TWELVE) for t in (None, 3.0, -2.5)
    ],
    "no such gears": lambda: (
        [
            error_of(lambda c=change: mesh_turn_deg(replace(GEAR, **c)))
            for change in (
                {"teeth": 0},
                {"pitch_diameter_mm": 0.0},
                {"engagement_mm": -0.1},
                {"helix_angle_deg": 90.0},
                {"helix_angle_deg": -1.0},
            )
        ]
        + [
            error_of(lambda: gear_of(BARE)),
            error_of(lambda: leads(SILENT)),
            error_of(lambda: rotor_deg(SILENT, 1.0)),
        ]
    ),
    "gears that just can be": lambda: [
        mesh_turn_deg(replace(GEAR, **change))
        for change in (
            {"teeth": 1},
            {"engagement_mm": 0.0},
            {"helix_angle_deg": 0.0},
            {"pitch_diameter_mm": 0.5},
        )
    ],
    "mesh": lambda: [
        [m, m.direction]
        for m in (
            meshing(GEAR, 10.0),
            meshing(TWELVE, 371.0, crank_per_turn=1.0),
            meshing(replace(GEAR, helix_angle_deg=0.0), 0.0),
        )
    ],
    "leads and rotor": lambda: {
        name: [
            leads(e, 33.0),
            [rotor_deg(e, a, 33.0) for a in (0.0, 100.0, -40.0)],
            crank_per_turn(e),
        ]
        for name, e in ENGINES.items()
        if name != "silent"
    },
    "drawing": lambda: [drawing(FIVE, 47.0, lead_1_deg=33.0, points=5), drawing(SILENT, 350.0)],
    "found away": lambda: {
        name: [
            found_at(e, found, 40.0) for found in (41.5, 40.5, 70.0, 12.0, 52.5, 215.0, 228.0, 59.0)
        ]
        for name, e in ENGINES.items()
    },
    "half a turn": lambda: {
        name: sweep(
            lambda d, e=e: found_at(e, 40.0 + d, 40.0).half_turn, np.arange(0.0, 360.0, 0.5)
        )
        for name, e in ENGINES.items()
    },
    "teeth away": lambda: sweep(
        lambda d: found_at(FIVE, 40.0 + d, 40.0).teeth, np.arange(-180.0, 180.0, 0.5)
    ),
    "what to do": lambda: sweep(
        lambda d: len(found_at(FOUR, 40.0 + d, 40.0).ways), np.arange(0.0, 360.0, 0.5)
    ),
    "the drive": lambda: [
        ask_drive(FIVE, 12.0),
        ask_drive(FIVE, 12.0, lead_1_deg=33.0, found_deg=60.0),
        ask_drive(FIVE, None, NOT_DECIDED, found_deg=60.0),
        ask_drive(FIVE, None, NOT_DECIDED, after_tdc_deg=-4.0),
        ask_drive(FIVE, None, NOT_DECIDED, end_deg=71.0, found_deg=60.0),
        ask_drive(SILENT, 0.0, lead_1_deg=20.0),
        ask_drive(SILENT, 0.5, lead_1_deg=20.0),
        ask_drive(SILENT, 3.0, end_deg=90.0),
        error_of(lambda: ask_drive(BARE, 0.0)),
    ],
    "a point in all measures": lambda: (
        [timing_point(FIVE, btdc) for btdc in (-11.0, 0.0, 7.5, 180.0)]
        + [
            timing_point(FOUR, 9.0),
            error_of(lambda: timing_point(FIVE, 180.5)),
            error_of(lambda: timing_point(FIVE, -181.0)),
        ]
    ),
    "and back": lambda: [
        btdc_from_arc(FIVE, -9.0),
        btdc_from_chord(FIVE, 11.0),
        btdc_from_chord(FIVE, 136.0),
        btdc_from_teeth(FIVE, 3.5),
        btdc_from_travel(FIVE, 0.9),
        btdc_from_travel(FIVE, 0.0),
        [
            error_of(call)
            for call in (
                lambda: btdc_from_arc(FOUR, 1.0),
                lambda: btdc_from_chord(FOUR, 1.0),
                lambda: btdc_from_chord(FIVE, 136.5),
                lambda: btdc_from_teeth(FOUR, 1.0),
                lambda: btdc_from_travel(FOUR, 1.0),
                lambda: btdc_from_travel(FIVE, 77.5),
                lambda: btdc_from_travel(FIVE, -0.1),
            )
        ],
    ],
    "where to turn to": lambda: [
        static_target(FIVE, 100.0),
        static_target(FIVE, 3.0),
        static_target(FIVE, 100.0, 4),
        static_target(FIVE, 100.0, 3, -12.0),
        error_of(lambda: static_target(FOUR, 100.0)),
        error_of(lambda: static_target(FIVE, 100.0, 6)),
    ],
    "the way there": lambda: {
        str(back): [
            way_to(0.0, target, turning_back=back, turned_on_deg=on, cycle_deg=cycle)
            for target in (0.0, 0.4, 0.6, 12.0, 45.0, 200.0, 335.0, 345.0, 359.7, 700.0, 685.0)
            for on, cycle in ((np.inf, 720.0), (10.0, 720.0), (0.0, 360.0))
        ]
        for back in ("allowed", "never", None)
    },
    "the way there, the play known": lambda: way_to(
        0.0, 9.0, turning_back="allowed", turned_on_deg=2.0, backlash_deg=12.0
    ),
    "static timing": lambda: [
        ask_static(FIVE, 30.0),
        ask_static(FIVE, -10.0, cylinder=4, rim_mm=10.0),
        ask_static(FIVE, 50.0, chord_mm=10.0),
        ask_static(FIVE, 50.0, teeth=4.0),
        ask_static(FIVE, 50.0, travel_mm=1.1),
        ask_static(FIVE, 50.0, advance_btdc_deg=12.0),
        ask_static(FIVE, None, NOT_DECIDED),
        ask_static(FIVE, 50.0, measured=False),
        ask_static(FOUR, 50.0, advance_btdc_deg=4.0),
        ask_static(FIVE, 50.0, strobe=((800.0, 9.0), (3000.0, 29.0)), curve=CURVE, mark_late=LATE),
        ask_static(FIVE, 50.0, strobe=((1600.0, 29.0),), curve=CURVE),
        [
            error_of(call)
            for call in (
                lambda: ask_static(FOUR, 1.0),
                lambda: ask_static(FIVE, 1.0, curve=CURVE),
                lambda: ask_static(FIVE, 1.0, mark_late=LATE),
                lambda: ask_static(FIVE, 1.0, cylinder=9),
            )
        ],
    ],
    "curve": lambda: [
        [curve_at(CURVE, rpm) for rpm in (100.0, 700.0, 1100.0, 2500.0, 9000.0)],
        curve_at((), 1000.0),
        error_of(lambda: curve_at(((800.0, 0.0), (800.0, 3.0)), 1.0)),
    ],
    "strobe": lambda: [
        strobe((800.0, 9.1), (1500.0, 17.2), (3000.0, 28.0)),
        strobe((800.0, 13.0), (1500.0, 21.5), (3000.0, 32.0)),
        strobe((800.0, 13.0), (1500.0, 21.5), (3000.0, 32.0), mark_late=LATE),
        strobe((800.0, 13.0), (1500.0, 21.5), (3000.0, 32.0), mark_late=Interval(0.1, -0.5, 0.7)),
        strobe((800.0, 9.1), (3000.0, 14.0), (3100.0, 14.5)),
        strobe((800.0, 9.1), (1500.0, 30.0), (3000.0, 28.0)),
        strobe((600.0, 8.4)),
        strobe((600.0, 12.0)),
        strobe((600.0, 12.0), (650.0, 19.0)),
        strobe((1500.0, 17.0), (1600.0, 18.1)),
        strobe((1500.0, 23.0), (1600.0, 24.1)),
        strobe((800.0, 12.0), (900.0, 12.0), curve=()),
        strobe((800.0, 8.5), curve=()),
        check_strobe(
            [StrobeReading(700.0, 9.0, 0.5), StrobeReading(3100.0, 30.0, 2.0)], 8.0, CURVE
        ),
        [
            error_of(lambda: strobe()),
            error_of(lambda: check_strobe([StrobeReading(800.0, 9.0, 0.0)], 8.0, ())),
        ],
    ],
    "strobe, by what all readings share": lambda: sweep(
        lambda by: strobe((800.0, 8.1 + by), (1500.0, 17.0 + by), (3000.0, 28.2 + by)).culprits,
        np.arange(-12.0, 12.0, 0.25),
    ),
    "strobe, by what the curve lacks": lambda: sweep(
        lambda share: (
            strobe(
                *((r, 8.0 + share * curve_at(CURVE, r)) for r in (700.0, 1500.0, 2500.0, 3100.0))
            ).culprits
        ),
        np.arange(0.0, 2.0, 0.02),
    ),
    "strobe, by how the curve moves": lambda: sweep(
        lambda rpm: strobe((1000.0, 11.0), (rpm, 8.0 + curve_at(CURVE, rpm))).advance_share is None,
        np.arange(1000.0, 1700.0, 10.0),
    ),
    "strobe, by a stray reading": lambda: sweep(
        lambda by: strobe((800.0, 9.125 + by), (1500.0, 17.0), (3000.0, 28.25)).culprits,
        np.arange(0.0, 12.0, 0.1),
    ),
    "strobe, by the mark": lambda: sweep(
        lambda by: (
            strobe((800.0, 13.0), (3000.0, 32.0), mark_late=Interval.from_sigma(by, 0.3)).culprits
        ),
        np.arange(-8.0, 14.0, 0.1),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_ignition_comes_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES)


def test_half_a_turn_is_told_within_half_a_tooth() -> None:
    """Two teeth further on it is another error, and moving the leads would make two of one."""

    def half(by: float) -> bool:
        return found_at(FOUR, 40.0 + by, 40.0).half_turn

    assert turns_at(half, 120.0, 180.0) == pytest.approx(180.0 - 15.0)


def test_leads_are_moved_only_where_the_clamp_takes_up_the_rest() -> None:
    odd = replace(FOUR, drive_gear=replace(TWELVE, teeth=5))

    def moved(by: float) -> bool:
        return any(way.code == "move-leads-opposite" for way in found_at(odd, 40.0 + by, 40.0).ways)

    assert turns_at(moved, 144.5, 179.0) == pytest.approx(144.0 + 15.0)


def test_nobody_turns_a_spanner_finer_than_half_a_degree() -> None:
    def there(by: float) -> bool:
        return not approach(10.0, 10.0 + by)

    assert turns_at(there, 0.0, 5.0) == pytest.approx(0.5)
    assert turns_at(there, 0.0, -5.0) == pytest.approx(-0.5)


def test_past_by_no_more_than_the_play_it_goes_back() -> None:
    def back(by: float) -> bool:
        return approach(10.0 + by, 10.0, turning_back="allowed")[0].way < 0

    assert turns_at(back, 1.0, 90.0) == pytest.approx(30.0)
