"""Engines, rigs and ways of turning drawn at random: richer than any model that the estimators use.

Everything here is invented; the ranges are common practice, no source, unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from strokewise.analysis.profile import Encoder, Profile, Sensor, ValveTiming
from strokewise.analysis.samples import Recording
from strokewise.daq.bench.bench import Bench, Take, take, turn
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    HeatTransfer,
    RockedTurning,
    Spanner,
    Starter,
    Turning,
    ValveSet,
)
from strokewise.daq.bench.rig.rig import BoardRig, EncoderRig, Rig, SensorRig
from strokewise.daq.bench.rig.sensor_model import calibration_points
from strokewise.daq.bench.truth import truth
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

Way = Literal["starter", "rocked", "spanner"]

ORDERS = {
    2: (1, 2),
    3: (1, 3, 2),
    4: (1, 3, 4, 2),
    5: (1, 2, 4, 5, 3),
    6: (1, 5, 3, 6, 2, 4),
    8: (1, 8, 4, 3, 6, 5, 7, 2),
}


@dataclass(frozen=True)
class Draw:
    """A bench, and what the tool is told of it.

    ``changes`` are made to what the engine did, before rig and board see it.
    """

    bench: Bench
    profile: Profile
    changes: tuple[Callable[[EngineRun], EngineRun], ...] = ()


def draw(seed: int, way: Way, *, lag_known: bool, fine: bool = True) -> Draw:
    """Draw one engine on its rig.

    Parameters
    ----------
    lag_known : bool
        The tool is told the response time, wrong by up to 20 %.
    fine : bool
        Encoder of 1,440 counts and converter of 10 bit or better; else at least one is coarser.
    """
    rng = np.random.default_rng([seed, 0x656E67])
    engine = _engine(rng)
    rig = _rig(rng, engine, fine)
    turning = _turning(rng, way, engine)
    bench = Bench(engine=engine, turning=turning, rig=rig, seed=seed)
    return Draw(bench, _profile(rng, engine, rig, lag_known))


def recording_of(made: Take) -> Recording:
    """Return what the ordinary decoder makes of a take's bytes."""
    intake = Intake()
    blocks = intake.feed(made.items) + intake.finish()
    return Recording(join(blocks), intake.health)


def true_tdc_deg(made: Take) -> float:
    """Return the sensed cylinder's TDC in the encoder frame, [0, 360)."""
    return float(truth(made)["tdc"]["angle"])


def make(drawn: Draw) -> tuple[Recording, Take]:
    """Turn the drawn bench and decode its bytes."""
    run = turn(drawn.bench)
    for change in drawn.changes:
        run = change(run)
    made = take(drawn.bench, run)
    return recording_of(made), made


def _engine(rng: np.random.Generator) -> BenchEngine:
    cylinders = int(rng.choice(list(ORDERS)))
    diesel = rng.random() < 0.25
    ratio = float(rng.uniform(16.0, 23.0) if diesel else rng.uniform(7.0, 11.0))
    stroke = float(rng.uniform(65.0, 115.0))
    bore = stroke * float(rng.uniform(0.8, 1.15))
    rings = float(np.exp(rng.uniform(np.log(0.15), np.log(0.8))))
    if rng.random() < 0.3:  # worn
        rings = float(np.exp(rng.uniform(np.log(0.8), np.log(2.5))))
    litres = bore**2 * stroke * np.pi / 4e6
    size = litres / 0.5
    intake = ValveSet(0.46 * bore, 0.105 * bore, float(rng.uniform(0.2, 0.4)))
    exhaust = ValveSet(0.39 * bore, 0.1 * bore, float(rng.uniform(0.25, 0.45)))
    return BenchEngine(
        cylinders=cylinders,
        firing_order=ORDERS[cylinders],
        bore_mm=bore,
        stroke_mm=stroke,
        rod_length_mm=stroke / 2 * float(rng.uniform(3.0, 4.2)),
        pin_offset_mm=float(rng.choice([0.0, 0.0, rng.uniform(-1.2, 1.2)])),
        compression_ratio=ratio,
        adaptor_volume_cm3=float(rng.uniform(0.5, 4.0)) * (0.4 if diesel else 1.0),
        valve_timing=ValveTiming(
            float(rng.uniform(2.0, 25.0)),
            float(rng.uniform(35.0, 62.0)),
            float(rng.uniform(35.0, 60.0)),
            float(rng.uniform(2.0, 25.0)),
        ),
        intake=intake,
        exhaust=replace(exhaust, leak_area_mm2=float(rng.choice([0.0, 0.0, rng.uniform(0, 0.3)]))),
        ring_leak_mm2=rings * size,
        heat=HeatTransfer(
            correlation=str(rng.choice(["hohenberg", "woschni", "annand"])),  # type: ignore[arg-type]
            scale=float(rng.uniform(0.6, 1.6)),
            wall_temperature_c=float(rng.uniform(12.0, 45.0)),
        ),
        inertia_kg_m2=0.10 * cylinders * size * float(rng.uniform(0.6, 1.4)),
        reciprocating_mass_kg=0.5 * size,
        friction_nm=7.0 * cylinders * size,
        viscous_nm_s=0.08 * cylinders * size,
        plenum_volume_cm3=1200.0 * litres * cylinders,
        throttle_area_mm2=float(rng.uniform(150.0, 900.0)) * litres * cylinders,
    )


