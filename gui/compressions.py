"""What compressions did the cylinders of several recordings show, how fast, after how many passes?

Each recording is read once; what is said of them afterwards is asked of :class:`Measured`.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from strokewise.analysis.compression.compare_answer import CompareQuestion, Measured
from strokewise.analysis.compression.cylinder_compression import (
    CylinderCompression,
    compression_of,
)
from strokewise.analysis.errors import SaidError
from strokewise.analysis.remark import Notice, remark
from strokewise.analysis.tdc.diagnostics import leak_mm2
from strokewise.analysis.verdict.found import Found
from strokewise.analysis.verdict.judge import SENSOR_ZERO, UNCALIBRATED
from strokewise.gui import found
from strokewise.gui.options import EngineSaid
from strokewise.gui.recordings import recordings_named

TOLD_CODES = (SENSOR_ZERO, UNCALIBRATED, "clipped", "cut", "frames-lost")
"""Of what a recording warns of, what bears on its compression."""


def recordings_measured(
    files: Sequence[str | Path], question: CompareQuestion, said: EngineSaid
) -> Measured:
    """Return the compressions of recordings and folders, and of those that were oiled.

    Raises
    ------
    StrokewiseError
        For a file or a profile that cannot be used.
    SaidError
        The cylinders named are not as many as the recordings, or nobody says which one it is.
    """
    dry = recordings_named(map(str, files))
    measured, warnings = _all_measured(dry, "cylinders", question.cylinders, said)
    wet = [Path(name) for name in question.wet]
    oiled, more = _all_measured(wet, "wet_cylinders", question.wet_cylinders, said)
    return Measured(measured, oiled, len(dry), (*warnings, *more))


def _all_measured(
    files: Sequence[Path], field: str, cylinders: Sequence[int] | None, said: EngineSaid
) -> tuple[tuple[CylinderCompression, ...], tuple[Notice, ...]]:
    if cylinders is not None and len(cylinders) != len(files):
        raise SaidError(f"{{{field}}} names {len(cylinders)} for {len(files)} recordings")
    measured: list[CylinderCompression] = []
    warnings: list[Notice] = []
    for number, file in enumerate(files):
        one, told = measured_in(file, said, None if cylinders is None else cylinders[number])
        warnings += [
            Notice(each.code, remark("of-file", file=file.name, said=each.remark)) for each in told
        ]
        if one is not None:
            measured.append(one)
    return tuple(measured), tuple(warnings)


def measured_in(
    file: Path, said: EngineSaid, cylinder: int | None
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
    SaidError
        When nobody says which cylinder it is.
    """
    seen = found.found_in(file, said)
    number = cylinder or recorded_cylinder(seen)
    if number is None:
        raise SaidError(f"{file}: nobody says which cylinder it is; give {{cylinders}}")
    told = tuple(notice for notice in seen.verdict.warnings if notice.code in TOLD_CODES)
    if any(notice.code == UNCALIBRATED for notice in told):  # neither its zero nor its bar is known
        return None, told
    judgement, profile = seen.judgement, seen.profile
    fit = judgement.fit if judgement else None
    firing = tuple(p for p in judgement.passes if p.forward) if judgement else ()
    if fit is None or not firing:
        return None, (*told, Notice("no-compression", seen.verdict.reason))
    compression = compression_of(
        firing,
        fit.zero_bar,
        profile.atmosphere,
        number,
        leak_mm2=leak_mm2(fit, profile),
        tdc_deg=fit.tdc_deg.value,
    )
    if compression is None:
        return None, (*told, Notice("no-compression", remark("peaks-not-above-zero")))
    return compression, told


def recorded_cylinder(seen: Found) -> int | None:
    """Return the sensed cylinder by the recording's own header, else by the profile."""
    engine = seen.header.get("engine")
    table = engine.get("sensor") if isinstance(engine, dict) else None
    first = table[0] if isinstance(table, list) and table else table
    recorded = first.get("cylinder") if isinstance(first, dict) else None
    if isinstance(recorded, int):
        return recorded
    sensors = seen.profile.sensors
    return sensors[0].cylinder if sensors else None
