"""What can be set on a bench, in which unit, and what does a person's ``key=value`` mean?

A parameter is a key, a unit and the place it stands for: one field of engine, turning or rig, or a
small function where one fact changes several fields.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, is_dataclass, replace
from types import UnionType
from typing import Any

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.bench import Bench
from strokewise.daq.profile.quantity import Dimension, read_quantity

Value = float | int | str | bool | tuple[float, float]

_KINDS = {bool: "yes or no", str: "text"}
YES, NO = ("yes", "true", "on", "1"), ("no", "false", "off", "0")
_RANGE = re.compile(r"\s*([-+0-9.eE]+?)\s*\.\.\s*([-+0-9.eE]+)\s*(.*)")


@dataclass(frozen=True, slots=True)
class BenchParameter:
    """One thing that can be set.

    Attributes
    ----------
    key : str
    about : str
        One line for a person.
    read, write : functions
        Of a bench; ``write`` returns another bench.
    dimension : Dimension or None
        None for a pure number, a choice or a yes or no.
    low, high : float
        Allowed values, in the dimension's unit.
    whole : bool
        Whether only whole numbers make sense.
    choices : tuple of str
        The allowed words, where it is a choice.
    fault : bool
        Whether it is something that can go wrong, for the class-room's list.
    fits : function
        Whether a bench has this at all: a spanner has no battery.
    """

    key: str
    about: str
    read: Callable[[Bench], Value]
    write: Callable[[Bench, Any], Bench]
    dimension: Dimension | None = None
    low: float = -math.inf
    high: float = math.inf
    whole: bool = False
    choices: tuple[str, ...] = ()
    fault: bool = False
    fits: Callable[[Bench], bool] = lambda bench: True

    @property
    def unit(self) -> str:
        """The unit of the values, empty for pure numbers and words."""
        return "" if self.dimension is None else self.dimension.unit.replace("**", "")

    def parse(self, bench: Bench, text: str) -> Value:
        """Return the value that a person wrote, in the parameter's unit.

        Raises
        ------
        InputError
            Naming the key and the right form.
        """
        now = self.read(bench)
        if isinstance(now, bool):
            return _yes_or_no(self.key, text)
        if isinstance(now, str):
            return text.strip()
        found = _RANGE.fullmatch(text)
        if isinstance(now, tuple) and found:
            low, high = (self._number(f"{end} {found[3]}") for end in found.group(1, 2))
            return low, high
        return self._number(text)

    def _number(self, text: str) -> float:
        text = text.strip()
        try:
            if self.dimension is not None:
                return read_quantity(text, self.dimension)
            return float(text)
        except InputError as error:
            raise InputError(f"{self.key}={text} {error}") from None
        except ValueError:
            raise InputError(
                f"{self.key}={text} is not a plain number; write it like {self.key}=2"
            ) from None

    def apply(self, bench: Bench, value: Value) -> Bench:
        """Return the bench with the value set.

        Parameters
        ----------
        value : number, word, or pair of numbers
            In the parameter's unit.

        Raises
        ------
        InputError
            When the value is not allowed.
        """
        if self.choices:
            if value not in self.choices:
                near = difflib.get_close_matches(str(value), self.choices, 1)
                hint = f"; did you mean {near[0]}?" if near else ""
                raise InputError(
                    f"{self.key}={value} must be one of: {', '.join(self.choices)}{hint}"
                )
            return self.write(bench, value)
        now = self.read(bench)
        if isinstance(now, bool | str):
            if not isinstance(value, type(now)):
                raise InputError(f"{self.key}={value} must be {_KINDS[type(now)]}")
            return self.write(bench, value)
        if isinstance(value, bool):
            raise InputError(f"{self.key}={value} must be a number")
        numbers = value if isinstance(value, tuple) else (value,)
        for number in numbers:
            self._check(number)
        if isinstance(value, tuple | str):  # a text was refused above
            return self.write(bench, value)
        if isinstance(now, tuple):
            return self.write(bench, (float(value), float(value)))
        return self.write(bench, int(value) if self.whole else value)

    def _check(self, value: float | str) -> None:
        if isinstance(value, str):
            raise InputError(f"{self.key}={value} must be a number")
        if not self.low <= value <= self.high:
            raise InputError(
                f"{self.key}={value:g}{_spaced(self.unit)} must lie between {self.low:g} and "
                f"{self.high:g}{_spaced(self.unit)}"
            )
        if self.whole and value != int(value):
            raise InputError(f"{self.key}={value:g} must be a whole number")

    def shown(self, bench: Bench) -> str:
        """Return the bench's value as a person would write it."""
        value = self.read(bench)
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, str):
            return value
        if isinstance(value, tuple):
            ends = f"{value[0]:g}..{value[1]:g}"
            return (ends if value[0] != value[1] else f"{value[0]:g}") + _spaced(self.unit)
        return f"{value:g}{_spaced(self.unit)}"


