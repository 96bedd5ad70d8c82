"""Flow through an orifice against the textbook.

Source: Heywood, Internal Combustion Engine Fundamentals, app. C, eq. C.8 (unchoked) and C.9
(choked), from memory; choking at a pressure ratio of 0.528 for a heat-capacity ratio of 1.4.
"""

from __future__ import annotations

import numpy as np
import pytest

from strokewise.daq.bench.engine.cylinder import exchange
from strokewise.daq.bench.engine.gas import AIR_J_KG_K, enthalpy
from strokewise.daq.bench.engine.valves import flow_function, orifice_flow

AREA_M2, UP_PA, UP_K = 1.5e-6, 3e5, 350.0


def unchoked(ratio, gamma):
    bracket = 2 * gamma / (gamma - 1) * (1 - ratio ** ((gamma - 1) / gamma))
    return AREA_M2 * UP_PA / np.sqrt(AIR_J_KG_K * UP_K) * ratio ** (1 / gamma) * np.sqrt(bracket)


def choked(gamma):
    power = (gamma + 1) / (2 * (gamma - 1))
    front = AREA_M2 * UP_PA / np.sqrt(AIR_J_KG_K * UP_K)
    return front * np.sqrt(gamma) * (2 / (gamma + 1)) ** power


@pytest.mark.parametrize("gamma", [1.3, 1.35, 1.4])
@pytest.mark.parametrize("ratio", [0.56, 0.7, 0.9, 0.99, 0.999])
def test_unchoked_flow(ratio, gamma):
    flow, _, _ = orifice_flow(AREA_M2, UP_PA, ratio * UP_PA, UP_K, gamma)
    assert flow == pytest.approx(unchoked(ratio, gamma), rel=1e-9)


@pytest.mark.parametrize("gamma", [1.3, 1.35, 1.4])
@pytest.mark.parametrize("ratio", [0.52, 0.3, 0.01])
def test_choked_flow(ratio, gamma):
    flow, _, _ = orifice_flow(AREA_M2, UP_PA, ratio * UP_PA, UP_K, gamma)
    assert flow == pytest.approx(choked(gamma), rel=1e-9)


def test_choking_begins_at_0_528():
    ratios = np.linspace(0.5, 0.56, 6001)
    flows = np.array([flow_function(r, 1.4) for r in ratios])
    begins = ratios[np.flatnonzero(flows < flows.max() * (1 - 1e-9))[0]]
    assert begins == pytest.approx(0.528, abs=0.0006)


def test_flow_runs_smoothly_through_equal_pressures():
    gaps = np.linspace(0.0, 6e-4, 601)
    flows = np.array([orifice_flow(AREA_M2, UP_PA, UP_PA * (1 - g), UP_K, 1.4)[0] for g in gaps])
    assert flows[0] == 0.0
    # No jump, and a slope that stays finite, where the bare square root has none.
    assert np.abs(np.diff(flows)).max() < 0.01 * flows[-1]
    assert np.abs(np.diff(flows, 2)).max() < 1e-4 * flows[-1]
    assert flows[-1] == pytest.approx(unchoked(1 - gaps[-1], 1.4), rel=1e-9)


def test_flow_carries_the_enthalpy_of_the_side_it_comes_from():
    cold, hot = (1e5, 293.0, enthalpy(293.0), 1.4), (2e5, 600.0, enthalpy(600.0), 1.37)
    out, carried, _, _ = exchange(AREA_M2, *hot, *cold)
    back, carried_back, _, _ = exchange(AREA_M2, *cold, *hot)
    assert out < 0.0 < back
    assert out == pytest.approx(-back, rel=1e-12)
    assert carried == carried_back == enthalpy(600.0)
