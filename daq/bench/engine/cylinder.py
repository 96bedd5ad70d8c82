"""How fast do mass and internal energy of the gas in a cylinder and in the plenum change?

Open systems: dm/dt is the sum of the flows in, dU/dt = Q − p dV/dt + the enthalpy of those flows.
Each cylinder exchanges gas with the plenum (intake valve, its leak) and with the atmosphere
(exhaust valve and its leak, rings, an open plug hole); every flow carries the enthalpy of the side
it comes from.
"""

from __future__ import annotations

from math import degrees, floor, pi

import numpy as np

from strokewise.daq.bench.engine.burn import HEAT_J_KG, LENGTH_DEG, START_DEG, wiebe_per_deg
from strokewise.daq.bench.engine.compiled import inlined
from strokewise.daq.bench.engine.constants import Constants
from strokewise.daq.bench.engine.gas import (
    AIR_J_KG_K,
    enthalpy,
    heat_capacity,
    temperature_from_energy,
)
from strokewise.daq.bench.engine.heat import forced_w_m2k, still_gas_w_m2k, wall_areas_m2
from strokewise.daq.bench.engine.slider import piston_inlined
from strokewise.daq.bench.engine.valves import orifice_flow, valve_area, valve_lift


@inlined
def cylinder_volume(k: Constants, c: int, crank_rad: float) -> tuple[float, float]:
    """Return the volume of cylinder index ``c`` and its derivative per radian, m³."""
    below, slope, _ = piston_inlined(
        crank_rad - k.firing_rad[c], k.radius_m, k.rod_m, k.pin_offset_m, k.tdc_rad
    )
    return k.clearance_m3[c] + k.piston_m2 * below, k.piston_m2 * slope


@inlined
def opening_areas(k: Constants, c: int, crank_rad: float) -> tuple[float, float]:
    """Return the effective areas to the plenum and to the atmosphere, leaks included, m²."""
    to_plenum, to_outside = k.intake_leak_m2[c], k.outside_leak_m2[c]
    if not k.four_stroke:
        below = (cylinder_volume(k, c, crank_rad)[0] - k.clearance_m3[c]) / k.piston_m2
        to_plenum += k.transfer_port_width_m * max(0.0, below - k.transfer_port_from_m)
        to_outside += k.exhaust_port_width_m * max(0.0, below - k.exhaust_port_from_m)
        return to_plenum, to_outside
    own_deg = degrees(crank_rad - k.firing_rad[c])
    from_middle = (own_deg - k.intake_middle_deg + 360.0) % 720.0 - 360.0
    lift = valve_lift(from_middle, k.intake_half_deg, k.intake_cam_lift_m, k.intake_clearance_m[c])
    to_plenum += valve_area(lift, k.intake_diameter_m, k.intake_discharge)
    from_middle = (own_deg - k.exhaust_middle_deg + 360.0) % 720.0 - 360.0
    lift = valve_lift(
        from_middle, k.exhaust_half_deg, k.exhaust_cam_lift_m, k.exhaust_clearance_m[c]
    )
    to_outside += valve_area(lift, k.exhaust_diameter_m, k.exhaust_discharge)
    return to_plenum, to_outside


@inlined
def exchange(
    area: float,
    own_pa: float,
    own_k: float,
    own_h: float,
    own_gamma: float,
    other_pa: float,
    other_k: float,
    other_h: float,
    other_gamma: float,
) -> tuple[float, float, float, float]:
    """Return the flow in (kg/s), its specific enthalpy, and how it falls with the own and grows
    with the other pressure (kg/(s Pa), both not negative)."""
    if area <= 0.0:
        return 0.0, own_h, 0.0, 0.0
    if own_pa > other_pa:
        flow, per_up, per_down = orifice_flow(area, own_pa, other_pa, own_k, own_gamma)
        return -flow, own_h, per_up, per_down
    flow, per_up, per_down = orifice_flow(area, other_pa, own_pa, other_k, other_gamma)
    return flow, other_h, per_down, per_up


@inlined
def heat_in_w(
    k: Constants,
    pressure_pa: float,
    temperature_k: float,
    volume_m3: float,
    speed_rad_s: float,
    breathing: bool,
) -> float:
    """Return the heat that the walls give to the gas, W.

    Forced and free convection are joined as the cube root of the sum of cubes (Churchill, AIChE
    J. 23, 1977, from memory).
    """
    piston_speed = 2.0 * k.radius_m * abs(speed_rad_s) / pi
    coefficient = k.heat_scale * forced_w_m2k(
        k.correlation,
        k.heat_constant,
        pressure_pa,
        temperature_k,
        volume_m3,
        k.bore_m,
        piston_speed,
        breathing,
    )
    if k.still_gas:
        still = still_gas_w_m2k(pressure_pa, temperature_k, k.wall_k, volume_m3, k.bore_m)
        coefficient = float(np.cbrt(coefficient**3 + still**3))
    ends_m2, liner_m2 = wall_areas_m2(volume_m3, k.bore_m)
    return coefficient * (
        ends_m2 * (k.wall_k - temperature_k) + liner_m2 * (k.liner_k - temperature_k)
    )


@inlined
def release_area(k: Constants, own_deg: float, speed_rad_s: float) -> float:
    """Return the effective area of the compression release, m²."""
    if k.release_m2 <= 0.0 or abs(speed_rad_s) >= k.release_below_rad_s:
        return 0.0
    half_deg = 0.5 * (k.release_closes_deg + 180.0)
    from_middle = (own_deg + 180.0 - half_deg + 0.5 * k.cycle_deg) % k.cycle_deg
    return valve_lift(from_middle - 0.5 * k.cycle_deg, half_deg, k.release_m2, 0.0)


