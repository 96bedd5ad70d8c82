"""Which numbers, in SI units, do the compiled loops need of an engine?"""

from __future__ import annotations

from dataclasses import replace
from math import degrees, pi, radians
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.errors import InputError
from strokewise.analysis.trade import DEG_S_PER_RPM, ZERO_CELSIUS_K
from strokewise.daq.bench.engine import heat
from strokewise.daq.bench.engine.burn import ROWS_BEFORE, drawn_burns
from strokewise.daq.bench.engine.gas import enthalpy, heat_capacity_ratio
from strokewise.daq.bench.engine.settings import BenchEngine, Held, Turning, ValveSet, ValveSide
from strokewise.daq.bench.engine.slider import bdc_after_tdc_rad, crank_radius, piston, tdc_rad
from strokewise.daq.bench.engine.valves import cam_half_duration_deg

Floats = NDArray[np.float64]

_CORRELATION_CODES = {
    "none": heat.NO_HEAT,
    "hohenberg": heat.HOHENBERG,
    "woschni": heat.WOSCHNI,
    "annand": heat.ANNAND,
    "constant": heat.CONSTANT,
}


class Constants(NamedTuple):
    """An engine in SI units; arrays have one value a cylinder, cylinder 1 first.

    Valve angles are degrees of each cylinder's own frame, whose 0 is its firing TDC.
    """

    cycle_deg: float
    four_stroke: bool
    firing_rad: Floats
    radius_m: float
    rod_m: float
    pin_offset_m: float
    tdc_rad: float
    bore_m: float
    piston_m2: float
    clearance_m3: Floats
    intake_middle_deg: float
    intake_half_deg: float
    intake_cam_lift_m: float
    intake_diameter_m: float
    intake_discharge: float
    intake_clearance_m: Floats
    intake_leak_m2: Floats
    exhaust_middle_deg: float
    exhaust_half_deg: float
    exhaust_cam_lift_m: float
    exhaust_diameter_m: float
    exhaust_discharge: float
    exhaust_clearance_m: Floats
    exhaust_port_from_m: float
    exhaust_port_width_m: float
    transfer_port_from_m: float
    transfer_port_width_m: float
    outside_leak_m2: Floats  # rings, exhaust valve leak and open plug hole: all to the atmosphere
    correlation: int
    heat_scale: float
    heat_constant: float
    still_gas: bool
    wall_k: float
    liner_k: float
    release_m2: float
    release_closes_deg: float
    release_below_rad_s: float
    burns: bool
    burn_shape: float
    burn_table: Floats  # (rows, cylinders, 3), see drawn_burns
    burn_first: NDArray[np.int64]  # the cycle, counted from angle 0, that the first row is for
    throttle_m2: float
    plenum_m3: float
    atmosphere_pa: float
    atmosphere_k: float
    atmosphere_h: float
    atmosphere_gamma: float
    inertia_kg_m2: float
    reciprocating_kg: float
    friction_nm: float
    viscous_nm_s: float


def constants_of(engine: BenchEngine) -> Constants:
    """Return the numbers of ``engine`` in SI units.

    Raises
    ------
    InputError
        A (negative) adaptor volume that fills the cylinder at TDC.
    """
    numbers = range(1, engine.cylinders + 1)
    rod, pin = engine.rod_length_mm * 1e-3, engine.pin_offset_mm * 1e-3
    stroke, bore = engine.stroke_mm * 1e-3, engine.bore_mm * 1e-3
    radius = crank_radius(stroke, rod, pin)
    tdc = tdc_rad(radius, rod, pin)
    piston_m2 = 0.25 * pi * bore**2
    intake, exhaust = _open_spans_deg(engine, degrees(bdc_after_tdc_rad(radius, rod, pin)))

    def port_from(opens_deg: float) -> float:
        return piston(radians(opens_deg), radius, rod, pin, tdc)[0]

    plugs = np.array([engine.plug_hole_mm2 * (n in engine.plugs_out) for n in numbers])
    outside = np.array(engine.ring_leaks_mm2) + plugs + _leaks_mm2(engine, "exhaust")
    atmosphere_k = engine.atmosphere.temperature_c + ZERO_CELSIUS_K
    ports = engine.ports
    return Constants(
        cycle_deg=engine.cycle_deg,
        four_stroke=engine.cycle == "four-stroke",
        firing_rad=np.radians([engine.firing_deg(n) for n in numbers]),
        radius_m=radius,
        rod_m=rod,
        pin_offset_m=pin,
        tdc_rad=tdc,
        bore_m=bore,
        piston_m2=piston_m2,
        clearance_m3=_clearance_m3(engine, piston_m2 * stroke),
        intake_middle_deg=0.5 * (intake[0] + intake[1]) + engine.intake_shift_deg,
        intake_half_deg=_cam_half_deg(engine, engine.intake, 0.5 * (intake[1] - intake[0])),
        intake_cam_lift_m=(engine.intake.lift_mm + engine.intake.clearance_mm) * 1e-3,
        intake_diameter_m=engine.intake.diameter_mm * 1e-3,
        intake_discharge=engine.intake.discharge,
        intake_clearance_m=_clearances_mm(engine, "intake") * 1e-3,
        intake_leak_m2=_leaks_mm2(engine, "intake") * 1e-6,
        exhaust_middle_deg=0.5 * (exhaust[0] + exhaust[1]) + engine.exhaust_shift_deg,
        exhaust_half_deg=_cam_half_deg(engine, engine.exhaust, 0.5 * (exhaust[1] - exhaust[0])),
        exhaust_cam_lift_m=(engine.exhaust.lift_mm + engine.exhaust.clearance_mm) * 1e-3,
        exhaust_diameter_m=engine.exhaust.diameter_mm * 1e-3,
        exhaust_discharge=engine.exhaust.discharge,
        exhaust_clearance_m=_clearances_mm(engine, "exhaust") * 1e-3,
        exhaust_port_from_m=port_from(ports.exhaust_opens_atdc_deg),
        exhaust_port_width_m=ports.exhaust_width_mm * ports.discharge * 1e-3,
        transfer_port_from_m=port_from(ports.transfer_opens_atdc_deg),
        transfer_port_width_m=ports.transfer_width_mm * ports.discharge * 1e-3,
        outside_leak_m2=outside * 1e-6,
        correlation=_CORRELATION_CODES[engine.heat.correlation],
        heat_scale=engine.heat.scale,
        heat_constant=engine.heat.constant_w_m2k,
        still_gas=engine.heat.still_gas,
        wall_k=engine.heat.wall_temperature_c + ZERO_CELSIUS_K,
        liner_k=_liner_c(engine) + ZERO_CELSIUS_K,
        release_m2=engine.release.area_mm2 * 1e-6,
        release_closes_deg=-engine.release.closes_btdc_deg,
        release_below_rad_s=engine.release.below_rpm * pi / 30.0,
        burns=False,
        burn_shape=engine.combustion.shape,
        burn_table=np.zeros((1, 1, 3)),
        burn_first=np.zeros(engine.cylinders, dtype=np.int64),
        throttle_m2=engine.throttle_area_mm2 * 1e-6,
        plenum_m3=engine.plenum_volume_cm3 * 1e-6,
        atmosphere_pa=engine.atmosphere.pressure_bar * 1e5,
        atmosphere_k=atmosphere_k,
        atmosphere_h=enthalpy(atmosphere_k),
        atmosphere_gamma=heat_capacity_ratio(atmosphere_k),
        inertia_kg_m2=engine.inertia_kg_m2,
        reciprocating_kg=engine.reciprocating_mass_kg,
        friction_nm=engine.friction_nm,
        viscous_nm_s=engine.viscous_nm_s,
    )