def _rig(rng: np.random.Generator, engine: BenchEngine, fine: bool) -> Rig:
    counts = int(rng.choice([1440, 2000, 2400, 3600, 4096]))
    bits = int(rng.choice([10, 12]))
    if not fine:
        worse = rng.integers(3)
        counts = int(rng.choice([400, 720, 1000])) if worse != 1 else counts
        bits = 8 if worse != 0 else bits
    high = 20.0 if engine.compression_ratio < 12.0 else 60.0
    encoder = EncoderRig(
        counts_per_rev=counts,
        clamp_deg=float(rng.uniform(0.0, 360.0)),
        start_count=None,
        eccentric_deg=float(abs(rng.normal(0.0, 0.05))),
        eccentric_at_deg=float(rng.uniform(0.0, 360.0)),
        line_error=float(rng.uniform(0.0, 0.1)),
        play_deg=float(abs(rng.normal(0.0, 0.02))),
        delay_s=float(rng.uniform(0.0, 20e-6)),
    )
    lag_s, hose_hz, damping = _lag(rng)
    sensor = SensorRig(
        high_bar=high,
        lag_s=lag_s,
        hose_hz=hose_hz,
        hose_damping=damping,
        gain_error=float(rng.normal(0.0, 0.01)),
        offset_bar=float(rng.normal(0.0, 0.02)),
        drift_bar_per_s=float(rng.normal(0.0, 0.003)),
        noise_bar=float(rng.uniform(0.002, 0.02)) * high / 20.0,
        hum_bar=float(rng.choice([0.0, rng.uniform(0.0, 0.02)])),
    )
    board = BoardRig(
        sample_rate_hz=float(rng.choice([1000.0, 2000.0])),
        adc_bits=bits,
        clock_ppm=float(rng.normal(0.0, 50.0)),
        jitter_us=float(rng.uniform(0.0, 10.0)),
    )
    return Rig(encoder=encoder, sensors=(sensor,), board=board)


def _lag(rng: np.random.Generator) -> tuple[float, float, float]:
    """Draw 0 to 1 ms of lag in all; in half the rigs a part of it is a hose that can ring."""
    total_s = float(rng.uniform(0.0, 0.001))
    damping = float(rng.uniform(0.5, 0.9))
    share = float(rng.uniform(0.2, 0.6))
    if rng.random() < 0.5 or total_s < 1e-4:
        return total_s, 0.0, damping
    return total_s * (1.0 - share), damping / (np.pi * share * total_s), damping


def response_time_s(sensor: SensorRig) -> float:
    """Return the lag of sensor and hose together: a second order one delays by 2 ζ / ω."""
    hose_s = sensor.hose_damping / (np.pi * sensor.hose_hz) if sensor.hose_hz else 0.0
    return sensor.lag_s + hose_s


def _turning(rng: np.random.Generator, way: Way, engine: BenchEngine) -> Turning:
    if way == "rocked":
        low = float(rng.uniform(8.0, 20.0))
        return RockedTurning(
            amplitude_deg=float(rng.uniform(55.0, 95.0)),
            swings=int(rng.integers(6, 13)),
            rpm=(low, low * 2.0),
            first=str(rng.choice(["forwards", "backwards"])),  # type: ignore[arg-type]
        )
    if way == "spanner":
        low = float(rng.uniform(8.0, 20.0))
        return Spanner(total_deg=float(rng.uniform(1500.0, 2600.0)), rpm=(low, low * 2.5))
    litres = engine.bore_mm**2 * engine.stroke_mm * np.pi / 4e6 * engine.cylinders
    squeeze = 26.0 * litres * (1.5 if engine.compression_ratio > 12.0 else 1.0)
    stall = 90.0 * litres * (1.9 if engine.compression_ratio > 12.0 else 1.0) + squeeze
    return Starter(
        duration_s=float(rng.uniform(4.0, 5.0)),
        torque_curve=((0.0, stall), (float(rng.uniform(280.0, 380.0)), 0.0)),
        battery=float(rng.uniform(0.85, 1.0)),
        run_down_s=float(rng.choice([0.0, 0.8])),
    )


def _profile(rng: np.random.Generator, engine: BenchEngine, rig: Rig, lag_known: bool) -> Profile:
    sensor = rig.sensors[0]
    geometry = bool(rng.random() < 0.5)
    told_s = response_time_s(sensor) * float(rng.uniform(0.8, 1.2))
    return Profile(
        cylinders=engine.cylinders,
        firing_order=engine.firing_order,
        firing_intervals_deg=engine.intervals_deg,
        compression_ratio=engine.compression_ratio if geometry else None,
        bore_mm=engine.bore_mm if geometry else None,
        stroke_mm=engine.stroke_mm if geometry else None,
        rod_length_mm=engine.rod_length_mm if geometry else None,
        pin_offset_mm=engine.pin_offset_mm if geometry else 0.0,
        encoder=Encoder(rig.encoder.counts_per_rev, rig.encoder.drive_ratio, 1),
        sensors=(
            Sensor(
                cylinder=1,
                reference="absolute",
                response_time_s=told_s if lag_known else None,
                points=calibration_points(sensor, rig.board.adc_bits),
            ),
        ),
    )
