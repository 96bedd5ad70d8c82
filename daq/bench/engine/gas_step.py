"""How does the gas of the whole engine get through a short time, cheaply and without instability?

A valve that stands open joins two volumes within microseconds, far shorter than a useful step, so
the step is linearly implicit in the flows: the two-stage W-method of second order ::

    (1 − γhA) k1 = f(t, y) + γh ∂f/∂t
    (1 − γhA) k2 = f(t + h, y + h k1) − 2 k1 − γh ∂f/∂t
    y' = y + 3/2 h k1 + 1/2 h k2

(Verwer, Spee, Blom & Hundsdorfer, SIAM J. Sci. Comput. 20, 1999). A holds only how the flows
answer to the pressures on both sides, and ∂f/∂t only how they answer to the moving piston: one row
a cylinder that meets the others in the plenum, so that the system falls apart into scalars. The
order does not rest on A. Every flow, the heat and the work go through the same two stages and are
added up in accounts; the gas changes by their sums, so what a cylinder draws the plenum loses.
The first-order result y + h k1 gives the error.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from strokewise.daq.bench.engine.compiled import compiled, inlined
from strokewise.daq.bench.engine.constants import Constants
from strokewise.daq.bench.engine.cylinder import cylinder_rates, plenum_rates

Floats = NDArray[np.float64]

_DIAGONAL = 1.0 - 1.0 / sqrt(2.0)  # L-stable
_SHORTEST_S = 1e-8  # a step this short is taken whatever its error: nothing here is faster
_LEAST_LEFT = 0.1  # a trial that empties a cylinder further than this is no trial
_STEP_GROW, _STEP_SHRINK, _STEP_SAFETY = 4.0, 0.1, 0.9

#: Columns of a rates and an accounts row, see :func:`cylinder_rates`; the plenum's row has only the
#: second pair, which comes through the throttle.
DRAWN_M, DRAWN_U, OUTSIDE_M, OUTSIDE_U, HEAT, WORK, BURNED = 0, 1, 2, 3, 4, 5, 6
ACCOUNTS = 7  # of them
#: Columns of a slopes row.
_DRAWN_FALL_M, _DRAWN_FALL_U, _OUTSIDE_FALL_M, _OUTSIDE_FALL_U = 0, 1, 2, 3
_GROW_M, _GROW_U, _P_M, _P_U, _DRIFT = 4, 5, 6, 7, 8


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
    rates : (cylinders + 1, 7), slopes : (cylinders + 1, 9), state : (cylinders + 1, 2) arrays
        Filled in place; state is pressure (Pa) and temperature (K).
    """
    last = gas.shape[0] - 1
    flow, carried, fall_m, fall_u, p_m, p_u, pressure, temperature, h, gamma = plenum_rates(
        k, gas[last, 0], gas[last, 1], guess_k[last]
    )
    rates[last, OUTSIDE_M], rates[last, OUTSIDE_U] = flow, carried
    slopes[last, _OUTSIDE_FALL_M], slopes[last, _OUTSIDE_FALL_U] = fall_m, fall_u
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
        for i in range(ACCOUNTS):
            rates[c, i] = change[i]
        for i in range(9):
            slopes[c, i] = slope[i]
        state[c, 0], state[c, 1] = now


@compiled
def gas_changes(simulated: NDArray[np.int64], rates: Floats, out: Floats) -> None:
    """Fill ``out`` (cylinders + 1, 2) with the change of mass and energy that rates sum to."""
    last = rates.shape[0] - 1
    out[last, 0], out[last, 1] = rates[last, OUTSIDE_M], rates[last, OUTSIDE_U]
    for c in simulated:
        r = rates[c]
        out[c, 0] = r[DRAWN_M] + r[OUTSIDE_M]
        out[c, 1] = r[DRAWN_U] + r[OUTSIDE_U] + r[HEAT] + r[BURNED] - r[WORK]
        out[last, 0] -= r[DRAWN_M]
        out[last, 1] -= r[DRAWN_U]