def _clearance_m3(engine: BenchEngine, swept_m3: float) -> Floats:
    """Return the volume that each cylinder has left at TDC."""
    clearance = np.full(engine.cylinders, swept_m3 / (engine.compression_ratio - 1.0))
    if engine.adaptor_cylinder is not None:
        clearance[engine.adaptor_cylinder - 1] += engine.adaptor_volume_cm3 * 1e-6
        if clearance.min() <= 0.0:
            raise InputError(
                f"adaptor_volume_cm3 {engine.adaptor_volume_cm3:g} leaves no room above the "
                "piston: the crank could not pass TDC"
            )
    return clearance


def _open_spans_deg(
    engine: BenchEngine, bdc_deg: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return from where to where the intake and the exhaust are open, after firing TDC."""
    timing = engine.valve_timing
    intake_closes = 360.0 + bdc_deg + timing.intake_closes_abdc_deg
    exhaust_opens = bdc_deg - timing.exhaust_opens_bbdc_deg
    return (
        (360.0 - timing.intake_opens_btdc_deg, intake_closes),
        (exhaust_opens, 360.0 + timing.exhaust_closes_atdc_deg),
    )


def with_burns(
    k: Constants, engine: BenchEngine, turning: Turning, start_rad: float, seed: int
) -> Constants:
    """Return the constants of a run that begins at a crank angle, with its burns drawn.

    The ignition of an engine that was held at a speed is cut where it is let go.
    """
    combustion = engine.combustion
    if isinstance(turning, Held) and turning.run_down_s > 0.0:
        held = int(turning.held_s * turning.rpm * DEG_S_PER_RPM / k.cycle_deg)
        burned = min(combustion.cycles, max(held - combustion.first_cycle, 0))
        combustion = replace(combustion, cycles=burned)
    if not combustion.burns:
        return k
    ahead = np.ceil((start_rad - k.firing_rad) / radians(k.cycle_deg))
    return k._replace(
        burns=True,
        burn_table=drawn_burns(combustion, engine.cylinders, seed),
        burn_first=ahead.astype(np.int64) - ROWS_BEFORE,
    )


def _liner_c(engine: BenchEngine) -> float:
    liner_c = engine.heat.liner_temperature_c
    return engine.heat.wall_temperature_c if liner_c is None else liner_c


def _cam_half_deg(engine: BenchEngine, valve: ValveSet, valve_half_deg: float) -> float:
    at_lift = engine.valve_timing.at_lift_mm
    return cam_half_duration_deg(valve_half_deg, at_lift, valve.lift_mm, valve.clearance_mm)


def _valve_set(engine: BenchEngine, side: ValveSide) -> ValveSet:
    return engine.intake if side == "intake" else engine.exhaust


def _clearances_mm(engine: BenchEngine, side: ValveSide) -> Floats:
    values = np.full(engine.cylinders, _valve_set(engine, side).clearance_mm)
    for fault in engine.valve_faults:
        if fault.side == side and fault.clearance_mm is not None:
            values[fault.cylinder - 1] = fault.clearance_mm
    return values


def _leaks_mm2(engine: BenchEngine, side: ValveSide) -> Floats:
    values = np.full(engine.cylinders, _valve_set(engine, side).leak_area_mm2)
    for fault in engine.valve_faults:
        if fault.side == side and fault.leak_area_mm2 is not None:
            values[fault.cylinder - 1] = fault.leak_area_mm2
    return values
