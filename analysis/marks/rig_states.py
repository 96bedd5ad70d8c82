"""What may the rig have done to all marks alike? A clamp that slipped, a sensor elsewhere.

Marks are measured from TDC in the encoder's frame. A clamp that slipped between the two moves every
mark by one angle; a sensor in another cylinder than stated, or a firing order other than stated,
puts TDC of cylinder 1 a whole number of firing intervals off, and every mark with it. Here stand
the states of the rig that are summed over, with their priors, which are our own judgement and have
no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import factorial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.strokes import firing_offsets, nearest
from strokewise.analysis.profile import Profile

FloatArray = NDArray[np.float64]

Clamp = Literal["steady", "unknown", "slipped", "held since"]

CLAMP_PRIORS: dict[Clamp, float] = {
    "steady": 0.003,
    "unknown": 0.03,
    "slipped": 0.5,
    "held since": 0.01,
}
"""Before any figure is seen. A clamp is "steady" when TDC came out the same all through the
recording that also met the marks, and "held since" where it slipped before: only what was met
afterwards counts then."""

SLIP_LEAST_DEG = 2.0  # a clamp that slipped by less changes no conclusion
SLIP_GRID_DEG = 0.5  # half of the sharpest likelihood

ELSEWHERE_STATED, ELSEWHERE_ASSUMED, ELSEWHERE_AGREED = 0.02, 0.10, 0.001
"""How often the sensor sits in another cylinder: where its cylinder was stated, where nobody said
and the first was taken, and where the sensor of a second cylinder agrees."""

COMPANION_SHARE = 0.5
"""Of those, in the cylinder whose piston moves with the stated one: counted from the wrong end, an
engine in line gives just that one."""

ORDER_OTHER, ORDER_OTHER_AGREED = 0.02, 0.001
"""How often the engine fires in another order than stated, misread or of another engine: as often
as a cylinder is stated wrongly; and where the sensor of a second cylinder agrees. Which cylinder
lies as far off as the marks say rests on the order alone: none is named more surely than it."""

HALF_A_CYCLE_DEG = 360.0  # of a four-stroke; a two-stroke has no cylinder that far off

SAME_PLACE_DEG = 1.0
"""Cylinders that fire together cannot be told apart by any mark, and need not be."""

Said = Literal["stated", "assumed", "agreed"]

ELSEWHERE_PRIORS: dict[Said, float] = {
    "stated": ELSEWHERE_STATED,
    "assumed": ELSEWHERE_ASSUMED,
    "agreed": ELSEWHERE_AGREED,
}


ORDER_PRIORS: dict[Said, float] = {
    "stated": ORDER_OTHER,
    "assumed": ORDER_OTHER,
    "agreed": ORDER_OTHER_AGREED,
}


@dataclass(frozen=True, slots=True)
class Sensed:
    """The cylinder that TDC was taken for, and who said so."""

    cylinder: int
    said: Said = "stated"


@dataclass(frozen=True, slots=True)
class RigStates:
    """States of the rig, all arrays (n,), the sound one first.

    Attributes
    ----------
    moved_deg : ndarray
        By how much every mark looks later than it is, crank degrees in the whole cycle.
    log_prior : ndarray
    slipped : ndarray of bool
        The clamp slipped.
    cylinder : ndarray of int
        Where the sensor sits instead; 0 where it sits in the cylinder it was taken for.
    reordered : ndarray of bool
        The engine fires in another order than stated, wherever the sensor sits.
    """

    moved_deg: FloatArray
    log_prior: FloatArray
    slipped: NDArray[np.bool_]
    cylinder: NDArray[np.int64]
    reordered: NDArray[np.bool_]


def rig_states(profile: Profile, clamp: Clamp, sensed: Sensed | None) -> RigStates:
    """Return the states that are summed over; clamp, or sensor and order, but not all at a time.

    ``sensed`` is None where the sensor is in no cylinder: the manifold's shows all of them.
    """
    slips, elsewhere = _slips(), _elsewhere(profile, sensed)
    orders = _other_orders(profile, sensed)
    slip_prior = CLAMP_PRIORS[clamp]
    away_prior = ELSEWHERE_PRIORS[sensed.said] if sensed is not None and elsewhere else 0.0
    other_prior = ORDER_PRIORS[sensed.said] if sensed is not None and orders else 0.0
    shares = _shares(elsewhere)
    as_stated = (1 - slip_prior) * (1 - other_prior)
    sits = {0: 1 - away_prior} | dict(zip(elsewhere, away_prior * shares, strict=True))
    of_orders = [sits[cylinder] * share for cylinder, _, share in orders]
    priors = np.concatenate(
        [
            [as_stated * (1 - away_prior)],
            np.full(len(slips), slip_prior / len(slips)),
            as_stated * away_prior * shares,
            (1 - slip_prior) * other_prior * np.array(of_orders, np.float64),
        ]
    )
    first = 1 + len(slips)
    cylinders = np.zeros(len(priors), np.int64)
    cylinders[first:] = [*elsewhere, *(cylinder for cylinder, _, _ in orders)]
    slipped = np.zeros(len(priors), np.bool_)
    slipped[1:first] = True
    reordered = np.zeros(len(priors), np.bool_)
    reordered[first + len(elsewhere) :] = True
    by_order = np.array([moved_deg for _, moved_deg, _ in orders], np.float64)
    away = np.array(list(elsewhere.values()), np.float64)
    moved = np.concatenate([[0.0], slips, away, by_order])
    return RigStates(moved, np.log(priors), slipped, cylinders, reordered)


def _shares(elsewhere: Mapping[int, float]) -> FloatArray:
    """How the probability of another cylinder is shared out among them."""
    along = np.array(
        [abs(abs(deg) - HALF_A_CYCLE_DEG) <= SAME_PLACE_DEG for deg in elsewhere.values()]
    )
    if not along.any() or along.all():
        return np.full(len(elsewhere), 1 / max(len(elsewhere), 1))
    shares = np.where(along, COMPANION_SHARE / along.sum(), (1 - COMPANION_SHARE) / (~along).sum())
    return np.asarray(shares, np.float64)


def _slips() -> FloatArray:
    most = 180.0 - SLIP_GRID_DEG
    grid = np.arange(-most, 180.0 + SLIP_GRID_DEG / 2, SLIP_GRID_DEG)
    return np.asarray(grid[np.abs(grid) >= SLIP_LEAST_DEG], np.float64)


def _elsewhere(profile: Profile, sensed: Sensed | None) -> dict[int, float]:
    """By how much all marks look late if the sensor sits in each other cylinder."""
    if sensed is None:
        return {}
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    taken_deg = offsets.get(sensed.cylinder, 0.0)
    moved = {
        cylinder: nearest(taken_deg - offset_deg, profile.cycle_deg)
        for cylinder, offset_deg in sorted(offsets.items())
        if cylinder != sensed.cylinder
    }
    return {cylinder: deg for cylinder, deg in moved.items() if abs(deg) > SAME_PLACE_DEG}


def _other_orders(profile: Profile, sensed: Sensed | None) -> list[tuple[int, float, float]]:
    """Return where the sensor may sit and by how much all marks look late then, in other orders.

    With the share of all orders but the stated one in which it is so, cylinder 1 first in each;
    cylinder 0 is the one that it was taken for.
    """
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    rest = len(offsets) - 1
    if sensed is None or rest < 2:
        return []
    taken_deg = offsets.get(sensed.cylinder, 0.0)
    orders, with_one_held = factorial(rest) - 1, factorial(rest - 1)
    states = []
    for cylinder in (0, *_elsewhere(profile, sensed)):
        sits_in = cylinder or sensed.cylinder
        if sits_in == 1:  # fires first in every order
            states.append((cylinder, nearest(taken_deg, profile.cycle_deg), 1.0))
            continue
        for other, offset_deg in offsets.items():
            share = (with_one_held - (other == sits_in)) / orders
            if other != 1 and share > 0:
                moved_deg = nearest(taken_deg - offset_deg, profile.cycle_deg)
                states.append((cylinder, moved_deg, share))
    return states
