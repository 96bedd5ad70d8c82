"""Which valves ride the base circle of their cam at a crank angle, and with how much to spare?

Only there may a clearance be set or measured. Where the base circle is comes from the valve timing,
or where nobody gave one, from common practice, and the answer says which.

Angles of one valve are crank degrees after the firing TDC of its own cylinder; angles of the engine
are crank degrees in the frame that ``firing_1_deg`` (firing TDC of cylinder 1) is given in.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.crank.strokes import firing_tdcs, within
from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile, ValveTiming

Kind = Literal["inlet", "exhaust"]

RAMP_DEG = 20.0
"""A follower leaves the base circle this long before its valve moves: the ramp that takes the gap
up quietly (common practice, no source; on the wide side, so that no gap is set on a ramp)."""

DEG_PER_ROOT_MM = 22.0
"""Timing given at a lift is shorter than from seat to seat by this times √(lift in mm) on each
side: road cams last about 25° longer a side than at 1.27 mm (common practice, no source)."""

USUAL_TIMING = ValveTiming(20.0, 60.0, 60.0, 20.0)
"""A rather long road cam, where no timing is given (common practice, no source)."""

SPARE_DEG = 10.0
"""Wanted on both sides before a valve counts as ready: a crank set by hand stands within this."""

TDC_NEAR_DEG = 1.0
"""A TDC known as near as this is within what is wanted on both sides anyway."""

FOUR_STROKE_DEG = 720.0


VALVE_KINDS: tuple[Kind, ...] = ("inlet", "exhaust")


@dataclass(frozen=True, slots=True)
class Valve:
    """One valve; ``number`` counts along the head from the pulley end, None where nobody said."""

    cylinder: int
    kind: Kind
    number: int | None = None
    one_of: int = 1
    """Which of the cylinder's valves of this kind, from the pulley end; 1 where it has one."""

    @property
    def key(self) -> str:
        """Short unique name: ``"1E"``, or ``"1E2"`` for the second exhaust valve of cylinder 1."""
        letter = "I" if self.kind == "inlet" else "E"
        return f"{self.cylinder}{letter}" + ("" if self.one_of == 1 else str(self.one_of))

    @property
    def words(self) -> str:
        """The valve in words."""
        which = f"{self.kind} of cylinder {self.cylinder}"
        which += "" if self.one_of == 1 else f" (valve {self.one_of} of its kind)"
        return which if self.number is None else f"valve {self.number}, {which}"


@dataclass(frozen=True, slots=True)
class LiftedSpan:
    """From where to where a kind of valve is off its base circle, ramps included.

    ``opens_deg`` and ``closes_deg`` are crank degrees after the firing TDC of the valve's cylinder.
    ``from_timing`` is False where the figures are common practice.
    """

    kind: Kind
    opens_deg: float
    closes_deg: float
    from_timing: bool

    @property
    def fully_open_deg(self) -> float:
        """Middle of the span, where the valve is lifted most."""
        return (self.opens_deg + self.closes_deg) / 2


@dataclass(frozen=True, slots=True)
class ValveState:
    """One valve at one crank angle.

    Attributes
    ----------
    since_deg, left_deg : float
        How far back the base circle began and how far on it ends, both 0 off it.
    to_go_deg : float
        How far to turn, the engine's own way, until it is ready; 0 when it is.
    """

    valve: Valve
    on_base_circle: bool
    since_deg: float
    left_deg: float
    to_go_deg: float

    @property
    def spare_deg(self) -> float:
        """The smaller of the two sides."""
        return min(self.since_deg, self.left_deg)

    @property
    def ready(self) -> bool:
        """On the base circle with enough to spare on both sides to set it."""
        return self.on_base_circle and self.to_go_deg == 0.0


