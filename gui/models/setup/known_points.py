"""How is a sensor's known point written on a row of its own? ``102 = 0 bar``, both ways."""

from __future__ import annotations

import re
from typing import Any

from strokewise.daq.profile.keys import Key
from strokewise.daq.profile.kinds import Points

_POINT = re.compile(r"\s*([-+]?[0-9]*\.?[0-9]+)\s*[=:]\s*(\S.*)")


def point_key(key: Key) -> Key:
    """Return the key of one point, from that of all of a sensor's."""
    assert isinstance(key.kind, Points)
    return Key(key.name, key.kind.pairs.each, key.field)


def is_point(path: tuple[str | int, ...]) -> bool:
    """Tell the path of one known point from every other key's."""
    return len(path) > 2 and path[-2] == "points"


def point_of(text: str) -> Any:
    """Return a point as TOML has it, ``[102, "0 bar"]``; text that is none stays as it is."""
    found = _POINT.fullmatch(text)
    if found is None:
        return text
    reading = float(found[1])
    return [int(reading) if reading.is_integer() else reading, found[2].strip()]


def point_text(value: Any) -> str:
    """Return a point as it stands on its row."""
    if isinstance(value, list) and len(value) == 2:
        return f"{value[0]} = {value[1]}"
    return str(value)


def number_of_points(sensor: Any) -> int:
    """Return how many points a sensor's table has."""
    points = sensor.get("points", []) if isinstance(sensor, dict) else []
    return len(points) if isinstance(points, list) else 0
