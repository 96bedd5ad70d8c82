"""The lowest place is the one that ``scipy.optimize`` finds, after as many looks."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from strokewise.analysis.tdc.lowest import lowest_between


def looked_at(cost: Callable[[float], float]) -> tuple[Callable[[float], float], list[float]]:
    places: list[float] = []

    def noted(place: float) -> float:
        places.append(float(place))
        return cost(place)

    return noted, places


@pytest.mark.parametrize("seed", range(60))
def test_it_looks_where_scipy_looks(seed: int) -> None:
    rng = np.random.default_rng(seed)
    at, bend, wave, power = rng.uniform(-2.0, 2.0, 4)

    def cost(x: float) -> float:
        return abs(x - at) ** (2.5 + power) * (1.0 + bend**2) + 0.3 * wave * np.sin(5.0 * x)

    low, high = np.sort(rng.uniform(-4.0, 4.0, 2))
    own, places = looked_at(cost)
    theirs, looked = looked_at(cost)
    found = lowest_between(own, low, high, within=1e-4)
    wanted = minimize_scalar(theirs, bounds=(low, high), method="bounded", options={"xatol": 1e-4})
    assert found == wanted.x
    assert places == looked


def test_of_a_flat_cost_it_is_somewhere_between() -> None:
    assert 1.0 < lowest_between(lambda place: 0.0, 1.0, 2.0, within=1e-4) < 2.0


def test_a_parabola_is_met_closely_and_soon() -> None:
    cost, places = looked_at(lambda place: (place - 0.3) ** 2)
    assert lowest_between(cost, 0.0, 1.0, within=1e-6) == pytest.approx(0.3, abs=1e-6)
    assert len(places) < 10
