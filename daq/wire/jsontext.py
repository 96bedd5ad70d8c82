"""Is this text a JSON object that can be used and printed again?"""

from __future__ import annotations

import json
from typing import Any, NoReturn


def parse_object(text: bytes) -> dict[str, Any] | None:
    """Read a JSON object from UTF-8 bytes.

    Parameters
    ----------
    text : bytes
        Whatever a board or a file said.

    Returns
    -------
    dict or None
        None for anything but one object of standard JSON: not UTF-8, NaN, nested without end, or
        a lone surrogate, which no file and no screen could show again.
    """
    try:
        found = json.loads(text.decode("utf-8"), parse_constant=_refuse)
        json.dumps(found, ensure_ascii=False).encode("utf-8")
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def write_object(content: dict[str, Any], *, ascii_only: bool = False) -> bytes:
    """Return the object as compact JSON in UTF-8, or in pure ASCII for the line form.

    Raises
    ------
    ValueError
        When it holds NaN or an infinity, which JSON cannot say.
    """
    text = json.dumps(content, ensure_ascii=ascii_only, separators=(",", ":"), allow_nan=False)
    return text.encode("utf-8")


def _refuse(constant: str) -> NoReturn:
    raise ValueError(f"{constant} is not JSON")
