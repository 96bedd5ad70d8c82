"""What may a value of the engine profile look like? Kinds, that read one and write it back."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Protocol

from strokewise.analysis.errors import InputError
from strokewise.daq.profile.quantity import (
    Dimension,
    read_after_tdc,
    read_quantity,
    write_after_tdc,
    write_quantity,
)

LONGEST_NAME = 200  # characters; a name goes on one line of the job sheet


class Kind(Protocol):
    """How one value is read from TOML and written back.

    ``read`` raises :class:`InputError` with what is wrong, not where.
    """

    def read(self, value: Any) -> Any:
        """Return the value as the profile carries it."""

    def write(self, value: Any) -> Any:
        """Return the value as TOML carries it; ``read`` turns it into the same again."""


@dataclass(frozen=True, slots=True)
class TextKind:
    """A name on one line."""

    example: str

    def read(self, value: Any) -> str:
        """Return printable text; control characters could rewrite a terminal."""
        if not isinstance(value, str):
            raise InputError(f'must be text in quotes, such as "{self.example}"')
        if not value.strip() or not value.isprintable() or len(value) > LONGEST_NAME:
            raise InputError(f"must be one line of 1 to {LONGEST_NAME} printable characters")
        return value

    def write(self, value: str) -> str:
        """Return it as it is."""
        return value


@dataclass(frozen=True, slots=True)
class ChoiceKind:
    """One of a few words or numbers."""

    options: tuple[Any, ...]

    def read(self, value: Any) -> Any:
        """Return the option."""
        if isinstance(value, bool) or value not in self.options:
            quoted = [f'"{o}"' if isinstance(o, str) else str(o) for o in self.options]
            raise InputError(f"must be {', '.join(quoted[:-1])} or {quoted[-1]}")
        return self.options[self.options.index(value)]

    def write(self, value: Any) -> Any:
        """Return it as it is."""
        return value


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number within limits."""

    low: int
    high: int

    def read(self, value: Any) -> int:
        """Return the number."""
        if isinstance(value, bool) or not isinstance(value, int):
            raise InputError(f"must be a whole number, such as {max(self.low, 1)}")
        if not self.low <= value <= self.high:
            raise InputError(f"must be between {self.low} and {self.high}")
        return value

    def write(self, value: int) -> int:
        """Return it as it is."""
        return int(value)


@dataclass(frozen=True, slots=True)
class Number:
    """A plain number within limits."""

    low: float
    high: float

    def read(self, value: Any) -> float:
        """Return the number."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise InputError("must be a plain number without quotes")
        if not self.low <= value <= self.high:  # False for NaN as well
            raise InputError(f"must be between {self.low:g} and {self.high:g}")
        return float(value)

    def write(self, value: float) -> float:
        """Return it as it is."""
        return float(value)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity with its unit, within limits in the dimension's own unit.

    The limits are wide: they catch a wrong unit or a slipped point, not an unusual engine.
    """

    dimension: Dimension
    low: float
    high: float

    def read(self, value: Any) -> float:
        """Return the quantity in the dimension's unit."""
        amount = read_quantity(value, self.dimension)
        if not self.low <= amount <= self.high:
            raise InputError(
                f"must be between {self.low:g} and {self.high:g} {self.dimension.unit}"
            )
        return amount

    def write(self, value: float) -> str:
        """Return it with its unit."""
        return write_quantity(value, self.dimension)


@dataclass(frozen=True, slots=True)
class AfterTdc:
    """An angle that says on which side of TDC it lies; ``sign`` -1 carries it before TDC."""

    sign: int
    limit_deg: float

    def read(self, value: Any) -> float:
        """Return the angle, positive on the side that the profile counts from."""
        angle = self.sign * read_after_tdc(value) + 0.0  # never -0.0
        if abs(angle) > self.limit_deg:
            raise InputError(f"must be within {self.limit_deg:g} deg of TDC")
        return angle

    def write(self, value: float) -> str:
        """Return it with its side."""
        return write_after_tdc(self.sign * value)


@dataclass(frozen=True, slots=True)
class ListOf:
    """An array of values of one kind."""

    each: Kind
    example: str
    shortest: int = 1

    def read(self, value: Any) -> tuple[Any, ...]:
        """Return the values as a tuple."""
        if not isinstance(value, (list, tuple)) or len(value) < self.shortest:
            at_least = f" of at least {self.shortest}" if self.shortest > 1 else ""
            raise InputError(f"must be a list{at_least}, such as {self.example}")
        found = []
        for number, entry in enumerate(value, start=1):
            try:
                found.append(self.each.read(entry))
            except InputError as error:
                raise InputError(f"entry {number}, {entry!r}, {error}") from None
        return tuple(found)

    def write(self, value: tuple[Any, ...]) -> list[Any]:
        """Return the values as a list."""
        return [self.each.write(entry) for entry in value]


@dataclass(frozen=True, slots=True)
class Point:
    """One known pair of a reading and its pressure."""

    reading: Number
    pressure: Quantity

    def read(self, value: Any) -> tuple[float, float]:
        """Return ``(reading, pressure_bar)``."""
        if not isinstance(value, (list, tuple)) or len(value) != 2:
            raise InputError('must be a reading and its pressure, such as [102, "0 bar"]')
        return self.reading.read(value[0]), self.pressure.read(value[1])

    def write(self, value: tuple[float, float]) -> list[Any]:
        """Return the pair as a list; a whole reading stays whole."""
        reading, pressure_bar = value
        return [
            int(reading) if reading == int(reading) else reading,
            self.pressure.write(pressure_bar),
        ]


@dataclass(frozen=True, slots=True)
class Points:
    """A sensor's known pairs, sorted by reading.

    Two equal readings or a pressure that turns back would make a reading mean two pressures.
    """

    pairs: ListOf

    def read(self, value: Any) -> tuple[tuple[float, float], ...]:
        """Return the pairs, readings rising."""
        pairs = sorted(self.pairs.read(value))
        steps = list(pairwise(pairs))
        if any(low[0] == high[0] for low, high in steps):
            raise InputError("has the same reading twice")
        if len({low[1] < high[1] for low, high in steps}) > 1 or any(
            low[1] == high[1] for low, high in steps
        ):
            raise InputError("has pressures that do not all rise, or all fall, with the reading")
        return tuple(pairs)

    def write(self, value: tuple[tuple[float, float], ...]) -> list[Any]:
        """Return the pairs as lists."""
        return self.pairs.write(value)


@dataclass(frozen=True, slots=True)
class ValveOrder:
    """Letters E and I along the head."""

    def read(self, value: Any) -> str:
        """Return the letters in capitals."""
        letters = value.upper() if isinstance(value, str) else ""
        if not letters or set(letters) - {"E", "I"}:
            raise InputError('must be the letters E and I from the pulley end, such as "EIIEEIIE"')
        return letters

    def write(self, value: str) -> str:
        """Return it as it is."""
        return value
