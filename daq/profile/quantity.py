"""How much is "3.228 in"? Quantities with a unit, as a person writes them, through pint.

Each :class:`Dimension` has one unit in which the rest of the software carries it. A quantity that
is already in that unit needs no conversion and loads nothing, which keeps a profile that was
written by :mod:`strokewise.daq.profile.known` exact and quick to read: pint is loaded (0.09 s)
and its registry built (0.13 s) only when the first foreign unit is met.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from strokewise.analysis.errors import InputError

if TYPE_CHECKING:
    import pint


@dataclass(frozen=True, slots=True)
class Dimension:
    """What is measured, and the unit that the software carries it in.

    Attributes
    ----------
    name : str
        With its article, for a sentence: ``"a length"``.
    unit : str
        The unit of the returned numbers.
    example : str
        The right form, shown when the form was wrong.
    usual : tuple of str
        Units a person is likely to have meant, to suggest the nearest.
    """

    name: str
    unit: str
    example: str
    usual: tuple[str, ...]


LENGTH = Dimension("a length", "mm", "82 mm", ("mm", "cm", "m", "in", "inch", "thou", "µm"))
ANGLE = Dimension("an angle", "deg", "12 deg", ("deg", "degree", "rad", "arcmin", "turn"))
PRESSURE = Dimension(
    "a pressure",
    "bar",
    "1.013 bar",
    ("bar", "mbar", "psi", "kPa", "hPa", "MPa", "inHg", "mmHg", "atm", "torr", "kgf/cm**2"),
)
TEMPERATURE = Dimension("a temperature", "degC", "20 degC", ("degC", "degF", "K"))
TIME = Dimension("a time", "s", "0.4 ms", ("s", "ms", "µs", "min"))

_DECIMAL = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_FRACTION = r"(?P<sign>[+-]?)(?:(?P<whole>[0-9]+)[ -])?(?P<top>[0-9]+)/(?P<bottom>[0-9]+)"
_QUANTITY = re.compile(rf"(?:{_FRACTION}|(?P<decimal>{_DECIMAL}))\s*(?P<unit>\D.*)?")

# pint evaluates arithmetic, so "10**10**10 mm" would hang and "3 7/32 in" would be 0.66 in: the
# number is read here, and only names of units with an exponent of 2 or 3 reach pint.
_NAME = r"[A-Za-zµμ°_]+(?:(?:\*\*|\^)[23]|[²³])?"
_UNIT = re.compile(rf"{_NAME}(?:[*/·]{_NAME}){{0,3}}")
_BARE_POWER = re.compile(r"(?<=[A-Za-z])[23](?![0-9])")
_LONGEST_QUANTITY = 60  # characters; more than any quantity needs

_GAUGE_WORDS = {"psig", "psia", "barg", "bara", "bar(g)", "bar(a)", "psi(g)", "psi(a)"}

_FROM_TDC = re.compile(r"(?P<angle>.*?)\s*(?P<side>BTDC|ATDC|TDC)", re.IGNORECASE)


@cache
def _registry() -> pint.UnitRegistry[Any]:
    """Load pint and build its registry, once in a process."""
    import pint

    return pint.UnitRegistry()


def read_quantity(text: object, dimension: Dimension) -> float:
    """Return how much a quantity is, in the unit of its dimension.

    Parameters
    ----------
    text : object
        ``"82 mm"``, ``"3.228 in"``, ``"3 7/32 in"``, ``"-5 degC"``, ``"1 kgf/cm²"``. Anything but a
        string with a unit is refused, also a bare number.
    dimension : Dimension
        What it must be a quantity of.

    Returns
    -------
    float
        In ``dimension.unit``; finite.

    Raises
    ------
    InputError
        With one line that says what is wrong and shows the right form, but not where the text
        stood: whoever knows that adds it.
    """
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        raise InputError(f"needs a unit, {_such_as(dimension)}")
    if not isinstance(text, str):
        raise InputError(f"must be {dimension.name} with its unit, {_such_as(dimension)}")
    value, unit = _split(text, dimension)
    if unit != dimension.unit:
        value = _convert(value, unit, dimension)
    if not math.isfinite(value):
        raise InputError(f"is not a finite quantity; write {dimension.name} {_such_as(dimension)}")
    return value


def write_quantity(value: float, dimension: Dimension) -> str:
    """Return the text that :func:`read_quantity` turns into exactly this value again."""
    return f"{_digits(value)} {dimension.unit}"


def read_after_tdc(text: object) -> float:
    """Return crank degrees after TDC: ``"4 deg ATDC"`` is 4, ``"6 deg BTDC"`` -6, ``"TDC"`` 0.

    Raises
    ------
    InputError
        An angle that does not say on which side of TDC it lies (0 needs no side), or no angle.
    """
    form = 'write it like "6 deg BTDC" or "4 deg ATDC"'
    if not isinstance(text, str):
        raise InputError(f"must be an angle with its side of TDC; {form}")
    found = _FROM_TDC.fullmatch(text.strip())
    if found is None:
        if read_quantity(text, ANGLE) == 0:
            return 0.0
        raise InputError(f"does not say whether before or after TDC; {form}")
    side = found["side"].upper()
    if not found["angle"]:
        if side == "TDC":
            return 0.0
        raise InputError(f"has no angle; {form}")
    angle = read_quantity(found["angle"], ANGLE)
    if side == "TDC" and angle != 0:
        raise InputError(f"does not say whether before or after TDC; {form}")
    return -angle if side == "BTDC" else angle


def write_after_tdc(angle_deg: float) -> str:
    """Return the text that :func:`read_after_tdc` turns into exactly this angle again."""
    side = "BTDC" if angle_deg < 0 else "ATDC"
    return f"{_digits(abs(angle_deg))} deg {side}"


def _split(text: str, dimension: Dimension) -> tuple[float, str]:
    """Split a quantity into its number and the name of its unit."""
    cleaned = text.strip().replace("\N{MINUS SIGN}", "-")
    found = _QUANTITY.fullmatch(cleaned) if len(cleaned) <= _LONGEST_QUANTITY else None
    if found is None:
        raise InputError(f"is not {dimension.name}; write it like {_quoted(dimension.example)}")
    unit = (found["unit"] or "").strip()
    if not unit:
        raise InputError(f"needs a unit, {_such_as(dimension)}")
    if unit.startswith(","):
        raise InputError(f"has a decimal comma; write the point, {_such_as(dimension)}")
    return _number(found, dimension), unit


def _number(found: re.Match[str], dimension: Dimension) -> float:
    """Return the number of a quantity, decimal or with a fraction."""
    if found["decimal"] is not None:
        return float(found["decimal"])
    if int(found["bottom"]) == 0:
        raise InputError(f"divides by zero; write it like {_quoted(dimension.example)}")
    size = int(found["whole"] or 0) + int(found["top"]) / int(found["bottom"])
    return -size if found["sign"] == "-" else size


def _convert(value: float, unit: str, dimension: Dimension) -> float:
    """Convert through pint, refusing a unit of something else."""
    import pint

    unit = _BARE_POWER.sub(r"**\g<0>", unit)
    registry = _registry()
    try:
        if not _UNIT.fullmatch(unit) or "delta" in unit:
            raise InputError(_unknown_unit(unit, dimension))
        parsed = registry.parse_units(unit.replace("·", "*"))
        quantity = registry.Quantity(value, parsed)
        # Angles are dimensionless to pint, like a percentage: only the root unit tells them apart.
        root = registry.Quantity(1.0, parsed).to_root_units().units
        wanted = registry.Quantity(1.0, dimension.unit).to_root_units().units
        if root != wanted:
            raise InputError(
                f"has the unit {_quoted(unit)}, but must be {dimension.name}, {_such_as(dimension)}"
            )
        return float(quantity.to(dimension.unit).magnitude)
    except (pint.errors.PintError, AssertionError, OverflowError):
        raise InputError(_unknown_unit(unit, dimension)) from None


def _unknown_unit(unit: str, dimension: Dimension) -> str:
    """Say that a unit is not known, with the nearest that is."""
    if unit.lower() in _GAUGE_WORDS:
        return (
            f"has the unit {_quoted(unit)}: write the plain unit, and say absolute or gauge in "
            'the sensor\'s "reference"'
        )
    near = difflib.get_close_matches(unit.lower(), dimension.usual, n=1, cutoff=0.5)
    meant = f" (did you mean {_quoted(near[0])}?)" if near else ""
    return f"has an unknown unit {_quoted(unit)}{meant}; write {dimension.name} " + _such_as(
        dimension
    )


def _digits(value: float) -> str:
    """Return the shortest text that reads back as the same float."""
    return repr(float(value)).removesuffix(".0")


def _such_as(dimension: Dimension) -> str:
    return f"such as {_quoted(dimension.example)}"


def _quoted(text: str) -> str:
    return f'"{text}"'
