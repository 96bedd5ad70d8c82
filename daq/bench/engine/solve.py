"""What does the bench engine do when it is turned? From settings to a run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.engine.constants import Constants, constants_of, with_burns
from strokewise.daq.bench.engine.cylinder import cylinder_volume
from strokewise.daq.bench.engine.gas import AIR_J_KG_K, internal_energy
from strokewise.daq.bench.engine.gas_step import ACCOUNTS, workspace
from strokewise.daq.bench.engine.kernel import (
    CrankDrive,
    Fineness,
    GasNow,
    Outputs,
    Plant,
    run_engine,
)
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import BenchEngine, Turning
from strokewise.daq.bench.engine.turning import TurningMotion, drive_of, motion_of

Floats = NDArray[np.float64]
Detail = Literal["finest", "fine", "coarse"]

#: Longest step in crank degrees and seconds, and the gas step's tolerance. Held to the reference
#: solver by a test; "coarse" is for runs by the ten thousand.
_FINENESS = {
    "finest": (0.05, 5e-5, 1e-6),
    "fine": (0.2, 2e-4, 3e-5),
    "coarse": (1.0, 1e-3, 1e-3),
}

#: A crank that already turns at the first sample has done this many cycles before it.
_SETTLE_CYCLES = 2.0
_SETTLE_STEP_S = 1e-3
#: Slower than this a crank counts as standing at the first sample, degrees a second.
_STANDING_DEG_S = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Every state of a run, for checks of balance; SI units, the plenum in the last column.

    Attributes
    ----------
    time_s : (n,) array
    crank : (n, 2) array
        Angle (rad) and speed (rad/s).
    gas : (n, cylinders + 1, 2) array
        Mass (kg) and internal energy (J).
    state : (n, cylinders + 1, 2) array
        Pressure (Pa) and temperature (K).
    accounts : (n, cylinders + 1, 7) array
        What has passed since the start: mass (kg) and energy (J) from the plenum, the same from
        the atmosphere, heat in from the walls, work done and heat set free by burning (J). In the
        plenum's row only the second pair, which came through the throttle.
    """

    time_s: Floats
    crank: Floats
    gas: Floats
    state: Floats
    accounts: Floats


def simulate(
    engine: BenchEngine,
    turning: Turning,
    sample_rate_hz: float = 2000.0,
    seed: int = 0,
    *,
    cylinders_simulated: Sequence[int] | None = None,
    detail: Detail = "fine",
) -> EngineRun:
    """Turn the engine and return what happened.

    Parameters
    ----------
    sample_rate_hz : float
        Rate of the run's evenly spaced samples; the physics takes shorter steps where it must.
    seed : int
        Draws whatever the turning leaves to chance.
    cylinders_simulated : sequence of int, optional
        Cylinders whose gas is followed; the others stay NaN and neither brake the crank nor draw
        from the plenum, so leave it out (all) for a torque-driven crank or a manifold sensor.
    detail : {"finest", "fine", "coarse"}
        Coarse takes longer steps, for very many runs; finest is for checks of balance.

    Raises
    ------
    InputError
        A sample rate or cylinder that cannot be.
    """
    if not sample_rate_hz > 0.0:
        raise InputError(f"sample_rate_hz {sample_rate_hz:g} must be above 0, like 2000")
    chosen = tuple(range(1, engine.cylinders + 1))
    if cylinders_simulated is not None:
        wrong = sorted(set(cylinders_simulated) - set(chosen))
        if wrong or not cylinders_simulated:
            raise InputError(
                f"cylinders_simulated {tuple(cylinders_simulated)} must name cylinders "
                f"from 1 to {engine.cylinders}"
            )
        chosen = tuple(sorted(set(cylinders_simulated)))
    solution = solve(engine, turning, sample_rate_hz, seed, chosen, detail)
    missing = [n - 1 for n in range(1, engine.cylinders + 1) if n not in chosen]
    pressure, temperature = solution.state[:, :-1, 0] * 1e-5, solution.state[:, :-1, 1].copy()
    pressure[:, missing] = temperature[:, missing] = np.nan
    return EngineRun(
        time_s=solution.time_s,
        crank_deg=np.degrees(solution.crank[:, 0]),
        speed_rpm=solution.crank[:, 1] * 30.0 / np.pi,
        pressure_bar=pressure,
        temperature_k=temperature,
        manifold_bar=solution.state[:, -1, 0] * 1e-5,
        engine=engine,
        turning=turning,
        sample_rate_hz=sample_rate_hz,
        seed=seed,
        cylinders_simulated=chosen,
    )