@compiled
def _solve(
    gh: float,
    way: float,
    simulated: NDArray[np.int64],
    slopes: Floats,
    rates: Floats,
    change: Floats,
    out: Floats,
) -> None:
    """Solve (1 − gh A) out = rates + way gh ∂f/∂t, scalar by scalar; ``change`` is overwritten."""
    gas_changes(simulated, rates, change)
    last = rates.shape[0] - 1
    s = slopes[last]
    p_m, p_u = s[_P_M], s[_P_U]
    pull = gh * (p_m * change[last, 0] + p_u * change[last, 1])
    hold = 1.0 + gh * (p_m * s[_OUTSIDE_FALL_M] + p_u * s[_OUTSIDE_FALL_U])
    for c in simulated:
        s = slopes[c]
        fall_m = s[_DRAWN_FALL_M] + s[_OUTSIDE_FALL_M]
        fall_u = s[_DRAWN_FALL_U] + s[_OUTSIDE_FALL_U]
        share = gh / (1.0 + gh * (s[_P_M] * fall_m + s[_P_U] * fall_u))
        # The own pressure rises by ``alone`` with the plenum held, and follows it by ``follow``.
        alone = share * (s[_P_M] * change[c, 0] + s[_P_U] * change[c, 1] + way * s[_DRIFT])
        follow = share * (s[_P_M] * s[_GROW_M] + s[_P_U] * s[_GROW_U])
        given = gh * (p_m * s[_DRAWN_FALL_M] + p_u * s[_DRAWN_FALL_U])
        pull += given * alone
        hold += gh * (p_m * s[_GROW_M] + p_u * s[_GROW_U]) - given * follow
        change[c, 0], change[c, 1] = alone, follow
    rise = pull / hold
    s = slopes[last]
    out[last, OUTSIDE_M] = rates[last, OUTSIDE_M] - s[_OUTSIDE_FALL_M] * rise
    out[last, OUTSIDE_U] = rates[last, OUTSIDE_U] - s[_OUTSIDE_FALL_U] * rise
    for c in simulated:
        s = slopes[c]
        own = change[c, 0] + change[c, 1] * rise
        out[c, DRAWN_M] = rates[c, DRAWN_M] - s[_DRAWN_FALL_M] * own + s[_GROW_M] * rise
        out[c, DRAWN_U] = rates[c, DRAWN_U] - s[_DRAWN_FALL_U] * own + s[_GROW_U] * rise
        out[c, OUTSIDE_M] = rates[c, OUTSIDE_M] - s[_OUTSIDE_FALL_M] * own
        out[c, OUTSIDE_U] = rates[c, OUTSIDE_U] - s[_OUTSIDE_FALL_U] * own
        for i in range(HEAT, ACCOUNTS):
            out[c, i] = rates[c, i]


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
    change: Floats
    trial: Floats


def workspace(cylinders: int) -> Workspace:
    """Return the arrays for an engine of so many cylinders."""
    widths = (ACCOUNTS, 9, 2, ACCOUNTS, 9, 2, ACCOUNTS, ACCOUNTS, 2, 2)
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
    accounts: Floats,
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
    accounts : (cylinders + 1, 7) array
        Kilograms and joules so far, in the columns of the rates; added to in place.
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
            factor = _STEP_SAFETY * sqrt(tolerance / max(error, 1e-300))
            step_s = max(_SHORTEST_S, h * min(_STEP_GROW, max(_STEP_SHRINK, factor)))
            if error <= tolerance or h <= _SHORTEST_S:
                break
        for row in range(gas.shape[0]):
            for i in range(ACCOUNTS):
                work.k1[row, i] = h * (1.5 * work.k1[row, i] + 0.5 * work.k2[row, i])
                accounts[row, i] += work.k1[row, i]
        gas_changes(simulated, work.k1, work.change)
        for row in range(gas.shape[0]):
            for i in range(2):
                gas[row, i] += work.change[row, i]
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
    gh = _DIAGONAL * h
    _solve(gh, 1.0, simulated, work.slopes, work.rates, work.change, work.k1)
    gas_changes(simulated, work.k1, work.change)
    for row in range(gas.shape[0]):
        for i in range(2):
            work.trial[row, i] = gas[row, i] + h * work.change[row, i]
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
        for i in range(ACCOUNTS):
            work.later[row, i] -= 2.0 * work.k1[row, i]
    _solve(gh, -1.0, simulated, work.slopes, work.later, work.change, work.k2)
    # Filtered once more through the implicit matrix, or every stiff valve would cut the step short
    # for a difference that the method damps anyway (Shampine; Hairer & Wanner, vol. II, IV.8).
    for row in range(gas.shape[0]):
        for i in range(ACCOUNTS):
            work.later[row, i] = 0.5 * h * (work.k1[row, i] + work.k2[row, i])
    _solve(gh, 0.0, simulated, work.slopes, work.later, work.change, work.later)
    gas_changes(simulated, work.later, work.change)
    last = gas.shape[0] - 1
    worst = 0.0
    for i in range(simulated.size + 1):
        row = simulated[i] if i < simulated.size else last
        mass, energy = work.change[row, 0], work.change[row, 1]
        pressure = work.slopes[row, _P_M] * mass + work.slopes[row, _P_U] * energy
        worst = max(worst, abs(mass) / gas[row, 0], abs(pressure) / work.state[row, 0])
    return worst
