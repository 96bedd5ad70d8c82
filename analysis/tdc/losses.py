"""What does the air in a closed cylinder lose, to the wall and past the rings, at one moment?

Worked out for every step of the march in ``closed_cycle``, so written for speed: all arrays have
one shape, and numbers are arrays of no dimension, since numpy takes half as long again over one of
Python's, and twice as long where it has to stretch an array over another.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.trade import WARM_AIR_K

GAMMA_LESS_1 = 0.4  # as AIR_GAMMA only to hold losses to a step's equilibrium

SEATED_BAR = 1.5
"""Above the pressure outside, at which rings are seated for the greater part: a guess."""

FLOW_FALLS = np.array(-5.3)
"""How steeply the flow function comes to choking, see :func:`losses`."""

FLOW_TURNS = np.array(0.01)
"""What takes away its infinite slope where the flow turns."""

STIRRED_POWER, STILL_POWER = np.array(0.45), np.array(0.75)
"""h of stirred gas goes with p^a T^-0.45, that of still gas as its conductivity, T^0.75."""

ZERO, ONE, WARM_K = np.array(0.0), np.array(1.0), np.array(WARM_AIR_K)
NO_DROP = np.array(1e-9)
PER_1000_K = np.array(1e-3)
CUBIC = tuple(np.array(factor) for factor in (1.3898, 0.1181, -0.3283, 0.1558))


def gamma_of(temperature_k: FloatArray) -> FloatArray:
    """Return the heat-capacity ratio of dry air: a cubic through tabled values, within 0.001.

    The table is the usual one of ideal-gas heat capacities (from memory: 1.0049 kJ/(kg K) at 300 K,
    1.0987 at 800 K).
    """
    t = PER_1000_K * temperature_k
    return np.asarray(CUBIC[0] + t * (CUBIC[1] + t * (CUBIC[2] + t * CUBIC[3])))


def whole(value: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Return an array of this shape with a place of its own for each value."""
    return np.ascontiguousarray(np.broadcast_to(value, shape))


@dataclass(frozen=True, slots=True)
class HeldGas:
    """What stays the same from step to step of a march, worked out once, (variants, runs) each.

    Attributes
    ----------
    less_power : power of pressure of the stirred heat transfer, less 1.
    outside_over : pressure outside over that at which rings seat, negative.
    root, root_wall : the leak goes with T to the power of a half, and the more the cooler the gap
        leaves the gas: this power in all, and what is to be taken off its ln for the wall's.
    """

    wall_k: FloatArray
    less_power: FloatArray
    log_outside: FloatArray
    outside_over: FloatArray
    seating: FloatArray
    root: FloatArray
    root_wall: FloatArray

    @classmethod
    def of(
        cls,
        shape: tuple[int, ...],
        *,
        wall_k: FloatArray,
        heat_power: FloatArray,
        log_outside: FloatArray,
        seating: FloatArray,
        cooled: FloatArray,
    ) -> HeldGas:
        """Work it out of the parameters of the gas, see ``closed_cycle.Gas``."""
        return cls(
            wall_k=whole(wall_k, shape),
            less_power=whole(heat_power - 1.0, shape),
            log_outside=whole(log_outside, shape),
            outside_over=whole(-np.exp(log_outside) / SEATED_BAR, shape),
            seating=whole(seating, shape),
            # Gas is denser by the root of how much cooler it is in the gap.
            root=whole(0.5 + 0.5 * cooled, shape),
            root_wall=whole(0.5 * cooled * np.log(wall_k / WARM_AIR_K), shape),
        )


def losses(
    log_p: FloatArray,
    log_warm: FloatArray,
    temperature: FloatArray,
    ways: tuple[FloatArray, FloatArray, FloatArray],
    step: tuple[FloatArray, FloatArray],
    held: HeldGas,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return heat lost over p V (1/s), mass lost over m (1/s), and the heat-capacity ratio.

    Both are held to what brings the gas to the wall's temperature or to the pressure outside within
    a step: a fast loss in a long step would overshoot its own equilibrium.

    Parameters
    ----------
    log_p, log_warm, temperature : (variants, runs) float64
        ln of pressure in bar, ln of temperature over 300 K, and the temperature, K.
    ways : stirred, still, leak
        How large heat lost to stirred gas, to still gas, and the leak are at this node.
    step : length of the step, s, times γ - 1 and times γ
    """
    stirred, still, leak = ways
    coefficient = stirred * np.exp(held.less_power * log_p - STIRRED_POWER * log_warm)
    coefficient += still * np.exp(STILL_POWER * log_warm - log_p)
    coefficient /= np.sqrt(ONE + np.square(step[0] * temperature * coefficient))
    q = coefficient * (temperature - held.wall_k)
    drop = log_p - held.log_outside
    size = np.abs(drop)
    # sqrt(1 - exp(-5.3 x)), x = ln of the pressure ratio, follows the orifice's flow function from
    # no flow to choking within 3 %; y/√(y+ε) takes away its infinite slope where the flow turns.
    open_part = -np.expm1(FLOW_FALLS * size)
    flow = np.copysign(open_part, drop) / np.sqrt(open_part + FLOW_TURNS)
    below = np.minimum(drop, ZERO)
    # Rings are pressed on to the wall by what the pressure is above that outside.
    seated = ONE + held.seating * np.expm1(held.outside_over * np.expm1(drop - below))
    loss = leak * seated * np.exp(held.root * log_warm - below - held.root_wall) * flow
    loss /= np.sqrt(ONE + np.square(step[1] * loss / (size + NO_DROP)))
    return q, loss, gamma_of(temperature)
