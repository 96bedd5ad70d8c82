"""How does the whole engine, crank and gas, get from one sample to the next?

The crank leads and the gas follows: over a macro step the crank's angle is known (prescribed, or
from its acceleration), the gas goes through it, and the torque at its end corrects the speed
(velocity Verlet). Dry friction is a drop of speed that can stop the crank but never reverse it,
so a crank held by friction against a compression really stands still.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strokewise.daq.bench.engine.compiled import FINGERPRINT, compiled, entry_point
from strokewise.daq.bench.engine.constants import Constants
from strokewise.daq.bench.engine.cylinder import cylinder_volume, gas_state
from strokewise.daq.bench.engine.gas_step import Workspace, advance_gas
from strokewise.daq.bench.engine.slider import piston

Floats = NDArray[np.float64]

#: Columns of the drive array.
DRIVE_FROM_S, DRIVE_UNTIL_S, DRIVE_ENGAGE_S, DRIVE_BATTERY, DRIVE_SAG = 0, 1, 2, 3, 4


@compiled
def starter_torque(drive: Floats, curve: Floats, time_s: float, speed_rad_s: float) -> float:
    """Return the starter's torque at the crank, N m.

    Parameters
    ----------
    drive : (5,) array
        Engaged from, engaged until, engaging time (s), voltage share, voltage lost a second.
    curve : (2, n) array
        Speed (rad/s, rising) and torque (N m) at full voltage.
    """
    if time_s < drive[DRIVE_FROM_S] or time_s >= drive[DRIVE_UNTIL_S]:
        return 0.0
    since = time_s - drive[DRIVE_FROM_S]
    voltage: float = max(drive[DRIVE_BATTERY] * (1.0 - drive[DRIVE_SAG] * since), 0.05)
    torque = float(np.interp(max(speed_rad_s, 0.0) / voltage, curve[0], curve[1]))
    engaged: float = min(1.0, since / drive[DRIVE_ENGAGE_S])
    return voltage * max(torque, 0.0) * engaged


@compiled
def crank_torque(
    k: Constants,
    simulated: NDArray[np.int64],
    crank_rad: float,
    speed_rad_s: float,
    gas: Floats,
    temperature: Floats,
) -> tuple[float, float]:
    """Return gas, inertia and viscous torque (N m), and the moment of inertia (kg m²)."""
    torque = -k.viscous_nm_s * speed_rad_s
    inertia = k.inertia_kg_m2
    for c in simulated:
        volume, slope = cylinder_volume(k, c, crank_rad)
        pressure, _ = gas_state(gas[c, 0], gas[c, 1], volume, temperature[c])
        torque += (pressure - k.atmosphere_pa) * slope
    for firing_rad in k.firing_rad:
        _, first, second = piston(
            crank_rad - firing_rad, k.radius_m, k.rod_m, k.pin_offset_m, k.tdc_rad
        )
        inertia += k.reciprocating_kg * first * first
        torque -= k.reciprocating_kg * first * second * speed_rad_s * speed_rad_s
    return torque, inertia


@compiled
def _free_step(
    k: Constants,
    simulated: NDArray[np.int64],
    work: Workspace,
    drive: Floats,
    curve: Floats,
    time_s: float,
    span_s: float,
    start: Floats,
    end: Floats,
    gas: Floats,
    temperature: Floats,
    accounts: Floats,
    longest_rad: float,
    tolerance: float,
    step_s: float,
) -> float:
    """Take crank and gas through one macro step driven by torque; ``end`` is filled."""
    torque, inertia = crank_torque(k, simulated, start[0], start[1], gas, temperature)
    before = (torque + starter_torque(drive, curve, time_s, start[1])) / inertia
    rub = k.friction_nm / inertia
    slowing = rub * np.sign(start[1]) if start[1] != 0.0 else min(max(before, -rub), rub)
    end[0] = start[0] + span_s * (start[1] + 0.5 * span_s * (before - slowing))
    end[1] = start[1] + span_s * (before - slowing)
    step_s = advance_gas(
        k,
        simulated,
        work,
        span_s,
        start,
        end,
        gas,
        temperature,
        accounts,
        longest_rad,
        tolerance,
        step_s,
    )
    torque, inertia = crank_torque(k, simulated, end[0], end[1], gas, temperature)
    after = (torque + starter_torque(drive, curve, time_s + span_s, end[1])) / inertia
    pushed = start[1] + 0.5 * span_s * (before + after)
    end[1] = np.sign(pushed) * max(0.0, abs(pushed) - span_s * rub)
    return step_s


@compiled
def _run_engine(
    k: Constants,
    simulated: NDArray[np.int64],
    work: Workspace,
    time_s: Floats,
    crank: Floats,
    free_from: int,
    drive: Floats,
    curve: Floats,
    gas: Floats,
    temperature: Floats,
    accounts: Floats,
    longest_rad: float,
    longest_s: float,
    tolerance: float,
    gas_out: Floats,
    state_out: Floats,
    accounts_out: Floats,
) -> None:
    """Run the engine over ``time_s`` and fill ``crank`` and the outputs.

    Parameters
    ----------
    simulated : (m,) array
        Indices of the cylinders whose gas is followed.
    time_s : (n,) array
        Evenly or unevenly spaced samples.
    crank : (n, 2) array
        Angle (rad) and speed (rad/s): given up to index ``free_from``, filled after it.
    gas, temperature : (cylinders + 1, 2), (cylinders + 1,) arrays
        State at the first sample, the plenum last; changed in place.
    accounts : (cylinders + 1, 6) array
        What went in and out before the first sample; changed in place.
    longest_rad, longest_s, tolerance : float
        Longest macro step, and the gas step's tolerance.
    gas_out, state_out : (n, cylinders + 1, 2) arrays
        Mass and internal energy; pressure (Pa) and temperature (K).
    accounts_out : (n, cylinders + 1, 7) array
    """
    last = gas.shape[0] - 1
    step_s = 1e-5
    start, end = np.zeros(2), np.zeros(2)
    for j in range(time_s.size):
        if j > 0:
            span_s = time_s[j] - time_s[j - 1]
            start[:] = crank[j - 1]
            if j <= free_from:
                end[:] = crank[j]
                step_s = advance_gas(
                    k,
                    simulated,
                    work,
                    span_s,
                    start,
                    end,
                    gas,
                    temperature,
                    accounts,
                    longest_rad,
                    tolerance,
                    step_s,
                )
            else:
                parts = max(span_s / longest_s, span_s * abs(start[1]) / longest_rad)
                parts = int(np.ceil(max(parts, 1.0)))
                for part in range(parts):
                    step_s = _free_step(
                        k,
                        simulated,
                        work,
                        drive,
                        curve,
                        time_s[j - 1] + span_s * part / parts,
                        span_s / parts,
                        start,
                        end,
                        gas,
                        temperature,
                        accounts,
                        longest_rad,
                        tolerance,
                        step_s,
                    )
                    start[:] = end
                crank[j] = end
        gas_out[j] = gas
        accounts_out[j] = accounts
        for c in simulated:
            volume, _ = cylinder_volume(k, c, crank[j, 0])
            state_out[j, c, 0], state_out[j, c, 1] = gas_state(
                gas[c, 0], gas[c, 1], volume, temperature[c]
            )
        state_out[j, last, 0], state_out[j, last, 1] = gas_state(
            gas[last, 0], gas[last, 1], k.plenum_m3, temperature[last]
        )


def _cached(fingerprint: int) -> Callable[..., int]:
    def run(*arguments: Any) -> int:
        _run_engine(*arguments)
        return fingerprint

    return entry_point(run)


#: :func:`_run_engine`, kept on disk; the fingerprint makes a change in any source a new entry.
run_engine = _cached(FINGERPRINT)
