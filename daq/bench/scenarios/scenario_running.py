"""What can be set of an engine that runs, or ran a moment ago? Burns, hot walls, release, speed."""

from __future__ import annotations

from dataclasses import replace

from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.burn import FOR_EVER
from strokewise.daq.bench.engine.settings import Held
from strokewise.daq.bench.parameters import BenchParameter, Value, setting
from strokewise.daq.bench.scenarios.scenario_settings import AREA, SPEED
from strokewise.daq.profile.quantity import ANGLE, TEMPERATURE, TIME

HOTTEST_C = 400.0


def _liner_c(bench: Bench) -> float:
    heat = bench.engine.heat
    given = heat.liner_temperature_c
    return heat.wall_temperature_c if given is None else given


def _set_liner(bench: Bench, temperature_c: float) -> Bench:
    heat = replace(bench.engine.heat, liner_temperature_c=temperature_c)
    return replace(bench, engine=replace(bench.engine, heat=heat))


RUNNING_SETTINGS: tuple[BenchParameter, ...] = (
    setting("burn", "heat of the burning charge, as a share of a full petrol charge; 0 for none",
            "engine.combustion.strength", low=0, high=1.5, fault=True),
    setting("burn_start", "where the charge begins to burn, before TDC",
            "engine.combustion.start_btdc_deg", ANGLE, low=-60, high=90),
    setting("burn_length", "how long it burns", "engine.combustion.length_deg", ANGLE,
            low=3, high=180),
    setting("burn_shape", "exponent of the Wiebe law: 2 for petrol, less where it burns fast at "
            "first", "engine.combustion.shape", low=0.2, high=6),
    setting("burn_start_scatter", "scatter of its start from cycle to cycle",
            "engine.combustion.start_scatter_deg", ANGLE, low=0, high=20),
    setting("burn_length_scatter", "scatter of its length, as a share",
            "engine.combustion.length_scatter", low=0, high=1),
    setting("burn_scatter", "scatter of its heat, as a share",
            "engine.combustion.strength_scatter", low=0, high=1),
    setting("misfires", "share of the cycles that do not burn", "engine.combustion.misfires",
            low=0, high=1, fault=True),
    setting("burn_after", "cycles that do not burn at first", "engine.combustion.first_cycle",
            low=0, high=FOR_EVER, whole=True),
    setting("burn_cycles", "cycles that burn until the ignition is cut",
            "engine.combustion.cycles", low=0, high=FOR_EVER, whole=True),
    setting("release", "compression release: opening in its middle; 0 for none",
            "engine.release.area_mm2", AREA, low=0, high=300, fault=True),
    setting("release_closes", "where the compression release shuts, before TDC",
            "engine.release.closes_btdc_deg", ANGLE, low=-90, high=179),
    setting("release_below", "flyweights keep the release shut above this speed",
            "engine.release.below_rpm", SPEED, low=1, high=100_000),
    setting("wall_temperature", "of head and piston", "engine.heat.wall_temperature_c",
            TEMPERATURE, low=-40, high=HOTTEST_C),
    BenchParameter("liner_temperature", "of the cylinder's liner", _liner_c, _set_liner,
              TEMPERATURE, low=-40, high=HOTTEST_C),
)  # fmt: skip

HELD_SETTINGS: tuple[BenchParameter, ...] = (
    setting("speed", "at which the engine is held", "turning.rpm", SPEED,
            turning=Held, low=100, high=3000),
    setting("ripple", "share by which the speed falls at each firing TDC", "turning.ripple",
            turning=Held, low=0, high=0.5),
    setting("seconds", "time held at that speed", "turning.held_s", TIME,
            turning=Held, low=0.2, high=60),
    setting("run_down", "time recorded after the ignition is cut", "turning.run_down_s", TIME,
            turning=Held, low=0, high=60),
)  # fmt: skip

HOT_WALLS: dict[str, Value] = {"wall_temperature": 150.0, "liner_temperature": 110.0}
"""Walls of an engine that has run for some minutes; common practice, no source."""

AT_SPEED: dict[str, Value] = {**HOT_WALLS, "rate": 10_000.0, "counts": 3600}
PETROL: dict[str, Value] = {
    **AT_SPEED, "sensor_range": (0.0, 100.0), "noise": 0.03, "burn": 0.9,
}  # fmt: skip
DIESEL: dict[str, Value] = {
    **AT_SPEED, "engine": "diesel", "sensor_range": (0.0, 200.0), "noise": 0.06,
    "burn": 0.45, "burn_start": 6.0, "burn_length": 70.0, "burn_shape": 0.6,
    "burn_start_scatter": 0.3, "burn_length_scatter": 0.03,
}  # fmt: skip
"""A lean charge that burns fast soon after injection; the shape stands for its two stages."""

IDLING: dict[str, Value] = {
    **PETROL, "speed": 800.0, "ripple": 0.03, "throttle": 16.0, "burn_start": 12.0,
    "burn_length": 75.0, "burn_start_scatter": 4.0, "burn_length_scatter": 0.2,
    "burn_scatter": 0.12, "misfires": 0.25, "sensor_range": (0.0, 40.0), "noise": 0.02,
}  # fmt: skip
"""Little charge and much residual gas: slow, uneven burns; common practice, no source."""

CORD: dict[str, Value] = {"release": 40.0, "release_closes": 65.0}
