"""What did a person type? Options that carry quantities, pairs and intervals."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Interval
from strokewise.daq.profile.quantity import LENGTH, Dimension, read_quantity

TYPED_SIGMA_DEG = 0.5
"""A lone angle is taken as right to a degree at 95 %: nobody who knows better leaves it out."""


def quantity(option: str, text: str, dimension: Dimension = LENGTH) -> float:
    """Return a quantity in the unit of its dimension; errors name the option and the text."""
    try:
        return read_quantity(text, dimension)
    except InputError as error:
        raise InputError(f'{option} "{text}" {error}') from None


def number(option: str, text: str) -> float:
    """Return a plain finite number; errors name the option and the text."""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise InputError(f'{option} "{text}" is not a number')
    return value


def named(option: str, text: str, form: str) -> tuple[str, str]:
    """Return what stands before and after the first ``=``; ``form`` shows the right form."""
    name, equals, rest = text.partition("=")
    if not equals or not name.strip() or not rest.strip():
        raise InputError(f'{option} "{text}" must be written like {form}')
    return name.strip(), rest.strip()


def numbers(option: str, text: str) -> tuple[float, ...]:
    """Return numbers with commas between them."""
    return tuple(number(option, part.strip()) for part in text.split(","))


def interval(option: str, text: str) -> Interval:
    """Return the interval behind ``7.4`` or ``7.4,7.1,7.7`` (value, low, high), in degrees."""
    parts = numbers(option, text)
    if len(parts) == 1:
        return Interval.from_sigma(parts[0], TYPED_SIGMA_DEG)
    if len(parts) != 3 or not parts[1] <= parts[0] <= parts[2]:
        raise InputError(f'{option} "{text}" must be VALUE or VALUE,LOW,HIGH, such as 7.4,7.1,7.7')
    return Interval(*parts)


def joined(texts: Sequence[str]) -> list[str]:
    """Return every part of options that may be given several times or with commas."""
    return [part.strip() for text in texts for part in text.split(",") if part.strip()]
