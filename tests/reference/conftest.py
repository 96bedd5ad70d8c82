"""What the checks of the bench engine against the outside share: a sealed cylinder."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from strokewise.analysis.profile import Atmosphere
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    HeatTransfer,
    RecordedTurning,
    ValveSet,
)

NEVER_OPENS = ValveSet(diameter_mm=40.0, lift_mm=0.0, clearance_mm=0.3)


@pytest.fixture(scope="session")
def sealed() -> Callable[..., BenchEngine]:
    """Make a single cylinder, 86 x 86 mm, with shut valves and tight rings, in air of 1 bar, 20 °C.

    Without heat loss unless ``w_m2k`` says how much.
    """

    def make(ratio: float, w_m2k: float = 0.0, leak_mm2: float = 0.0) -> BenchEngine:
        return BenchEngine(
            cylinders=1,
            firing_order=(1,),
            compression_ratio=ratio,
            adaptor_cylinder=None,
            intake=NEVER_OPENS,
            exhaust=NEVER_OPENS,
            ring_leak_mm2=leak_mm2,
            heat=HeatTransfer("constant", 1.0, w_m2k, still_gas=False, wall_temperature_c=20.0),
            atmosphere=Atmosphere(1.0, 20.0),
        )

    return make


@pytest.fixture(scope="session")
def constant_speed() -> Callable[..., RecordedTurning]:
    """Turn from rest at one angle to another: up to speed within ``run_up_deg``, then steady."""

    def make(
        from_deg: float, to_deg: float, rpm: float, run_up_deg: float = 5.0
    ) -> RecordedTurning:
        way, speed = np.sign(to_deg - from_deg), 6.0 * rpm
        run_up_s = 2.0 * run_up_deg / speed
        steady_s = (abs(to_deg - from_deg) - run_up_deg) / speed
        early = np.linspace(0.0, run_up_s, 40)
        later = run_up_s + np.linspace(0.0, steady_s, 400)[1:]
        gone = np.concatenate(
            [0.5 * speed * early**2 / run_up_s, run_up_deg + speed * (later - run_up_s)]
        )
        times = np.concatenate([early, later])
        return RecordedTurning(tuple(times), tuple(from_deg + way * gone))

    return make
