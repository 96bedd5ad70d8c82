"""How do the answers of a folder become one table? A row a recording, a column a key."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import InputError
from strokewise.daq.recording.atomic import write_atomically

Row = dict[str, Any]


def row_of(answer: Row) -> Row:
    """Return an answer's JSON object as one row.

    Keys within keys are joined by a dot, ``tdc.angle``; a list stays one cell, as JSON.

    Examples
    --------
    >>> row_of({"decided": True, "tdc": {"angle": 81.5}, "warnings": []})
    {'decided': True, 'tdc.angle': 81.5, 'warnings': '[]'}
    """
    return dict(_cells(answer, ""))


def _cells(answer: Row, above: str) -> Iterator[tuple[str, Any]]:
    for key, value in answer.items():
        if isinstance(value, dict):
            yield from _cells(value, f"{above}{key}.")
        elif isinstance(value, list):
            yield above + key, json.dumps(value, ensure_ascii=False)
        else:
            yield above + key, value


def check_parquet() -> None:
    """Say now, and not after an hour of answers, that no table can be written.

    Raises
    ------
    InputError
        When pyarrow is missing.
    """
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError:
        raise InputError(
            "Parquet needs pyarrow: pip install pyarrow, or leave out --parquet"
        ) from None


def write_answers(path: Path, rows: Sequence[Row]) -> None:
    """Write rows as one Parquet table, whole or not at all; what a row lacks is null.

    Raises
    ------
    InputError
        When it cannot be written there.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    names = dict.fromkeys(name for row in rows for name in row)
    table = pa.table({name: [row.get(name) for row in rows] for name in names})
    written = io.BytesIO()
    pq.write_table(table, written)
    try:
        write_atomically(path, written.getvalue())
    except OSError as error:
        raise InputError(f"{path} cannot be written: {error.strerror}") from None
