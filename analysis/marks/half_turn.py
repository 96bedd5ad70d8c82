"""Is the cam half a turn out? Not seen in pressure; answered from a mark at half speed, if any.

Compression follows the cam, so a cam half a turn out shows the same trace a turn of the crank
later. What tells is something else that turns at half speed and states its turn: a mark on cam
sprocket or distributor, a rotor or pump reference brought in as a mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from strokewise.analysis.marks.marks import MarkPlace

NEAR_DEG = 120.0
"""A mark this near its place, or a place one turn on, has said which; a cam out by more than a few
teeth does not let the engine be turned."""


@dataclass(frozen=True, slots=True)
class HalfTurn:
    """Whether cam and mark stand half a turn of the cam apart.

    Attributes
    ----------
    out : bool or None
        None where nothing recorded can tell.
    because : str
        One sentence; what to do where it is unknown.
    """

    out: bool | None
    because: str


UNKNOWN = HalfTurn(
    None,
    "pressure cannot tell a cam half a turn out, as compression follows the cam; record a mark on"
    " cam sprocket or distributor, or a rotor or pump reference, with its turn stated",
)


def half_turn_from(places: Sequence[MarkPlace]) -> HalfTurn:
    """Return what the marks tell; unknown without a half-speed mark whose turn is stated."""
    told = [
        (place.mark.name, place.late_in_cycle_deg)
        for place in places
        if place.late_in_cycle_deg is not None
    ]
    near = [name for name, late in told if abs(late) < NEAR_DEG]
    away = [name for name, late in told if abs(late) > 360.0 - NEAR_DEG]
    if near and away:
        return HalfTurn(
            None,
            f"{_named(near)} stands on its stated turn, {_named(away)} on the other: one of the"
            " parts they sit on is half a turn out; check each by eye",
        )
    if near:
        return HalfTurn(False, f"{_named(near)} comes on its stated turn of the crank")
    if away:
        return HalfTurn(
            True,
            f"{_named(away)} comes a whole turn of the crank from where it should: it and the cam"
            " stand half a turn of the cam apart; look at which of the two to move",
        )
    return UNKNOWN


def _named(names: Sequence[str]) -> str:
    return " and ".join(f'"{name}"' for name in names)
