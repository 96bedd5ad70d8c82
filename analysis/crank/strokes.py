"""Which stroke is each cylinder on? Firing order and intervals to the whole engine's phase.

A *cycle angle* is a crank angle in [0, cycle): 720° for a four-stroke, 360° for a two-stroke. The
stroke a cylinder is on belongs to the crank's position, not to the way it is being turned: turned
backwards through its power stroke, a cylinder squeezes its gas, and it is still the power stroke.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile

Stroke = Literal["compression", "power", "exhaust", "intake"]
Turning = Literal[1, -1]

TOGETHER_DEG = 1.0
"""Two pistons this close count as moving together: finer than any crank throw is stated."""

OVERLAP_BTDC_DEG = 12.0
OVERLAP_ATDC_DEG = 12.0
"""Overlap of a mild road cam, where no valve timing is given (common practice, no source)."""

MOST_CYLINDERS = 12


@dataclass(frozen=True, slots=True)
class CylinderPhase:
    """Where one cylinder stands in its cycle.

    Attributes
    ----------
    stroke : str
        ``"compression"``, ``"power"``, ``"exhaust"`` or ``"intake"``; a two-stroke has but two.
    after_firing_deg : float
        Crank degrees after its firing TDC, in [0, cycle).
    to_firing_deg : float
        Crank degrees to its next firing TDC the way the engine is being turned, in [0, cycle).
    rocking : bool
        Both valves of this cylinder are off their seats: overlap.
    """

    cylinder: int
    stroke: Stroke
    after_firing_deg: float
    to_firing_deg: float
    rocking: bool


@dataclass(frozen=True, slots=True)
class EnginePhase:
    """Where the whole engine stands.

    Attributes
    ----------
    cycle_angle_deg : float
        The angle asked for, in [0, cycle).
    cylinders : tuple of CylinderPhase
        By cylinder number, 1 first.
    on_firing_stroke : tuple of int
        Cylinders on their power stroke, the one that fired last first; may be empty.
    next_to_fire : tuple of int
        The cylinder whose firing TDC is met next the way the engine is being turned (several where
        cylinders fire together). Standing on a firing TDC, it is that one, with 0 degrees to go.
    to_next_firing_deg : float
        Crank degrees to that TDC, 0 or more.
    rocking : tuple of int
        Cylinders in overlap, the one nearest its overlap TDC first; may be empty.

    Examples
    --------
    >>> from strokewise.analysis import Profile, phase_at
    >>> four = Profile(4, (1, 3, 4, 2), (180.0,) * 4)
    >>> phase = phase_at(four, 0.0, 200.0)  # firing TDC of cylinder 1 at 0; the crank 200° on
    >>> phase.on_firing_stroke, phase.next_to_fire, phase.to_next_firing_deg
    ((3,), (4,), 160.0)
    """

    cycle_angle_deg: float
    cylinders: tuple[CylinderPhase, ...]
    on_firing_stroke: tuple[int, ...]
    next_to_fire: tuple[int, ...]
    to_next_firing_deg: float
    rocking: tuple[int, ...]

    def cylinder(self, number: int) -> CylinderPhase:
        """Return one cylinder by its number."""
        return self.cylinders[number - 1]


def within(angle_deg: float, period_deg: float) -> float:
    """Return the angle wrapped into [0, period); unlike ``%`` never the period itself."""
    wrapped = float(angle_deg) % period_deg
    return 0.0 if wrapped >= period_deg else wrapped


def nearest(angle_deg: float, period_deg: float) -> float:
    """Return the angle wrapped into (-period/2, period/2]: the short way round."""
    wrapped = within(angle_deg, period_deg)
    return wrapped - period_deg if wrapped > period_deg / 2 else wrapped


def firing_offsets(
    firing_order: Sequence[int], firing_intervals_deg: Sequence[float]
) -> dict[int, float]:
    """Return how long after cylinder 1 each cylinder fires, in crank degrees, [0, cycle).

    Parameters
    ----------
    firing_order : sequence of int
        Every cylinder from 1 up once, 1 to 12 of them; any may stand first.
    firing_intervals_deg : sequence of float
        Interval i runs from ``firing_order[i]`` to the next, the last one back to the first; their
        sum is the cycle. An interval of 0 means that two cylinders fire together.

    Returns
    -------
    dict
        Cylinder number to degrees, in firing order starting with cylinder 1.

    Raises
    ------
    InputError
        When a cylinder is missing or comes twice, or intervals do not fit the order.
    """
    order = list(firing_order)
    _check_order(order, firing_intervals_deg)
    cycle_deg = float(sum(firing_intervals_deg))
    start = order.index(1)
    elapsed_deg, offsets = 0.0, {}
    for step in range(len(order)):
        at = (start + step) % len(order)
        offsets[order[at]] = within(elapsed_deg, cycle_deg)
        elapsed_deg += firing_intervals_deg[at]
    return offsets


@lru_cache(maxsize=64)
def _offsets(order: tuple[int, ...], intervals_deg: tuple[float, ...]) -> dict[int, float]:
    """Return the same of an engine that is asked about with every picture; not to be changed."""
    return firing_offsets(order, intervals_deg)


def firing_tdcs(profile: Profile, firing_1_deg: float) -> dict[int, float]:
    """Return the firing TDC of every cylinder in [0, cycle), from that of cylinder 1.

    The cylinders come in firing order, cylinder 1 first. Angles are crank degrees.

    Examples
    --------
    >>> from strokewise.analysis import Profile, firing_tdcs
    >>> firing_tdcs(Profile(3, (1, 3, 2), firing_intervals_deg=(240.0,) * 3), 700.0)
    {1: 700.0, 3: 220.0, 2: 460.0}
    """
    offsets = _offsets(profile.firing_order, profile.firing_intervals_deg)
    return {
        cylinder: within(firing_1_deg + offset, profile.cycle_deg)
        for cylinder, offset in offsets.items()
    }


def firing_1_from(profile: Profile, cylinder: int, firing_deg: float) -> float:
    """Return the firing TDC of cylinder 1 in [0, cycle), from that of another cylinder."""
    offsets = _offsets(profile.firing_order, profile.firing_intervals_deg)
    if cylinder not in offsets:
        raise InputError(f"there is no cylinder {cylinder}: this engine has {profile.cylinders}")
    return within(firing_deg - offsets[cylinder], profile.cycle_deg)


def companions(profile: Profile) -> dict[int, tuple[int, ...]]:
    """Return for each cylinder those that fire 360° away, whose pistons move with it.

    Empty for a cylinder that has none, as in most three-cylinder and any two-stroke engines.
    """
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    if profile.cycle == "two-stroke":
        return dict.fromkeys(sorted(offsets), ())
    return {
        one: tuple(
            other
            for other in sorted(offsets)
            if abs(nearest(offsets[other] - offsets[one] - 360, profile.cycle_deg)) <= TOGETHER_DEG
        )
        for one in sorted(offsets)
    }


def stroke_at(after_firing_deg: float, cycle_deg: float) -> Stroke:
    """Return the stroke of a cylinder so many crank degrees after its firing TDC.

    The dead centres belong to the stroke that begins there. BDC is taken as 180°: what a pin offset
    moves it by is less than a person can see.
    """
    after_deg = within(after_firing_deg, cycle_deg)
    if cycle_deg == TWO_STROKE_DEG:
        return "power" if after_deg < 180 else "compression"
    return FOUR_STROKES[int(after_deg // 180)]


def overlap_window(profile: Profile) -> tuple[float, float]:
    """Return how far before and after its overlap TDC both valves of a cylinder are open.

    From the valve timing where it is given, else a mild road cam. A cam whose valves do not overlap
    gets (0, 0); a two-stroke too.
    """
    if profile.cycle == "two-stroke":
        return 0.0, 0.0
    timing = profile.valve_timing
    if timing is None:
        return OVERLAP_BTDC_DEG, OVERLAP_ATDC_DEG
    opens_btdc, closes_atdc = timing.intake_opens_btdc_deg, timing.exhaust_closes_atdc_deg
    return (opens_btdc, closes_atdc) if opens_btdc + closes_atdc > 0 else (0.0, 0.0)


def phase_at(
    profile: Profile, firing_1_deg: float, angle_deg: float, turning: Turning = 1
) -> EnginePhase:
    """Return where every cylinder stands at a crank angle.

    Parameters
    ----------
    profile : Profile
        Cylinders, firing order, intervals, cycle; valve timing where known.
    firing_1_deg : float
        Firing TDC of cylinder 1, same frame as ``angle_deg``.
    angle_deg : float
        Crank angle, any turn.
    turning : {1, -1}
        1 when the crank is turned its own way, -1 when backwards: then the TDC met next is the one
        that lies behind.

    Examples
    --------
    >>> from strokewise.analysis import Profile, phase_at
    >>> engine = Profile(4, (1, 3, 4, 2), firing_intervals_deg=(180.0,) * 4)
    >>> phase_at(engine, firing_1_deg=80.0, angle_deg=100.0).on_firing_stroke
    (1,)
    """
    cycle_deg = profile.cycle_deg
    window = overlap_window(profile)
    tdcs = firing_tdcs(profile, firing_1_deg)
    phases = tuple(
        _cylinder_phase(cylinder, angle_deg - tdcs[cylinder], cycle_deg, turning, window)
        for cylinder in sorted(tdcs)
    )
    to_next_deg = min(phase.to_firing_deg for phase in phases)
    powered = sorted((p for p in phases if p.stroke == "power"), key=lambda p: p.after_firing_deg)
    rocking = sorted(
        (p for p in phases if p.rocking),
        key=lambda p: abs(_after_overlap(p.after_firing_deg, cycle_deg)),
    )
    return EnginePhase(
        cycle_angle_deg=within(angle_deg, cycle_deg),
        cylinders=phases,
        on_firing_stroke=tuple(p.cylinder for p in powered),
        next_to_fire=tuple(
            p.cylinder for p in phases if p.to_firing_deg - to_next_deg <= TOGETHER_DEG
        ),
        to_next_firing_deg=to_next_deg,
        rocking=tuple(p.cylinder for p in rocking),
    )


TWO_STROKE_DEG = 360.0
FOUR_STROKES: tuple[Stroke, ...] = ("power", "exhaust", "intake", "compression")


def _cylinder_phase(
    cylinder: int,
    after_deg: float,
    cycle_deg: float,
    turning: Turning,
    window: tuple[float, float],
) -> CylinderPhase:
    after_deg = within(after_deg, cycle_deg)
    before_deg, beyond_deg = window
    past_overlap_deg = _after_overlap(after_deg, cycle_deg)
    return CylinderPhase(
        cylinder=cylinder,
        stroke=stroke_at(after_deg, cycle_deg),
        after_firing_deg=after_deg,
        to_firing_deg=within(-turning * after_deg, cycle_deg),
        rocking=before_deg + beyond_deg > 0 and -before_deg <= past_overlap_deg <= beyond_deg,
    )


def _after_overlap(after_firing_deg: float, cycle_deg: float) -> float:
    """Degrees past the overlap TDC, negative before it."""
    return nearest(after_firing_deg - 360, cycle_deg)


def _check_order(order: list[int], intervals_deg: Sequence[float]) -> None:
    count = len(order)
    if not 1 <= count <= MOST_CYLINDERS:
        raise InputError(f"a firing order has 1 to {MOST_CYLINDERS} cylinders, not {count}")
    if sorted(order) != list(range(1, count + 1)):
        raise InputError(
            f"firing order {'-'.join(map(str, order))} must name each cylinder"
            f" from 1 to {count} once"
        )
    if len(intervals_deg) != count:
        raise InputError(
            f"a firing order of {count} needs {count} firing intervals, not {len(intervals_deg)}"
        )
    values = np.asarray(intervals_deg, np.float64)
    cycle_deg = float(values.sum())
    if np.any(values < 0) or min(abs(cycle_deg - 720), abs(cycle_deg - 360)) > _SUM_ROUNDING_DEG:
        raise InputError(
            f"firing intervals must be 0 or more and add up to 720 deg (two-stroke: 360 deg),"
            f" not {cycle_deg:g} deg"
        )


_SUM_ROUNDING_DEG = 0.05  # intervals printed to a hundredth of a degree, twelve of them
