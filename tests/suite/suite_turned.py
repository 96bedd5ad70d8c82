"""An engine turned on paper: passes, and whole turns, that the closed cycle's own model made.

Exact, quick, and without symmetry: unlike speeds, a leak, a lag, a pin offset. For tests that hold
figures, not for tests that ask whether the model is right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.closed_cycle import Gas, Runs, pressures
from strokewise.analysis.tdc.priors import priors_for, surroundings_of
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Pass

SENSOR = Sensor(cylinder=1, response_time_s=0.6e-3, points=((0.0, 0.0), (4095.0, 20.0)))
ENGINE = Profile(
    1,
    (1,),
    (720.0,),
    compression_ratio=8.3,
    bore_mm=76.0,
    stroke_mm=81.0,
    rod_length_mm=131.0,
    pin_offset_mm=1.1,
    turning_back="allowed",
    sensors=(SENSOR,),
)
BARE = Profile(2, (1, 2), (360.0, 360.0))
UNSAID = Sensor()

NOISE_BAR, CELL_DEG, STEP_BAR = 0.01, 0.15, 0.005
BEFORE_DEG, EVERY_DEG = 105.0, 2.3


def gas(**change: float) -> Gas:
    """Return the gas of a worn cylinder; some values changed, all of shape (1, 1)."""
    priors = priors_for(ENGINE, SENSOR, zero_sigma_bar=0.1, speed_rpm=240.0)
    usual = {p.name: p.mean for p in priors} | {
        "tdc_deg": 0.0,
        "log_start": np.log(1.35),
        "log_warm": 0.06,
        "log_leak": np.log(3.1e-3),
        "zero_bar": 0.0,
    }
    return Gas(**{name: np.full((1, 1), float(v)) for name, v in (usual | change).items()})


def swept(
    rpm: float, tdc_deg: float = 0.0, reach_deg: float = BEFORE_DEG, every_deg: float = EVERY_DEG
) -> Pass:
    """Return a pass whose speed dips at TDC, about 0; without pressure yet."""
    angle = np.sign(rpm) * np.arange(-reach_deg, reach_deg, every_deg)
    after = angle - tdc_deg
    speed = 6.0 * rpm * (1.0 - 0.15 * np.exp(-0.5 * ((after + np.sign(rpm) * 8.0) / 30.0) ** 2))
    middle = 0.5 * (speed[1:] + speed[:-1])
    time_s = np.concatenate([[0.0], np.cumsum(np.diff(angle) / middle)])
    one = np.ones_like(angle)
    nodes = Nodes(time_s, angle, speed, one, 2.0 * one, one < 0, NOISE_BAR, CELL_DEG, STEP_BAR)
    return Pass(nodes, 0.0, 0, rpm > 0)


def squeezed(rpm: float, tdc_deg: float = 0.0, *, profile: Profile = ENGINE, **more: Any) -> Pass:
    """Return a pass with the pressure that the model gives it; ``more`` are values of the gas."""
    item = swept(rpm, tdc_deg)
    nodes = item.nodes
    runs = Runs(
        nodes.time_s[None],
        nodes.angle_deg[None],
        nodes.speed_deg_s[None],
        nodes.pressure_bar[None],
        np.ones((1, len(nodes))),
        np.ones((1, len(nodes)), np.bool_),
    )
    bar = pressures(runs, gas(tdc_deg=tdc_deg, **more), surroundings_of(profile))[0, 0]
    ripple = 0.004 * np.sin(0.9 * np.arange(len(bar)) + rpm)
    return replace(item, nodes=replace(nodes, pressure_bar=bar + ripple))


def compressions(
    speeds_rpm: Sequence[float], tdc_deg: float = 0.0, **more: Any
) -> tuple[Pass, ...]:
    """Return passes one after the other, each two turns from the last; back for a speed below 0."""
    found: list[Pass] = []
    begin_s, turn = 0.2, 0
    for rpm in speeds_rpm:
        item = squeezed(rpm, tdc_deg, **more)
        turn += 2 if rpm > 0 and found else 0
        nodes = replace(
            item.nodes,
            time_s=item.nodes.time_s + begin_s,
            angle_deg=item.nodes.angle_deg + 360.0 * turn,
        )
        found.append(replace(item, nodes=nodes, tdc_deg=360.0 * turn, turn=turn))
        begin_s = float(nodes.time_s[-1]) + 90.0 / abs(rpm)
    return tuple(found)


def turned(
    cycles: int, rpm: float = 230.0, tdc_deg: float = 40.0, *, slip: float = 0.0, at: int = 99
) -> Nodes:
    """Return whole cycles turned: closed where a usual cam shuts, near the air outside elsewhere.

    From cycle ``at`` on the encoder reads ``slip`` degrees more.
    """
    angle = np.arange(0.0, 720.0 * cycles + 200.0, EVERY_DEG)
    cycle = np.floor((angle - tdc_deg + 360.0) / 720.0)
    after = angle - tdc_deg - 720.0 * cycle
    shape = squeezed(rpm)
    bar = np.interp(after, shape.angle_deg, shape.pressure_bar, left=0.0, right=0.0)
    rise = np.interp(after, [-130.0, -105.0], [0.97, shape.pressure_bar[0]])
    fall = np.interp(after, [105.0, 130.0], [shape.pressure_bar[-1], 1.03])
    bar = np.where(bar > 0, bar, np.where(after < 0, rise, fall))
    bar *= 1.0 + 0.01 * np.sin(1.7 * cycle)
    speed = np.interp(after, shape.angle_deg, shape.nodes.speed_deg_s)
    time_s = np.concatenate([[0.0], np.cumsum(EVERY_DEG * 2.0 / (speed[1:] + speed[:-1]))])
    one = np.ones_like(angle)
    seen = angle + np.where(cycle >= at, slip, 0.0)
    bar = bar + 0.004 * np.sin(0.9 * np.arange(len(bar)))
    return Nodes(time_s, seen, speed, bar, 2.0 * one, one < 0, NOISE_BAR, CELL_DEG, STEP_BAR)
