"""What may a headline say? One rule, applied when a page is made.

The worst finding comes first; nothing is said as sure that the answer's own facts deny; and a word
is no more exact than the interval behind it (:func:`exactly`). A page whose headline breaks the
rule cannot be made.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from math import ceil, floor, log10

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
    "board-silent": "for a while the board was silent, and nobody saw crank and clamp",
    "clamp-unchecked": "nothing has checked the clamp since the pressure went flat",
}
"""Codes of notices under which nothing on the page may be called sure, and why in a few words."""

SURE_WORDS = ("DECIDED", "STROKE SURE", "SURE", "STOP: YOU ARE THERE", "SET NOW", "ALL VALVES ARE")
"""How a headline begins that a person may act on."""


class HeadlineError(ValueError):
    """A headline that the facts of its own answer contradict: a mistake of ours."""


@dataclass(frozen=True, slots=True)
class Claim:
    """One thing that a headline says, as one or more whole sentences.

    Attributes
    ----------
    about : tuple of Interval
        Of the figures in it, as far as they are uncertain.
    cylinder : int or None
        The cylinder that it says fires.
    earlier : bool
        It says that the answer is of before.
    half_turn : bool
        It says that something is half a turn out.
    """

    text: str
    rank: Rank = Rank.RIGHT
    about: tuple[Interval, ...] = ()
    cylinder: int | None = None
    earlier: bool = False
    half_turn: bool = False


@dataclass(frozen=True, slots=True)
class Ground:
    """What the answer's own facts are, that no headline may contradict.

    Attributes
    ----------
    earlier : str
        Why the answer is of an earlier start of the board or hold of the clamp; empty where it is
        of the last one.
    half_turn : bool
        Something was found half a turn out.
    cylinders : tuple of int or None
        Those that may be said to fire; None where no headline speaks of it.
    """

    earlier: str = ""
    half_turn: bool = False
    cylinders: tuple[int, ...] | None = None


NOTHING_DENIED = Ground()


def denied(warnings: Sequence[Notice]) -> tuple[Claim, ...]:
    """Return what a headline begins with under warnings that leave nothing on the page sure."""
    codes = dict.fromkeys(notice.code for notice in warnings)
    why = [DENIED_BY[code] for code in codes if code in DENIED_BY]
    return tuple(Claim(f"ONLY IF NOTHING MOVED: {each}.", Rank.UNKNOWN) for each in why)


def headline(claims: Iterable[Claim]) -> str:
    """Return the claims as a headline, the worst first; equals keep their order."""
    return " ".join(claim.text for claim in _in_order(claims))


def held(claims: Iterable[Claim], ground: Ground, *, decided: bool) -> str:
    """Return the headline of claims that the facts bear out.

    Raises
    ------
    HeadlineError
        They do not: it is of before and does not begin with that, half a turn is not said first, a
        word is more exact than its interval, a cylinder is another, or an undecided answer is sure.
    """
    ordered = _in_order(claims)
    if ground.earlier and not (ordered and ordered[0].earlier):
        raise HeadlineError(f"an answer of before that does not begin with it: {ordered}")
    if ground.half_turn and not (ordered and ordered[0].half_turn):
        raise HeadlineError(f"half a turn is not said first: {ordered}")
    for claim in ordered:
        for interval in claim.about:
            _refuse_too_exact(claim.text, interval)
        if claim.cylinder is not None and claim.cylinder not in (ground.cylinders or ()):
            raise HeadlineError(f"cylinder {claim.cylinder}, not {ground.cylinders}: {claim.text}")
        if not decided and claim.text.startswith(SURE_WORDS):
            raise HeadlineError(f"an undecided answer that is sure: {claim.text}")
        if decided and claim.text.startswith("NOT SURE"):
            raise HeadlineError(f"a decided answer that is not sure: {claim.text}")
    return headline(ordered)


def _in_order(claims: Iterable[Claim]) -> list[Claim]:
    return sorted((claim for claim in claims if claim.text), key=lambda claim: claim.rank)


_FIGURE = re.compile(r"\d+(?:\.(?P<decimals>\d+))?")


def _refuse_too_exact(text: str, interval: Interval) -> None:
    """Refuse a text that gives a value with more decimals than its interval deserves.

    Where it stands as it should, a finer figure that looks like it is another one's.
    """
    most = decimals_of(interval)
    finer = False
    for found in _FIGURE.finditer(text):
        decimals = len(found["decimals"] or "")
        meant = abs(float(found[0]) - abs(interval.value)) <= 0.5 * 10.0**-decimals + 1e-9
        if meant and decimals <= most:
            break
        finer = finer or meant
    else:
        if finer:
            raise HeadlineError(f"more exact than {interval}: {text}")
    if "tenth of a degree" in text and interval.half_width > 0.1:
        raise HeadlineError(f"no tenth of a degree, {interval}: {text}")


def allowed_sign(sign: Sign, warnings: Sequence[Notice]) -> Sign:
    """Return the sign that a page may wear beside its warnings."""
    denied = any(notice.code in DENIED_BY for notice in warnings)
    return NOT_SURE if denied and sign.certainty is Certainty.SURE else sign


TWO_DIGITS_BELOW = 3.55
"""A half width that begins with less than this is given two digits, any other one: one digit of 1.4
would be off by a third (the Particle Data Group's rule of rounding, from memory)."""


def decimals_of(interval: Interval, most: int = 2) -> int:
    """Return how many decimals an interval deserves: those of its half width's one or two digits.

    Examples
    --------
    >>> decimals_of(Interval(7.42, 7.36, 7.48)), decimals_of(Interval(7.4, 3.4, 11.4))
    (2, 0)
    """
    half = interval.half_width
    if half <= 0:
        return most
    place = floor(log10(half))
    digits_more = 1 if half / 10.0**place < TWO_DIGITS_BELOW else 0
    return min(most, max(0, digits_more - place))


def exactly(interval: Interval, unit: str = "", most: int = 2) -> str:
    """Return a value with no more decimals than its interval deserves.

    Examples
    --------
    >>> exactly(Interval(7.42, 7.06, 7.78), "°")
    '7.4°'
    """
    return f"{_plain(interval.value, decimals_of(interval, most))}{unit}"


def spread(interval: Interval, unit: str = "", most: int = 2) -> str:
    """Return a value with its interval, all with the decimals that it deserves.

    Examples
    --------
    >>> spread(Interval(81.52, 81.264, 81.776), "°"), spread(Interval(0.3, -4.4, 5.0), " mm")
    ('81.52° (81.26 to 81.78)', '0 mm (-4 to 5)')
    """
    decimals = decimals_of(interval, most)
    low, high = (_plain(end, decimals) for end in _ends(interval, decimals))
    return f"{_plain(interval.value, decimals)}{unit} ({low} to {high})"


LEAST_SHARE = 0.85
"""Of its width an interval must keep when it is printed: narrower, it would be surer."""


def _ends(interval: Interval, decimals: int) -> tuple[float, float]:
    """Return both ends to so many decimals, outwards where they would draw too near together."""
    low, high = round(interval.low, decimals), round(interval.high, decimals)
    if high - low >= LEAST_SHARE * (interval.high - interval.low):
        return low, high
    place = 10.0**decimals
    return floor(interval.low * place) / place, ceil(interval.high * place) / place


Sides = tuple[str, str]
LATE: Sides = ("late", "early")
AFTER: Sides = ("after", "before")
"""The word for above and for below nought: a figure with a side wears its word and no sign."""


def sided(interval: Interval, sides: Sides = LATE, unit: str = "°", most: int = 2) -> str:
    """Return a value and its interval with the words of their sides, never with a sign.

    Examples
    --------
    >>> sided(Interval(7.4, 7.2, 7.62)), sided(Interval(-0.2, -2.3, 1.97))
    ('7.40° late (7.20 to 7.62)', '0.2° early (2.3 early to 2.0 late)')
    """
    value, ends = sided_apart(interval, sides, unit, most)
    return f"{value} ({ends})"


def sided_apart(
    interval: Interval, sides: Sides = LATE, unit: str = "°", most: int = 2
) -> tuple[str, str]:
    """Return a value, and the ends of its interval, with the words of their sides.

    A value that is none wears no side.

    Examples
    --------
    >>> sided_apart(Interval(0.1, -0.36, 0.56), AFTER, most=1)
    ('0.1° after', '0.4 before to 0.6 after')
    """
    decimals = decimals_of(interval, most)

    def said(number: float) -> str:
        return _plain(abs(number), decimals)

    def side(number: float) -> str:
        return sides[0] if number >= 0 else sides[1]

    value = f"{said(interval.value)}{unit}"
    if float(said(interval.value)):
        value += f" {side(interval.value)}"
    low, high = _ends(interval, decimals)
    if interval.value >= 0 and low >= 0:
        return value, f"{said(low)} to {said(high)}"
    if interval.value < 0 and high <= 0:
        return value, f"{said(high)} to {said(low)}"
    return value, f"{said(low)} {side(low)} to {said(high)} {side(high)}"


def within(interval: Interval, unit: str = "°", most: int = 2) -> str:
    """Return how far from nought an interval reaches: ``"within 0.3°"``.

    Examples
    --------
    >>> within(Interval(0.02, -0.36, 0.41))
    'within 0.4°'
    """
    decimals = decimals_of(interval, most)
    reach = max(abs(interval.low), abs(interval.high))
    _, high = _ends(Interval(0.0, -reach, reach), decimals)
    return f"within {_plain(high, decimals)}{unit}"


def is_nought(interval: Interval, most: int = 2) -> bool:
    """Return whether a value is none, as far as its interval lets anybody say."""
    inside = interval.low <= 0 <= interval.high
    return inside and round(interval.value, decimals_of(interval, most)) == 0


def off_words(interval: Interval, sides: Sides = LATE, unit: str = "°", most: int = 2) -> str:
    """Return how far off something is, or within what it is right.

    Examples
    --------
    >>> off_words(Interval(7.4, 7.16, 7.6), most=1), off_words(Interval(0.02, -0.36, 0.41))
    ('7.4° late (7.2 to 7.6)', 'right within 0.4°')
    """
    if is_nought(interval, most):
        return f"right {within(interval, unit, most)}"
    return sided(interval, sides, unit, most)


def _plain(value: float, decimals: int) -> str:
    """Return a figure, nought without a sign."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"
