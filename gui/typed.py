"""What did a person type? Text becomes the typed fields of a step's question.

One reader for each kind of :mod:`strokewise.analysis.question`, for the command line and for the
window's forms; every error is one line that names the field as its surface calls it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import isfinite
from typing import Any, TypeVar

from strokewise.analysis.errors import InputError, SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.question import Kind, Saying, sayings
from strokewise.daq.profile.quantity import LENGTH, Dimension, read_after_tdc, read_quantity

Q = TypeVar("Q")

TYPED_SIGMA_DEG = 0.5
"""A lone angle is taken as right to a degree at 95 %: nobody who knows better leaves it out."""

Typed = Mapping[str, str | Sequence[str]]
"""What was typed in each field by its name, several texts where it may be said several times."""


def question_from(question: type[Q], typed: Typed, names: Mapping[str, str]) -> Q:
    """Return a question from what was typed; fields left empty keep their default.

    Parameters
    ----------
    names : mapping
        What the surface calls each field (``"--cam-shift"``), for its errors.

    Raises
    ------
    InputError
        One line: which field, what was typed, and the right form.
    """
    said: dict[str, Any] = {}
    groups: dict[str, str] = {}
    for field, takes in sayings(question).items():
        texts = _texts(typed.get(field))
        if not texts:
            continue
        name = names.get(field, field)
        if takes.group and groups.setdefault(takes.group, name) != name:
            raise InputError(f"{name}: say either this or {groups[takes.group]}, not both")
        values = [read(name, text, takes) for text in texts]
        if takes.kind == "valves":  # one list, in however many parts it was said
            said[field] = tuple(part for value in values for part in value)
        else:
            said[field] = tuple(values) if takes.many else values[-1]
    return question(**said)


def called_as(error: InputError, names: Mapping[str, str]) -> str:
    """Return an error's line with the fields called as a surface calls them."""
    return error.called(names) if isinstance(error, SaidError) else str(error)


def read(name: str, text: str, takes: Saying) -> Any:
    """Return one text as the type of its field; errors name the field and the text."""
    return _READERS[takes.kind](name, text, takes)


def _texts(typed: str | Sequence[str] | None) -> list[str]:
    texts = [typed] if isinstance(typed, str) else list(typed or ())
    return [text for text in texts if text.strip()]


def quantity(name: str, text: str, dimension: Dimension = LENGTH) -> float:
    """Return a quantity in the unit of its dimension; errors name the field and the text."""
    try:
        return read_quantity(text, dimension)
    except InputError as error:
        raise InputError(f'{name} "{text}" {error}') from None


def number(name: str, text: str) -> float:
    """Return a plain finite number; errors name the field and the text."""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise InputError(f'{name} "{text}" is not a number')
    return value


def interval(name: str, text: str) -> Interval:
    """Return the interval behind ``7.4`` or ``7.4,7.1,7.7`` (value, low, high), in degrees."""
    parts = [number(name, part.strip()) for part in text.split(",")]
    if len(parts) == 1:
        return Interval.from_sigma(parts[0], TYPED_SIGMA_DEG)
    if len(parts) != 3 or not parts[1] <= parts[0] <= parts[2]:
        raise InputError(f'{name} "{text}" must be VALUE or VALUE,LOW,HIGH, such as 7.4,7.1,7.7')
    return Interval(*parts)


def _whole(name: str, text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise InputError(f'{name} "{text}" is not a whole number') from None


def _positive(name: str, text: str) -> float:
    value = number(name, text)
    if value <= 0:
        raise InputError(f'{name} "{text}" must be above zero')
    return value


def _tick(name: str, text: str) -> bool:
    return True


def _choice(name: str, text: str, choices: Sequence[str]) -> str:
    if text not in choices:
        raise InputError(f'{name} "{text}" must be one of {", ".join(choices)}')
    return text


def _advance(name: str, text: str) -> float:
    """Return degrees before TDC."""
    try:
        return -read_after_tdc(text)
    except InputError as error:
        raise InputError(f'{name} "{text}" {error}') from None


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _lengths(name: str, text: str) -> tuple[float, ...]:
    return tuple(quantity(name, part) for part in _parts(text))


def _pairs(name: str, text: str) -> tuple[tuple[int, int], ...]:
    pairs = []
    for part in text.split(","):
        one, dash, other = part.strip().partition("-")
        if not (dash and one.isdigit() and other.isdigit()):
            raise InputError(f'{name} "{text}" must be pairs such as 1-2,2-3,3-4')
        pairs.append((int(one), int(other)))
    return tuple(pairs)


def _speed_and_angle(name: str, text: str) -> tuple[float, float]:
    speed, angle = named(name, text, "800=16")
    return number(name, speed), number(name, angle)


def _curve(name: str, text: str) -> tuple[tuple[float, float], ...]:
    return tuple(_speed_and_angle(name, part) for part in text.split(",") if part)


def _gaps(name: str, text: str) -> tuple[str, tuple[float | None, ...]]:
    valve, values = named(name, text, '"1E=0.40 mm, 0.36 mm, 0.35 mm"')
    parts = [part.strip() for part in values.split(",")]
    return valve, tuple(None if p in ("", "-") else quantity(name, p) for p in parts)


def named(name: str, text: str, form: str) -> tuple[str, str]:
    """Return what stands before and after the first ``=``; ``form`` shows the right form."""
    key, equals, rest = text.partition("=")
    if not equals or not key.strip() or not rest.strip():
        raise InputError(f'{name} "{text}" must be written like {form}')
    return key.strip(), rest.strip()


def _named_by(
    form: str, reader: Callable[[str, str], Any]
) -> Callable[[str, str, Saying], tuple[str, Any]]:
    def read_named(name: str, text: str, takes: Saying) -> tuple[str, Any]:
        key, rest = named(name, text, form)
        return key, reader(name, rest)

    return read_named


def _plain(reader: Callable[[str, str], Any]) -> Callable[[str, str, Saying], Any]:
    return lambda name, text, takes: reader(name, text)


_READERS: dict[Kind, Callable[[str, str, Saying], Any]] = {
    "tick": _plain(_tick),
    "yes or no": lambda name, text, takes: _choice(name, text, ("yes", "no")) == "yes",
    "choice": lambda name, text, takes: _choice(name, text, takes.choices),
    "whole": _plain(_whole),
    "number": _plain(number),
    "positive": _plain(_positive),
    "length": _plain(quantity),
    "advance": _plain(_advance),
    "interval": _plain(interval),
    "valves": lambda name, text, takes: tuple(_parts(text)),
    "wholes": lambda name, text, takes: tuple(_whole(name, part) for part in _parts(text)),
    "lengths": _plain(_lengths),
    "pairs": _plain(_pairs),
    "speed and angle": _plain(_speed_and_angle),
    "curve": _plain(_curve),
    "file": lambda name, text, takes: text,
    "name and number": _named_by('"pulley notch=123.4"', number),
    "name and interval": _named_by('"pulley notch=7.4,7.1,7.7"', interval),
    "name and length": _named_by('"1E=2.45 mm"', quantity),
    "name and gaps": _plain(_gaps),
}
