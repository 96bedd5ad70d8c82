"""What may a headline say? One rule, applied when a page is made.

The worst finding comes first; nothing is said as sure that a warning of the same page denies; and
a word is no more exact than the interval behind it (:func:`exactly`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from math import floor, log10

from strokewise.analysis.estimate import Interval
from strokewise.analysis.remark import Notice
from strokewise.gui.pages.sign import NOT_SURE, Certainty, Sign


class Rank(IntEnum):
    """How soon something has to be read; the worst first."""

    HARM = 0  # acted on otherwise, something breaks or hurts: half a turn, a wrong tooth
    WRONG = 1  # something is off and has to be put right
    UNKNOWN = 2  # it cannot honestly be said
    RIGHT = 3  # as it should be, or simply so


DENIED_BY: dict[str, str] = {
    "board-silent": "the board is silent",
    "clamp-unchecked": "the clamp has not been checked since",
}
"""Codes of notices under which nothing on the page may be called sure, and why in a few words."""


@dataclass(frozen=True, slots=True)
class Claim:
    """One thing that a headline says, as one or more whole sentences."""

    text: str
    rank: Rank = Rank.RIGHT


def headline(claims: Iterable[Claim]) -> str:
    """Return the claims as a headline, the worst first; equals keep their order."""
    return " ".join(claim.text for claim in sorted(claims, key=lambda c: c.rank) if claim.text)


def allowed_sign(sign: Sign, warnings: Sequence[Notice]) -> Sign:
    """Return the sign that a page may wear beside its warnings."""
    denied = any(notice.code in DENIED_BY for notice in warnings)
    return NOT_SURE if denied and sign.certainty is Certainty.SURE else sign


def decimals_of(interval: Interval, most: int = 2) -> int:
    """Return how many decimals an interval deserves: the first digit of its half width, no more.

    Examples
    --------
    >>> decimals_of(Interval(7.42, 7.36, 7.48)), decimals_of(Interval(7.4, 3.4, 11.4))
    (2, 0)
    """
    if interval.half_width <= 0:
        return most
    return min(most, max(0, -floor(log10(interval.half_width))))


def exactly(interval: Interval, unit: str = "", most: int = 2) -> str:
    """Return a value with no more decimals than its interval deserves.

    Examples
    --------
    >>> exactly(Interval(7.42, 7.06, 7.78), "°")
    '7.4°'
    """
    return f"{interval.value:.{decimals_of(interval, most)}f}{unit}"
