"""Setting the valves: what to do now, where to turn next, and does each gap come out right?

Brings together the base circles, the fewest stops and the gaps, with the two rules of thumb of the
trade as a cross-check.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.crank.strokes import companions, within
from strokewise.analysis.profile import Profile, Valves
from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.analysis.valves.base_circle import (
    FOUR_STROKE_DEG,
    VALVE_KINDS,
    Kind,
    LiftedSpan,
    Valve,
    ValveState,
    check_keys,
    lifted_span,
    state_on_cam,
    valve_states,
    valves_of,
)
from strokewise.analysis.valves.clearances import (
    Gap,
    GapCheck,
    check_gap,
    holds_otherwise,
    target_mm,
)
from strokewise.analysis.valves.valve_stops import Plan, fewest_stops


@dataclass(frozen=True, slots=True)
class WorkingList:
    """What to do at this crank angle: follows the crank, forgets nothing.

    ``ready``: to set now, first the one that leaves its base circle first. ``later``: the rest,
    first the one met first. ``done``: set already.
    """

    angle_deg: float
    ready: tuple[ValveState, ...]
    later: tuple[ValveState, ...]
    done: tuple[Valve, ...]


def working_list(
    profile: Profile,
    firing_1_deg: float,
    angle_deg: float,
    done: Collection[str] = (),
    tdc_within_deg: float = 0.0,
) -> WorkingList:
    """Return what can be set at this angle and what comes next.

    Parameters
    ----------
    done : collection of str
        Keys (:attr:`Valve.key`) of the valves that are set.

    Raises
    ------
    InputError
        When ``done`` names a valve that this engine does not have.
    """
    states = valve_states(profile, firing_1_deg, angle_deg, tdc_within_deg)
    check_keys(profile, done)
    todo = [state for state in states if state.valve.key not in done]
    return WorkingList(
        angle_deg=within(angle_deg, FOUR_STROKE_DEG),
        ready=tuple(sorted((s for s in todo if s.ready), key=lambda s: s.left_deg)),
        later=tuple(sorted((s for s in todo if not s.ready), key=lambda s: s.to_go_deg)),
        done=tuple(state.valve for state in states if state.valve.key in done),
    )


@dataclass(frozen=True, slots=True)
class RuleCheck:
    """A rule of thumb held against the cam's own figures.

    Attributes
    ----------
    applies : bool
        The rule can be used on this engine.
    agrees : bool
        At every place where the rule says "set this valve", the cam says it is ready.
    pairs : tuple of (watch, set)
        What to watch and what may then be set, in words of a few characters.
    """

    name: str
    applies: bool
    agrees: bool
    pairs: tuple[tuple[str, str], ...]
    said: Remark


def rocking_rule(profile: Profile) -> RuleCheck:
    """Return the rule "set a cylinder while its companion's valves rock", checked.

    Common practice, no source.
    """
    name, pairs = "rocking pairs", companions(profile)
    if not all(pairs.values()):
        return RuleCheck(name, False, False, (), remark("no-companion"))
    at_firing_tdc = (
        (state_on_cam(v, lifted_span(profile, v.kind), 0.0), v) for v in valves_of(profile)
    )
    agrees = all(state.ready for state, _ in at_firing_tdc)
    watch = tuple((str(others[0]), str(one)) for one, others in pairs.items())
    return RuleCheck(name, True, agrees, watch, remark("rocks-set", pairs=watch, agrees=agrees))


def sum_rule(profile: Profile) -> RuleCheck:
    """Return the rule "numbers of the valve fully open and the valve to set add up", checked.

    The sum of nine for four cylinders in line, thirteen for six (common practice, no source). It
    needs valves numbered along the head, the same from either end, and companions placed so too.
    """
    valves = valves_of(profile)
    total = len(valves) + 1
    name, mirror = f"sum of {total}", dict(enumerate(reversed(valves), start=1))
    pairs = companions(profile)
    fits = all(
        valve.number is not None
        and mirror[valve.number].kind == valve.kind
        and mirror[valve.number].cylinder in pairs[valve.cylinder]
        for valve in valves
    )
    if not fits:
        return RuleCheck(name, False, False, (), remark("not-alike-from-both-ends"))
    agrees = True
    watch = []
    for valve in valves:
        span, other = lifted_span(profile, valve.kind), mirror[valve.number or 0]
        agrees &= state_on_cam(other, span, span.fully_open_deg - 360).ready
        watch.append((str(valve.number), str(other.number)))
    return RuleCheck(
        name, True, agrees, tuple(watch), remark("add-up-to", total=total, agrees=agrees)
    )


@dataclass(frozen=True, slots=True)
class ValveSetting:
    """The whole answer on valve clearances.

    Attributes
    ----------
    states : tuple of ValveState
        Every valve at this angle.
    working : WorkingList
        What to set now and what comes next.
    plan : Plan
        The fewest stops for what is left, from this angle on.
    spans : tuple of LiftedSpan
        Where inlet and exhaust valves are off their base circle.
    targets_mm : dict
        Gap wanted for each kind, None where unknown or hydraulic.
    notices : tuple of Notice
        What a person must know beside it.
    """

    states: tuple[ValveState, ...]
    working: WorkingList
    plan: Plan
    spans: tuple[LiftedSpan, ...]
    rules: tuple[RuleCheck, ...]
    targets_mm: dict[Kind, float | None]
    gaps: tuple[GapCheck, ...]
    notices: tuple[Notice, ...]


def valve_setting(
    profile: Profile,
    firing_1_deg: float,
    angle_deg: float,
    *,
    done: Collection[str] = (),
    gaps: Sequence[Gap] = (),
    engine_is: Literal["cold", "hot"] | None = None,
    place_known: bool = True,
    tdc_within_deg: float = 0.0,
) -> ValveSetting:
    """Return everything about setting the valves at this crank angle.

    A gap is judged where its valve is free, or was said to be done; with a good one the valve is
    done, with one that is off it is not, whatever was said.

    Parameters
    ----------
    firing_1_deg, angle_deg : float
        Firing TDC of cylinder 1 and the crank now, crank degrees in one frame.
    done : collection of str
        Keys of the valves already set.
    gaps : sequence of Gap
        What was measured so far.
    engine_is : {"cold", "hot"}, optional
        How warm the engine is now.
    place_known : bool
        False where nobody knows where the crank stands: then no gap is judged.
    tdc_within_deg : float
        How near TDC is known: a valve counts as free where it is wherever TDC may be.

    Raises
    ------
    InputError
        For a two-stroke, a valve order that does not fit, or a valve that does not exist.
    """
    check_keys(profile, [gap.valve for gap in gaps])
    valves = profile.valves or Valves()
    states = valve_states(profile, firing_1_deg, angle_deg, tdc_within_deg)
    to_go = {state.valve.key: state.to_go_deg for state in states} if place_known else {}
    to_go |= dict.fromkeys(done, 0.0)
    checks = tuple(_checked(gap, valves.adjust, to_go.get(gap.valve)) for gap in gaps)
    off = {c.gap.valve for c in checks if c.judged and c.status not in ("good", "not measured")}
    good = (c.gap.valve for c in checks if c.status == "good")
    done = tuple(dict.fromkeys(key for key in (*done, *good) if key not in off))
    plan = fewest_stops(profile, firing_1_deg, angle_deg, done, tdc_within_deg)
    rules = (rocking_rule(profile), sum_rule(profile))
    return ValveSetting(
        states=states,
        working=working_list(profile, firing_1_deg, angle_deg, done, tdc_within_deg),
        plan=plan,
        spans=tuple(lifted_span(profile, kind) for kind in VALVE_KINDS),
        rules=rules,
        targets_mm={kind: target_mm(profile, kind) for kind in VALVE_KINDS},
        gaps=checks,
        notices=_notices(profile, plan, rules, engine_is),
    )


def _checked(gap: Gap, adjust: Literal["screw", "shim"], to_go_deg: float | None) -> GapCheck:
    """Judge a gap where its valve is free; ``to_go_deg`` is None where nobody knows."""
    if to_go_deg is None:
        return GapCheck(gap, "place not known", None, None)
    if to_go_deg > 0.0:
        return GapCheck(gap, "valve not free", None, None, to_go_deg=to_go_deg)
    return check_gap(gap, adjust=adjust)


def _notices(
    profile: Profile,
    plan: Plan,
    rules: Sequence[RuleCheck],
    engine_is: Literal["cold", "hot"] | None,
) -> tuple[Notice, ...]:
    valves = profile.valves or Valves()
    notices = []
    if not plan.from_timing:
        notices.append(notice("timing-assumed"))
    if plan.out_of_reach:
        keys = tuple(valve.key for valve in plan.out_of_reach)
        notices.append(notice("no-base-circle", valves=keys))
    notices += [
        notice("rule-disagrees", rule=rule.name, said=rule.said)
        for rule in rules
        if rule.applies and not rule.agrees
    ]
    if valves.lifters == "hydraulic":
        notices.append(notice("hydraulic"))
    elif None in (valves.clearance_inlet_mm, valves.clearance_exhaust_mm):
        notices.append(notice("clearance-unknown"))
    if holds_otherwise(valves, engine_is):
        notices.append(notice("cold-hot", state=valves.state, engine_is=engine_is))
    return tuple(notices)