def solve(
    engine: BenchEngine,
    turning: Turning,
    sample_rate_hz: float,
    seed: int,
    cylinders: Sequence[int],
    detail: Detail,
) -> Solution:
    """Return every state of a run; see :func:`simulate`."""
    k, motion = constants_of(engine), motion_of(engine, turning, seed)
    time_s, crank, free_from, settled = sample_motion(motion, sample_rate_hz, engine.cycle_deg)
    k = with_burns(k, engine, turning, crank[settled, 0], seed)
    gas, temperature = gas_at_rest(k, crank[0, 0])
    rows = gas.shape[0]
    out = Outputs(*(np.zeros((time_s.size, rows, width)) for width in (2, 2, ACCOUNTS)))
    simulated = np.array(sorted(cylinders), dtype=np.int64) - 1
    longest_deg, longest_s, tolerance = _FINENESS[detail]
    run_engine(
        Plant(k, simulated, workspace(engine.cylinders)),
        CrankDrive(*drive_of(turning)),
        time_s,
        crank,
        free_from,
        GasNow(gas, temperature, np.zeros((rows, ACCOUNTS))),
        Fineness(np.radians(longest_deg), longest_s, tolerance),
        out,
    )
    return Solution(time_s[settled:], *(output[settled:] for output in (crank, *out)))


def sample_motion(
    motion: TurningMotion, sample_rate_hz: float, cycle_deg: float
) -> tuple[Floats, Floats, int, int]:
    """Return the samples of a motion, with the cycles before it if it begins at speed.

    Returns
    -------
    time_s : (n,) array
    crank : (n, 2) array
        Angle (rad) and speed (rad/s); zero where torque will drive.
    free_from : int
        Last sample that is prescribed.
    settled : int
        Sample at time 0.
    """
    time_s = np.arange(int(motion.duration_s * sample_rate_hz + 1e-9) + 1) / sample_rate_hz
    given = time_s <= motion.prescribed_s
    crank = np.zeros((time_s.size, 2))
    crank[given, 0] = np.radians(motion.angle_deg(time_s[given]))
    crank[given, 1] = np.radians(motion.speed_deg_s(time_s[given]))
    free_from, settled = int(given.sum()) - 1, 0
    if abs(crank[0, 1]) > np.radians(_STANDING_DEG_S):
        before_s = _SETTLE_CYCLES * np.radians(cycle_deg) / abs(crank[0, 1])
        settled = int(np.ceil(before_s / _SETTLE_STEP_S))
        early_s = -_SETTLE_STEP_S * np.arange(settled, 0, -1)
        early = np.column_stack(
            [crank[0, 0] + crank[0, 1] * early_s, np.full(settled, crank[0, 1])]
        )
        time_s, crank = np.concatenate([early_s, time_s]), np.concatenate([early, crank])
        free_from += settled
    return time_s, crank, free_from, settled


def gas_at_rest(k: Constants, crank_rad: float) -> tuple[Floats, Floats]:
    """Return the gas of an engine that has long stood still: everything leaked to atmosphere.

    Returns
    -------
    gas : (cylinders + 1, 2) array
        Mass (kg) and internal energy (J), the plenum last.
    temperature_k : (cylinders + 1,) array
    """
    rows = k.firing_rad.size + 1
    volumes = [cylinder_volume(k, c, crank_rad)[0] for c in range(rows - 1)] + [k.plenum_m3]
    temperature = np.full(rows, k.wall_k)
    temperature[-1] = k.atmosphere_k
    mass = k.atmosphere_pa * np.array(volumes) / (AIR_J_KG_K * temperature)
    energy = [m * internal_energy(t) for m, t in zip(mass, temperature, strict=True)]
    return np.column_stack([mass, energy]), temperature
