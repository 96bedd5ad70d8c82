"""How tight was something drawn? A torque, an angle, or one after the other, each with its unit.

What is right stands in the engine maker's manual; this only holds what was done.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from strokewise.analysis.errors import InputError
from strokewise.daq.profile.quantity import ANGLE, Dimension, read_quantity

TORQUE = Dimension("a torque", "N*m", "90 N m", ("N*m", "lbf*ft", "lbf*in", "kgf*m", "kgf*cm"))
FORM = 'write it like "90 N m", "65 lb ft", or "40 N m + 90 deg"'

MOST_NM = 2000.0
"""No bolt of a car's or a motorcycle's engine takes more (common practice, no source)."""
MOST_DEG = 360.0
"""No stage is turned further (common practice, no source)."""
MOST_STAGES = 6

_UNITS = {
    "N·m": ("nm", "n·m", "newtonmetre", "newtonmeter"),
    "lbf·ft": ("lbft", "lbfft", "ftlb", "ftlbf", "lb·ft", "lbf·ft", "ft·lb", "ft·lbf", "poundfoot"),
    "lbf·in": ("lbin", "lbfin", "inlb", "inlbf", "lb·in", "lbf·in", "in·lb", "in·lbf"),
    "kgf·m": ("kgm", "kgfm", "mkg", "mkgf", "kg·m", "kgf·m", "kpm"),
    "kgf·cm": ("kgcm", "kgfcm", "kg·cm", "kgf·cm"),
    "°": ("deg", "degree", "degrees", "°"),
}
"""How each is written in the trade, without blanks, points and dashes, in small letters."""
_WRITTEN = {written: unit for unit, names in _UNITS.items() for written in names}
_STAGE = re.compile(r"(?P<number>[0-9]+(?:\.[0-9]+)?)\s*(?P<unit>\D.*)")


@dataclass(frozen=True, slots=True)
class Tightness:
    """How tight: in words, and in N·m by its last torque; None of angles alone."""

    words: str
    newton_metres: float | None


def tightness(text: str) -> Tightness:
    """Return how tight something was drawn, as a person writes it.

    Raises
    ------
    InputError
        It is none, lacks its unit, or is beyond what any bolt takes.
    """
    stages = [part.strip() for part in re.split(r"\+|, then | then ", text)]
    if not 1 <= len(stages) <= MOST_STAGES:
        raise InputError(f'"{text}" has too many stages; {FORM}')
    read = [_stage(part) for part in stages]
    torques = [newton_metres for _, newton_metres in read if newton_metres is not None]
    return Tightness(" + ".join(words for words, _ in read), torques[-1] if torques else None)


def _stage(text: str) -> tuple[str, float | None]:
    """Return one stage in words, and in N·m where it is a torque."""
    found = _STAGE.fullmatch(text)
    if found is None:
        why = "needs a unit" if re.fullmatch(r"[0-9.]+", text) else "is neither torque nor angle"
        raise InputError(f'"{text}" {why}; {FORM}')
    number, written = found["number"], re.sub(r"[\s.*-]", "", found["unit"]).lower()
    unit = _WRITTEN.get(written) or _WRITTEN.get(written.removesuffix("s"))
    if unit is None:
        raise InputError(f'"{text}": "{found["unit"]}" is no unit of torque; {FORM}')
    if unit == "°":
        if not 0 < read_quantity(f"{number} deg", ANGLE) <= MOST_DEG:
            raise InputError(f'"{text}" is more than a turn, or nothing: check it')
        return f"{number}°", None
    newton_metres = read_quantity(f"{number} {unit.replace('·', '*')}", TORQUE)
    if not 0 < newton_metres <= MOST_NM:
        raise InputError(f'"{text}" is {newton_metres:g} N·m: check the unit')
    return f"{number} {unit}", newton_metres


def tightness_words(value: str) -> str:
    """Return how tight something was drawn, with N·m beside a torque in another unit."""
    try:
        known = tightness(value)
    except InputError:
        return value
    if known.newton_metres is None or "N·m" in known.words:
        return known.words
    return f"{known.words} ({known.newton_metres:.3g} N·m)"
