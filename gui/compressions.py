"""What compression did the cylinder of a recording show, how fast, and after how many passes?"""

from __future__ import annotations

from math import exp
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from strokewise.analysis.cylinder_compression import (
    REACHED_SHARE,
    Conditions,
    CylinderCompression,
    loss_from_passes,
    passes_to_reach,
)
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Z_95, Interval, Notice
from strokewise.analysis.judge import SENSOR_ZERO, UNCALIBRATED
from strokewise.gui.found import Found, found_in

if TYPE_CHECKING:
    import argparse

    from strokewise.analysis.passes import Pass
    from strokewise.analysis.profile import Profile

PEAK_SCATTER = 0.01
PEAK_SCATTER_WEIGHT = 2
"""A peak wanders by about a hundredth from pass to pass, a prior worth two passes (no source)."""

LEAK_KNOWN_SIGMA = 0.7
"""A leak is reported when its logarithm is known better than this: within a factor of four."""


def measured_in(
    file: Path, args: argparse.Namespace, cylinder: int | None, conditions: Conditions
) -> tuple[CylinderCompression | None, tuple[Notice, ...]]:
    """Return the compression in a recording, and what a person must know of it.

    Parameters
    ----------
    cylinder : int or None
        As typed; else the recording's own header says, else the profile.

    Returns
    -------
    CylinderCompression or None
        None where no compression was seen.

    Raises
    ------
    InputError
        When nobody says which cylinder it is.
    """
    found = found_in(file, args)
    number = cylinder or recorded_cylinder(found)
    if number is None:
        raise InputError(f"{file}: nobody says which cylinder it is; give --cylinders")
    passes, zero_bar, leak = _passes(found)
    codes = (SENSOR_ZERO, UNCALIBRATED, "clipped", "cut", "frames-lost")
    said = tuple(notice for notice in found.verdict.warnings if notice.code in codes)
    if not passes:
        return None, (*said, Notice("no-compression", found.verdict.reason))
    peaks = np.array([p.peak_bar for p in passes]) - zero_bar
    speeds = np.array([p.speed_rpm for p in passes])
    if peaks.max() <= 0:
        return None, (*said, Notice("no-compression", "the peaks are not above zero pressure"))
    top = peaks >= REACHED_SHARE * peaks.max()
    compression = CylinderCompression(
        cylinder=number,
        peak=_peak(peaks[top]),
        speed_rpm=float(np.median(speeds[top])),
        atmosphere=found.profile.atmosphere,
        passes=int(top.sum()),
        conditions=conditions,
        passes_to_peak=passes_to_reach(peaks.tolist()),
        # the first pass may have begun half-way up
        loss_rpm=loss_from_passes(peaks[1:].tolist(), speeds[1:].tolist()),
        leak_mm2=leak,
    )
    return compression, said


def recorded_cylinder(found: Found) -> int | None:
    """Return the sensed cylinder by the recording's own header, else by the profile."""
    engine = found.recording.header.get("engine")
    table = engine.get("sensor") if isinstance(engine, dict) else None
    first = table[0] if isinstance(table, list) and table else table
    recorded = first.get("cylinder") if isinstance(first, dict) else None
    if isinstance(recorded, int):
        return recorded
    sensors = found.profile.sensors
    return sensors[0].cylinder if sensors else None


def _passes(found: Found) -> tuple[tuple[Pass, ...], float, Interval | None]:
    """Compressions turned the engine's own way, the sensor's zero, and the leak."""
    judgement = found.judgement
    if judgement is None or judgement.fit is None:
        return (), 0.0, None
    firing = [p for p in judgement.passes if p.forward]
    fit = judgement.fit
    leak = _leak(fit.values["log_leak"], fit.sigmas.get("log_leak"), found.profile)
    return tuple(firing), float(np.median(fit.values["zero_bar"])), leak


def _leak(log_leak: np.ndarray, sigma: float | None, profile: Profile) -> Interval | None:
    """Leaking area in mm²; None where the bore or stroke is unknown, or the fit can't tell."""
    if sigma is None or sigma > LEAK_KNOWN_SIGMA or not (profile.bore_mm and profile.stroke_mm):
        return None
    displaced_m3 = np.pi / 4 * profile.bore_mm**2 * profile.stroke_mm * 1e-9
    middle = float(np.median(log_leak)) + float(np.log(displaced_m3 * 1e6))
    return Interval(exp(middle), exp(middle - Z_95 * sigma), exp(middle + Z_95 * sigma))


def _peak(peaks: np.ndarray) -> Interval:
    value = float(np.median(peaks))
    rest = float(np.sum((peaks / value - 1) ** 2))
    square = (PEAK_SCATTER_WEIGHT * PEAK_SCATTER**2 + rest) / (PEAK_SCATTER_WEIGHT + len(peaks) - 1)
    return Interval.from_sigma(value, value * float(np.sqrt(square / len(peaks))))
