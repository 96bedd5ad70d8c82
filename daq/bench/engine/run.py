"""What really happened on the bench: the truth before any rig or board has touched it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strokewise.daq.bench.engine.settings import BenchEngine, Turning

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class EngineRun:
    """One run of the bench engine.

    Attributes
    ----------
    time_s : (n,) array
        Evenly spaced from 0.
    crank_deg : (n,) array
        True crank angle, unwrapped. 0 (and every multiple of ``engine.cycle_deg``) is the firing
        TDC of cylinder 1, where TDC is the highest place of its piston, pin offset included. It
        rises in the engine's own direction of turning.
    speed_rpm : (n,) array
        Positive in the engine's own direction.
    pressure_bar, temperature_k : (n, cylinders) arrays
        Absolute pressure and temperature of the gas in each cylinder, cylinder 1 first; NaN for a
        cylinder that was not simulated.
    manifold_bar : (n,) array
        Absolute pressure in the intake plenum.
    engine, turning, sample_rate_hz, seed, cylinders_simulated
        The settings that made it.
    """

    time_s: Floats
    crank_deg: Floats
    speed_rpm: Floats
    pressure_bar: Floats
    temperature_k: Floats
    manifold_bar: Floats
    engine: BenchEngine
    turning: Turning
    sample_rate_hz: float
    seed: int
    cylinders_simulated: tuple[int, ...]
