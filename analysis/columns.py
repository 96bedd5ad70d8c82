"""Arrays of one length, side by side in a frozen dataclass: how are some rows taken, or joined?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

    Table = TypeVar("Table", bound=DataclassInstance)


def rows_of(table: Table, which: slice | NDArray[np.bool_]) -> Table:
    """Return the same with some rows of every array; a slice gives views."""
    return replace(table, **{name: getattr(table, name)[which] for name in _columns(table)})


def end_to_end(parts: Sequence[Table]) -> Table:
    """Return the arrays of one or more, end to end; what is no array is the first one's."""
    if len(parts) == 1:
        return parts[0]
    return replace(
        parts[0],
        **{name: np.concatenate([getattr(p, name) for p in parts]) for name in _columns(parts[0])},
    )


def _columns(table: DataclassInstance) -> list[str]:
    return [f.name for f in fields(table) if isinstance(getattr(table, f.name), np.ndarray)]
