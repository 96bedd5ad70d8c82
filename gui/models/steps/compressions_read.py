"""What is in the recordings that are compared? Read once, however often they are asked about."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from strokewise.gui.options import SaidOfEngine
from strokewise.gui.steps import about_files
from strokewise.gui.typed import Typed

BEARS_ON_READING = ("cylinders", "wet_cylinders")
"""Fields that say which recording is of which cylinder; no other changes what is read."""


class CompressionsRead:
    """Reads the recordings; what was read last is kept while files and cylinders are the same."""

    def __init__(self) -> None:
        self._key: tuple[Any, ...] = ()
        self._measured: Any = None

    def measured(self, files: tuple[Path, ...], oiled: tuple[Path, ...], typed: Typed) -> Any:
        """Return the compressions.

        Parameters
        ----------
        typed : mapping
            What was said to the step, the oiled recordings among it.

        Raises
        ------
        StrokewiseError
            For a file or a profile that cannot be used.
        """
        said = tuple(tuple(typed.get(field, ())) for field in BEARS_ON_READING)
        key = (files, oiled, *said, *(_stamp(file) for file in (*files, *oiled)))
        if key != self._key:
            self._measured = about_files("compare", files, typed, SaidOfEngine(), in_window=True)
            self._key = key
        return self._measured


def _stamp(file: Path) -> float:
    """Return when a file was written last: one recorded anew is read anew."""
    return file.stat().st_mtime if file.exists() else 0.0
