"""What do the nodes of one segment say, all in all? From humps to a fitted TDC, its phase and the
reasons."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median, percentile
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.analysis.stroke.passages import Seen, visits_of
from strokewise.analysis.stroke.phase import NOTHING_KNOWN, Phase, weigh
from strokewise.analysis.tdc.coarse import (
    FINE_PASSES,
    SLOW_PEAK_RPM,
    Reach,
    SensorTrace,
    strong,
)
from strokewise.analysis.tdc.fit import Fit
from strokewise.analysis.tdc.joint_fit import Fitted, joint_fit
from strokewise.analysis.tdc.rough import rough_tdc, rough_tdc_burning
from strokewise.analysis.trace.at_end import overranged
from strokewise.analysis.trace.burning import (
    EVERY_CHARGE_BURNS,
    HEAT_OR_SLIP,
    burning_notices,
    burnt,
    likely_burning,
)
from strokewise.analysis.trace.facing import facing
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.oddities import held_pressure
from strokewise.analysis.trace.passes import Hump, Pass, PassRun, humps_of, runs_of
from strokewise.analysis.trace.plateau import centred, with_plateaus
from strokewise.analysis.trace.settled import Settled
from strokewise.analysis.trace.spacing import burning_otherwise, one_each
from strokewise.analysis.trace.steady import (
    DRIFTS,
    TDC_DRIFT_PASSES,
    Steady,
    steady_part,
)
from strokewise.analysis.trace.trace import end_bar_of
from strokewise.analysis.trade import DEG_S_PER_RPM

ZERO_SIGMA_BAR = 0.3
"""How far a sound sensor's zero may be off: two or three per cent of a usual range of 10 to 20
bar."""

ZERO_OFF_BAR = 0.35
"""An open cylinder's pressure this far from the atmosphere is a wrong zero, not a throttle."""

OPEN_PERCENTILE = 15.0
"""An open cylinder's pressure lies here among all: it is open for half the time or more."""

THROTTLED_LEAST_BAR = 0.3
"""A shut throttle leaves a cranked cylinder no less, absolute."""

ZERO_LOST_SIGMA_BAR = 50.0
"""Prior of a zero that is known to be wrong: none."""

SENSOR_ZERO: Final = "sensor-zero"
UNCALIBRATED: Final = "uncalibrated"
"""Codes of what is wrong with the sensor's bar."""

REFIT_FACTOR, REFIT_AFTER_S = 1.4, 6.0
"""While compressions arrive, the fit is made again when there are so many times as many: each
makes the interval narrower by a sixth. Once there are as many as a fit takes it only gets fresher,
and is made again so long after the last one. A slip that the peaks show makes it anew at once."""

SELDOM_S = 1.0
"""Compressions further apart than this, as by hand, are each worth a new fit."""

RIPE_DEG = 120.0
"""A compression is over when the crank has gone so far from its peak, or has turned round since."""

FIT_LOST_DEG = 45.0
"""A fit that ends so far from where the humps are, or that is no surer than this, has found
nothing."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one segment's nodes say.

    Attributes
    ----------
    passes : tuple of Pass
        Compressions, all of them, about the fitted TDC.
    fit : Fit or None
        None where no compression could be fitted, or no fit was asked for.
    phase : Phase
        Of turns counted from ``tdc_deg``.
    tdc_deg : Interval or None
        The fit's, else the rough one of the humps alone.
    refusal : Remark or None
        Why there is no answer whatever the phase says; None when there is one.
    drift_deg : float
        By how much TDC moves with every turn, where counts are lost or the clamp creeps.
    second_opinion : Notice or None
        What another method has against the fit.
    doubt : Remark or None
        Why TDC is refused though the phase may be known, and what to do; None when it is given.
        ``tdc_deg`` is then a rough one.
    phase_alone : bool
        No fit was asked for: TDC is no better than the peaks show it, and need not be.
    """

    nodes: Nodes
    runs: tuple[PassRun, ...]
    humps: tuple[Hump, ...]
    passes: tuple[Pass, ...]
    fit: Fit | None
    phase: Phase
    warnings: tuple[Notice, ...] = ()
    tdc_deg: Interval | None = None
    refusal: Remark | None = None
    drift_deg: float = 0.0
    second_opinion: Notice | None = None
    doubt: Remark | None = None
    phase_alone: bool = False


