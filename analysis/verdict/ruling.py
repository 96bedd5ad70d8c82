"""How does a judgement become a verdict?

Decision, reason, next step, and every cylinder's firing TDC.
"""

from __future__ import annotations

from dataclasses import replace

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
from strokewise.analysis.tdc.stop import tdc_by_stop
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


def rule(
    judgement: Judgement,
    profile: Profile,
    sensor: Sensor,
    *,
    events: Events,
    presses: tuple[Press, ...] = (),
    method: Method = "fit",
    clipped: float = 0.0,
) -> Verdict:
    """Return the verdict of one segment; ``health`` is for the caller to add."""
    cylinder = sensor.cylinder or 1
    if method == "stop":
        return _by_stop(judgement, profile, cylinder, events, presses)
    unsound = (SENSOR_ZERO, UNCALIBRATED)
    zero_sound = all(notice.code not in unsound for notice in judgement.warnings)
    odd = oddities(judgement.nodes, profile, sensor, zero_sound=zero_sound)
    if any(notice.code == BURNS for notice in judgement.warnings):
        # A burning charge rises more steeply than air, and an engine that runs is throttled.
        odd = tuple(notice for notice in odd if notice.code == HELD_BY_VALVE)
    counting = count_notices(events, profile.encoder)
    if any(notice.code == HELD_BY_VALVE for notice in odd):
        return Verdict(False, odd[0].remark, (*odd, *counting), probability=0.5, clipped=clipped)
    refusal = judgement.refusal or cranked_backwards(judgement)
    if not refusal and any(notice.code == INDEX_MISMATCH for notice in counting):
        refusal = _other_counts(events, profile.encoder)
    warnings = [
        *odd,
        *counting,
        *judgement.warnings,
        *_clipping(clipped),
        *direction_notices(judgement, profile, cylinder),
    ]
    if sensor.cylinder is None and profile.cylinders > 1:
        warnings.append(notice("cylinder-assumed"))
    fit = judgement.fit
    if refusal or judgement.tdc_deg is None:
        return Verdict(
            decided=False,
            reason=refusal or why_nothing(judgement, clipped, calibrated=bool(sensor.points)),
            warnings=tuple(warnings),
            probability=0.5 if profile.cycle == "four-stroke" else 0.0,
            clipped=clipped,
        )
    angle: Interval | None
    if fit is None or judgement.doubt:  # the humps alone: no more than where their tops are
        method, angle = "peak", judgement.tdc_deg
    else:
        angle = tdc_by(method, judgement, profile)
    if angle is None:
        return Verdict(
            decided=False,
            reason=why_none(method),
            warnings=tuple(warnings),
            probability=max(judgement.phase.even, judgement.phase.odd),
            compression=_compression(judgement, profile, sensor),
            clipped=clipped,
        )
    angle = _carried_on(angle, judgement)
    if fit is not None and method == "fit" and judgement.second_opinion is not None:
        warnings.append(judgement.second_opinion)
    passes = len(fit.runs.time_s) if fit and method == "fit" else len(judgement.passes)
    passes = passes or len(judgement.humps)
    rough = judgement.doubt or _too_rough(angle, judgement)
    if rough:
        verdict = _rough(
            rough,
            judgement,
            angle,
            profile,
            sensor,
            warnings=tuple(warnings),
            clipped=clipped,
        )
        return replace(verdict, reason=_stop_first(odd, verdict.reason))
    tdc = _tdc(angle, judgement, cylinder, method, profile, events, passes)
    candidates = _candidates(judgement, angle.value, profile, cylinder)
    probability = max((c.probability for c in candidates), default=0.0)
    decided = probability >= DECIDED_AT
    firing = firing_tdcs(profile, candidates[0].firing_1_deg) if decided else None
    reason = why(judgement, profile, cylinder, decided, calibrated=bool(sensor.points))
    if not decided and _nothing_there(judgement):
        # Humps that may be no compression at all have no TDC in them either.
        return Verdict(
            decided=False,
            reason=reason,
            warnings=tuple(warnings),
            probability=probability,
            candidates=candidates,
            clipped=clipped,
        )
    turned_back = any(notice.code == TURNED_BACK for notice in warnings)
    if decided and turned_back and direction_matters(profile, cylinder):
        reason = remark("turned-backwards", why=reason, cylinder=cylinder)
    reason = _stop_first(odd, reason)
    return Verdict(
        decided=decided,
        reason=reason,
        warnings=tuple(warnings),
        tdc=tdc,
        firing_deg=firing,
        probability=probability,
        candidates=candidates,
        compression=_compression(judgement, profile, sensor),
        clipped=clipped,
    )


