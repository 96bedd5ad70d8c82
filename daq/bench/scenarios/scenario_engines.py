"""Which engines can stand on the bench? All invented, none of a maker."""

from __future__ import annotations

from strokewise.analysis.profile import ValveTiming
from strokewise.daq.bench.engine.settings import BenchEngine, Starter, ValveSet

FOUR = BenchEngine(
    bore_mm=83.2,
    stroke_mm=87.4,
    rod_length_mm=148.0,
    pin_offset_mm=0.6,
    compression_ratio=9.2,
    valve_timing=ValveTiming(11.0, 49.0, 47.0, 13.0),
    intake=ValveSet(39.0, 9.2, 0.30),
    exhaust=ValveSet(33.0, 9.2, 0.35),
    inertia_kg_m2=0.2,
    friction_nm=16.0,
    viscous_nm_s=0.1,
)
"""1.9 litres in line, chain-driven cam, 1-3-4-2: the engine of the shipped recordings."""

SINGLE = BenchEngine(
    cylinders=1,
    firing_order=(1,),
    bore_mm=76.0,
    stroke_mm=64.0,
    rod_length_mm=112.0,
    compression_ratio=8.4,
    intake=ValveSet(33.0, 8.0, 0.10),
    exhaust=ValveSet(28.0, 8.0, 0.10),
    plenum_volume_cm3=400.0,
    inertia_kg_m2=0.06,
    friction_nm=7.0,
    viscous_nm_s=0.08,
    reciprocating_mass_kg=0.35,
)

V_TWIN = BenchEngine(
    cylinders=2,
    firing_order=(1, 2),
    firing_intervals_deg=(405.0, 315.0),
    bore_mm=84.0,
    stroke_mm=78.0,
    rod_length_mm=138.0,
    compression_ratio=8.9,
    plenum_volume_cm3=900.0,
    inertia_kg_m2=0.12,
    friction_nm=14.0,
    viscous_nm_s=0.15,
)

THREE = BenchEngine(
    cylinders=3,
    firing_order=(1, 3, 2),
    bore_mm=72.0,
    stroke_mm=80.0,
    rod_length_mm=134.0,
    compression_ratio=10.2,
    intake=ValveSet(34.0, 8.5, 0.20),
    exhaust=ValveSet(29.0, 8.5, 0.25),
    friction_nm=20.0,
)

SIX = BenchEngine(
    cylinders=6,
    firing_order=(1, 5, 3, 6, 2, 4),
    bore_mm=85.0,
    stroke_mm=90.0,
    rod_length_mm=152.0,
    compression_ratio=8.8,
    plenum_volume_cm3=3600.0,
    inertia_kg_m2=0.26,
    friction_nm=36.0,
)

EIGHT = BenchEngine(
    cylinders=8,
    firing_order=(1, 8, 4, 3, 6, 5, 7, 2),
    bore_mm=97.0,
    stroke_mm=84.0,
    rod_length_mm=151.0,
    compression_ratio=8.6,
    intake=ValveSet(46.0, 10.5, 0.0),
    exhaust=ValveSet(38.0, 10.5, 0.0),
    plenum_volume_cm3=4500.0,
    inertia_kg_m2=0.34,
    friction_nm=45.0,
)

DIESEL_ENGINE = BenchEngine(
    bore_mm=84.0,
    stroke_mm=92.0,
    rod_length_mm=150.0,
    pin_offset_mm=0.4,
    compression_ratio=21.0,
    adaptor_volume_cm3=1.0,
    valve_timing=ValveTiming(10.0, 34.0, 42.0, 10.0),
    intake=ValveSet(36.0, 9.0, 0.25),
    exhaust=ValveSet(32.0, 9.0, 0.35),
    throttle_area_mm2=1500.0,
    inertia_kg_m2=0.28,
    friction_nm=38.0,
    reciprocating_mass_kg=0.9,
)

TWO_STROKE = BenchEngine(
    cycle="two-stroke",
    cylinders=1,
    firing_order=(1,),
    bore_mm=64.0,
    stroke_mm=62.0,
    rod_length_mm=116.0,
    compression_ratio=7.6,
    plenum_volume_cm3=500.0,
    inertia_kg_m2=0.05,
    friction_nm=5.0,
    viscous_nm_s=0.05,
    reciprocating_mass_kg=0.3,
)

ENGINES: dict[str, BenchEngine] = {
    "four": FOUR,
    "single": SINGLE,
    "v-twin": V_TWIN,
    "three": THREE,
    "six": SIX,
    "eight": EIGHT,
    "diesel": DIESEL_ENGINE,
    "two-stroke": TWO_STROKE,
}

STALL_NM, STALL_NM_PER_CYLINDER = 25.0, 40.0  # carries every engine above over its compressions
FREE_RPM = 320.0
DIESEL_RATIO, DIESEL_SHARE = 15.0, 2.2  # above this ratio the starter is that much stronger


def starter_for(engine: BenchEngine, *, duration_s: float, run_down_s: float = 0.0) -> Starter:
    """Return a starter that suits the engine."""
    stall_nm = STALL_NM + STALL_NM_PER_CYLINDER * engine.cylinders
    if engine.compression_ratio > DIESEL_RATIO:
        stall_nm *= DIESEL_SHARE
    return Starter(
        duration_s=duration_s,
        run_down_s=run_down_s,
        torque_curve=((0.0, stall_nm), (FREE_RPM, 0.0)),
    )