@dataclass(slots=True)
class Memory:
    """What is kept for the next judgement: the last fit, and what is settled of each compression.

    A fit is kept while what has come since can hardly move it.

    Attributes
    ----------
    humps : int
        Compressions that there were then.
    last_s : float
        When the last of them peaked.
    begin_s : float
        Since when the encoder had held still; minus infinity where it was never seen to move.
    """

    found: Fitted | None = None
    humps: int = 0
    last_s: float = 0.0
    begin_s: float = float("-inf")
    sides: int = 0
    seen: Seen = field(default_factory=dict)
    cold: Settled[bool] = field(default_factory=Settled)
    middles: Settled[float] = field(default_factory=Settled)

    def copy(self) -> Memory:
        """Return one that goes its own way."""
        return replace(
            self, seen=self.seen.copy(), cold=self.cold.copy(), middles=self.middles.copy()
        )

    def holds(self, humps: tuple[Hump, ...], times_s: FloatArray, begin_s: float) -> bool:
        """Return whether the fit need not be made again for these compressions.

        Old ones drop out of memory at the far end; what counts is how many are new.
        """
        if self.earlier(humps, begin_s) is None:
            return False
        new = int(np.sum(times_s > self.last_s))
        since_s = float(times_s[-1]) - self.last_s
        if since_s >= SELDOM_S * max(new, 1):
            return False
        if self.humps >= FINE_PASSES:
            return 0.0 <= since_s < REFIT_AFTER_S
        return since_s >= 0.0 and new < (REFIT_FACTOR - 1.0) * self.humps

    def earlier(self, humps: tuple[Hump, ...], begin_s: float) -> Fitted | None:
        """Return a fit to go on from, or None where what it was made of is another."""
        if self.found is None or begin_s != self.begin_s or _sides(humps) != self.sides:
            return None
        return self.found

    def keep(self, found: Fitted, humps: tuple[Hump, ...], last_s: float, begin_s: float) -> None:
        """Remember a fit."""
        self.found, self.humps, self.sides = found, len(humps), _sides(humps)
        self.last_s, self.begin_s = last_s, begin_s


