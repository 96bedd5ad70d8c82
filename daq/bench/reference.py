"""What does a general-purpose solver make of the same right-hand side? Slow, adaptive, the judge.

scipy's ``solve_ivp`` on all states at once, crank and gas, to a tight tolerance; the fast path of
:mod:`strokewise.daq.bench.engine.solve` is held to it. Dry friction, which cannot stop a crank
dead in a differential equation, acts through a steep tanh.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicHermiteSpline, PPoly

from strokewise.daq.bench.engine.constants import Constants, constants_of, with_burns
from strokewise.daq.bench.engine.cylinder import cylinder_volume, gas_state
from strokewise.daq.bench.engine.gas_step import ACCOUNTS, engine_rates, gas_changes, workspace
from strokewise.daq.bench.engine.kernel import crank_torque, starter_torque
from strokewise.daq.bench.engine.settings import BenchEngine, Turning
from strokewise.daq.bench.engine.solve import Solution, gas_at_rest, sample_motion
from strokewise.daq.bench.engine.turning import drive_of, motion_of

Floats = NDArray[np.float64]

#: Dry friction is full above about this speed, rad/s (a fiftieth of a revolution a minute).
_STICK_RAD_S = 0.002
#: Valves open and shut within milliseconds; a longer step could jump over one.
_LONGEST_STEP_S = 2e-3
#: Sizes below which an error does not count: kg, J, rad and rad/s.
_SMALL_GAS = (1e-9, 1e-4)
_SMALL_CRANK = (1e-7, 1e-6)


def reference_solution(
    engine: BenchEngine,
    turning: Turning,
    sample_rate_hz: float,
    seed: int = 0,
    cylinders: Sequence[int] | None = None,
    *,
    tolerance: float = 1e-8,
) -> Solution:
    """Return every state of a run as ``solve_ivp`` (LSODA) finds it; it keeps no accounts.

    Parameters are those of :func:`strokewise.daq.bench.engine.solve.solve`; ``tolerance`` is
    relative.
    """
    k, motion = constants_of(engine), motion_of(engine, turning, seed)
    time_s, crank, free_from, settled = sample_motion(motion, sample_rate_hz, engine.cycle_deg)
    k = with_burns(k, engine, turning, crank[settled, 0], seed)
    chosen = range(1, engine.cylinders + 1) if cylinders is None else cylinders
    simulated = np.array(sorted(chosen), dtype=np.int64) - 1
    gas, temperature = gas_at_rest(k, crank[0, 0])
    gas_out = np.zeros((time_s.size, *gas.shape))
    flow = _Flow(k, simulated, temperature, drive_of(turning))
    gas_out[0] = gas
    if free_from > 0:
        given = slice(0, free_from + 1)
        flow.prescribe(time_s[given], crank[given])
        small = np.tile(_SMALL_GAS, gas.shape[0])
        found = _integrate(flow.gas_only, time_s[given], gas.ravel(), small, tolerance)
        gas_out[given] = found.T.reshape(-1, *gas.shape)
        gas = gas_out[free_from]
    if free_from < time_s.size - 1:
        begin = np.concatenate([crank[free_from], gas.ravel()])
        small = np.concatenate([_SMALL_CRANK, np.tile(_SMALL_GAS, gas.shape[0])])
        found = _integrate(flow.everything, time_s[free_from:], begin, small, tolerance)
        crank[free_from:] = found[:2].T
        gas_out[free_from:] = found[2:].T.reshape(-1, *gas.shape)
    state = _states(k, crank, gas_out, temperature, simulated)
    nothing = np.zeros((time_s.size, gas.shape[0], ACCOUNTS))
    outputs = (crank, gas_out, state, nothing)
    return Solution(time_s[settled:], *(output[settled:] for output in outputs))


class _Flow:
    """The right-hand side, with the arrays that it writes to."""

    def __init__(
        self,
        k: Constants,
        simulated: NDArray[np.int64],
        temperature: Floats,
        drive: tuple[Floats, Floats],
    ) -> None:
        self._k, self._simulated, self._drive = k, simulated, drive
        self._temperature = temperature.copy()
        self._work = workspace(temperature.size - 1)
        self._angle: PPoly | None = None
        self._speed: PPoly | None = None

    def prescribe(self, time_s: Floats, crank: Floats) -> None:
        """Let the crank go between the samples as the fast path does: cubic Hermite."""
        self._angle = CubicHermiteSpline(time_s, crank[:, 0], crank[:, 1])
        self._speed = self._angle.derivative()

    def gas_only(self, time_s: float, gas: Floats) -> Floats:
        """Return the rates of the gas while the crank is prescribed."""
        if self._angle is None or self._speed is None:
            raise AssertionError("prescribe() comes first")
        angle, speed = float(self._angle(time_s)), float(self._speed(time_s))
        return self._gas(angle, speed, gas.reshape(-1, 2)).ravel()

    def everything(self, time_s: float, y: Floats) -> Floats:
        """Return the rates of crank and gas while torque drives."""
        gas = y[2:].reshape(-1, 2).copy()
        rates = self._gas(y[0], y[1], gas)
        torque, inertia = crank_torque(self._k, self._simulated, y[0], y[1], gas, self._temperature)
        torque += starter_torque(*self._drive, time_s, y[1])
        torque -= self._k.friction_nm * np.tanh(y[1] / _STICK_RAD_S)
        return np.concatenate([[y[1], torque / inertia], rates.ravel()])

    def _gas(self, angle: float, speed: float, gas: Floats) -> Floats:
        work = self._work
        engine_rates(
            self._k,
            self._simulated,
            angle,
            speed,
            np.ascontiguousarray(gas),
            self._temperature,
            work.rates,
            work.slopes,
            work.state,
        )
        rows = np.append(self._simulated, gas.shape[0] - 1)
        self._temperature[rows] = work.state[rows, 1]
        gas_changes(self._simulated, work.rates, work.change)
        return work.change.copy()


def _integrate(
    rates: Callable[[float, Floats], Floats],
    times: Floats,
    begin: Floats,
    small: Floats,
    tolerance: float,
) -> Floats:
    found = solve_ivp(
        rates,
        (times[0], times[-1]),
        begin,
        method="LSODA",
        t_eval=times,
        rtol=tolerance,
        atol=small * tolerance / 1e-6,
        max_step=_LONGEST_STEP_S,
    )
    if not found.success:
        raise ArithmeticError(f"the reference solver gave up at {found.t[-1]} s: {found.message}")
    return np.asarray(found.y, dtype=np.float64)


def _states(
    k: Constants,
    crank: Floats,
    gas: Floats,
    temperature: Floats,
    simulated: NDArray[np.int64],
) -> Floats:
    state = np.zeros_like(gas)
    last = gas.shape[1] - 1
    for j in range(gas.shape[0]):
        for c in simulated:
            volume, _ = cylinder_volume(k, c, crank[j, 0])
            state[j, c] = gas_state(gas[j, c, 0], gas[j, c, 1], volume, temperature[c])
        state[j, last] = gas_state(gas[j, last, 0], gas[j, last, 1], k.plenum_m3, temperature[last])
    return state
