"""Wall heat against the published formulas, and the air it passes through against CoolProp.

Sources: Hohenberg, SAE 790825; Woschni as in Heywood, ch. 12; Annand, Proc. IMechE 177 (1963); all
three from memory or second hand. CoolProp 8.0 for viscosity and conductivity (Lemmon & Jacobsen,
Int. J. Thermophysics 25, 2004).
"""

from __future__ import annotations

from math import pi

import pytest
from suite_air import real_air

from strokewise.daq.bench.engine.gas import conductivity, viscosity
from strokewise.daq.bench.engine.heat import (
    ANNAND,
    HOHENBERG,
    NO_HEAT,
    WOSCHNI,
    forced_w_m2k,
    still_gas_w_m2k,
    wall_areas_m2,
)

PRESSURE_PA, TEMPERATURE_K, VOLUME_M3, BORE_M, PISTON_M_S = 12e5, 560.0, 7e-5, 0.086, 0.57


def forced(correlation, *, piston_m_s=PISTON_M_S, breathing=False):
    return forced_w_m2k(
        correlation, 0.0, PRESSURE_PA, TEMPERATURE_K, VOLUME_M3, BORE_M, piston_m_s, breathing
    )


@pytest.mark.parametrize("temperature", [260.0, 300.0, 450.0, 700.0, 1000.0])
def test_viscosity_and_conductivity_of_air(temperature):
    # Sutherland's law stays within 4 % (viscosity, at 1000 K) and 5 % (conductivity) of real air.
    real = real_air("V", "T", temperature, "P", 1e5)
    assert viscosity(temperature) == pytest.approx(real, rel=0.04)
    real = real_air("L", "T", temperature, "P", 1e5)
    assert conductivity(temperature) == pytest.approx(real, rel=0.05)


def test_hohenberg():
    expected = 130 * VOLUME_M3**-0.06 * 12.0**0.8 * TEMPERATURE_K**-0.4 * (PISTON_M_S + 1.4) ** 0.8
    assert forced(HOHENBERG) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("breathing", "factor"), [(False, 2.28), (True, 6.18)])
def test_woschni(breathing, factor):
    speed = factor * PISTON_M_S
    expected = 3.26 * BORE_M**-0.2 * 1200.0**0.8 * TEMPERATURE_K**-0.55 * speed**0.8
    assert forced(WOSCHNI, breathing=breathing) == pytest.approx(expected, rel=1e-12)


def test_annand_with_the_properties_of_real_air():
    density = real_air("D", "T", TEMPERATURE_K, "P", PRESSURE_PA)
    reynolds = density * PISTON_M_S * BORE_M / real_air("V", "T", TEMPERATURE_K, "P", 1e5)
    nusselt = 0.49 * reynolds**0.7
    expected = nusselt * real_air("L", "T", TEMPERATURE_K, "P", 1e5) / BORE_M
    assert forced(ANNAND) == pytest.approx(expected, rel=0.05)


def test_a_crank_at_rest_leaves_only_hohenbergs_floor():
    assert forced(WOSCHNI, piston_m_s=0.0) == forced(ANNAND, piston_m_s=0.0) == 0.0
    assert forced(NO_HEAT) == 0.0
    assert forced(HOHENBERG, piston_m_s=0.0) > 50.0


def test_gas_at_rest_is_free_convection_of_the_textbook():
    """McAdams, Nu = 0.13 (Gr Pr)^(1/3), from memory, with real air; and conduction across the gap,
    2 k over half of it."""
    wall_k = 298.0
    film = 0.5 * (TEMPERATURE_K + wall_k)
    air = {key: real_air(key, "T", film, "P", PRESSURE_PA) for key in "DVLC"}
    length = 0.05  # drops out
    grashof = 9.81 / film * (TEMPERATURE_K - wall_k) * length**3 * (air["D"] / air["V"]) ** 2
    prandtl = air["C"] * air["V"] / air["L"]
    free = 0.13 * (grashof * prandtl) ** (1 / 3) * air["L"] / length
    gap = VOLUME_M3 / (pi / 4 * BORE_M**2)
    still = 2.0 * air["L"] / (gap / 2)
    found = still_gas_w_m2k(PRESSURE_PA, TEMPERATURE_K, wall_k, VOLUME_M3, BORE_M)
    assert found == pytest.approx(free + still, rel=0.05)
    assert 20.0 < found < 80.0
    # No difference of temperature, no convection: conduction alone stays.
    at_rest = still_gas_w_m2k(PRESSURE_PA, wall_k, wall_k, VOLUME_M3, BORE_M)
    assert at_rest == pytest.approx(4.0 * conductivity(wall_k) / gap, rel=1e-12)


def test_wall_area_is_head_crown_and_the_liner_above_the_piston():
    height = 0.02
    ends, liner = wall_areas_m2(pi / 4 * BORE_M**2 * height, BORE_M)
    assert ends == pytest.approx(2 * pi / 4 * BORE_M**2)
    assert liner == pytest.approx(pi * BORE_M * height)
