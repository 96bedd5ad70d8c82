"""How fast does the gas in a cylinder give its heat to the walls?

Motored heat-transfer correlations and, beneath them, gas at rest. They disagree three- to fourfold
at cranking speed; which one is nearest to an engine on the bench nobody knows, so all are here.

- Hohenberg: h = 130 V^-0.06 p^0.8 T^-0.4 (mean piston speed + 1.4)^0.8; p in bar. SAE 790825.
- Woschni, motored part: h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8; p in kPa, w = 2.28 mean piston speeds
  with the valves shut and 6.18 while breathing. Heywood, Internal Combustion Engine Fundamentals,
  ch. 12.
- Annand: h = 0.49 (k/B) Re^0.7 with the mean piston speed; the published constant runs from 0.35
  to 0.8. Annand, Proc. IMechE 177 (1963).

(Constants from memory and from a second-hand table.) "Mean piston speed" follows the crank's speed
of the moment, so that it is right for a crank that stops and turns back.
"""

from __future__ import annotations

from math import exp, log, pi

import numpy as np

from strokewise.daq.bench.engine.compiled import inlined
from strokewise.daq.bench.engine.gas import AIR_J_KG_K, conductivity, heat_capacity, viscosity

#: Codes of the correlations in the compiled loops.
NO_HEAT, HOHENBERG, WOSCHNI, ANNAND, CONSTANT = 0, 1, 2, 3, 4

_ANNAND_CONSTANT = 0.49
_GRAVITY = 9.81
#: Turbulent free convection, Nu = 0.13 (Gr Pr)^(1/3): McAdams, Heat Transmission (from memory).
_FREE_CONVECTION = 0.13
#: Conduction across a gas pocket at rest between two walls: Nu = 2 on half the gap's breadth.
_STILL_NUSSELT = 2.0


@inlined
def forced_w_m2k(
    correlation: int,
    constant: float,
    pressure_pa: float,
    temperature_k: float,
    volume_m3: float,
    bore_m: float,
    piston_speed_m_s: float,
    breathing: bool,
) -> float:
    """Return the heat-transfer coefficient of a correlation, W/(m² K)."""
    # A product of powers is one exponential of a sum of logarithms: much of the time is spent here.
    if correlation == HOHENBERG:
        return 130.0 * exp(
            -0.06 * log(volume_m3)
            + 0.8 * log(pressure_pa * 1e-5 * (piston_speed_m_s + 1.4))
            - 0.4 * log(temperature_k)
        )
    if piston_speed_m_s <= 0.0:
        return constant if correlation == CONSTANT else 0.0
    if correlation == WOSCHNI:
        gas_speed = (6.18 if breathing else 2.28) * piston_speed_m_s
        return 3.26 * exp(
            0.8 * log(pressure_pa * 1e-3 * gas_speed)
            - 0.55 * log(temperature_k)
            - 0.2 * log(bore_m)
        )
    if correlation == ANNAND:
        density = pressure_pa / (AIR_J_KG_K * temperature_k)
        reynolds = density * piston_speed_m_s * bore_m / viscosity(temperature_k)
        nusselt: float = _ANNAND_CONSTANT * reynolds**0.7
        return nusselt * conductivity(temperature_k) / bore_m
    if correlation == CONSTANT:
        return constant
    return 0.0


@inlined
def still_gas_w_m2k(
    pressure_pa: float, temperature_k: float, wall_k: float, volume_m3: float, bore_m: float
) -> float:
    """Return the coefficient of gas at rest: free convection plus conduction, W/(m² K)."""
    film_k = 0.5 * (temperature_k + wall_k)
    conduct = conductivity(film_k)
    density = pressure_pa / (AIR_J_KG_K * film_k)
    rayleigh_m3 = (
        _GRAVITY
        * abs(temperature_k - wall_k)
        / film_k
        * density
        * density
        * heat_capacity(film_k)
        / (viscosity(film_k) * conduct)
    )
    gap_m = volume_m3 / (0.25 * pi * bore_m**2)
    half_gap_m = 0.5 * min(gap_m, bore_m)
    return conduct * (_FREE_CONVECTION * float(np.cbrt(rayleigh_m3)) + _STILL_NUSSELT / half_gap_m)


@inlined
def wall_areas_m2(volume_m3: float, bore_m: float) -> tuple[float, float]:
    """Return head with piston crown, and the liner down to the piston, m²."""
    piston = 0.25 * pi * bore_m**2
    return 2.0 * piston, pi * bore_m * volume_m3 / piston