@inlined
def burn_w_kg(k: Constants, c: int, own_deg: float, speed_rad_s: float) -> float:
    """Return the heat that burning sets free in each kilogram of gas, W/kg.

    Nothing burns in a crank that is turned back.
    """
    cycle = floor(own_deg / k.cycle_deg + 0.5)
    row = min(max(int(cycle) - k.burn_first[c], 0), k.burn_table.shape[0] - 1)
    burn = k.burn_table[row, c]
    since = own_deg - cycle * k.cycle_deg - burn[START_DEG]
    share = wiebe_per_deg(since, burn[LENGTH_DEG], k.burn_shape)
    heat: float = burn[HEAT_J_KG] * share * degrees(max(speed_rad_s, 0.0))
    return heat


@inlined
def gas_state(mass: float, energy: float, volume: float, guess_k: float) -> tuple[float, float]:
    """Return pressure (Pa) and temperature (K) of ``mass`` with ``energy`` in ``volume``."""
    temperature = temperature_from_energy(energy / mass, guess_k)
    return mass * AIR_J_KG_K * temperature / volume, temperature


@inlined
def pressure_slopes(
    mass: float, energy: float, volume: float, temperature: float, cv: float
) -> tuple[float, float]:
    """Return how the pressure changes with mass and with energy in a fixed volume."""
    per_energy = AIR_J_KG_K / (volume * cv)
    return AIR_J_KG_K * temperature / volume - per_energy * energy / mass, per_energy


@inlined
def plenum_rates(
    k: Constants, mass: float, energy: float, guess_k: float
) -> tuple[float, float, float, float, float, float, float, float, float, float]:
    """Return the plenum's rates from the throttle alone, and its state.

    Returns
    -------
    mass_rate, energy_rate : float
        kg/s and W through the throttle.
    fall_mass, fall_energy : float
        How these fall with the plenum's pressure.
    slope_mass, slope_energy : float
        How the pressure changes with mass and energy.
    pressure, temperature, enthalpy, gamma : float
    """
    pressure, temperature = gas_state(mass, energy, k.plenum_m3, guess_k)
    h, cp = enthalpy(temperature), heat_capacity(temperature)
    gamma = cp / (cp - AIR_J_KG_K)
    flow, carried, fall, _ = exchange(
        k.throttle_m2,
        pressure,
        temperature,
        h,
        gamma,
        k.atmosphere_pa,
        k.atmosphere_k,
        k.atmosphere_h,
        k.atmosphere_gamma,
    )
    slope_m, slope_u = pressure_slopes(mass, energy, k.plenum_m3, temperature, cp - AIR_J_KG_K)
    return (
        flow,
        flow * carried,
        fall,
        fall * carried,
        slope_m,
        slope_u,
        pressure,
        temperature,
        h,
        gamma,
    )


@inlined
def cylinder_rates(
    k: Constants,
    c: int,
    crank_rad: float,
    speed_rad_s: float,
    mass: float,
    energy: float,
    guess_k: float,
    plenum: tuple[float, float, float, float],
) -> tuple[
    tuple[float, float, float, float, float, float, float],
    tuple[float, float, float, float, float, float, float, float, float],
    tuple[float, float],
]:
    """Return what changes the gas of cylinder index ``c``.

    Parameters
    ----------
    plenum : (pressure, temperature, enthalpy, gamma)

    Returns
    -------
    rates : tuple of 7
        Mass (kg/s) and energy (W) in from the plenum, the same from the atmosphere, heat in from
        the walls, work done, and heat set free by burning (W). They sum to the change of the gas.
    slopes : tuple of 9
        Fall with the own pressure of the four flows, in their order; growth with the plenum's
        pressure of the first two; pressure per mass and per energy; and the rise of pressure (Pa/s)
        with nothing but the piston's motion.
    state : (pressure_pa, temperature_k)
    """
    volume, volume_slope = cylinder_volume(k, c, crank_rad)
    pressure, temperature = gas_state(mass, energy, volume, guess_k)
    h, cp = enthalpy(temperature), heat_capacity(temperature)
    gamma = cp / (cp - AIR_J_KG_K)
    to_plenum, to_outside = opening_areas(k, c, crank_rad)
    burning = 0.0
    if k.burns or k.release_m2 > 0.0:
        own_deg = degrees(crank_rad - k.firing_rad[c])
        to_outside += release_area(k, own_deg, speed_rad_s)
        if k.burns:
            burning = mass * burn_w_kg(k, c, own_deg, speed_rad_s)
    drawn, drawn_h, drawn_fall, drawn_grow = exchange(
        to_plenum,
        pressure,
        temperature,
        h,
        gamma,
        plenum[0],
        plenum[1],
        plenum[2],
        plenum[3],
    )
    inward, inward_h, inward_fall, _ = exchange(
        to_outside,
        pressure,
        temperature,
        h,
        gamma,
        k.atmosphere_pa,
        k.atmosphere_k,
        k.atmosphere_h,
        k.atmosphere_gamma,
    )
    breathing = to_plenum + to_outside > k.intake_leak_m2[c] + k.outside_leak_m2[c]
    heat = heat_in_w(k, pressure, temperature, volume, speed_rad_s, breathing)
    work = pressure * volume_slope * speed_rad_s
    slope_m, slope_u = pressure_slopes(mass, energy, volume, temperature, cp - AIR_J_KG_K)
    return (
        (drawn, drawn * drawn_h, inward, inward * inward_h, heat, work, burning),
        (
            drawn_fall,
            drawn_fall * drawn_h,
            inward_fall,
            inward_fall * inward_h,
            drawn_grow,
            drawn_grow * drawn_h,
            slope_m,
            slope_u,
            -work / volume,
        ),
        (pressure, temperature),
    )
