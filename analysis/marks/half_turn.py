"""Is the cam half a turn out? Not seen in pressure; answered from a mark at half speed, if any.

Compression follows the cam, so a cam half a turn out shows the same trace a turn of the crank
later. What tells is something else that turns at half speed and states its turn: a mark on cam
sprocket or distributor, a rotor or pump reference brought in as a mark. A dot of another engine
tells nothing, wherever it stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from strokewise.analysis.marks.mark_causes import TOLD_FROM, MarkCauses
from strokewise.analysis.marks.mark_evidence import FOREIGN, HALF, OTHER, ROTOR, Part
from strokewise.analysis.marks.marks import MarkPlace

SLOW_PARTS: tuple[Part, ...] = ("cam sprocket", "distributor")


@dataclass(frozen=True, slots=True)
class HalfTurn:
    """Whether cam and mark stand half a turn of the cam apart, by the marks that tell.

    Attributes
    ----------
    near, away : tuple of str
        Names of the marks that come on the turn they state, and of those that come on the other.
    probability : float
        Of ``out`` as it is; 0 where nothing can tell.
    untold : tuple of str
        Names of the marks that may well be another engine's, and so do not tell.
    """

    near: tuple[str, ...] = ()
    away: tuple[str, ...] = ()
    probability: float = 0.0
    untold: tuple[str, ...] = ()

    @property
    def out(self) -> bool | None:
        """Half a turn out; None where nothing recorded can tell, or the marks disagree."""
        return bool(self.away) if bool(self.near) != bool(self.away) else None

    @property
    def told_by(self) -> tuple[str, ...]:
        """The marks that ``out`` is from."""
        return () if self.out is None else self.away or self.near


def half_turn_from(places: Sequence[MarkPlace], causes: MarkCauses) -> HalfTurn:
    """Return what the marks tell; nothing without a half-speed mark whose turn is stated."""
    near: list[tuple[str, float]] = []
    away: list[tuple[str, float]] = []
    untold: list[str] = []
    for part in SLOW_PARTS:
        for place in places:
            if place.mark.on != part or place.late_in_cycle_deg is None:
                continue
            out, astray = (_of_mark(causes, part, place.mark.name, c) for c in (_OUT, _ASTRAY))
            if out >= TOLD_FROM:
                away.append((place.mark.name, out))
            elif 1.0 - out - astray >= TOLD_FROM:
                near.append((place.mark.name, 1.0 - out - astray))
            else:
                untold.append(place.mark.name)
    sure = max((chance for _, chance in (*near, *away)), default=0.0)
    return HalfTurn(
        near=tuple(name for name, _ in near),
        away=tuple(name for name, _ in away),
        probability=sure if bool(near) != bool(away) else 0.0,
        untold=tuple(untold),
    )


_OUT, _ASTRAY = (HALF,), (FOREIGN, ROTOR, OTHER)


def _of_mark(causes: MarkCauses, part: Part, name: str, named: Sequence[str]) -> float:
    """Return how probable it is that one of the causes is this mark's."""
    return sum(
        cause.probability
        for cause in causes.of(part)
        if cause.cause in named and name in cause.marks
    )
