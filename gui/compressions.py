"""What compression did the cylinder of a recording show, how fast, and after how many passes?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from strokewise.analysis.compression.cylinder_compression import (
    Conditions,
    CylinderCompression,
    compression_of,
)
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Notice
from strokewise.analysis.tdc.diagnostics import leak_mm2
from strokewise.analysis.verdict.judge import SENSOR_ZERO, UNCALIBRATED
from strokewise.gui.found import Found, found_in

if TYPE_CHECKING:
    import argparse


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
        None where no compression was seen, or the sensor has no known points to tell one by.

    Raises
    ------
    InputError
        When nobody says which cylinder it is.
    """
    found = found_in(file, args)
    number = cylinder or recorded_cylinder(found)
    if number is None:
        raise InputError(f"{file}: nobody says which cylinder it is; give --cylinders")
    codes = (SENSOR_ZERO, UNCALIBRATED, "clipped", "cut", "frames-lost")
    said = tuple(notice for notice in found.verdict.warnings if notice.code in codes)
    if any(notice.code == UNCALIBRATED for notice in said):  # neither its zero nor its bar is known
        return None, said
    judgement, profile = found.judgement, found.profile
    fit = judgement.fit if judgement else None
    firing = tuple(p for p in judgement.passes if p.forward) if judgement else ()
    if fit is None or not firing:
        return None, (*said, Notice("no-compression", found.verdict.reason))
    compression = compression_of(
        firing,
        fit.zero_bar,
        profile.atmosphere,
        number,
        conditions=conditions,
        leak_mm2=leak_mm2(fit, profile),
    )
    if compression is None:
        return None, (*said, Notice("no-compression", "the peaks are not above zero pressure"))
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
