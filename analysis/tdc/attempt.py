"""A fit of some compressions, from nothing or from an earlier one, while the cylinder was shut."""

from __future__ import annotations

from dataclasses import dataclass

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.tdc.coarse import (
    FINE_PASSES,
    SLOW_PEAK_RPM,
    Reach,
    SensorTrace,
    best_passes,
    coarse_fit,
    reach_of,
)
from strokewise.analysis.tdc.fit import FAR, NEAR, Fit
from strokewise.analysis.tdc.mismatch import SOUND_COST
from strokewise.analysis.tdc.shut_window import (
    DRAGGED_COST,
    Shut,
    clear_of_valves,
    shut_window,
    worst_of,
)
from strokewise.analysis.trace.passes import Pass

MUCH_WORSE = 1.5
"""An earlier fit led astray where the residuals grow so many times by the new compressions."""


@dataclass(frozen=True, slots=True)
class Attempt:
    """A fit, the passes it was made of, all that lie about its TDC, and where it was shut."""

    fit: Fit
    best: tuple[Pass, ...]
    passes: tuple[Pass, ...]
    reach: Reach

    @property
    def begin_s(self) -> float:
        """When the first of all the passes begins."""
        return float(self.passes[0].time_s[0])


def again(shown: SensorTrace, earlier: Fit, reach: Reach) -> Attempt | None:
    """Go on from an earlier fit; None where it does not lead to one as good."""
    tdc_deg = earlier.tdc_deg
    passes = shown.passes(tdc_deg.value, reach)
    if not passes:
        return None
    best = best_passes(passes, FINE_PASSES)
    fit = shown.fit(best, earlier)
    moved = abs(nearest(fit.tdc_deg.value - tdc_deg.value, 360.0))
    as_good = fit.cost < MUCH_WORSE * max(earlier.cost, SOUND_COST)
    if not as_good or moved > tdc_deg.half_width or clear_of_valves(fit, reach) != reach:
        return None
    return Attempt(fit, best, passes, reach)


def attempt(shown: SensorTrace, most: int = FINE_PASSES) -> Attempt | None:
    """Fit the last ``most`` compressions, from nothing, and as far out as the valves are shut."""
    reach = reach_of(shown.profile)
    coarse = coarse_fit(shown, reach)
    passes = () if coarse is None else shown.passes(coarse.tdc_deg.value, reach)
    if coarse is None or not passes:
        return None
    shut = _shut(shown, coarse, reach, most)
    if shut is None:
        return None
    fit, reach = shut.fit, shut.reach
    best = best_passes(shown.passes(fit.tdc_deg.value, reach), most)
    if not best:  # a fit led astray by damage: no pass lies about its TDC any more
        return None
    fit = shown.fit(best, fit)
    while (narrower := clear_of_valves(fit, reach)) != reach:
        reach = narrower
        if not (inner := best_passes(shown.passes(fit.tdc_deg.value, reach), most)):
            break
        best = inner
        fit = shown.fit(best, fit)
    return Attempt(fit, best, passes, reach)


def _shut(shown: SensorTrace, coarse: Fit, reach: Reach, most: int) -> Shut | None:
    """Return where the cylinder was shut, with a near fit of it; None where no pass is left."""

    def inside(within: Reach) -> tuple[Pass, ...]:
        return best_passes(shown.passes(coarse.tdc_deg.value, within), most)

    def near(chosen: tuple[Pass, ...], start: Fit | None) -> Fit | None:
        for stage in (FAR, NEAR) if start is None else (NEAR,):
            if chosen:
                start = shown.fit(chosen, start, stage)
        return start

    best = inside(reach)
    first = near(best, coarse)
    if first is None:
        return None
    if first.cost > DRAGGED_COST and first.runs.speed_rpm > SLOW_PEAK_RPM:
        # Compressions that lie apart, by a slip, say, each fit a closed cylinder.
        alone = near((best[worst_of(first)],), first)
        if alone is not None and alone.cost > DRAGGED_COST:
            # Anew from the coarse one on: an open end may have dragged the near one off.
            return shut_window(first, reach, lambda r: near(inside(r), None))
    return Shut(first, reach)