def judge(
    nodes: Nodes,
    profile: Profile,
    sensor: Sensor,
    *,
    fitted: bool = True,
    memory: Memory | None = None,
) -> Judgement:
    """Return what the nodes of one sensor in a plug hole say.

    An empty or flat trace gives a judgement without a fit; it is never an error.

    Parameters
    ----------
    fitted : bool
        False: the phase alone, with the rough TDC of the humps, a thousand times cheaper.
    memory : Memory, optional
        While samples still arrive: where the fit is kept for the next call. Only compressions that
        are over are then fitted.
    """
    nodes = with_plateaus(nodes, end_bar_of(sensor, profile))
    humps = facing(nodes, strong(humps_of(nodes)))
    if not humps or held_pressure(nodes) is not None:  # what is held back is no compression
        return Judgement(nodes, runs_of(nodes), humps, (), None, NOTHING_KNOWN)
    cold, known = (memory.cold, memory.middles) if memory else (None, None)
    burned = burnt(nodes, humps, cold)
    if burned.any() and (refusal := burning_otherwise(humps)):
        return Judgement(nodes, runs_of(nodes), humps, (), None, NOTHING_KNOWN, refusal=refusal)
    if burned.all():
        return _burning(nodes, humps, profile, sensor, memory)
    humps = tuple(h for h, burns in zip(humps, burned, strict=True) if not burns)
    middles = centred(nodes, humps, known)
    steady = steady_part(nodes, humps, middles)
    if steady.refusal:
        return Judgement(
            nodes, runs_of(nodes), humps, (), None, NOTHING_KNOWN, refusal=steady.refusal
        )
    if steady.changed:
        nodes, humps = nodes.part(steady.start, len(nodes)), _moved(steady)
        middles = centred(nodes, humps, known)
    runs = runs_of(nodes)
    zero_sigma, warnings = _zero(nodes, profile, sensor)
    middles = one_each(middles)
    last = middles[-TDC_DRIFT_PASSES:] if steady.drift_deg else middles
    rough = rough_tdc(nodes, last, calibrated=bool(sensor.points))
    heated = remark(HEAT_OR_SLIP, by_deg=steady.heated_deg) if steady.heated_deg else None
    warnings = (*burning_notices(burned), *likely_burning(heated), *steady.warnings, *warnings)
    whole = Judgement(
        nodes, runs, humps, (), None, NOTHING_KNOWN, warnings, rough,
        drift_deg=steady.drift_deg, doubt=heated, phase_alone=not fitted,
    )  # fmt: skip
    if fitted and not _cut_off_by_starter(nodes, humps, profile):
        shown = SensorTrace(nodes, runs, humps, profile, sensor, zero_sigma, bool(burned.any()))
        begin_s = float(nodes.time_s[0]) if steady.changed else float("-inf")
        whole = _with_fit(whole, _fit(whole, shown, begin_s, memory), rough)
    return _weighed(whole, profile, sensor, memory, changed=steady.changed)


def _cut_off_by_starter(nodes: Nodes, humps: tuple[Hump, ...], profile: Profile) -> bool:
    """Return whether a starter drove the sensor so far past its end that hardly flanks are left.

    They pass in so few samples that a fit of them may end anywhere, and be sure of it.
    """
    speed = median([abs(float(nodes.speed_deg_s[h.at])) for h in humps])
    return speed > DEG_S_PER_RPM * SLOW_PEAK_RPM and bool(overranged(nodes, profile))


def _with_fit(whole: Judgement, found: Fitted | None, rough: Interval) -> Judgement:
    """Return the judgement with a joint fit, where that found what the humps show."""
    if found is None or not _believable(found.fit, rough):
        return whole
    doubt = whole.doubt or found.doubt
    return replace(
        whole,
        passes=found.passes,
        fit=found.fit,
        tdc_deg=_roughly(found.fit.tdc_deg, rough) if doubt else found.fit.tdc_deg,
        warnings=(*_still(whole.warnings, found), *found.notices),
        drift_deg=found.drift_deg,
        second_opinion=found.second_opinion,
        doubt=doubt,
    )


def _weighed(
    whole: Judgement, profile: Profile, sensor: Sensor, memory: Memory | None, *, changed: bool
) -> Judgement:
    """Return the judgement with its phase, of turns counted from the TDC that it has."""
    assert whole.tdc_deg is not None
    seen = None if memory is None else memory.seen
    phase = weigh(
        visits_of(whole.nodes, whole.runs, whole.tdc_deg.value, seen),
        noise_bar=whole.nodes.noise_bar,
        calibrated=bool(sensor.points),
        cycle=profile.cycle,
        changed=changed,
    )
    return replace(whole, phase=phase)


def _burning(
    nodes: Nodes,
    humps: tuple[Hump, ...],
    profile: Profile,
    sensor: Sensor,
    memory: Memory | None,
) -> Judgement:
    """Return the judgement where every charge burned: the stroke, and TDC no more than roughly.

    A slip is not looked for: burning moves the peaks about by more.
    """
    middles = one_each(centred(nodes, humps))
    _, warnings = _zero(nodes, profile, sensor)
    whole = Judgement(
        nodes,
        runs_of(nodes),
        humps,
        (),
        None,
        NOTHING_KNOWN,
        (*burning_notices(np.ones(len(humps), np.bool_)), *warnings),
        rough_tdc_burning(middles),
        doubt=EVERY_CHARGE_BURNS,
    )
    return _weighed(whole, profile, sensor, memory, changed=False)


