"""Every engine layout: from one sensed cylinder to the firing TDC of all, and who rocks then."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

import pytest
from suite_bench import played

from strokewise.analysis.crank.strokes import companions, nearest, phase_at
from strokewise.analysis.profile import Profile, even_intervals_deg
from strokewise.analysis.samples import Recording
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import BenchEngine, Spanner
from strokewise.daq.bench.engine.solve import simulate
from strokewise.daq.bench.rig.rig import EncoderRig, Rig, SensorRig
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.gui.sayings import say

Decide = Callable[[Recording, Profile], Verdict]
ROUGH_DEG = 42.0  # what the rough TDC of hand-turned peaks promises


@dataclass(frozen=True)
class Layout:
    """An engine, where it is sensed, and how the encoder sits on it."""

    order: tuple[int, ...]
    sensed: int
    intervals: tuple[float, ...] | None = None
    cycle: Literal["four-stroke", "two-stroke"] = "four-stroke"
    ratio: float = 1.0
    direction: Literal[1, -1] = 1


ODD_TWELVE = (1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10)

LAYOUTS = {
    "single": Layout((1,), 1),
    "twin, a turn apart": Layout((1, 2), 2),
    "v-twin, odd": Layout((1, 2), 2, (315.0, 405.0)),
    "twin, firing together": Layout((1, 2), 1, (0.01, 719.99)),
    "three": Layout((1, 3, 2), 3),
    "v4, odd": Layout((1, 3, 2, 4), 4, (180.0, 90.0, 180.0, 270.0)),
    "five": Layout((1, 2, 4, 5, 3), 5),
    "v6, odd": Layout((1, 6, 5, 4, 3, 2), 4, (150.0, 90.0) * 3),
    "seven": Layout((1, 3, 5, 7, 2, 4, 6), 6),
    "nine": Layout((1, 3, 5, 7, 9, 2, 4, 6, 8), 8),
    "ten": Layout((1, 6, 5, 10, 2, 7, 3, 8, 4, 9), 9),
    "ten, odd": Layout((1, 10, 9, 4, 3, 6, 5, 8, 7, 2), 2, (90.0, 54.0) * 5),
    "eleven": Layout((1, 3, 5, 7, 9, 11, 2, 4, 6, 8, 10), 11),
    "twelve": Layout(ODD_TWELVE, 10),
    "twelve, odd": Layout(ODD_TWELVE, 7, (45.0, 75.0) * 6),
    "on the camshaft": Layout((1, 3, 4, 2), 3, ratio=0.5),
    "geared up": Layout((1, 3, 4, 2), 3, ratio=1.5),
    "geared, no whole turns": Layout((1, 3, 4, 2), 2, ratio=35.0 / 24.0),
    "counts falling": Layout((1, 3, 4, 2), 2, direction=-1),
    "on the camshaft, counts falling": Layout((1, 5, 3, 6, 2, 4), 4, ratio=0.5, direction=-1),
    "two-stroke twin": Layout((1, 2), 2, cycle="two-stroke"),
    "two-stroke three": Layout((1, 3, 2), 3, cycle="two-stroke"),
}


def engine_of(layout: Layout) -> BenchEngine:
    even = even_intervals_deg(len(layout.order), 720.0 if layout.cycle == "four-stroke" else 360.0)
    return BenchEngine(
        cycle=layout.cycle,
        cylinders=len(layout.order),
        firing_order=layout.order,
        firing_intervals_deg=layout.intervals or even,
        adaptor_cylinder=layout.sensed,
        ring_leak_mm2=0.15,
    )


def turned(layout: Layout, turn_deg: float) -> tuple[Recording, Profile, dict[str, Any]]:
    engine = engine_of(layout)
    rig = Rig(
        EncoderRig(drive_ratio=layout.ratio, direction=layout.direction, clamp_deg=77.0),
        sensors=(SensorRig(cylinder=layout.sensed),),
    )
    # Two swings a turn, quick enough to squeeze, and past every TDC without a stop.
    turning = Spanner(
        total_deg=turn_deg, swing_deg=(340.0, 380.0), rpm=(35.0, 45.0), start_deg=40.0
    )
    bench = Bench(engine, "a layout", turning, rig, seed=5)
    taken = played(
        bench,
        lambda: simulate(
            engine, turning, 1000.0, 5, cylinders_simulated=(layout.sensed,), detail="coarse"
        ),
        how="coarse, the sensed cylinder alone, 1000 Hz, seed 5",
    )
    intake = Intake()
    blocks = intake.feed(taken.items) + intake.finish()
    profile = check_table(stated_profile(bench)).profile
    return Recording(join(blocks), intake.health), profile, taken.truth


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
@pytest.mark.parametrize("turn_deg", [1500.0, -1500.0], ids=["its own way", "backwards"])
def test_every_cylinder_of_every_layout(layout: Layout, turn_deg: float, phase_of: Decide):
    recording, profile, true = turned(layout, turn_deg)
    verdict = phase_of(recording, profile)
    assert verdict.decided, verdict.reason
    assert verdict.firing_deg is not None
    assert list(verdict.firing_deg) == list(profile.firing_order)
    for cylinder, angle_deg in verdict.firing_deg.items():
        off = nearest(angle_deg - float(true["firing"][str(cylinder)]), profile.cycle_deg)
        assert abs(off) < ROUGH_DEG
    assert verdict.candidates[0].firing_1_deg == verdict.firing_deg[1]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
def test_the_companion_rocks_when_the_other_fires(layout: Layout):
    engine = engine_of(layout)
    profile = Profile(
        engine.cylinders, engine.firing_order, engine.intervals_deg, cycle=layout.cycle
    )
    pairs = companions(profile)
    for cylinder in profile.firing_order:
        there = engine.firing_deg(cylinder)
        phase = phase_at(profile, 0.0, there)
        assert cylinder in phase.next_to_fire
        expected = {
            other
            for other in profile.firing_order
            if layout.cycle == "four-stroke"
            and abs(nearest(engine.firing_deg(other) - there - 360.0, 720.0)) < 1.0
        }
        assert set(pairs[cylinder]) == expected
        assert expected <= set(phase.rocking)


def test_a_two_stroke_says_one_tdc_a_turn(phase_of: Decide):
    recording, profile, _ = turned(LAYOUTS["two-stroke twin"], 1500.0)
    verdict = phase_of(recording, profile)
    assert "one TDC a turn" in say(verdict.reason)
    assert len(verdict.candidates) == 1
    assert all(0.0 <= angle < 360.0 for angle in (verdict.firing_deg or {}).values())


@pytest.mark.parametrize("rotation", ["clockwise", "counter-clockwise"])
def test_the_side_an_engine_is_looked_at_from_changes_no_angle(rotation: str, phase_of: Decide):
    recording, profile, _ = turned(LAYOUTS["seven"], 1500.0)
    stated = replace(profile, rotation=rotation)
    assert phase_of(recording, stated) == phase_of(recording, profile)
