"""What each passage through a TDC is taken to have shown: every figure of it, as kept.

Which cylinder fires is weighed from these rises and scatters alone; a foot looked for in the wrong
place, or a top cut off, makes a sure wrong answer of a sound trace.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/stroke
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from suite_kept import held, sweep, turns_at
from suite_turned import turned

from strokewise.analysis.stroke.passages import Visit, across_back_rolls, visits_of
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import PassRun, runs_of


def visits(nodes: Nodes, tdc_deg: float = 40.0, **more: Any) -> tuple[Visit, ...]:
    return visits_of(nodes, runs_of(nodes), tdc_deg, **more)


def cut(nodes: Nodes, low: float, high: float) -> Nodes:
    return nodes.only((nodes.angle_deg > low) & (nodes.angle_deg < high))


def clipped(nodes: Nodes, high: float) -> Nodes:
    bar = np.minimum(nodes.pressure_bar, high)
    return replace(nodes, pressure_bar=bar, clipped=bar >= high)


def slowly(nodes: Nodes, factor: float) -> Nodes:
    return replace(nodes, time_s=nodes.time_s * factor, speed_deg_s=nodes.speed_deg_s / factor)


def backwards(nodes: Nodes) -> Nodes:
    return replace(nodes, angle_deg=-nodes.angle_deg, speed_deg_s=-nodes.speed_deg_s)


def humming(nodes: Nodes, by: float) -> Nodes:
    bar = nodes.pressure_bar + by * np.sin(2.0 * np.pi * 50.0 * nodes.time_s)
    return replace(nodes, pressure_bar=bar)


def rolled(back_deg: float, over_s: float) -> Any:
    """Return how the runs of a crank that rolled back at 300° are joined."""
    angle = np.concatenate(
        [
            np.linspace(0.0, 300.0, 150),
            np.linspace(300.0, 300.0 - back_deg, 30)[1:],
            np.linspace(300.0 - back_deg, 800.0, 200)[1:],
        ]
    )
    step_s = np.full(len(angle), 0.01)
    step_s[150:180] = over_s / 30.0
    nodes = replace(
        turned(1).part(0, 1),
        time_s=np.cumsum(step_s),
        angle_deg=angle,
        speed_deg_s=np.gradient(angle) / step_s,
        pressure_bar=np.ones_like(angle),
        count=np.ones_like(angle),
        clipped=angle < -1e9,
    )
    return across_back_rolls(nodes, runs_of(nodes))


CASES: dict[str, Callable[[], Any]] = {
    "whole turns": lambda: visits(turned(2)),
    "whole turns, off by some degrees": lambda: [
        visits(turned(1), at) for at in (31.0, 52.9, 53.1)
    ],
    "turned back": lambda: visits(backwards(turned(1)), -40.0),
    "by hand": lambda: visits(turned(1, 9.0)),
    "lingering": lambda: sweep(
        lambda factor: [v.lingered for v in visits(slowly(turned(1, 9.0), factor))],
        np.arange(1.0, 9.0, 0.25),
    ),
    "with hum": lambda: [
        [[v.rise_bar, v.noise_bar] for v in visits(humming(turned(1, rpm), 0.05))]
        for rpm in (230.0, 60.0, 20.0, 900.0)
    ],
    "cut off": lambda: [visits(clipped(turned(1), high)) for high in (1.5, 6.0, 11.0)],
    "begun and ended within": lambda: [
        visits(cut(turned(1), low, high))
        for low, high in (
            (-1.0, 200.0),
            (4.0, 200.0),
            (6.0, 200.0),
            (-60.0, 53.0),
            (-60.0, 55.0),
            (-60.0, 104.0),
            (-60.0, 106.0),
            (300.0, 415.0),
        )
    ],
    "kept for the next call": lambda: _kept(),
    "rolled back": lambda: [
        rolled(*some) for some in ((20.0, 0.5), (44.0, 0.5), (46.0, 0.5), (20.0, 2.9), (20.0, 3.2))
    ],
    "rolled back, turn by turn": lambda: [
        across_back_rolls(
            turned(1), (PassRun(0, 100, 1), PassRun(100, 105, -1), PassRun(105, 300, way))
        )
        for way in (1, -1)
    ],
}


def _kept() -> Any:
    """Return how often a visit is made when it is asked for again."""
    seen: dict[Any, Any] = {}
    first = visits(turned(2), seen=seen)
    many = len(seen)
    again = visits(turned(2), 40.4, seen=seen)
    seen |= {(float(n), 0.0, 0.0, 0, 0): None for n in range(200)}
    visits(turned(2), seen=seen)
    return [many, first == again, len(seen)]


@pytest.mark.parametrize("name", CASES)
def test_passages_come_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES)


def test_a_charge_throws_a_crank_back_by_less_than_forty_five_degrees() -> None:
    def parted(back: float) -> bool:
        return len(rolled(back, 0.5)) > 1

    assert turns_at(parted, 15.0, 90.0) == pytest.approx(45.0, abs=2.0)
