"""How do energy, enthalpy and temperature of air hang together?

Air as an ideal gas of 21 % oxygen and 79 % nitrogen with temperature-dependent heat capacity: the
seven-coefficient polynomials of McBride, Gordon & Reno, NASA TM-4513 (1993), 200 to 6000 K, in
joules a kilogram. Enthalpy counts from the elements at 298.15 K, as the polynomials do, so the
internal energy of cool air is negative.
"""

from __future__ import annotations

from math import sqrt

from strokewise.daq.bench.engine.compiled import inlined

_O2_SHARE, _N2_SHARE = 0.21, 0.79
_O2_KG_KMOL, _N2_KG_KMOL = 31.998, 28.014

#: Specific gas constant of air, J/(kg K); 8314.462618 J/(kmol K) is exact in the SI.
AIR_J_KG_K = 8314.462618 / (_O2_SHARE * _O2_KG_KMOL + _N2_SHARE * _N2_KG_KMOL)

#: The polynomials change over at this temperature, K.
_CHANGE_K = 1000.0

_O2_COOL = (3.78245636, -2.99673415e-3, 9.84730200e-6, -9.68129508e-9, 3.24372836e-12, -1063.94356)
_N2_COOL = (3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12, -1046.97628)
_O2_HOT = (3.66096083, 6.56365523e-4, -1.41149485e-7, 2.05797658e-11, -1.29913248e-15, -1215.97725)
_N2_HOT = (2.95257626, 1.39690057e-3, -4.92631691e-7, 7.86010367e-11, -4.60755321e-15, -923.948645)


def _mixed(o2: tuple[float, ...], n2: tuple[float, ...]) -> tuple[float, ...]:
    """Return specific coefficients of the mixture: J/(kg K) with the powers of T, J/kg last."""
    return tuple(AIR_J_KG_K * (_O2_SHARE * a + _N2_SHARE * b) for a, b in zip(o2, n2, strict=True))


_COOL = _mixed(_O2_COOL, _N2_COOL)
_HOT = _mixed(_O2_HOT, _N2_HOT)


@inlined
def heat_capacity(temperature_k: float) -> float:
    """Return the heat capacity at constant pressure, J/(kg K)."""
    t = temperature_k
    a = _COOL if t < _CHANGE_K else _HOT
    return a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * a[4])))


@inlined
def enthalpy(temperature_k: float) -> float:
    """Return the specific enthalpy, J/kg."""
    t = temperature_k
    a = _COOL if t < _CHANGE_K else _HOT
    return a[5] + t * (a[0] + t * (a[1] / 2 + t * (a[2] / 3 + t * (a[3] / 4 + t * a[4] / 5))))


@inlined
def internal_energy(temperature_k: float) -> float:
    """Return the specific internal energy, J/kg."""
    return enthalpy(temperature_k) - AIR_J_KG_K * temperature_k


@inlined
def heat_capacity_ratio(temperature_k: float) -> float:
    """Return cp/cv."""
    cp = heat_capacity(temperature_k)
    return cp / (cp - AIR_J_KG_K)


@inlined
def temperature_from_energy(energy_j_kg: float, guess_k: float) -> float:
    """Return the temperature at which air has this specific internal energy (Newton), K."""
    t = guess_k
    for _ in range(30):
        step = (internal_energy(t) - energy_j_kg) / (heat_capacity(t) - AIR_J_KG_K)
        t = max(t - step, 0.3 * t)  # a poor guess must not lead below absolute zero
        if abs(step) < 1e-9 * t:
            break
    return t


@inlined
def viscosity(temperature_k: float) -> float:
    """Return the dynamic viscosity of air, Pa s: Sutherland's law (constants: White, Viscous Fluid
    Flow, table 1-2, from memory)."""
    t = temperature_k / 273.0
    return 1.716e-5 * t * sqrt(t) * (273.0 + 111.0) / (temperature_k + 111.0)


@inlined
def conductivity(temperature_k: float) -> float:
    """Return the thermal conductivity of air, W/(m K): Sutherland's law (White, table 1-3, from
    memory)."""
    t = temperature_k / 273.0
    return 0.0241 * t * sqrt(t) * (273.0 + 194.0) / (temperature_k + 194.0)