def valves_of(profile: Profile) -> tuple[Valve, ...]:
    """Return every valve, along the head where the order is known, else cylinder by cylinder.

    An order of n letters for c cylinders gives each cylinder n/c neighbours. A head with the inlets
    and exhausts in two rows is written cylinder by cylinder too: ``"IIEE"`` for each.

    Raises
    ------
    InputError
        For a two-stroke, or an order that cannot be shared out over the cylinders.
    """
    if profile.cycle == "two-stroke":
        raise InputError("valves: a two-stroke has ports, there is no valve clearance to set")
    order = profile.valves.order if profile.valves else None
    if order is None:
        return tuple(
            Valve(cylinder, kind)
            for cylinder in range(1, profile.cylinders + 1)
            for kind in ("exhaust", "inlet")
        )
    each, left_over = divmod(len(order), profile.cylinders)
    groups = [order[at : at + each] for at in range(0, len(order), each or 1)]
    if left_over or set(order) - set("EI") or any(set(group) != set("EI") for group in groups):
        raise InputError(
            f'valves.order "{order}" cannot be shared out over {profile.cylinders} cylinders:'
            " write E and I cylinder by cylinder from the pulley end, at least one of each"
        )
    return tuple(
        Valve(
            at // each + 1,
            "inlet" if letter == "I" else "exhaust",
            at + 1,
            groups[at // each][: at % each + 1].count(letter),
        )
        for at, letter in enumerate(order)
    )


def lifted_span(profile: Profile, kind: Kind, tdc_within_deg: float = 0.0) -> LiftedSpan:
    """Return where a kind of valve is off its base circle, with ramps, from timing or practice.

    A TDC known no better than ``tdc_within_deg`` widens it on both sides: outside, the valve is on
    its base circle wherever TDC may be.
    """
    timing = profile.valve_timing or USUAL_TIMING
    wider_deg = RAMP_DEG + DEG_PER_ROOT_MM * max(timing.at_lift_mm, 0.0) ** 0.5
    wider_deg += tdc_within_deg if tdc_within_deg > TDC_NEAR_DEG else 0.0
    if kind == "inlet":
        opens, closes = 360 - timing.intake_opens_btdc_deg, 540 + timing.intake_closes_abdc_deg
    else:
        opens, closes = 180 - timing.exhaust_opens_bbdc_deg, 360 + timing.exhaust_closes_atdc_deg
    known = profile.valve_timing is not None
    return LiftedSpan(kind, opens - wider_deg, closes + wider_deg, known)


def valve_states(
    profile: Profile, firing_1_deg: float, angle_deg: float, tdc_within_deg: float = 0.0
) -> tuple[ValveState, ...]:
    """Return every valve's place on its cam at a crank angle, in the order of :func:`valves_of`."""
    tdcs = firing_tdcs(profile, firing_1_deg)
    spans = {kind: lifted_span(profile, kind, tdc_within_deg) for kind in VALVE_KINDS}
    return tuple(
        state_on_cam(valve, spans[valve.kind], angle_deg - tdcs[valve.cylinder])
        for valve in valves_of(profile)
    )


def check_keys(profile: Profile, keys: Iterable[str]) -> None:
    """Raise ``InputError`` when a key names no valve of this engine."""
    known = [valve.key for valve in valves_of(profile)]
    for key in keys:
        if key not in known:
            raise InputError(f'there is no valve "{key}": this engine has {", ".join(known)}')


def state_on_cam(valve: Valve, span: LiftedSpan, after_firing_deg: float) -> ValveState:
    """Return a valve's place on its cam, so many crank degrees after its cylinder's firing TDC."""
    since_deg = within(after_firing_deg - span.closes_deg, FOUR_STROKE_DEG)
    base_deg = FOUR_STROKE_DEG - (span.closes_deg - span.opens_deg)
    on_base = since_deg < base_deg
    left_deg = base_deg - since_deg if on_base else 0.0
    ready = on_base and min(since_deg, left_deg) >= SPARE_DEG - _ROUNDING_DEG
    to_go_deg = within(SPARE_DEG - since_deg, FOUR_STROKE_DEG)
    return ValveState(
        valve, on_base, since_deg if on_base else 0.0, left_deg, 0.0 if ready else to_go_deg
    )


_ROUNDING_DEG = 1e-6  # a stop placed on an edge stays ready in floating point
