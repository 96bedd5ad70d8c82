"""Where must the crank go so that every valve can be set, with the fewest stops?

A small set-cover search: at most a dozen firing TDCs or two dozen ends of base circles are tried.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from itertools import combinations

from strokewise.analysis.crank.strokes import firing_tdcs, nearest, phase_at, within
from strokewise.analysis.profile import Profile
from strokewise.analysis.valves.base_circle import (
    FOUR_STROKE_DEG,
    SPARE_DEG,
    VALVE_KINDS,
    LiftedSpan,
    Valve,
    ValveState,
    check_keys,
    lifted_span,
    valve_states,
    valves_of,
)


@dataclass(frozen=True, slots=True)
class Stop:
    """A crank position at which valves are set.

    Attributes
    ----------
    angle_deg : float
        In [0, 720).
    turn_deg : float
        From the stop before it (from the start for the first), the engine's own way.
    firing : tuple of int
        Cylinders at their firing TDC here; empty for a stop between dead centres.
    rocking : tuple of int
        Cylinders whose valves rock here.
    valves : tuple of Valve
        To set here.
    """

    angle_deg: float
    turn_deg: float
    firing: tuple[int, ...]
    rocking: tuple[int, ...]
    valves: tuple[Valve, ...]
    spare_deg: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The fewest stops that reach every valve, in the order they are met.

    ``out_of_reach`` holds valves whose cam gives no base circle with enough to spare.
    """

    stops: tuple[Stop, ...]
    turning_deg: float
    from_timing: bool
    out_of_reach: tuple[Valve, ...] = ()


def fewest_stops(
    profile: Profile,
    firing_1_deg: float,
    start_deg: float,
    done: Collection[str] = (),
    tdc_within_deg: float = 0.0,
) -> Plan:
    """Return the fewest crank positions at which every valve left can be set, in turning order.

    Firing TDCs and where the crank stands are tried first, for they are easy to find, and kept
    where no other choice needs fewer stops. Among equals the one that needs the least turning from
    the start wins, then the one with most to spare.
    """
    check_keys(profile, done)
    todo = [v for v in valves_of(profile) if v.key not in done]
    spans = {kind: lifted_span(profile, kind, tdc_within_deg) for kind in VALVE_KINDS}
    reachable = [v for v in todo if _room(spans[v.kind]) >= 0]
    tdcs = firing_tdcs(profile, firing_1_deg)
    ends = [tdcs[v.cylinder] + spans[v.kind].opens_deg - SPARE_DEG for v in reachable]

    def states(angle_deg: float) -> tuple[ValveState, ...]:
        return valve_states(profile, firing_1_deg, angle_deg, tdc_within_deg)

    at_tdcs = _least_cover(states, start_deg, reachable, (*tdcs.values(), start_deg))
    anywhere = _least_cover(states, start_deg, reachable, (*ends, start_deg))
    chosen = at_tdcs if at_tdcs is not None and len(at_tdcs) <= len(anywhere or ()) else anywhere
    stops = _stops(states, profile, firing_1_deg, start_deg, reachable, chosen or ())
    return Plan(
        stops=stops,
        turning_deg=sum(stop.turn_deg for stop in stops),
        from_timing=profile.valve_timing is not None,
        out_of_reach=tuple(v for v in todo if _room(spans[v.kind]) < 0),
    )


def _room(span: LiftedSpan) -> float:
    """Crank degrees over which a valve of this kind is ready, negative for none."""
    return FOUR_STROKE_DEG - (span.closes_deg - span.opens_deg) - 2 * SPARE_DEG


StatesAt = Callable[[float], tuple[ValveState, ...]]
"""Every valve's place on its cam, at a crank angle."""


def _least_cover(
    states: StatesAt,
    start_deg: float,
    valves: list[Valve],
    candidates_deg: Iterable[float],
) -> tuple[float, ...] | None:
    """Return the fewest candidates at which all valves are ready, None when they do not reach."""
    wanted = frozenset(valve.key for valve in valves)
    reach: dict[float, dict[str, float]] = {}
    for angle_deg in sorted({round(within(a, FOUR_STROKE_DEG), 6) for a in candidates_deg}):
        reach[angle_deg] = {s.valve.key: s.spare_deg for s in states(angle_deg) if s.ready}

    def cost(stops: tuple[float, ...]) -> tuple[float, float]:
        turning_deg = max(_ahead(angle_deg, start_deg) for angle_deg in stops)
        spare_deg = min(max(reach[a].get(key, 0.0) for a in stops) for key in wanted)
        return round(turning_deg, 3), -spare_deg

    for count in range(len(wanted) and 1, len(reach) + 1):
        covers = [
            stops
            for stops in combinations(reach, count)
            if wanted <= frozenset().union(*(reach[angle_deg] for angle_deg in stops))
        ]
        if covers:
            return min(covers, key=cost) if wanted else ()
    return None


def _ahead(angle_deg: float, start_deg: float) -> float:
    """Degrees from the start on to an angle; a hair behind the start counts as there."""
    ahead_deg = within(angle_deg - start_deg, FOUR_STROKE_DEG)
    return 0.0 if FOUR_STROKE_DEG - ahead_deg < _HERE_DEG else ahead_deg


_HERE_DEG = 0.5  # nobody turns two turns for half a degree


def _stops(
    states: StatesAt,
    profile: Profile,
    firing_1_deg: float,
    start_deg: float,
    valves: list[Valve],
    angles_deg: Iterable[float],
) -> tuple[Stop, ...]:
    left = {valve.key: valve for valve in valves}
    tdcs = firing_tdcs(profile, firing_1_deg)
    stops: list[Stop] = []
    gone_deg = 0.0
    for angle_deg in sorted(angles_deg, key=lambda a: _ahead(a, start_deg)):
        ready = {
            s.valve.key: s.spare_deg for s in states(angle_deg) if s.ready and s.valve.key in left
        }
        ahead_deg = _ahead(angle_deg, start_deg)
        phase = phase_at(profile, firing_1_deg, angle_deg)
        stops.append(
            Stop(
                angle_deg=angle_deg,
                turn_deg=ahead_deg - gone_deg,
                firing=tuple(c for c, tdc in sorted(tdcs.items()) if _same(tdc, angle_deg)),
                rocking=phase.rocking,
                valves=tuple(left.pop(key) for key in ready),
                spare_deg=min(ready.values(), default=0.0),
            )
        )
        gone_deg = ahead_deg
    return tuple(stops)


def _same(one_deg: float, other_deg: float) -> bool:
    return abs(nearest(one_deg - other_deg, FOUR_STROKE_DEG)) < _HERE_DEG
