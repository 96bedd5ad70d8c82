"""How is it said whether the cam is half a turn out?"""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.analysis.marks.half_turn import HalfTurn
from strokewise.gui.pages.answers import probability_answer
from strokewise.gui.pages.page import Row
from strokewise.gui.pages.step import Figures
from strokewise.gui.pages.words import percent


def half_turn_row(half_turn: HalfTurn) -> Row:
    """Return whether the cam is half a turn out, how sure that is, and why."""
    said = {None: "unknown", True: "YES", False: "no"}[half_turn.out]
    if half_turn.out is not None:
        said += f" ({percent(half_turn.probability)})"
    text = f"{said}: {half_turn_words(half_turn)}"
    return Row("Half a turn", text, known=half_turn.out is not None)


def half_turn_words(half_turn: HalfTurn) -> str:
    """Return in a sentence why the cam is half a turn out or not; what to do where unknown."""
    near, away = _named(half_turn.near), _named(half_turn.away)
    if near and away:
        return (
            f"{near} stands on its stated turn, {away} on the other: one of the parts they sit on"
            " is half a turn out; check each by eye"
        )
    if near:
        return f"{near} comes on its stated turn of the crank"
    if away:
        return (
            f"{away} comes a whole turn of the crank from where it should: it and the cam stand"
            " half a turn of the cam apart; look at which of the two to move"
        )
    if half_turn.untold:
        return (
            f"{_named(half_turn.untold)} may be another engine's and tells no turn; pressure"
            " cannot, as compression follows the cam"
        )
    return (
        "pressure cannot tell a cam half a turn out, as compression follows the cam; record a mark"
        " on cam sprocket or distributor, or a rotor or pump reference, with its turn stated"
    )


def _named(names: Sequence[str]) -> str:
    return " and ".join(f'"{name}"' for name in names)


def half_turn_figures(half_turn: HalfTurn) -> Figures:
    """Return ``value``, ``probability`` and ``from``, all null where nothing recorded tells."""
    told = half_turn.out is not None
    return {
        "value": half_turn.out,
        "probability": probability_answer(half_turn.probability) if told else None,
        "from": " and ".join(half_turn.told_by) or None,
    }
