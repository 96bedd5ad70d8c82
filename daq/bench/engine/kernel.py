"""How does the whole engine, crank and gas, get from one sample to the next?

The crank leads and the gas follows: over a macro step the crank's angle is known (prescribed, or
from its acceleration), the gas goes through it, and the torque at its end corrects the speed
(velocity Verlet). Dry friction is a drop of speed that can stop the crank but never reverse it,
so a crank held by friction against a compression really stands still.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from strokewise.daq.bench.engine.compiled import FINGERPRINT, compiled, entry_point
from strokewise.daq.bench.engine.constants import Constants
from strokewise.daq.bench.engine.cylinder import cylinder_volume, gas_state
from strokewise.daq.bench.engine.gas_step import Workspace, advance_gas
from strokewise.daq.bench.engine.slider import piston_inlined

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
        _, first, second = piston_inlined(
            crank_rad - firing_rad, k.radius_m, k.rod_m, k.pin_offset_m, k.tdc_rad
        )
        inertia += k.reciprocating_kg * first * first
        torque -= k.reciprocating_kg * first * second * speed_rad_s * speed_rad_s
    return torque, inertia


class Plant(NamedTuple):
    """The engine that is run: its constants, the cylinders followed, and arrays to work in.

    It is taken apart once a run: handed on whole, its many arrays cost the inner loops a quarter
    and more of their speed.
    """

    k: Constants
    simulated: NDArray[np.int64]
    work: Workspace


class GasNow(NamedTuple):
    """The gas of a run as it stands, changed in place; the plenum in the last row.

    ``gas`` (cylinders + 1, 2) is mass (kg) and internal energy (J), ``temperature``
    (cylinders + 1,) in K, ``accounts`` (cylinders + 1, 7) kilograms and joules so far, in the
    columns of the rates.
    """

    gas: Floats
    temperature: Floats
    accounts: Floats


class CrankSpan(NamedTuple):
    """A short time with the crank's angle (rad) and speed (rad/s) at its ends, (2,) arrays."""

    begin_s: float
    span_s: float
    start: Floats
    end: Floats


class Fineness(NamedTuple):
    """How fine the steps are.

    ``longest_rad`` and ``longest_s`` are the longest step of the crank, ``tolerance`` the largest
    relative difference of pressure or mass between the two orders of a step of the gas.
    """

    longest_rad: float
    longest_s: float
    tolerance: float


class CrankDrive(NamedTuple):
    """What drives the crank: the arrays of :func:`starter_torque`."""

    drive: Floats
    curve: Floats


class Outputs(NamedTuple):
    """What a run fills, a row for each sample.

    ``gas`` and ``state`` (n, cylinders + 1, 2) are mass and internal energy, and pressure (Pa) and
    temperature (K); ``accounts`` (n, cylinders + 1, 7).
    """

    gas: Floats
    state: Floats
    accounts: Floats


@compiled
def _free_step(
    k: Constants,
    simulated: NDArray[np.int64],
    work: Workspace,
    driven: CrankDrive,
    now: GasNow,
    crank: CrankSpan,
    fineness: Fineness,
    step_s: float,
) -> float:
    """Take crank and gas through one macro step driven by torque; its end is filled."""
    drive, curve = driven
    gas, temperature, accounts = now
    longest_rad, _, tolerance = fineness
    time_s, span_s, start, end = crank
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
def _free_span(
    k: Constants,
    simulated: NDArray[np.int64],
    work: Workspace,
    driven: CrankDrive,
    now: GasNow,
    crank: CrankSpan,
    fineness: Fineness,
    step_s: float,
) -> float:
    """Take crank and gas from one sample to the next, driven by torque; its end is filled."""
    begin_s, span_s, start, end = crank
    most = max(span_s / fineness.longest_s, span_s * abs(start[1]) / fineness.longest_rad)
    parts = int(np.ceil(max(most, 1.0)))
    for part in range(parts):
        macro = CrankSpan(begin_s + span_s * part / parts, span_s / parts, start, end)
        step_s = _free_step(k, simulated, work, driven, now, macro, fineness, step_s)
        start[:] = end
    return step_s


@compiled
def _record(
    k: Constants,
    simulated: NDArray[np.int64],
    crank_rad: float,
    now: GasNow,
    j: int,
    out: Outputs,
) -> None:
    """Fill the outputs of one sample."""
    gas, temperature, accounts = now
    last = gas.shape[0] - 1
    out.gas[j] = gas
    out.accounts[j] = accounts
    for c in simulated:
        volume, _ = cylinder_volume(k, c, crank_rad)
        out.state[j, c, 0], out.state[j, c, 1] = gas_state(
            gas[c, 0], gas[c, 1], volume, temperature[c]
        )
    out.state[j, last, 0], out.state[j, last, 1] = gas_state(
        gas[last, 0], gas[last, 1], k.plenum_m3, temperature[last]
    )


@compiled
def _run_engine(
    plant: Plant,
    driven: CrankDrive,
    time_s: Floats,
    crank: Floats,
    free_from: int,
    now: GasNow,
    fineness: Fineness,
    out: Outputs,
) -> None:
    """Run the engine over ``time_s`` and fill ``crank`` and the outputs.

    Parameters
    ----------
    time_s : (n,) array
        Evenly or unevenly spaced samples.
    crank : (n, 2) array
        Angle (rad) and speed (rad/s): given up to index ``free_from``, filled after it.
    now : GasNow
        The gas at the first sample; changed in place.
    """
    k, simulated, work = plant
    gas, temperature, accounts = now
    longest_rad, _, tolerance = fineness
    step_s = 1e-5
    start, end = np.zeros(2), np.zeros(2)
    for j in range(time_s.size):
        if j > 0:
            span = CrankSpan(time_s[j - 1], time_s[j] - time_s[j - 1], start, end)
            start[:] = crank[j - 1]
            if j <= free_from:
                end[:] = crank[j]
                step_s = advance_gas(
                    k,
                    simulated,
                    work,
                    span.span_s,
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
                step_s = _free_span(k, simulated, work, driven, now, span, fineness, step_s)
                crank[j] = end
        _record(k, simulated, crank[j, 0], now, j, out)


def _cached(fingerprint: int) -> Callable[..., int]:
    def run(*arguments: Any) -> int:
        _run_engine(*arguments)
        return fingerprint

    return entry_point(run)


#: :func:`_run_engine`, kept on disk; the fingerprint makes a change in any source a new entry.
run_engine = _cached(FINGERPRINT)
