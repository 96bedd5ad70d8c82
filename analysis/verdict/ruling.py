"""How does a judgement become a verdict?

Decision, reason, next step, and every cylinder's firing TDC.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.crank.angle import DEFAULT_COUNTS_PER_REV, deg_per_count
from strokewise.analysis.crank.count_faults import INDEX_MISMATCH, count_notices, stated_otherwise
from strokewise.analysis.crank.strokes import (
    firing_1_from,
    firing_tdcs,
)
from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median, median_on_circle
from strokewise.analysis.profile import Encoder, Profile, Sensor
from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.analysis.samples import Events, Press
from strokewise.analysis.stroke.phase import PRIOR_NONE
from strokewise.analysis.tdc.liquid import liquid_notices
from strokewise.analysis.tdc.stop import tdc_by_stop
from strokewise.analysis.trace.at_end import overranged
from strokewise.analysis.trace.burning import BURNS
from strokewise.analysis.trace.oddities import HELD_BY_VALVE, LIQUID, oddities
from strokewise.analysis.trace.steady import TDC_DRIFT_PASSES
from strokewise.analysis.verdict.judge import SENSOR_ZERO, UNCALIBRATED, Judgement
from strokewise.analysis.verdict.methods import tdc_by, why_none
from strokewise.analysis.verdict.reasons import why, why_nothing
from strokewise.analysis.verdict.turned_back import (
    TURNED_BACK,
    cranked_backwards,
    direction_matters,
    direction_notices,
)
from strokewise.analysis.verdict.verdict import (
    DECIDED_AT,
    TDC_MOST_DEG,
    AskedMethod,
    Candidate,
    Compression,
    Method,
    Tdc,
    Verdict,
)

ROUGHEST_DEG = 50.0
"""A TDC no surer than this is not told apart from what lies between, where the phase alone was
asked for."""

DRIFT_DOUBT = 0.5
"""Share of a drift carried on that may be wrong: counts are lost by chance, not by the clock."""

NOTHING_BAR = 0.2
"""Rises at TDC that stay below this while the stroke stays open may be no compression at all."""

OTHER_COUNTS_SHARE = 0.01
"""An encoder off by so much of a turn is another than the one stated."""

CLIPPED_MUCH = 0.02
"""Share of clipped samples from which a person should know."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is ruled on: what one sensor showed in a segment, and what was recorded beside it.

    Attributes
    ----------
    events, presses : Events, tuple of Press
        Edges and keys of the segment, on the board's clock.
    clipped : float
        Share of the readings that stood at either end of the converter.
    """

    judgement: Judgement
    profile: Profile
    sensor: Sensor
    events: Events
    presses: tuple[Press, ...] = ()
    method: AskedMethod = "fit"
    clipped: float = 0.0

    @property
    def cylinder(self) -> int:
        """The cylinder sensed; 1 where nobody said."""
        return self.sensor.cylinder or 1

    @property
    def calibrated(self) -> bool:
        """Whether pressures may be named."""
        return bool(self.sensor.points)


def rule(given: Evidence) -> Verdict:
    """Return the verdict of one segment; ``health`` is for the caller to add."""
    if given.method == "stop":
        return _by_stop(given)
    odd, counting = _odd(given), count_notices(given.events, given.profile.encoder)
    if any(notice.code == HELD_BY_VALVE for notice in odd):
        return replace(_open(given, odd[0].remark, (*odd, *counting)), probability=0.5)
    warnings = (*odd, *counting, *_warnings(given))
    refusal = _refusal(given, counting)
    if refusal is None and given.judgement.tdc_deg is None:
        refusal = why_nothing(given.judgement, given.clipped, calibrated=given.calibrated)
    if refusal is not None:
        even = 0.5 if given.profile.cycle == "four-stroke" else 0.0
        return replace(_open(given, refusal, warnings), probability=even)
    method, angle = _placed(given)
    if angle is None:
        return _without_tdc(given, warnings)
    angle = _carried_on(angle, given.judgement)
    if method == "fit" and given.judgement.second_opinion is not None:
        warnings = (*warnings, given.judgement.second_opinion)
    steeper = method == "rough" and any(notice.code == LIQUID for notice in odd)
    doubt = given.judgement.doubt or _too_rough(angle, given.judgement, steeper=steeper)
    if doubt is not None:
        return _rough(given, angle, doubt, warnings)
    return _decided(given, method, angle, warnings)


def _open(given: Evidence, reason: Remark, warnings: tuple[Notice, ...]) -> Verdict:
    """Return the verdict that nothing is known yet, which every other one is made from."""
    return Verdict(decided=False, reason=reason, warnings=warnings, clipped=given.clipped)


def _odd(given: Evidence) -> tuple[Notice, ...]:
    """Return what no cylinder in order shows."""
    told = {notice.code for notice in given.judgement.warnings}
    zero_sound = not told & {SENSOR_ZERO, UNCALIBRATED}
    odd = oddities(given.judgement.nodes, given.profile, given.sensor, zero_sound=zero_sound)
    if BURNS not in told:
        believed = None if given.judgement.doubt else given.judgement.fit
        liquid = liquid_notices(believed, given.profile)
        return odd if any(notice.code == LIQUID for notice in odd) else (*odd, *liquid)
    # A burning charge rises more steeply than air, and an engine that runs is throttled.
    return tuple(notice for notice in odd if notice.code == HELD_BY_VALVE)


def _warnings(given: Evidence) -> tuple[Notice, ...]:
    """Return what a person must know beside the answer, but what is odd or has to be counted."""
    assumed = given.sensor.cylinder is None and given.profile.cylinders > 1
    return (
        *given.judgement.warnings,
        *((notice("clipped", share=given.clipped),) if given.clipped >= CLIPPED_MUCH else ()),
        *overranged(given.judgement.nodes, given.profile),
        *direction_notices(given.judgement, given.profile, given.cylinder),
        *((notice("cylinder-assumed"),) if assumed else ()),
    )


def _refusal(given: Evidence, counting: tuple[Notice, ...]) -> Remark | None:
    """Return why nothing can be said whatever the phase says; None where something can."""
    refusal = given.judgement.refusal or cranked_backwards(given.judgement)
    if refusal is None and any(notice.code == INDEX_MISMATCH for notice in counting):
        return _other_counts(given.events, given.profile.encoder)
    return refusal


def _placed(given: Evidence) -> tuple[Method, Interval | None]:
    """Return TDC by the method asked for; without a fit, or where it is doubted, by the humps."""
    judgement = given.judgement
    if judgement.fit is None or judgement.doubt is not None:
        return "rough", judgement.tdc_deg
    return given.method, tdc_by(given.method, judgement, given.profile)


def _without_tdc(given: Evidence, warnings: tuple[Notice, ...]) -> Verdict:
    """Return the verdict where a method found no TDC in compressions that there are."""
    phase = given.judgement.phase
    return replace(
        _open(given, why_none(given.method), warnings),
        probability=max(phase.even, phase.odd),
        compression=_compression(given),
    )


def _decided(
    given: Evidence, method: Method, angle: Interval, warnings: tuple[Notice, ...]
) -> Verdict:
    """Return the verdict where TDC is known: the stroke may be, or is still open."""
    judgement, profile = given.judgement, given.profile
    candidates = _candidates(given, angle.value)
    probability = max((c.probability for c in candidates), default=0.0)
    decided = probability >= DECIDED_AT
    reason = why(judgement, profile, given.cylinder, decided, calibrated=given.calibrated)
    found = replace(_open(given, reason, warnings), probability=probability, candidates=candidates)
    if not decided and _nothing_there(judgement):
        return found  # humps that may be no compression at all have no TDC in them either
    turned_back = any(notice.code == TURNED_BACK for notice in warnings)
    if decided and turned_back and direction_matters(profile, given.cylinder):
        reason = remark("turned-backwards", why=reason, cylinder=given.cylinder)
    fitted = judgement.fit.runs.time_s if judgement.fit and method == "fit" else judgement.passes
    return replace(
        found,
        decided=decided,
        reason=_stop_first(warnings, reason),
        tdc=_tdc(given, method, angle, len(fitted) or len(judgement.humps)),
        firing_deg=firing_tdcs(profile, candidates[0].firing_1_deg) if decided else None,
        compression=_compression(given),
    )


def _stop_first(warnings: tuple[Notice, ...], reason: Remark) -> Remark:
    """Say first of all that liquid may stand in the cylinder, where it may."""
    if not any(notice.code == LIQUID for notice in warnings):
        return reason
    return remark("stop-turning-first", why=reason)


def _too_rough(angle: Interval, judgement: Judgement, *, steeper: bool) -> Remark | None:
    """Return why TDC is not given where the stroke is known but TDC no better than roughly.

    ``steeper``: by a peak alone, and pressure rose more steeply than air can. With liquid that may
    still be TDC, but counts stated wrongly look the same, and no angle holds then.
    """
    most_deg = ROUGHEST_DEG if judgement.phase_alone else TDC_MOST_DEG
    most_deg = 0.0 if steeper else most_deg
    if angle.half_width <= most_deg or judgement.phase.probability < DECIDED_AT:
        return None
    return remark("tdc-too-rough", half_width_deg=angle.half_width)


def _rough(
    given: Evidence, angle: Interval, doubt: Remark, warnings: tuple[Notice, ...]
) -> Verdict:
    """Return the verdict where TDC is refused: the stroke, if it is known, and the half that is."""
    candidates = tuple(
        replace(c, within_deg=angle.half_width) for c in _candidates(given, angle.value)
    )
    probability = max((c.probability for c in candidates), default=0.0)
    reason = remark("neither-known", tdc=doubt)
    if probability >= DECIDED_AT:
        known = given.calibrated
        stroke = why(given.judgement, given.profile, given.cylinder, True, calibrated=known)
        reason = remark("stroke-without-tdc", tdc=doubt, stroke=stroke)
    return replace(
        _open(given, _stop_first(warnings, reason), warnings),
        probability=probability,
        candidates=candidates,
        compression=_compression(given),
    )


def _nothing_there(judgement: Judgement) -> bool:
    """Return whether what rose at the TDCs may be no compression, so that they are none either."""
    phase = judgement.phase
    if not phase.visits or phase.none < PRIOR_NONE:
        return False
    return max(v.rise_bar for v in phase.visits) < NOTHING_BAR


def _carried_on(angle: Interval, judgement: Judgement) -> Interval:
    """Carry a TDC that drifts on from the passes fitted to the end, half as sure as it is far."""
    if not judgement.drift_deg or not judgement.passes:
        return angle
    middle = float(np.mean([p.tdc_deg for p in judgement.passes[-TDC_DRIFT_PASSES:]]))
    turns = abs(float(judgement.nodes.angle_deg[-1]) - middle) / 360.0
    by = judgement.drift_deg * turns
    doubt = DRIFT_DOUBT * abs(by)
    return Interval(angle.value + by, angle.low + by - doubt, angle.high + by + doubt)


def _tdc(given: Evidence, method: Method, angle: Interval, passes: int) -> Tdc:
    wrapped = angle.value % 360.0
    index = index_deg(given.judgement, given.profile, given.events)
    return Tdc(
        angle_deg=angle.shifted(wrapped - angle.value),
        cylinder=given.cylinder,
        method=method,
        passes=passes,
        after_index_deg=None if index is None else (wrapped - index) % 360.0,
    )


def _by_stop(given: Evidence) -> Verdict:
    """Return what the contacts with a piston stop say; they know nothing of the strokes."""
    profile = given.profile
    found = tdc_by_stop(given.judgement.nodes, given.presses, profile)
    verdict = replace(_open(given, found.reason, found.warnings), clipped=0.0)  # no sensor is asked
    angle = found.tdc_deg
    if angle is None:
        return verdict
    two_stroke = profile.cycle == "two-stroke"
    places = (angle.value,) if two_stroke else (angle.value, angle.value + 360.0)
    firing_1_deg = [firing_1_from(profile, given.cylinder, place) for place in places]
    share = 1.0 / len(places)
    return replace(
        verdict,
        decided=two_stroke,
        reason=found.reason if two_stroke else remark("stop-without-stroke", found=found.reason),
        tdc=_tdc(given, "stop", angle, len(found.contacts)),
        firing_deg=firing_tdcs(profile, firing_1_deg[0]) if two_stroke else None,
        probability=share,
        candidates=tuple(Candidate(firing_1, share) for firing_1 in firing_1_deg),
    )


def index_deg(judgement: Judgement, profile: Profile, events: Events) -> float | None:
    """Return the crank angle in [0, 360) of the encoder's index, met the engine's own way.

    None without an index, or where one encoder turn is not a whole number of crank turns.
    """
    turns = 1.0 / profile.encoder.drive_ratio
    if abs(turns - round(turns)) > 1e-9 or not len(events) or not len(judgement.nodes):
        return None
    own = events.input == 0
    speed = np.interp(
        events.time_us[own] * 1e-6, judgement.nodes.time_s, judgement.nodes.speed_deg_s
    )
    # The edge itself lies at the count's line, met from below: half a cell before its middle.
    line = events.count[own][speed > 0] + (0.5 - 0.5 * profile.encoder.direction)
    if not len(line):
        return None
    return median_on_circle(line * deg_per_count(profile.encoder)) % 360.0


def _other_counts(events: Events, encoder: Encoder) -> Remark | None:
    """Refuse angles that the encoder's own index shows to be wrong by a share of every turn."""
    usual = stated_otherwise(events, encoder)
    stated = encoder.counts_per_rev or DEFAULT_COUNTS_PER_REV
    if usual is None or abs(usual - stated) < OTHER_COUNTS_SHARE * stated:
        return None  # a few counts lost in every turn make TDC drift, which is said by itself
    return remark("index-contradicts-profile", counts=usual, stated=stated)


def _candidates(given: Evidence, tdc: float) -> tuple[Candidate, ...]:
    phase, profile, cylinder = given.judgement.phase, given.profile, given.cylinder
    if profile.cycle == "two-stroke":
        return (Candidate(firing_1_from(profile, cylinder, tdc), phase.every),)
    both = [
        Candidate(firing_1_from(profile, cylinder, tdc), phase.even),
        Candidate(firing_1_from(profile, cylinder, tdc + 360.0), phase.odd),
    ]
    return tuple(sorted(both, key=lambda c: -c.probability))


def _compression(given: Evidence) -> Compression | None:
    judgement = given.judgement
    if not judgement.passes or not given.calibrated:  # without known points there is no bar
        return None
    zero = judgement.fit.zero_bar if judgement.fit is not None else 0.0
    peak = median([p.peak_bar for p in judgement.passes]) - zero
    outside = given.profile.atmosphere.pressure_bar
    return Compression(peak, peak - outside, len(judgement.passes))


def no_samples(reason: Remark) -> Verdict:
    """Return the verdict of nothing at all."""
    return Verdict(decided=False, reason=reason)
