"""Which tooth and keyway bring a shifted cam nearest to its place?

Shifts are crank degrees, positive late. One tooth of the cam's sprocket is 720° / its teeth; a
keyway that makes the cam later by so many cam degrees moves it by twice as many crank degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, product

from scipy.stats import norm

from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.profile import CamDrive

CRANK_PER_CAM = 2.0  # the cam turns once for two turns of the crank

MOST_TEETH = 8
"""How far the chain is moved at most when looking for a choice: a third of a turn is no guess."""

CHOICES = 3

MOST_SURE = 0.9999
"""No choice is called surer: an interval taken as normal says nothing of its far tails."""


@dataclass(frozen=True, slots=True)
class CamChoice:
    """One way to refit the sprocket.

    Attributes
    ----------
    teeth_earlier : int
        Teeth to move the sprocket in the chain or belt so that the cam comes earlier; negative
        makes it later, 0 leaves it.
    keyway : int
        Which keyway, 1 is the marked one.
    residual : Interval
        What shift is left, crank degrees, positive late.
    probability : float
        That this choice is the nearest of all, given the interval of the shift.
    """

    teeth_earlier: int
    keyway: int
    residual: Interval
    probability: float


def tooth_crank_deg(drive: CamDrive) -> float:
    """Return one tooth of the cam's sprocket in crank degrees.

    Whatever stands between crank and cam: the cam turns once for two turns of the crank.
    """
    if drive.cam_teeth < 1:
        raise InputError(f"cam_drive.cam_teeth must be 1 or more, not {drive.cam_teeth}")
    return 360.0 * CRANK_PER_CAM / drive.cam_teeth


def corrections(drive: CamDrive, shift: Interval, *, keyway_now: int = 1) -> tuple[CamChoice, ...]:
    """Return the tooth and keyway that come nearest, and the next two choices.

    Parameters
    ----------
    drive : CamDrive
        Teeth and the offsets of the keyways, in cam degrees later than the marked one.
    shift : Interval
        Measured shift of the cam in crank degrees, positive late.
    keyway_now : int
        The keyway it sits on while measured, 1 is the marked one.

    Returns
    -------
    tuple of CamChoice
        At most three, the nearest first; of two equally near the one with less to move.

    Raises
    ------
    InputError
        For a keyway that the sprocket does not have.
    """
    tooth_deg = tooth_crank_deg(drive)
    offsets = drive.keyway_offsets_deg
    if not 1 <= keyway_now <= len(offsets):
        raise InputError(f"keyway {keyway_now}: this sprocket has keyways 1 to {len(offsets)}")
    most = min(MOST_TEETH, drive.cam_teeth // 2)
    moves = {
        (teeth, number): round(
            CRANK_PER_CAM * (offset - offsets[keyway_now - 1]) - teeth * tooth_deg, 9
        )
        for teeth, (number, offset) in product(range(-most, most + 1), enumerate(offsets, start=1))
    }
    chances = _chances(shift, moves)

    def cost(key: tuple[int, int]) -> tuple[float, int, bool]:
        return round(abs(shift.value + moves[key]), 6), abs(key[0]), key[1] != keyway_now

    return tuple(
        CamChoice(teeth, number, shift.shifted(moves[teeth, number]), chances[teeth, number])
        for teeth, number in sorted(moves, key=cost)[:CHOICES]
    )


def _chances(shift: Interval, moves: dict[tuple[int, int], float]) -> dict[tuple[int, int], float]:
    """Probability that each move leaves the least, for a normal shift; equal moves share it."""
    sigma = max(shift.half_width / Z_95, 1e-9)
    places = sorted({-move for move in moves.values()})  # the shift that each move puts right
    edges = [(low + high) / 2 for low, high in pairwise(places)]
    below = [0.0, *(float(norm.cdf(edge, shift.value, sigma)) for edge in edges), 1.0]
    share = {place: high - low for place, (low, high) in zip(places, pairwise(below), strict=True)}
    equals = [-move for move in moves.values()]
    return {key: min(share[-move] / equals.count(-move), MOST_SURE) for key, move in moves.items()}
