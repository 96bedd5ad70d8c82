"""How does a hand bring the crank to a piston stop from both sides?

With a stop screwed into the plug hole the piston cannot pass TDC: the crank is brought gently to it
turning its own way, then all the way round backwards to it from the other side, and so on.
"""

from __future__ import annotations

from dataclasses import replace
from math import radians

import numpy as np
from scipy.optimize import brentq

from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import BenchEngine, RecordedTurning
from strokewise.daq.bench.engine.slider import crank_radius, piston, tdc_rad
from strokewise.daq.bench.parameters import BenchParameter
from strokewise.daq.bench.rig.rig import KeyPress
from strokewise.daq.bench.scenarios.scenario_marks import PRESS_AFTER_S
from strokewise.daq.profile.quantity import LENGTH

STOP_NAME = "stop"
STOP_BELOW_MM = 9.0  # where an ordinary stop meets the piston, below its highest place
STOP_HOLD_S = 0.9  # how long a person leans on the stop before going back
LEAN_S, LEAN_DEG = 0.2, 0.04  # rod, stop and threads give a little under a hand, the same each way
FAR_SPEED_DEG_S, NEAR_SPEED_DEG_S = 130.0, 12.0  # the last degrees are crept
STOP_CREEP_DEG = 6.0
STOP_ROUNDS = 2
STOP_LEAD_S, STOP_LEAD_DEG = 0.5, 70.0  # stillness at first, and how far away the crank stands


def contact_deg(engine: BenchEngine, below_mm: float) -> tuple[float, float]:
    """Return the crank angles, before and after TDC, at which the piston meets the stop."""
    radius = crank_radius(engine.stroke_mm, engine.rod_length_mm, engine.pin_offset_mm)
    tdc = tdc_rad(radius, engine.rod_length_mm, engine.pin_offset_mm)

    def above_stop(angle_deg: float) -> float:
        geometry = radius, engine.rod_length_mm, engine.pin_offset_mm, tdc
        return float(piston(radians(angle_deg), *geometry)[0]) - below_mm

    before = float(brentq(above_stop, -120.0, 0.0))
    after = float(brentq(above_stop, 0.0, 120.0))
    return before, after


def stop_bench(bench: Bench, below_mm: float = STOP_BELOW_MM) -> Bench:
    """Return the bench with a stop in cylinder 1, turned by hand to both sides of it."""
    before, after = contact_deg(bench.engine, below_mm)
    round_deg = 360.0 - (after - before)
    times, angles = [0.0, STOP_LEAD_S], [before - STOP_LEAD_DEG] * 2
    presses = []

    def go(by_deg: float, seconds: float) -> None:
        times.append(times[-1] + seconds)
        angles.append(angles[-1] + by_deg)

    def to_the_stop(by_deg: float) -> None:
        """Turn most of the way briskly and the last degrees slowly, lean on the stop, let go."""
        way = float(np.sign(by_deg))
        go(by_deg - way * STOP_CREEP_DEG, abs(by_deg) / FAR_SPEED_DEG_S)
        go(way * STOP_CREEP_DEG, STOP_CREEP_DEG / NEAR_SPEED_DEG_S)
        presses.append(KeyPress(STOP_NAME, at_time_s=times[-1] + PRESS_AFTER_S))
        go(way * LEAN_DEG, LEAN_S)
        go(0.0, STOP_HOLD_S)
        go(-way * LEAN_DEG, LEAN_S)

    to_the_stop(STOP_LEAD_DEG)
    for _ in range(STOP_ROUNDS):
        to_the_stop(-round_deg)
        to_the_stop(round_deg)
    everyone = tuple(range(1, bench.engine.cylinders + 1))
    return replace(
        bench,
        engine=replace(bench.engine, adaptor_cylinder=None, plugs_out=everyone),
        turning=RecordedTurning(tuple(times), tuple(angles)),
        rig=replace(bench.rig, presses=tuple(presses)),
    )


def _below_mm(bench: Bench) -> float:
    assert isinstance(bench.turning, RecordedTurning)  # fits says so
    engine = bench.engine
    radius = crank_radius(engine.stroke_mm, engine.rod_length_mm, engine.pin_offset_mm)
    tdc = tdc_rad(radius, engine.rod_length_mm, engine.pin_offset_mm)
    highest = max(bench.turning.crank_deg) - LEAN_DEG
    below = piston(radians(highest), radius, engine.rod_length_mm, engine.pin_offset_mm, tdc)[0]
    return round(float(below), 6)


STOP_SETTINGS: tuple[BenchParameter, ...] = (
    BenchParameter(
        "stop_below",
        "how far below its highest place the piston meets the stop",
        _below_mm,
        stop_bench,
        LENGTH,
        low=0.5,
        high=40,
        fits=lambda bench: any(press.name == STOP_NAME for press in bench.rig.presses),
    ),
)
