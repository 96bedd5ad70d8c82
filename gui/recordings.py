"""Which recordings are meant? Files as named, and every recording of a folder."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from strokewise.analysis.errors import InputError
from strokewise.daq.recording.container import RECORDING_SUFFIX


def recordings_named(names: Iterable[str]) -> list[Path]:
    """Return the files named, a folder standing for its recordings in order of name.

    Raises
    ------
    InputError
        When a folder has no recording in it.
    """
    found: list[Path] = []
    for name in names:
        path = Path(name)
        if not path.is_dir():
            found.append(path)
            continue
        inside = sorted(path.glob(f"*{RECORDING_SUFFIX}"))
        if not inside:
            raise InputError(f"{path}: no recording ({RECORDING_SUFFIX}) in this folder")
        found += inside
    return found