def setting(
    key: str,
    about: str,
    path: str,
    dimension: Dimension | None = None,
    *,
    scale: float = 1.0,
    turning: type | UnionType | None = None,
    needs: Callable[[Bench], bool] = lambda bench: True,
    **rest: Any,
) -> BenchParameter:
    """Return a parameter that is one field.

    Parameters
    ----------
    path : str
        Dotted names from the bench on, as ``"rig.encoder.play_deg"``; ``"*"`` means every member
        of a tuple and reads the first.
    scale : float
        What one unit of the dimension is in the field's own unit.
    turning : type, optional
        The only kind of turning that has this field.
    needs : function, optional
        Of a bench: whether it has the field, where something else decides.
    """
    names = path.split(".")

    def read(bench: Bench) -> Value:
        found: Value = _scaled(_get(bench, names), 1 / scale)
        return found

    def write(bench: Bench, value: Value) -> Bench:
        changed = _put(bench, names, _scaled(value, scale))
        assert isinstance(changed, Bench)  # the path begins at the bench
        return changed

    def fits(bench: Bench) -> bool:
        return needs(bench) and (turning is None or isinstance(bench.turning, turning))

    return BenchParameter(key, about, read, write, dimension, fits=fits, **rest)


def apply_all(
    bench: Bench, values: Mapping[str, str | Value], parameters: Iterable[BenchParameter]
) -> Bench:
    """Return the bench with every value set, in the order of the parameters.

    Texts are read as a person's, numbers are in the parameter's own unit.

    Raises
    ------
    InputError
        For an unknown key, with the nearest known one, or a value that is not allowed.
    """
    known = {parameter.key: parameter for parameter in parameters if parameter.fits(bench)}
    for key in values:
        if key not in known:
            near = difflib.get_close_matches(key, known, 3)
            hint = f"did you mean {' or '.join(near)}?" if near else "--list shows what there is"
            raise InputError(f"{key}: this scenario has nothing of that name to set; {hint}")
    for key, parameter in known.items():
        if key in values:
            value = values[key]
            if isinstance(value, str):
                value = parameter.parse(bench, value)
            bench = parameter.apply(bench, value)
    return bench


def split_settings(texts: Iterable[str]) -> dict[str, str]:
    """Return the keys and values of ``key=value`` texts.

    Raises
    ------
    InputError
        When one has no ``=``.
    """
    found = {}
    for text in texts:
        key, sign, value = text.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise InputError(f"--set {text}: write it as key=value, like --set noise=0.02bar")
        found[key.strip()] = value.strip()
    return found


def _yes_or_no(key: str, text: str) -> bool:
    word = text.strip().lower()
    if word in YES or word in NO:
        return word in YES
    raise InputError(f"{key}={text.strip()} must be yes or no")


def _spaced(unit: str) -> str:
    return f" {unit}" if unit else ""


def _scaled(value: Any, factor: float) -> Any:
    if factor == 1.0 or isinstance(value, bool | str):
        return value
    if isinstance(value, tuple):
        return tuple(part * factor for part in value)
    return value * factor


def _get(owner: Any, names: list[str]) -> Any:
    for name in names:
        owner = owner[0] if name == "*" else getattr(owner, name)
    return owner


def _put(owner: Any, names: list[str], value: Any) -> Any:
    if not names:
        return value
    name, rest = names[0], names[1:]
    if name == "*":
        return tuple(_put(member, rest, value) for member in owner)
    assert is_dataclass(owner)  # paths are written in this package
    assert not isinstance(owner, type)
    return replace(owner, **{name: _put(getattr(owner, name), rest, value)})
