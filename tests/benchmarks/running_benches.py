"""Engines that run or ran, cylinders of a second physics, and errors that no model follows.

The draws of :mod:`random_benches` with something changed: how the engine is turned and what is in
it, what its gas does, what the workshop states of it, what the sensor makes of it. Ranges are
common practice, no source, unless said otherwise; those of the second physics are in
:mod:`second_physics`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Literal

import numpy as np
from random_benches import Draw, Way, draw, response_time_s
from second_physics import drawn, filled_anew

from strokewise.analysis.profile import Atmosphere, Profile, ValveTiming
from strokewise.daq.bench.engine.burn import Combustion
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    CompressionRelease,
    HeatTransfer,
    Held,
    RunDown,
    Starter,
)
from strokewise.daq.bench.rig.rig import Rig
from strokewise.daq.bench.rig.sensor_model import calibration_points

Running = Literal["run down hot", "release", "burning", "mixed"]
Physics = Literal["bench", "second", "smooth error"]

SMOOTH_SHARE = (0.001, 0.003)
"""Rms of the smooth error over the rise of a compression. What the present fit leaves of measured
run-down traces of one engine is 0.08 to 0.12 % of the rise, at the most 0.3 %, alike over some 5°;
a fit takes up the longer waves, so that up to three times that is drawn."""

SMOOTH_DEG = (4.0, 20.0)
"""Over how many degrees it is alike (standard deviation of its Gaussian correlation)."""

SMOOTH_SAME = 0.75
"""Share of its variance that comes again at the same angle in every compression."""

WAVES = 60
DIESEL_FROM = 12.0
"""Compression ratio above which a random engine is a diesel."""


def draw_any(
    seed: int, way: Way | Running, *, lag_known: bool, fine: bool = True, physics: Physics = "bench"
) -> Draw:
    """Draw an engine on its rig, turned any way and of either physics."""
    running = {"run down hot": _run_down_hot, "release": _release, "burning": _burning,
               "mixed": _mixed}  # fmt: skip
    rng = np.random.default_rng([seed, 0x72756E])
    if way in running:
        base = draw(seed, "starter", lag_known=lag_known, fine=fine)
        made = running[way](rng, base)
    else:
        made = draw(seed, way, lag_known=lag_known, fine=fine)  # type: ignore[arg-type]
    if physics == "second":
        return _of_second_physics(rng, made, lag_known=lag_known, hot=way == "run down hot")
    if physics == "smooth error":
        return _with(made, partial(smooth_error, seed=seed))
    return made


def _with(made: Draw, change: Callable[[EngineRun], EngineRun]) -> Draw:
    return replace(made, changes=(*made.changes, change))


def _hot(rng: np.random.Generator, engine: BenchEngine) -> BenchEngine:
    head_c = float(rng.uniform(80.0, 200.0))
    heat = HeatTransfer(
        engine.heat.correlation, engine.heat.scale, wall_temperature_c=head_c,
        liner_temperature_c=float(rng.uniform(70.0, min(130.0, head_c))),
    )  # fmt: skip
    return replace(engine, heat=heat)


def _at_speed(rng: np.random.Generator, rig: Rig, high_bar: float | None = None) -> Rig:
    """Return the rig with a board that keeps up, and a sensor for so much pressure."""
    encoder = replace(rig.encoder, counts_per_rev=int(rng.choice([1440, 2400, 3600])))
    sensor = rig.sensors[0]
    if high_bar is not None:
        noise = sensor.noise_bar * high_bar / sensor.high_bar
        sensor = replace(sensor, high_bar=high_bar, noise_bar=noise)
    board = replace(rig.board, sample_rate_hz=float(rng.choice([5000.0, 10_000.0])))
    return replace(rig, encoder=encoder, sensors=(sensor,), board=board)


def _changed(made: Draw, *, engine: BenchEngine, rig: Rig, turning: object) -> Draw:
    """Return the draw on another bench, its profile as true or as wrong as before."""
    bench = replace(made.bench, engine=engine, rig=rig, turning=turning)  # type: ignore[arg-type]
    profile = made.profile
    sensor = replace(
        profile.sensors[0], points=calibration_points(rig.sensors[0], rig.board.adc_bits)
    )
    encoder = replace(profile.encoder, counts_per_rev=rig.encoder.counts_per_rev)
    return replace(made, bench=bench, profile=replace(profile, sensors=(sensor,), encoder=encoder))


def _run_down_hot(rng: np.random.Generator, made: Draw) -> Draw:
    """Ignition cut at 900 to 2,500 rev/min, throttle anywhere; the profile says nothing of it."""
    engine = _hot(rng, made.bench.engine)
    engine = replace(
        engine, throttle_area_mm2=engine.throttle_area_mm2 * float(rng.uniform(0.05, 1))
    )
    turning = RunDown(float(rng.uniform(900.0, 2500.0)), float(rng.uniform(1.5, 3.0)))
    return _changed(made, engine=engine, rig=_at_speed(rng, made.bench.rig), turning=turning)


def _release(rng: np.random.Generator, made: Draw) -> Draw:
    """A single pulled by its cord, with a release that shuts 40° to 90° before TDC."""
    engine = made.bench.engine
    size = engine.bore_mm**2 * engine.stroke_mm * np.pi / 4e6 / 0.5
    release = CompressionRelease(
        float(rng.uniform(15.0, 70.0)) * size, float(rng.uniform(40.0, 90.0))
    )
    engine = replace(
        engine, cylinders=1, firing_order=(1,), release=release, inertia_kg_m2=0.12 * size,
        friction_nm=9.0 * size, viscous_nm_s=0.08 * size, plenum_volume_cm3=600.0 * size,
        throttle_area_mm2=float(rng.uniform(80.0, 300.0)) * size,
    )  # fmt: skip
    pull = Starter(
        duration_s=float(rng.uniform(0.45, 0.7)), run_down_s=1.5,
        torque_curve=((0.0, float(rng.uniform(110.0, 190.0)) * size), (1000.0, 0.0)),
    )  # fmt: skip
    made = _changed(made, engine=engine, rig=_at_speed(rng, made.bench.rig), turning=pull)
    profile = replace(
        made.profile, cylinders=1, firing_order=(1,), firing_intervals_deg=engine.intervals_deg
    )
    return replace(made, profile=profile)


def burn_of(rng: np.random.Generator, *, diesel: bool) -> Combustion:
    """Draw how a charge burns, from a weak idle to full load."""
    if diesel:
        return Combustion(
            strength=float(rng.uniform(0.08, 0.6)), start_btdc_deg=float(rng.uniform(0.0, 12.0)),
            length_deg=float(rng.uniform(40.0, 90.0)), shape=float(rng.uniform(0.4, 1.2)),
            start_scatter_deg=0.4, length_scatter=0.05, strength_scatter=0.03,
        )  # fmt: skip
    return Combustion(
        strength=float(rng.uniform(0.3, 1.0)), start_btdc_deg=float(rng.uniform(0.0, 30.0)),
        length_deg=float(rng.uniform(40.0, 90.0)), shape=float(rng.uniform(1.6, 2.6)),
        start_scatter_deg=float(rng.uniform(0.5, 4.0)),
        length_scatter=float(rng.uniform(0.04, 0.2)),
        strength_scatter=float(rng.uniform(0.01, 0.12)),
    )  # fmt: skip


def _lit(rng: np.random.Generator, made: Draw) -> tuple[BenchEngine, Rig]:
    engine = made.bench.engine
    diesel = engine.compression_ratio > DIESEL_FROM
    throttle = engine.throttle_area_mm2 * (1.0 if diesel else float(rng.uniform(0.05, 1.0)))
    burn = burn_of(rng, diesel=diesel)
    engine = replace(_hot(rng, engine), throttle_area_mm2=throttle, combustion=burn)
    return engine, _at_speed(rng, made.bench.rig, 200.0 if diesel else 100.0)


def _burning(rng: np.random.Generator, made: Draw) -> Draw:
    """Every cycle burns: held at a speed, from an idle to 2,200 rev/min."""
    engine, rig = _lit(rng, made)
    turning = Held(
        float(rng.uniform(700.0, 2200.0)), float(rng.uniform(0.0, 0.03)),
        float(rng.uniform(0.8, 2.0)),
    )  # fmt: skip
    return _changed(made, engine=engine, rig=rig, turning=turning)


def _mixed(rng: np.random.Generator, made: Draw) -> Draw:
    """Cut after some burning cycles, misfiring at a speed, or catching on the starter at last."""
    engine, rig = _lit(rng, made)
    kind = rng.integers(3)
    burn = engine.combustion
    if kind == 0:
        burn = replace(burn, cycles=int(rng.integers(1, 8)))
        turning: object = RunDown(float(rng.uniform(800.0, 2000.0)), 2.0)
    elif kind == 1:
        burn = replace(burn, misfires=float(rng.uniform(0.2, 0.8)))
        turning = Held(float(rng.uniform(700.0, 1800.0)), 0.02, float(rng.uniform(1.0, 2.5)))
    else:
        burn = replace(burn, first_cycle=int(rng.integers(1, 6)))
        turning = made.bench.turning
        assert isinstance(turning, Starter)
        engine = replace(engine, heat=made.bench.engine.heat)
        turning = replace(turning, run_down_s=0.0)
    return _changed(made, engine=replace(engine, combustion=burn), rig=rig, turning=turning)


def _of_second_physics(rng: np.random.Generator, made: Draw, *, lag_known: bool, hot: bool) -> Draw:
    """Return the draw with other air, valves, lag and gas, and stated as workshops state things."""
    engine, rig = made.bench.engine, made.bench.rig
    air = Atmosphere(float(rng.uniform(0.85, 1.035)), float(rng.uniform(-5.0, 36.0)))
    timing = engine.valve_timing
    timing = ValveTiming(
        timing.intake_opens_btdc_deg, float(rng.uniform(30.0, 72.0)),
        float(rng.uniform(35.0, 72.0)), timing.exhaust_closes_atdc_deg,
    )  # fmt: skip
    engine = replace(engine, atmosphere=air, valve_timing=timing)
    lag_s = float(np.exp(rng.uniform(np.log(5e-5), np.log(1.2e-3))))
    scale = lag_s / max(response_time_s(rig.sensors[0]), 1e-6)
    sensor = rig.sensors[0]
    sensor = replace(sensor, lag_s=sensor.lag_s * scale, hose_hz=sensor.hose_hz / scale)
    rig = replace(rig, sensors=(sensor,))
    bench = replace(made.bench, engine=engine, rig=rig)
    told = replace(
        made.profile.sensors[0],
        response_time_s=lag_s * float(rng.uniform(0.8, 1.2)) if lag_known else None,
    )
    profile = stated_by_a_workshop(rng, replace(made.profile, sensors=(told,)), engine)
    second = drawn(rng, engine, hot=hot)
    made = replace(made, bench=bench, profile=profile)
    return _with(made, partial(filled_anew, second=second))


def stated_by_a_workshop(
    rng: np.random.Generator, profile: Profile, engine: BenchEngine
) -> Profile:
    """Return the profile with the errors that workshops make.

    Bore and stroke off a worn rule or another model's (2 % in one of ten), the rod measured between
    the wrong edges, the ratio from before the head was skimmed, a pin offset left out or taken for
    the other side; the weather not asked, or from a barometer a little off.
    """
    if rng.random() < 0.5:
        air = Atmosphere(
            engine.atmosphere.pressure_bar + float(rng.normal(0.0, 0.005)),
            engine.atmosphere.temperature_c + float(rng.normal(0.0, 2.0)),
            stated=True,
        )
        profile = replace(profile, atmosphere=air)
    if profile.stroke_mm is None or profile.rod_length_mm is None:
        return profile
    coarse = 0.02 if rng.random() < 0.1 else 0.003
    offset = profile.pin_offset_mm * float(rng.choice([1.0, 1.0, 0.0, -1.0]))
    return replace(
        profile,
        stroke_mm=engine.stroke_mm * (1.0 + float(rng.normal(0.0, coarse))),
        bore_mm=engine.bore_mm * (1.0 + float(rng.normal(0.0, coarse))),
        rod_length_mm=engine.rod_length_mm * (1.0 + float(rng.normal(0.0, 0.01))),
        compression_ratio=engine.compression_ratio * (1.0 + float(rng.normal(0.0, 0.04))),
        pin_offset_mm=offset,
    )


def smooth_error(run: EngineRun, *, seed: int) -> EngineRun:
    """Return the run with a smooth random error of cylinder 1's pressure.

    Its size is a share of the highest rise; where pressure is hardly up there is none of it.
    """
    rng = np.random.default_rng([seed, 0x736D6F])
    alike_deg = float(rng.uniform(*SMOOTH_DEG))
    share = float(np.exp(rng.uniform(*np.log(SMOOTH_SHARE))))
    gone_deg = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(run.crank_deg)))])
    at_deg = (run.crank_deg + 360.0) % 720.0
    error = np.sqrt(SMOOTH_SAME) * _waves(rng, at_deg, alike_deg)
    error += np.sqrt(1.0 - SMOOTH_SAME) * _waves(rng, gone_deg, alike_deg)
    rise = run.pressure_bar[:, 0] - run.engine.atmosphere.pressure_bar
    top = float(rise.max())
    up = np.clip(rise, 0.0, None) / (np.clip(rise, 0.0, None) + 0.05 * top)
    pressure = run.pressure_bar.copy()
    pressure[:, 0] += share * top * up * error
    return replace(run, pressure_bar=pressure)


def _waves(rng: np.random.Generator, at_deg: np.ndarray, alike_deg: float) -> np.ndarray:
    """Return a random function of unit variance with a Gaussian correlation, from waves."""
    each = rng.normal(0.0, 1.0 / alike_deg, WAVES), rng.uniform(0.0, 2 * np.pi, WAVES)
    total = np.zeros(len(at_deg))
    for per_deg, phase in zip(*each, strict=True):
        total += np.cos(per_deg * at_deg + phase)
    return np.asarray(np.sqrt(2.0 / WAVES) * total)
