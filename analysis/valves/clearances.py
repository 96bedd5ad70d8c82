"""Is a valve's gap right, which shim makes it right, and which feelers measure it?

Gaps are millimetres throughout; inches become millimetres where they are typed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile, Valves
from strokewise.analysis.valves.base_circle import Kind

MM_PER_INCH = 25.4  # exact (NIST SP 811, appendix B)

GAP_TOLERANCE_MM = 0.025
"""A gap this near its figure is right: a thousandth of an inch, the step between feelers."""

EXTRA_BLADE_MM = 0.005
"""What oil and burrs between two feeler blades may add (common practice, no source)."""

METRIC_BLADES_MM = tuple(round(0.05 * n, 2) for n in range(1, 21))
"""The twenty-blade metric set, 0.05 to 1.00 mm (common practice, no source)."""

INCH_BLADES_MM = tuple(round(mils * MM_PER_INCH / 1000, 4) for mils in (1.5, *range(2, 26)))
"""The inch set: 0.0015 and 0.002 to 0.025 in by thousandths (common practice, no source)."""

SHIM_STEP_MM = 0.05
"""Shims are sold by this step when no list of sizes is given (common practice, no source)."""

GapStatus = Literal[
    "not measured", "to set", "remeasure", "good", "out", "valve not free", "place not known"
]
"""``"valve not free"`` and ``"place not known"``: measured there, a gap says nothing."""


@dataclass(frozen=True, slots=True)
class Gap:
    """What was measured at one valve, in mm; None where it was not.

    Attributes
    ----------
    valve : str
        Key of the valve, ``"1E"``.
    before_mm : float or None
        As found.
    after_mm : float or None
        As set, the locknut still loose (or with the new shim fitted).
    nipped_mm : float or None
        Measured again after the locknut was nipped up, which moves the screw.
    """

    valve: str
    target_mm: float
    before_mm: float | None = None
    after_mm: float | None = None
    nipped_mm: float | None = None

    def __post_init__(self) -> None:
        for name in ("target_mm", "before_mm", "after_mm", "nipped_mm"):
            value = getattr(self, name)
            if value is not None and not 0 <= value < _MOST_MM:
                raise InputError(
                    f"gap of {self.valve}: {value:g} mm cannot be a valve gap"
                    f" (0 to {_MOST_MM:g} mm): check the unit"
                )


_MOST_MM = 3.0  # a typed 12 for 0.012 in, or 30 for 0.30 mm, is caught; no engine has more


@dataclass(frozen=True, slots=True)
class GapCheck:
    """One valve's gap, judged.

    Attributes
    ----------
    off_mm : float or None
        Last measured less target: positive is wide, negative is tight.
    moved_mm : float or None
        What nipping up the locknut changed.
    to_go_deg : float
        How far to turn on until the valve is free; 0 where the gap is judged.
    """

    gap: Gap
    status: GapStatus
    off_mm: float | None
    moved_mm: float | None
    to_go_deg: float = 0.0

    @property
    def right(self) -> bool:
        """Whether what was measured last is as near to the target as a feeler tells."""
        return self.off_mm is not None and abs(self.off_mm) <= GAP_TOLERANCE_MM + 1e-9

    @property
    def judged(self) -> bool:
        """Whether the gap was measured where it says something."""
        return self.status not in ("valve not free", "place not known")


def check_gap(gap: Gap, *, adjust: Literal["screw", "shim"] = "screw") -> GapCheck:
    """Return whether a gap, measured where its valve is free, is right; and if not, what to do."""
    last = _last(gap)
    if last is None:
        return GapCheck(gap, "not measured", None, None)
    off_mm = last - gap.target_mm
    moved_mm = None
    if gap.nipped_mm is not None and gap.after_mm is not None:
        moved_mm = gap.nipped_mm - gap.after_mm
    if gap.nipped_mm is None and gap.after_mm is not None and adjust == "screw":
        return GapCheck(gap, "remeasure", off_mm, moved_mm)
    as_found = gap.after_mm is None and gap.nipped_mm is None
    check = GapCheck(gap, "to set" if as_found else "out", off_mm, moved_mm)
    return replace(check, status="good") if check.right else check


def _last(gap: Gap) -> float | None:
    for value in (gap.nipped_mm, gap.after_mm, gap.before_mm):
        if value is not None:
            return value
    return None


def target_mm(profile: Profile, kind: Kind) -> float | None:
    """Return the gap wanted for a kind of valve; None where unknown or with hydraulic lifters."""
    valves = profile.valves
    if valves is None or valves.lifters == "hydraulic":
        return None
    return valves.clearance_inlet_mm if kind == "inlet" else valves.clearance_exhaust_mm


def holds_otherwise(valves: Valves, engine_is: Literal["cold", "hot"] | None) -> bool:
    """Return whether the figures hold for a warmth that the engine may not have."""
    if valves.lifters == "hydraulic" or valves.state == "either":
        return False
    return engine_is != valves.state


@dataclass(frozen=True, slots=True)
class ShimChoice:
    """A shim for a bucket follower, and the gap it should give."""

    shim_mm: float
    gap_mm: float
    off_mm: float


def choose_shims(
    fitted_mm: float, gap_mm: float, target: float, sizes_mm: Sequence[float] | None = None
) -> tuple[ShimChoice, ...]:
    """Return the three shims that come nearest, best first: new = fitted + measured gap - target.

    Of two equally near, the thinner stands first: a gap a little wide ticks, a gap too tight burns
    a valve.

    Parameters
    ----------
    sizes_mm : sequence of float, optional
        Shims at hand; left out, every step of ``SHIM_STEP_MM``.
    """
    if not fitted_mm > 0 or gap_mm < 0 or target < 0:
        raise InputError("shim: fitted thickness must be above 0 mm, gaps 0 mm or more")
    ideal = fitted_mm + gap_mm - target
    nearest_step = round(ideal / SHIM_STEP_MM)
    sizes = sizes_mm or [SHIM_STEP_MM * (nearest_step + n) for n in (-2, -1, 0, 1, 2)]
    choices = [
        ShimChoice(round(size, 4), round(fitted_mm + gap_mm - size, 4), round(ideal - size, 4))
        for size in sizes
        if size > 0
    ]
    return tuple(sorted(choices, key=lambda c: (round(abs(c.off_mm), 4), c.shim_mm))[:3])


@dataclass(frozen=True, slots=True)
class FeelerStack:
    """Blades that together measure a gap; ``off_mm`` is stack less target."""

    blades_mm: tuple[float, ...]
    total_mm: float
    off_mm: float


def feeler_stacks(
    target: float, blades_mm: Sequence[float] = METRIC_BLADES_MM, most: int = 3
) -> tuple[FeelerStack, ...]:
    """Return the three best stacks of one to ``most`` blades, best first.

    Every blade beyond the first counts as ``EXTRA_BLADE_MM`` of error, for the oil between them.
    Empty when there are no blades.
    """
    if not target > 0:
        raise InputError(f"feelers: a gap of {target:g} mm cannot be measured with blades")
    stacks = [
        FeelerStack(chosen, round(sum(chosen), 4), round(sum(chosen) - target, 4))
        for count in range(1, most + 1)
        for chosen in combinations(sorted(set(blades_mm)), count)
    ]

    def cost(stack: FeelerStack) -> tuple[float, int]:
        error_mm = abs(stack.off_mm) + EXTRA_BLADE_MM * (len(stack.blades_mm) - 1)
        return round(error_mm, 4), len(stack.blades_mm)

    return tuple(sorted(stacks, key=cost)[:3])
