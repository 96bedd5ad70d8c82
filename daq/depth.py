"""How deep do tables lie in tables? Asked before anything that goes through them level by level."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def nested_deeper(content: Any, most: int) -> bool:
    """Tell whether tables and lists lie within each other more than ``most`` deep.

    Examples
    --------
    >>> from strokewise.daq.depth import nested_deeper
    >>> nested_deeper({"sensor": [{"points": []}]}, 4), nested_deeper({"sensor": [{}]}, 2)
    (False, True)
    """
    level = [content]
    for _ in range(most):
        level = [
            value
            for each in level
            if isinstance(each, (Mapping, list))
            for value in (each.values() if isinstance(each, Mapping) else each)
        ]
        if not any(isinstance(value, (Mapping, list)) for value in level):
            return False
    return True
