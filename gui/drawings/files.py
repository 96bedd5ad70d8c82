"""How does a drawing get into a file of its own?"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from strokewise.analysis.errors import InputError


def write_drawing(name: str, drawings: Mapping[str, str]) -> None:
    """Write an answer's drawing into a new file; its page says why where there is none.

    Raises
    ------
    InputError
        A file of that name is there already.
    """
    if not drawings:
        return
    path = Path(name)
    try:
        with path.open("x", encoding="utf-8") as out:
            out.write(next(iter(drawings.values())))
    except FileExistsError:
        raise InputError(f"{path} is there already: choose another name") from None
