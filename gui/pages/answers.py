"""What does a verdict look like to a program? The JSON objects behind ``--json``."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from importlib import metadata
from typing import Any

from strokewise.analysis.estimate import Interval
from strokewise.analysis.samples import Health
from strokewise.analysis.tdc.diagnostics import Diagnostics
from strokewise.analysis.verdict.find import FindAnswer
from strokewise.analysis.verdict.verdict import Candidate, Compression, Tdc
from strokewise.gui.pages.page import Page
from strokewise.gui.sayings import Told

Answer = dict[str, Any]

ANGLE_DECIMALS = 3  # a tenth of what the best encoder and fit resolve
PROBABILITY_DECIMALS = 9
ROUGH_DECIMALS = 1
PRESSURE_DECIMALS = 2
RATIO_DECIMALS = 2
SHARE_DECIMALS = 6


def base_answer(decided: bool, reason: str, warnings: Iterable[Told] = ()) -> Answer:
    """Return the keys that every answer has."""
    return {
        "decided": decided,
        "reason": reason,
        "warnings": [{"code": notice.code, "text": notice.text} for notice in warnings],
        "version": metadata.version("strokewise"),
    }


def answer_json(page: Page, figures: Answer) -> Answer:
    """Return the JSON object of an answer: what every one has from its page, then its own."""
    return base_answer(page.decided, page.reason, page.warnings) | figures


def find_figures(answer: FindAnswer) -> Answer:
    """Return the keys of ``strokewise find --json`` beside those of every answer."""
    verdict, cycle_deg = answer.verdict, answer.profile.cycle_deg
    figures: Answer = {"tdc": _tdc(verdict.tdc), "firing": None}
    if verdict.decided and verdict.firing_deg is not None:
        figures["firing"] = {
            str(cylinder): _wrapped(angle_deg, cycle_deg)
            for cylinder, angle_deg in verdict.firing_deg.items()
        }
    figures["phase"] = {
        "probability": probability_answer(verdict.probability),
        "candidates": [_candidate(candidate, cycle_deg) for candidate in verdict.candidates],
    }
    figures["compression"] = _compression(verdict.compression)
    if verdict.diagnostics is not None:
        figures["diagnostics"] = _diagnostics(verdict.diagnostics)
    figures["health"] = health_answer(verdict.health, verdict.clipped)
    return figures


def health_answer(health: Health, clipped: float) -> Answer:
    """Return how well the bytes came through; ``clipped`` is a share from 0 to 1."""
    return {
        "samples": health.samples,
        "frames": health.frames,
        "lost_frames": health.lost_frames,
        "bad_frames": health.bad_frames,
        "clipped": round(clipped, SHARE_DECIMALS),
        "segments": health.segments,
    }


def interval_answer(interval: Interval | None, decimals: int = ANGLE_DECIMALS) -> Answer | None:
    """Return ``value``, ``low`` and ``high``; None stays None."""
    if interval is None:
        return None
    return {
        "value": round(interval.value, decimals),
        "low": round(interval.low, decimals),
        "high": round(interval.high, decimals),
    }


def as_line(answer: Answer) -> str:
    """Return an answer as one line of strict JSON (no NaN, no infinity)."""
    return json.dumps(answer, ensure_ascii=False, allow_nan=False)


def _tdc(tdc: Tdc | None) -> Answer | None:
    if tdc is None:
        return None
    angle_deg = tdc.angle_deg
    if round(angle_deg.value, ANGLE_DECIMALS) >= 360.0:
        angle_deg = angle_deg.shifted(-angle_deg.value)  # 359.9999 is printed as 0, not as 360
    after_index = tdc.after_index_deg
    return {
        "angle": round(angle_deg.value, ANGLE_DECIMALS),
        "low": round(angle_deg.low, ANGLE_DECIMALS),
        "high": round(angle_deg.high, ANGLE_DECIMALS),
        "after_index": None if after_index is None else _wrapped(after_index, 360.0),
        "cylinder": tdc.cylinder,
        "method": tdc.method,
        "passes": tdc.passes,
    }


def _candidate(candidate: Candidate, cycle_deg: float) -> Answer:
    answer: Answer = {
        "firing_1": _wrapped(candidate.firing_1_deg, cycle_deg),
        "probability": probability_answer(candidate.probability),
    }
    if candidate.within_deg is not None:
        answer["firing_1_within"] = round(candidate.within_deg, ROUGH_DECIMALS)
    return answer


def _compression(compression: Compression | None) -> Answer | None:
    if compression is None:
        return None
    return {
        "peak": bar_text(compression.peak_bar),
        "peak_gauge": bar_text(compression.peak_gauge_bar),
        "passes": compression.passes,
    }


def _diagnostics(told: Diagnostics) -> Answer:
    return {
        "compression_ratio": interval_answer(told.compression_ratio, RATIO_DECIMALS),
        "leak_hole_mm": interval_answer(told.leak_hole_mm),
        "loss_angle": interval_answer(told.loss_angle_deg),
        "peak_bar_at_200_rpm": interval_answer(told.peak_bar, PRESSURE_DECIMALS),
    }


def bar_text(pressure_bar: float) -> str:
    """Return a pressure as a quantity that pint reads, ``"12.4 bar"``."""
    return f"{round(pressure_bar, PRESSURE_DECIMALS):g} bar"


def _wrapped(angle_deg: float, turn_deg: float) -> float:
    return round(angle_deg % turn_deg, ANGLE_DECIMALS) % turn_deg


def probability_answer(probability: float) -> float:
    """Round towards doubt: a probability must not be lifted over a threshold or to certainty."""
    if probability > 0.5:
        scale = 10.0**PROBABILITY_DECIMALS
        return math.floor(probability * scale) / scale
    return float(f"{probability:.3g}")  # a millionth stays one, it is no zero
