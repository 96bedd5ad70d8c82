"""What the closed cycle's model, its priors and its solvers come to: as kept, to seven digits.

The model is bent to whatever the trace shows, so a term of it that is a little wrong hides in its
neighbours and moves TDC by tenths. Here every parameter is moved by itself, turned both ways, fast
and slowly, and what each does to the pressure is kept.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/tdc
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from suite_kept import held, sweep
from suite_turned import BARE, ENGINE, SENSOR, UNSAID, gas, squeezed, swept

from strokewise.analysis.profile import Atmosphere, Sensor
from strokewise.analysis.tdc.autocorrelation import tied
from strokewise.analysis.tdc.closed_cycle import (
    Gas,
    Runs,
    Surroundings,
    crank_after_tdc_deg,
    gas_pressures,
    pressures,
)
from strokewise.analysis.tdc.descent import Look, descend
from strokewise.analysis.tdc.losses import gamma_of
from strokewise.analysis.tdc.priors import priors_for, surroundings_of
from strokewise.analysis.tdc.runs import runs_for
from strokewise.analysis.tdc.shared_fit import FitParameter, SharedFit
from strokewise.analysis.tdc.shortfall import shortfall_bar
from strokewise.analysis.trace.passes import Pass

AROUND = Surroundings(0.987, 288.0, 0.079, 0.93)
STEPS = {
    "tdc_deg": 3.0,
    "wall_k": 40.0,
    "heat_power": 0.1,
    "lag_s": 0.004,
    "delay_s": 0.002,
    "pin_offset": 0.05,
    "wobble_deg": 1.5,
    "backlash_deg": 1.5,
    "zero_bar": 0.3,
    "drift_bar_s": 0.8,
    "give": 3e-3,
    "log_start": -1.2,
}


def two(first: float, second: float) -> Runs:
    """Return two runs side by side, of unlike speed and length."""
    return runs_for((squeezed(first), squeezed(second, reach(second))), 0.002)


def clipped_at(item: Pass, clipped: np.ndarray) -> Pass:
    return replace(item, nodes=replace(item.nodes, clipped=clipped))


def reach(rpm: float) -> float:
    return 1.5 if rpm > 0 else -2.0


def shown(runs: Runs, values: Gas, around: Surroundings = AROUND) -> Any:
    seen = pressures(runs, values, around)[0]
    return [seen[:, ::9], seen.max(axis=1)]


def moved(name: str, *speeds: float) -> Any:
    values = gas()
    by = STEPS.get(name, 0.7)
    return shown(two(*speeds), replace(values, **{name: getattr(values, name) + by}))


def valley(x: np.ndarray) -> Look:
    """Return the look of a bent valley whose floor is flat one way and steep the other."""
    u, v, w = x
    residual = np.array([10.0 * (v - u * u), 1.0 - u, 0.3 * (w - 2.0) + 0.2 * np.sin(v)])
    slope = np.array([[-20.0 * u, 10.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.2 * np.cos(v), 0.3]])
    return Look(float(residual @ residual), residual, slope, np.array([u]))


def descended(start: tuple[float, ...], most: int, low: float = -9.0, high: float = 9.0) -> Any:
    seen: list[float] = []

    def look(x: np.ndarray) -> Look:
        seen.append(float(x[0]))
        return valley(x)

    x, there = descend(look, np.array(start), (np.full(3, low), np.full(3, high)), np.ones(3), most)
    return [x, there.size, len(seen)]


def shared() -> SharedFit:
    """Return a fit of three stretches of a line that share its slope and have a level each."""
    at = np.linspace(-1.0, 2.0, 12)
    bar = 1.3 * at + np.array([[0.2], [-0.4], [1.1]]) + 0.05 * np.sin(5.0 * at)
    bar[1, 5] += 3.0

    def model(values: Any) -> np.ndarray:
        slope, level = values["slope"], values["level"]
        return slope[..., None] * at + level[..., None] + 0.1 * np.exp(slope[..., None] * at)

    parameters = (
        FitParameter("slope", 1.0, 2.0, 0.01),
        FitParameter("level", np.array([0.0, 0.1, 0.2]), 3.0, 0.01),
    )
    used = np.ones((3, 12), np.bool_)
    used[2, 9:] = False
    return SharedFit(parameters, model, bar, np.full((3, 12), 0.07), used)


def fitted_line() -> Any:
    fit = shared()
    start = fit.mean + np.array([0.3, -0.2, 0.1, 0.4])
    trials = np.stack([fit.mean, start, start + 1.0])
    return [
        fit.mean,
        fit.sigma,
        fit.place("level").start,
        fit.best_of(trials),
        fit.look(start),
        fit.solve(),
        fit.solve(start).x,
    ]


CASES: dict[str, Any] = {
    "gamma": lambda: gamma_of(np.array([250.0, 300.0, 420.0, 800.0])),
    "by starter": lambda: shown(two(230.0, 190.0), gas()),
    "by hand, both ways": lambda: shown(two(11.0, -16.0), gas()),
    "running": lambda: shown(two(1400.0, 900.0), gas()),
    "turned back": lambda: shown(two(-60.0, -90.0), gas()),
    "the gas itself": lambda: gas_pressures(two(60.0, -90.0), gas(), AROUND)[0, :, ::9],
    "usual surroundings": lambda: shown(two(60.0, 90.0), gas(), Surroundings()),
    "crank angles": lambda: [
        crank_after_tdc_deg(two(*speeds), gas(backlash_deg=2.0, wobble_deg=0.7, delay_s=1e-3))[
            0, :, ::12
        ]
        for speeds in ((60.0, -90.0), (60.0, 90.0), (-60.0, -90.0))
    ],
    **{
        f"{each.name} moved": lambda name=each.name: [
            moved(name, 230.0, 190.0),
            moved(name, 12.0, -25.0),
        ]
        for each in fields(Gas)
    },
    "a leak that empties it within a step": lambda: shown(two(3.0, 5.0), gas(log_leak=-2.0)),
    "walls that cool it within a step": lambda: shown(two(3.0, 5.0), gas(log_still=7.0)),
    "runs": lambda: [
        [two(*s), two(*s).turning, two(*s).cut_off, two(*s).speed_rpm, two(*s).both_ways]
        for s in ((230.0, -190.0), (60.0, 90.0))
    ],
    "runs, coarse and clipped": lambda: [
        [runs, runs.cut_off]
        for item in (swept(900.0, every_deg=11.0),)
        for clipped in (np.arange(len(item.nodes)) == 9, np.arange(len(item.nodes)) < 3)
        for runs in (
            runs_for(
                (replace(item, nodes=replace(item.nodes, clipped=clipped)), swept(40.0)), 0.01
            ),
        )
    ],
    "priors": lambda: {
        f"{name}, {rpm:g}": priors_for(profile, sensor, zero_sigma_bar=zero, speed_rpm=rpm)
        for name, profile, sensor, zero in (
            ("stated", ENGINE, SENSOR, 0.3),
            ("bare", BARE, UNSAID, 50.0),
            ("quick sensor", replace(ENGINE, pin_offset_mm=0.0), Sensor(response_time_s=1e-5), 0.1),
            ("offset, no stroke", replace(BARE, pin_offset_mm=1.0), SENSOR, 0.1),
        )
        for rpm in (0.0, 390.0, 700.0)
    },
    "surroundings": lambda: [
        surroundings_of(p)
        for p in (
            ENGINE,
            BARE,
            replace(BARE, bore_mm=70.0),
            replace(ENGINE, bore_mm=None, atmosphere=Atmosphere(0.93, 31.0)),
        )
    ],
    "residuals that speak as one": lambda: (
        [
            tied(
                np.sin(np.arange(60.0) / each)[None] * np.array([[1.0], [0.4]]),
                np.ones((2, 60)) > 0,
            )
            for each in (0.4, 1.0, 3.0, 20.0)
        ]
        + [
            tied(np.zeros((1, 9)), np.ones((1, 9)) > 0),
            tied(np.ones((1, 4)), np.ones((1, 4)) > 0),
            tied(np.ones((2, 30)), np.arange(60).reshape(2, 30) % 7 > 2),
        ]
    ),
    "what the model may be short of": lambda: [
        [bar.shape, bar[:, ::11, ::3], np.abs(bar).sum()]
        for runs, tdc, cost in ((two(230.0, 190.0), 1.0, 0.9), (two(900.0, -700.0), -2.0, 3.1))
        for bar in (shortfall_bar(runs, tdc, cost),)
    ],
    "descents": lambda: (
        [descended((-1.2, 1.0, 0.0), most) for most in (1, 2, 5, 40)]
        + [descended((0.5, 0.5, 0.5), 40, -1.0, 0.8), descended((5.0, -5.0, 9.0), 40)]
    ),
    "descents, by how far they may go": lambda: sweep(
        lambda most: descended((-1.2, 1.0, 0.0), most)[2], range(1, 30)
    ),
    "a fit with shared parameters": fitted_line,
}


@pytest.mark.parametrize("name", CASES)
def test_the_model_and_its_solvers_come_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES)
