"""Which method says where TDC is? One entry for the fit and for the published ones beside it."""

from __future__ import annotations

from collections.abc import Callable

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Remark, remark
from strokewise.analysis.tdc import baselines, rocking, volume_baselines
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.verdict.judge import Judgement
from strokewise.analysis.verdict.verdict import AskedMethod

Baseline = Callable[[tuple[Pass, ...], Profile], Interval | None]

BASELINES: dict[str, Baseline] = {
    "peak": lambda passes, profile: baselines.peak(passes),
    "fixed-loss": lambda passes, profile: baselines.fixed_loss(passes),
    "chords": lambda passes, profile: baselines.chords(passes),
    "polytropic": volume_baselines.polytropic,
    "heat-shape": volume_baselines.heat_shape,
}
"""Published methods by the names of :data:`verdict.AskedMethod`."""


def tdc_by(method: AskedMethod, judgement: Judgement, profile: Profile) -> Interval | None:
    """Return TDC of the sensed cylinder by one method, beside the fitted one (the same turn).

    None where there is no fit, or where the method cannot tell.
    """
    fit = judgement.fit
    if fit is None:
        return None
    if method == "rocking":
        found = rocking.centre(judgement.passes)
    elif method in BASELINES:
        found = BASELINES[method](judgement.passes, profile)
    else:
        return fit.tdc_deg
    if found is None:
        return None
    # The phase counts its turns from the fitted TDC: stay on its turn.
    return found.shifted(360.0 * round((fit.tdc_deg.value - found.value) / 360.0))


def why_none(method: AskedMethod) -> Remark:
    """Return why a method gave no TDC although there are compressions, and what to do next."""
    if method == "rocking":
        return remark("rock-both-ways")
    return remark("method-finds-none", method=method)
