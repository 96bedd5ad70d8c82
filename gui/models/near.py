"""How near is the angle, beside how sure the stroke is? One rule for every place that says it.

The stroke may be told for certain while TDC is known to tens of degrees only: then neither a figure
nor a word may sound nearer than that.
"""

from __future__ import annotations

from typing import Literal

from strokewise.analysis.crank.strokes import phase_at
from strokewise.analysis.profile import Profile

ROUGH_DEG = 1.0
"""TDC no nearer than this is worth narrowing before anything is set by it: half the width of a
mark, and the finest that most timing scales are read to."""

AT_TDC_DEG = 1.0
"""Closer to a TDC than this, the piston stands still for the eye: it is at TDC, not past it."""
MOST_NAMED = 3
"""No engine of up to twelve even-firing cylinders has more than three on their firing stroke."""

FINEST_DEG = 0.01
"""No angle is said finer than this to a person."""


def within_words(half_width_deg: float) -> str:
    """Return ``"± 0.12°"`` or ``"± 4.3°"``: two digits, and no finer than anything is read."""
    half = max(half_width_deg, FINEST_DEG)
    decimals = 0 if half >= 10.0 else 1 if half >= 1.0 else 2
    return f"± {round(half, decimals):g}°"


def near_words(half_width_deg: float) -> str:
    """Return how near TDC is known, for under the sign."""
    return f"TDC {within_words(half_width_deg)}"


def narrowing_words(half_width_deg: float, turning_back: Literal["allowed", "never"] | None) -> str:
    """Return the headline's second line where TDC is rough; empty where it is near enough."""
    if half_width_deg <= ROUGH_DEG:
        return ""
    near = near_words(half_width_deg)
    if turning_back == "allowed":
        return f"{near}: rock it to narrow that"
    if turning_back == "never":
        return f"{near}: turn on, more turns"
    return f"{near}: may it be turned back?"


NARROWING: dict[str | None, str] = {
    "allowed": "Rock it through that TDC, on and back, to narrow that.",
    "never": "Turn it on through more compressions, briskly, to narrow that.",
    None: "May it be turned back? If its manual says so, rocking narrows that; else turn on through"
    " more compressions.",
}
"""What narrows a rough TDC, by what may be done to the engine, as a sentence of its own."""


def narrowing_sentence(
    half_width_deg: float, turning_back: Literal["allowed", "never"] | None
) -> str:
    """Return what a page asks for where TDC is rough; empty where it is near enough."""
    return NARROWING[turning_back] if half_width_deg > ROUGH_DEG else ""


def firing_words(
    profile: Profile, firing_1_deg: float, angle_deg: float, half_width_deg: float = 0.0
) -> str:
    """Return which cylinder is on its firing stroke, without a full stop.

    Nearer to the end of a stroke than TDC is known, both that it may be are named.
    """
    phase = phase_at(profile, firing_1_deg, angle_deg)
    if half_width_deg <= ROUGH_DEG:
        at_tdc = [
            cylinder.cylinder
            for cylinder in phase.cylinders
            if min(cylinder.to_firing_deg, cylinder.after_firing_deg) <= AT_TDC_DEG
        ]
        if at_tdc:
            return f"{_numbered(at_tdc)} at firing TDC"
        return _on_stroke(phase.on_firing_stroke[:MOST_NAMED])
    may_be = [
        phase_at(profile, firing_1_deg, angle_deg + share * half_width_deg).on_firing_stroke
        for share in (-1.0, -0.5, 0.0, 0.5, 1.0)
    ]
    if len(set(may_be)) == 1:
        return _on_stroke(may_be[0][:MOST_NAMED])
    named = tuple(dict.fromkeys(number for firing in may_be for number in firing))
    if len(named) > MOST_NAMED:
        return "Several may be on their firing stroke"
    if len(named) == 1:
        return f"{_numbered(named)} on firing stroke, or near it"
    listed = ", ".join(map(str, named[:-1]))
    return f"Cylinder {listed} or {named[-1]} on firing stroke"


def _on_stroke(firing: tuple[int, ...]) -> str:
    if not firing:
        return "No cylinder on its firing stroke"
    if len(firing) == 1:
        return f"Cylinder {firing[0]} is on its firing stroke"
    return f"{_numbered(firing)} on firing stroke"


def _numbered(numbers: list[int] | tuple[int, ...]) -> str:
    if len(numbers) == 1:
        return f"Cylinder {numbers[0]}"
    return "Cylinders " + ", ".join(map(str, numbers[:-1])) + f" and {numbers[-1]}"