def _still(warnings: tuple[Notice, ...], found: Fitted) -> tuple[Notice, ...]:
    """Return the warnings without that of a drift which turned out to be a slip."""
    return tuple(w for w in warnings if w.code != DRIFTS or found.drift_deg)


def pulses_only(nodes: Nodes) -> Judgement:
    """Return the judgement of a sensor in the manifold, where there are no compressions to look
    for."""
    return Judgement(nodes, (), (), (), None, NOTHING_KNOWN)


def _moved(steady: Steady) -> tuple[Hump, ...]:
    return tuple(replace(h, at=h.at - steady.start) for h in steady.humps)


def _roughly(fitted: Interval, rough: Interval) -> Interval:
    """Return the rough TDC that holds a fitted one which is not believed."""
    near = fitted.shifted(nearest(fitted.value - rough.value, 360.0) + rough.value - fitted.value)
    half = max(rough.half_width, rough.value - near.low, near.high - rough.value)
    return Interval(rough.value, rough.value - half, rough.value + half)


def _believable(fit: Fit, rough: Interval) -> bool:
    apart = abs(nearest(fit.tdc_deg.value - rough.value, 360.0))
    return apart < FIT_LOST_DEG + rough.half_width and fit.tdc_deg.half_width < FIT_LOST_DEG


def _fit(
    whole: Judgement, shown: SensorTrace, begin_s: float, memory: Memory | None
) -> Fitted | None:
    """Return the compressions and their joint fit, from memory where little has changed."""
    if memory is None:
        return joint_fit(shown, drift_deg=whole.drift_deg)
    humps = _ripe(whole.nodes, whole.runs, whole.humps)
    if not humps:
        return None
    times_s = whole.nodes.time_s[[h.at for h in humps]]
    if memory.holds(humps, times_s, begin_s):
        return memory.found
    earlier = memory.earlier(humps, begin_s)
    assert whole.tdc_deg is not None
    if earlier is not None and not _believable(earlier.fit, whole.tdc_deg):
        earlier = None  # from where it got lost it would not find back
    ripe = replace(shown, humps=humps)
    found = joint_fit(ripe, drift_deg=whole.drift_deg, earlier=earlier)
    if found is not None:
        memory.keep(found, humps, float(times_s[-1]), begin_s)
    return found


def _sides(humps: tuple[Hump, ...]) -> int:
    return len({h.direction for h in humps})


def _ripe(nodes: Nodes, runs: tuple[PassRun, ...], humps: tuple[Hump, ...]) -> tuple[Hump, ...]:
    """Return the compressions that are over."""
    if not humps:
        return ()
    last = humps[-1]
    went_on = abs(float(nodes.angle_deg[-1]) - last.angle_deg) > RIPE_DEG
    turned_round = bool(runs) and runs[-1].start > last.at
    return humps if went_on or turned_round else humps[:-1]


def _zero(nodes: Nodes, profile: Profile, sensor: Sensor) -> tuple[float, tuple[Notice, ...]]:
    """Tell a wandering zero from a sound one by the low pressures, which an open cylinder shows."""
    if not sensor.points:
        return ZERO_LOST_SIGMA_BAR, (notice(UNCALIBRATED),)
    low = percentile(nodes.pressure_bar, OPEN_PERCENTILE)
    outside = profile.atmosphere.pressure_bar
    if abs(low - outside) < ZERO_OFF_BAR or THROTTLED_LEAST_BAR < low < outside:
        return ZERO_SIGMA_BAR, ()
    return ZERO_LOST_SIGMA_BAR, (notice(SENSOR_ZERO, shown_bar=low, outside_bar=outside),)


__all__ = ["Judgement", "Memory", "Reach", "judge", "pulses_only"]
