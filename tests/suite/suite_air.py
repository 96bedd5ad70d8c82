"""What is real air like, by CoolProp? Loaded when it is first asked, for that takes seconds."""

from __future__ import annotations


def real_air(wanted: str, one: str, at: float, other: str, other_at: float) -> float:
    """Return a property of air where two others are given, in CoolProp's letters and SI units."""
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI(wanted, one, at, other, other_at, "Air"))
