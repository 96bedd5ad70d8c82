"""Which position is the person turning to, and at which angle does it stand?

Angles are crank degrees in the encoder frame, positive in the engine's own direction.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.analysis.verdict.verdict import Verdict

TargetKind = Literal["firing", "advance", "overlap", "drive gear", "mark", "tdc"]

HALF_CYCLE_DEG = 360.0
MARK_LETTERS = 16
"""More letters of a mark's name do not fit into the largest type."""


@dataclass(frozen=True, slots=True)
class Target:
    """One position to turn to.

    Attributes
    ----------
    kind : str
        ``"firing"``, ``"advance"`` (before firing TDC), ``"overlap"``, ``"drive gear"``,
        ``"mark"``, or ``"tdc"``: the next TDC of the sensed cylinder, whichever of the two it is.
    cylinder : int
        Whose TDC the position is measured from.
    advance_deg : float
        Degrees before that TDC; only for ``"advance"``.
    mark : str
        Name of the mark; only for ``"mark"``.
    """

    kind: TargetKind
    cylinder: int = 1
    advance_deg: float = 0.0
    mark: str = ""

    @property
    def label(self) -> str:
        """Name the position in a few words, as it ends the sentence 'turn on 40° to …'."""
        match self.kind:
            case "firing":
                return f"firing TDC of {self.cylinder}"
            case "advance":
                return f"{self.advance_deg:g}° before firing TDC of {self.cylinder}"
            case "overlap":
                return f"overlap TDC of {self.cylinder}"
            case "drive gear":
                return "the drive gear position"
            case "mark":
                return f"mark “{self.mark}”"
            case "tdc":
                return f"the next TDC of {self.cylinder}"

    @property
    def short(self) -> str:
        """Name it in so few letters that it fits into the largest type."""
        match self.kind:
            case "advance":
                return f"{self.advance_deg:g}° BTDC of {self.cylinder}"
            case "drive gear":
                return "drive gear"
            case "mark":
                return shortened(self.mark)
            case "tdc":
                return f"next TDC of {self.cylinder}"
            case _:
                return self.label

    @property
    def explanation(self) -> str:
        """Say in one line what stands there, for the person who chooses."""
        match self.kind:
            case "firing":
                return f"cylinder {self.cylinder} at the top between compression and firing stroke"
            case "advance":
                return f"where the spark or injection of cylinder {self.cylinder} is stated"
            case "overlap":
                return f"cylinder {self.cylinder} at the top between exhaust and intake stroke"
            case "drive gear":
                return (
                    f"firing TDC of cylinder {self.cylinder}, where most makers set the drive gear:"
                    " the engine maker's manual comes first"
                )
            case "mark":
                return "where the mark is stated to meet its pointer"
            case "tdc":
                return "either turn: whether it is the firing or the overlap TDC is still open"


@dataclass(frozen=True, slots=True)
class Position:
    """Where a target stands: an angle that comes back every ``period_deg``."""

    angle_deg: float
    period_deg: float

    def at_or_after(self, angle_deg: float) -> float:
        """Return the first such position at or after an unwrapped angle."""
        return angle_deg + (self.angle_deg - angle_deg) % self.period_deg


def targets(profile: Profile) -> tuple[Target, ...]:
    """Return every target that the profile allows to be named, in the order of a choice list."""
    order = profile.firing_order
    first = order.index(1) if 1 in order else 0
    rolled = order[first:] + order[:first]
    chosen = [Target("firing", cylinder) for cylinder in rolled]
    if profile.static_advance_btdc_deg is not None:
        chosen.append(Target("advance", rolled[0], profile.static_advance_btdc_deg))
    if profile.cycle == "four-stroke":
        chosen += [Target("overlap", cylinder) for cylinder in rolled]
    chosen.append(Target("drive gear", rolled[0]))
    chosen += [
        Target("mark", rolled[0], mark=mark.name)
        for mark in profile.marks
        if mark.stated_atdc_deg is not None
    ]
    chosen.append(Target("tdc", _sensed_cylinder(profile)))
    return tuple(chosen)


def advance_of(text: str, cylinders: int) -> Target:
    """Return the target that "12" or "12 3" means: degrees before firing TDC, and a cylinder.

    Raises
    ------
    InputError
        When it is no advance, or none that can be.
    """
    parts = text.replace("°", " ").replace(",", ".").split()
    try:
        degrees = float(parts[0])
        cylinder = int(parts[1]) if len(parts) > 1 else 1
    except (IndexError, ValueError):
        raise InputError(
            f"“{text}” is not an advance: give degrees, and a cylinder if not 1"
        ) from None
    if not 0 <= degrees <= 90 or not 1 <= cylinder <= cylinders:
        raise InputError(
            f"“{text}” cannot be: 0 to 90 degrees, and a cylinder from 1 to {cylinders}"
        )
    return Target("advance", cylinder, degrees)


def shortened(mark: str) -> str:
    """Return a mark's name in quotes, cut where it is too long for the largest type."""
    return f"“{mark}”" if len(mark) <= MARK_LETTERS else f"“{mark[: MARK_LETTERS - 1]}…”"


def marks_by_key(profile: Profile) -> tuple[str, ...]:
    """Return the names of the marks that a person presses on the screen, in the profile's order."""
    return tuple(mark.name for mark in profile.marks if mark.input is None)


def position(target: Target, profile: Profile, verdict: Verdict | None) -> Position | None:
    """Return where the target stands, or None while the verdict cannot say.

    Only ``"tdc"``, and a mark that comes on both turns, can be placed before the firing TDC has
    been told apart from the overlap TDC.
    """
    if verdict is None:
        return None
    if verdict.firing_deg is not None:
        return _decided_position(target, profile, verdict.firing_deg)
    if verdict.tdc is None:
        return None
    if target.kind == "tdc" and target.cylinder == verdict.tdc.cylinder:
        return Position(verdict.tdc.angle_deg.value, HALF_CYCLE_DEG)
    return None


def _decided_position(
    target: Target, profile: Profile, firing_deg: Mapping[int, float]
) -> Position | None:
    firing = firing_deg.get(target.cylinder)
    if firing is None:
        return None
    cycle = profile.cycle_deg
    match target.kind:
        case "firing" | "drive gear":
            return Position(firing, cycle)
        case "advance":
            return Position(firing - target.advance_deg, cycle)
        case "overlap":
            return Position(firing + HALF_CYCLE_DEG, cycle)
        case "tdc":
            return Position(firing, HALF_CYCLE_DEG)
        case "mark":
            return _mark_position(target, profile, firing)


def _mark_position(target: Target, profile: Profile, firing: float) -> Position | None:
    for mark in profile.marks:
        if mark.name == target.mark and mark.stated_atdc_deg is not None:
            angle = firing + mark.stated_atdc_deg
            if mark.turn == "both":
                return Position(angle, HALF_CYCLE_DEG)
            shift = HALF_CYCLE_DEG if mark.turn == "overlap" else 0.0
            return Position(angle + shift, profile.cycle_deg)
    return None


def _sensed_cylinder(profile: Profile) -> int:
    for sensor in profile.sensors:
        if sensor.place == "plug hole" and sensor.cylinder is not None:
            return sensor.cylinder
    return 1
