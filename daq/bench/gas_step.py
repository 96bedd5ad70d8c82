"""How does the gas of the whole engine get through a short time, cheaply and without instability?

A valve that stands open joins two volumes within microseconds, far shorter than a useful step, so
the step is linearly implicit in the flows: the two-stage W-method of second order ::

    (1 − γhA) k1 = f(y),   (1 − γhA) k2 = f(y + h k1) − 2 k1,   y' = y + 3/2 h k1 + 1/2 h k2

(Verwer, Spee, Blom & Hundsdorfer, SIAM J. Sci. Comput. 20, 1999). A holds only how the flows
answer to the pressures on both sides: one row a cylinder that meets the others in the plenum, so
that the system falls apart into scalars. The order does not rest on A, and gas is conserved
exactly: what a cylinder draws, the plenum loses. The first-order result y + h k1 gives the error.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from strokewise.daq.bench.compiled import compiled, inlined
from strokewise.daq.bench.constants import Constants
from strokewise.daq.bench.cylinder import cylinder_rates, plenum_rates

Floats = NDArray[np.float64]

_GAMMA = 1.0 - 1.0 / sqrt(2.0)  # L-stable
_SHORTEST_S = 1e-8  # a step this short is taken whatever its error: nothing here is faster
_LEAST_LEFT = 0.1  # a trial that empties a cylinder further than this is no trial
_GROW, _SHRINK, _SAFETY = 4.0, 0.1, 0.9

#: Columns of a rates row: total mass and energy, and the part drawn from the plenum.
_DM, _DU, _DRAWN_M, _DRAWN_U = 0, 1, 2, 3
#: Columns of a slopes row, see :func:`cylinder_rates`.
_FALL_M, _FALL_U, _OWN_M, _OWN_U, _GROW_M, _GROW_U, _P_M, _P_U = 0, 1, 2, 3, 4, 5, 6, 7


@inlined
def crank_between(share: float, span_s: float, start: Floats, end: Floats) -> tuple[float, float]:
    """Return angle and speed at a share of a span whose ends are (angle, speed): cubic Hermite."""
    s2, s3 = share * share, share * share * share
    angle = (
        (2.0 * s3 - 3.0 * s2 + 1.0) * start[0]
        + (s3 - 2.0 * s2 + share) * span_s * start[1]
        + (3.0 * s2 - 2.0 * s3) * end[0]
        + (s3 - s2) * span_s * end[1]
    )
    speed = (
        6.0 * (s2 - share) * (start[0] - end[0]) / span_s
        + (3.0 * s2 - 4.0 * share + 1.0) * start[1]
        + (3.0 * s2 - 2.0 * share) * end[1]
    )
    return angle, speed


@compiled
def engine_rates(
    k: Constants,
    simulated: NDArray[np.int64],
    crank_rad: float,
    speed_rad_s: float,
    gas: Floats,
    guess_k: Floats,
    rates: Floats,
    slopes: Floats,
    state: Floats,
) -> None:
    """Fill rates, slopes and state of every simulated cylinder and, in the last row, the plenum.

    Parameters
    ----------
    gas : (cylinders + 1, 2) array
        Mass (kg) and internal energy (J); the plenum last.
    guess_k : (cylinders + 1,) array
        A temperature near that of each.
    rates : (cylinders + 1, 4), slopes : (cylinders + 1, 8), state : (cylinders + 1, 2) arrays
        Filled in place; state is pressure (Pa) and temperature (K).
    """
    last = gas.shape[0] - 1
    flow, carried, fall_m, fall_u, p_m, p_u, pressure, temperature, h, gamma = plenum_rates(
        k, gas[last, 0], gas[last, 1], guess_k[last]
    )
    rates[last, :] = 0.0
    slopes[last, :] = 0.0
    rates[last, _DM], rates[last, _DU] = flow, carried
    slopes[last, _FALL_M], slopes[last, _FALL_U] = fall_m, fall_u
    slopes[last, _P_M], slopes[last, _P_U] = p_m, p_u
    state[last, 0], state[last, 1] = pressure, temperature
    for c in simulated:
        change, slope, now = cylinder_rates(
            k,
            c,
            crank_rad,
            speed_rad_s,
            gas[c, 0],
            gas[c, 1],
            guess_k[c],
            (pressure, temperature, h, gamma),
        )
        for i in range(4):
            rates[c, i] = change[i]
        for i in range(8):
            slopes[c, i] = slope[i]
        state[c, 0], state[c, 1] = now
        rates[last, _DM] -= change[_DRAWN_M]
        rates[last, _DU] -= change[_DRAWN_U]


@compiled
def _solve(
    gh: float, simulated: NDArray[np.int64], slopes: Floats, rates: Floats, out: Floats
) -> None:
    """Solve (1 − gh A) out = rates, scalar by scalar; ``out`` is (cylinders + 1, 2)."""
    last = rates.shape[0] - 1
    p_m, p_u = slopes[last, _P_M], slopes[last, _P_U]
    pull = gh * (p_m * rates[last, _DM] + p_u * rates[last, _DU])
    hold = 1.0 + gh * (p_m * slopes[last, _FALL_M] + p_u * slopes[last, _FALL_U])
    for c in simulated:
        s = slopes[c]
        damp = 1.0 + gh * (s[_P_M] * s[_FALL_M] + s[_P_U] * s[_FALL_U])
        alone = gh * (s[_P_M] * rates[c, _DM] + s[_P_U] * rates[c, _DU]) / damp
        follow = gh * (s[_P_M] * s[_GROW_M] + s[_P_U] * s[_GROW_U]) / damp
        given = p_m * s[_OWN_M] + p_u * s[_OWN_U]
        pull += gh * given * alone
        hold += gh * (p_m * s[_GROW_M] + p_u * s[_GROW_U] - given * follow)
    rise = pull / hold  # of the plenum's pressure, in units of gh
    out[last, 0] = rates[last, _DM] - slopes[last, _FALL_M] * rise
    out[last, 1] = rates[last, _DU] - slopes[last, _FALL_U] * rise
    for c in simulated:
        s = slopes[c]
        damp = 1.0 + gh * (s[_P_M] * s[_FALL_M] + s[_P_U] * s[_FALL_U])
        own = gh * (s[_P_M] * rates[c, _DM] + s[_P_U] * rates[c, _DU])
        own = (own + gh * (s[_P_M] * s[_GROW_M] + s[_P_U] * s[_GROW_U]) * rise) / damp
        out[c, 0] = rates[c, _DM] - s[_FALL_M] * own + s[_GROW_M] * rise
        out[c, 1] = rates[c, _DU] - s[_FALL_U] * own + s[_GROW_U] * rise
        out[last, 0] += s[_OWN_M] * own - s[_GROW_M] * rise
        out[last, 1] += s[_OWN_U] * own - s[_GROW_U] * rise


class Workspace(NamedTuple):
    """Arrays that the step writes to, made once a run."""

    rates: Floats
    slopes: Floats
    state: Floats
    later: Floats
    later_slopes: Floats
    later_state: Floats
    k1: Floats
    k2: Floats
    trial: Floats


def workspace(cylinders: int) -> Workspace:
    """Return the arrays for an engine of so many cylinders."""
    widths = (4, 8, 2, 4, 8, 2, 2, 2, 2)
    return Workspace(*(np.zeros((cylinders + 1, width)) for width in widths))


@compiled
def advance_gas(
    k: Constants,
    simulated: NDArray[np.int64],
    work: Workspace,
    span_s: float,
    start: Floats,
    end: Floats,
    gas: Floats,
    temperature: Floats,
    longest_rad: float,
    tolerance: float,
    step_s: float,
) -> float:
    """Take the gas through ``span_s`` while the crank goes from ``start`` to ``end``.

    Parameters
    ----------
    start, end : (2,) arrays
        Crank angle (rad) and speed (rad/s).
    gas, temperature : (cylinders + 1, 2) and (cylinders + 1,) arrays
        Changed in place.
    longest_rad : float
        Longest crank angle a step may cover.
    tolerance : float
        Largest relative difference of pressure or mass between the two orders.
    step_s : float
        Where to begin with the step.

    Returns
    -------
    float
        The step to begin the next span with, s.
    """
    fastest = max(abs(start[1]), abs(end[1]), abs(end[0] - start[0]) / span_s)
    limit_s = min(span_s, longest_rad / fastest) if fastest > 0.0 else span_s
    done_s = 0.0
    while done_s < span_s * (1.0 - 1e-9):
        angle, speed = crank_between(done_s / span_s, span_s, start, end)
        engine_rates(
            k, simulated, angle, speed, gas, temperature, work.rates, work.slopes, work.state
        )
        temperature[-1] = work.state[-1, 1]
        for c in simulated:
            temperature[c] = work.state[c, 1]
        while True:
            h = min(step_s, limit_s)
            left_s = span_s - done_s
            if h > 0.5 * left_s:  # two equal steps rather than a long and a tiny one
                h = left_s if h > 0.999 * left_s else 0.5 * left_s
            share = (done_s + h) / span_s
            error = _try_step(k, simulated, work, h, share, span_s, start, end, gas, temperature)
            factor = _SAFETY * sqrt(tolerance / max(error, 1e-300))
            step_s = max(_SHORTEST_S, h * min(_GROW, max(_SHRINK, factor)))
            if error <= tolerance or h <= _SHORTEST_S:
                break
        for row in range(gas.shape[0]):
            for i in range(2):
                gas[row, i] += h * (1.5 * work.k1[row, i] + 0.5 * work.k2[row, i])
        done_s += h
    return step_s


@compiled
def _try_step(
    k: Constants,
    simulated: NDArray[np.int64],
    work: Workspace,
    h: float,
    share: float,
    span_s: float,
    start: Floats,
    end: Floats,
    gas: Floats,
    temperature: Floats,
) -> float:
    """Fill ``k1`` and ``k2`` and return the relative difference between the two orders."""
    _solve(_GAMMA * h, simulated, work.slopes, work.rates, work.k1)
    for row in range(gas.shape[0]):
        for i in range(2):
            work.trial[row, i] = gas[row, i] + h * work.k1[row, i]
        if work.trial[row, 0] < _LEAST_LEFT * gas[row, 0]:
            return np.inf
    angle, speed = crank_between(share, span_s, start, end)
    engine_rates(
        k,
        simulated,
        angle,
        speed,
        work.trial,
        temperature,
        work.later,
        work.later_slopes,
        work.later_state,
    )
    for row in range(gas.shape[0]):
        for i in range(2):
            work.later[row, i] -= 2.0 * work.k1[row, i]
    _solve(_GAMMA * h, simulated, work.slopes, work.later, work.k2)
    # Filtered once more through the implicit matrix, or every stiff valve would cut the step short
    # for a difference that the method damps anyway (Shampine; Hairer & Wanner, vol. II, IV.8).
    for row in range(gas.shape[0]):
        for i in range(2):
            work.later[row, i] = 0.5 * h * (work.k1[row, i] + work.k2[row, i])
    _solve(_GAMMA * h, simulated, work.slopes, work.later, work.trial)
    last = gas.shape[0] - 1
    worst = 0.0
    for i in range(simulated.size + 1):
        row = simulated[i] if i < simulated.size else last
        mass, energy = work.trial[row, 0], work.trial[row, 1]
        pressure = work.slopes[row, _P_M] * mass + work.slopes[row, _P_U] * energy
        worst = max(worst, abs(mass) / gas[row, 0], abs(pressure) / work.state[row, 0])
    return worst