def _stop_first(odd: tuple[Notice, ...], reason: Remark) -> Remark:
    """Say first of all that liquid may stand in the cylinder, where it may."""
    if not any(notice.code == LIQUID for notice in odd):
        return reason
    return remark("stop-turning-first", why=reason)


def _too_rough(angle: Interval, judgement: Judgement) -> Remark | None:
    """Return why TDC is not given where the stroke is known but TDC no better than roughly."""
    most_deg = ROUGHEST_DEG if judgement.phase_alone else TDC_MOST_DEG
    if angle.half_width <= most_deg or judgement.phase.probability < DECIDED_AT:
        return None
    return remark("tdc-too-rough", half_width_deg=angle.half_width)


def _rough(
    refusal: Remark,
    judgement: Judgement,
    angle: Interval,
    profile: Profile,
    sensor: Sensor,
    *,
    warnings: tuple[Notice, ...],
    clipped: float,
) -> Verdict:
    """Return the verdict where TDC is refused: the stroke, if it is known, and the half that is."""
    cylinder = sensor.cylinder or 1
    candidates = tuple(
        replace(c, within_deg=angle.half_width)
        for c in _candidates(judgement, angle.value, profile, cylinder)
    )
    probability = max((c.probability for c in candidates), default=0.0)
    if probability >= DECIDED_AT:
        stroke = why(judgement, profile, cylinder, True, calibrated=bool(sensor.points))
        reason = remark("stroke-without-tdc", tdc=refusal, stroke=stroke)
    else:
        reason = remark("neither-known", tdc=refusal)
    return Verdict(
        decided=False,
        reason=reason,
        warnings=warnings,
        probability=probability,
        candidates=candidates,
        compression=_compression(judgement, profile, sensor),
        clipped=clipped,
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


def _tdc(
    angle: Interval,
    judgement: Judgement,
    cylinder: int,
    method: Method,
    profile: Profile,
    events: Events,
    passes: int,
) -> Tdc:
    wrapped = angle.value % 360.0
    index = index_deg(judgement, profile, events)
    return Tdc(
        angle_deg=angle.shifted(wrapped - angle.value),
        cylinder=cylinder,
        method=method,
        passes=passes,
        after_index_deg=None if index is None else (wrapped - index) % 360.0,
    )


def _by_stop(
    judgement: Judgement,
    profile: Profile,
    cylinder: int,
    events: Events,
    presses: tuple[Press, ...],
) -> Verdict:
    """Return what the contacts with a piston stop say; they know nothing of the strokes."""
    found = tdc_by_stop(judgement.nodes, presses, profile)
    if found.tdc_deg is None:
        return Verdict(decided=False, reason=found.reason, warnings=found.warnings)
    angle = found.tdc_deg
    two_stroke = profile.cycle == "two-stroke"
    places = (angle.value,) if two_stroke else (angle.value, angle.value + 360.0)
    candidates = tuple(
        Candidate(firing_1_from(profile, cylinder, place), 1.0 / len(places)) for place in places
    )
    reason = found.reason
    if not two_stroke:
        reason = remark("stop-without-stroke", found=reason)
    return Verdict(
        decided=two_stroke,
        reason=reason,
        warnings=found.warnings,
        tdc=_tdc(angle, judgement, cylinder, "stop", profile, events, len(found.contacts)),
        firing_deg=firing_tdcs(profile, candidates[0].firing_1_deg) if two_stroke else None,
        probability=candidates[0].probability,
        candidates=candidates,
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


def _candidates(
    judgement: Judgement, tdc: float, profile: Profile, cylinder: int
) -> tuple[Candidate, ...]:
    phase = judgement.phase
    if profile.cycle == "two-stroke":
        return (Candidate(firing_1_from(profile, cylinder, tdc), phase.every),)
    both = [
        Candidate(firing_1_from(profile, cylinder, tdc), phase.even),
        Candidate(firing_1_from(profile, cylinder, tdc + 360.0), phase.odd),
    ]
    return tuple(sorted(both, key=lambda c: -c.probability))


def _compression(judgement: Judgement, profile: Profile, sensor: Sensor) -> Compression | None:
    if not judgement.passes or not sensor.points:  # without known points there is no bar
        return None
    fit = judgement.fit
    zero = fit.zero_bar if fit is not None else 0.0
    peak = median([p.peak_bar for p in judgement.passes]) - zero
    return Compression(peak, peak - profile.atmosphere.pressure_bar, len(judgement.passes))


def _clipping(clipped: float) -> tuple[Notice, ...]:
    if clipped < CLIPPED_MUCH:
        return ()
    return (notice("clipped", share=clipped),)


def no_samples(reason: Remark) -> Verdict:
    """Return the verdict of nothing at all."""
    return Verdict(decided=False, reason=reason)
