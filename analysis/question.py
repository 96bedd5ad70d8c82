"""What may a person say to a step? The fields of its question, each with its kind and choices.

A question is a frozen dataclass whose fields are made with :func:`saying`. From them the command
line gets its options and the window its form; what a person types is read into the field's type by
:mod:`strokewise.gui.typed`, so a question holds degrees and millimetres, never text with units.

::

    @dataclass(frozen=True, slots=True)
    class StrobeQuestion:
        cylinder: int = saying("whole", 1)
        readings: tuple[tuple[float, float], ...] = saying("speed and angle", many=True)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any, Literal

Kind = Literal[
    "tick",  # bool
    "yes or no",  # bool, None while nobody said
    "choice",  # str, one of the choices
    "whole",  # int
    "number",  # float
    "positive",  # float above zero
    "length",  # float, mm
    "advance",  # float, degrees before TDC
    "interval",  # Interval, degrees
    "valves",  # tuple of str, "1E, 2I"
    "wholes",  # tuple of int
    "lengths",  # tuple of float, mm
    "pairs",  # tuple of (int, int), "1-2, 2-3"
    "speed and angle",  # (float, float), rev/min and degrees
    "curve",  # tuple of (float, float), rev/min and degrees
    "file",  # str, the path of a recording
    "name and number",  # (str, float)
    "name and interval",  # (str, Interval), degrees
    "name and length",  # (str, float), mm
    "name and gaps",  # (str, tuple of float or None), mm
]

_KEY = "saying"


@dataclass(frozen=True, slots=True)
class Saying:
    """What one field of a question takes.

    Attributes
    ----------
    many : bool
        It may be said several times; the field then holds a tuple.
    choices : tuple of str
        Of a choice.
    group : str
        Of the fields of one group at most one is said; empty where it stands alone.
    """

    kind: Kind
    many: bool = False
    choices: tuple[str, ...] = ()
    group: str = ""


def saying(
    kind: Kind,
    default: Any = None,
    *,
    many: bool = False,
    choices: tuple[str, ...] = (),
    group: str = "",
) -> Any:
    """Return a field of a question; one that may be said several times begins empty."""
    said = Saying(kind, many, choices, group)
    return field(default=() if many else default, metadata={_KEY: said})


def sayings(question: type[Any]) -> Mapping[str, Saying]:
    """Return what each field of a question takes, in their order.

    Examples
    --------
    >>> from strokewise.analysis.ignition.static_answer import StaticQuestion
    >>> sayings(StaticQuestion)["advance_btdc_deg"].kind
    'advance'
    """
    return {each.name: each.metadata[_KEY] for each in fields(question) if _KEY in each.metadata}
