"""What is wrong with this profile, and where? A profile while a person edits it, key by key."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from strokewise.analysis.errors import InputError, ProfileError
from strokewise.analysis.profile import Profile
from strokewise.daq.profile.keys import TABLES, TOP_TABLE, Key, KeyTable
from strokewise.daq.profile.kinds import ChoiceKind, Points
from strokewise.daq.profile.known import check_table
from strokewise.daq.profile.write import profile_to_table
from strokewise.gui.models.setup.known_points import (
    is_point,
    number_of_points,
    point_key,
    point_of,
    point_text,
)

Path = tuple[str | int, ...]


ORDER_PATH: Path = ("firing_order",)


@dataclass(frozen=True, slots=True)
class DraftRow:
    """One key as it stands in the editor.

    Attributes
    ----------
    text : str
        What the person wrote; empty where the key is left out.
    error : str
        What is wrong with it, in place; empty when nothing is.
    choices : tuple of str
        All that may be written; empty where it is not one of a few words.
    """

    path: Path
    label: str
    text: str
    error: str = ""
    choices: tuple[str, ...] = ()


class Draft:
    """A profile being edited.

    Parameters
    ----------
    table : mapping
        As TOML gives it; what the editor does not show is kept as it is.
    """

    def __init__(self, table: Mapping[str, Any]) -> None:
        self._table = _plain(table)
        self._texts: dict[Path, str] = {}
        self._errors: dict[Path, str] = {}
        self.error = ""
        """What is wrong with the whole, where no key can be named."""
        self.profile: Profile | None = None
        self._check()

    @classmethod
    def of(cls, profile: Profile) -> Draft:
        """Return a draft that begins as a profile."""
        return cls(profile_to_table(profile))

    @property
    def rows(self) -> tuple[DraftRow, ...]:
        """Every key that can be edited, in the order of the profile."""
        return tuple(
            DraftRow(path, label, self._text(path), self._errors.get(path, ""), _choices(key))
            for path, label, key in self._keys()
        )

    @property
    def sound(self) -> bool:
        """True when the profile can be used as it stands."""
        return self.profile is not None

    def write(self, path: Path, text: str) -> None:
        """Write a key as a person does, ``82 mm`` or ``[1, 3, 4, 2]``; empty leaves it out."""
        text = text.strip()
        self._texts[path] = text
        if is_point(path) and not text:
            self._forget_points()
        if text:
            _put(self._table, path, value_of(text, path))
        else:
            _take(self._table, path)
        self._check()

    def add_mark(self) -> None:
        """Add a timing mark to be filled in."""
        marks = self._table.setdefault("marks", [])
        marks.append({"name": f"mark {len(marks) + 1}"})
        self._check()

    def remove_mark(self, number: int) -> bool:
        """Take a mark out, counted from 0; False where there was none."""
        marks = self._table.get("marks", [])
        if not 0 <= number < len(marks):
            return False
        del marks[number]
        if not marks:
            del self._table["marks"]
        self._texts = {path: text for path, text in self._texts.items() if path[0] != "marks"}
        self._check()
        return True

    def add_point(self, channel: int, raw: int, pressure: str) -> bool:
        """Add a reading with the pressure that stood there; False where no sensor is on it.

        Parameters
        ----------
        pressure : str
            With its unit, ``"0 bar"``; against what the sensor measures, as all its points.
        """
        found = self._table.get("sensor", [])
        for sensor in [found] if isinstance(found, dict) else found:
            if sensor.get("channel", 0) == channel:
                self._forget_points()
                points = [point for point in sensor.get("points", []) if point[0] != raw]
                sensor["points"] = sorted([*points, [raw, pressure]], key=lambda point: point[0])
                self._check()
                return True
        return False

    def _forget_points(self) -> None:
        """Points are numbered anew."""
        self._texts = {path: text for path, text in self._texts.items() if "points" not in path}

    def add_sensor(self, channel: int | None = None) -> None:
        """Add a sensor on a channel, or on the first that has none, to be filled in."""
        sensors = self._sensors()
        taken = [sensor.get("channel", 0) for sensor in sensors]
        free = next(number for number in range(len(taken) + 1) if number not in taken)
        sensors.append({"channel": free if channel is None else channel})
        self._check()

    def remove_sensor(self, channel: int) -> bool:
        """Take the sensor of a channel out; False where there was none."""
        before = self._sensors()
        kept = [sensor for sensor in before if sensor.get("channel", 0) != channel]
        self._table["sensor"] = kept
        if not kept:
            del self._table["sensor"]
        self._check()
        return len(kept) < len(before)

    def _sensors(self) -> list[dict[str, Any]]:
        """Return the sensors as a list that can be added to; they are numbered anew."""
        found = self._table.get("sensor", [])
        self._table["sensor"] = [found] if isinstance(found, dict) else found
        self._texts = {path: text for path, text in self._texts.items() if path[0] != "sensor"}
        sensors: list[dict[str, Any]] = self._table["sensor"]
        return sensors

    def _text(self, path: Path) -> str:
        if path in self._texts:
            return self._texts[path]
        value: Any = self._table
        for step in path:
            try:
                value = value[step]
            except (KeyError, IndexError, TypeError):
                return ""
        return text_of(value, path)

    def _keys(self) -> list[tuple[Path, str, Key]]:
        found: list[tuple[Path, str, Key]] = [
            ((key.name,), key.name, key) for key in TOP_TABLE.keys
        ]
        for name, spec in TABLES.items():
            if not spec.many:
                found += [((name, key.name), f"{name}.{key.name}", key) for key in spec.keys]
                continue
            # Each of a sensor's known points has a row, and one is left for the next.
            rows = self._table.get(name)
            if isinstance(rows, list):
                for i, row in enumerate(rows):
                    found += _with_points((name, i), f"{name} {i + 1}: ", spec, row)
            elif name == "sensor" or isinstance(rows, dict):
                found += _with_points((name,), f"{name}.", spec, rows)
        return found

    def _check(self) -> None:
        """Check each key by itself, then all of them together."""
        self._errors, self.error, self.profile = {}, "", None
        for path, _, key in self._keys():
            text = self._text(path)
            if not text:
                continue
            try:
                key.kind.read(value_of(text, path))
            except InputError as error:
                self._errors[path] = str(error)
        if self._errors:
            return
        try:
            self.profile = check_table(self._table, "this profile").profile
        except ProfileError as error:
            self._place(str(error))

    def _place(self, error: str) -> None:
        """Put an error about the whole beside the key that it names first."""
        said = error.removeprefix("this profile: ")
        for path, _, _ in self._keys():
            name = ".".join(str(step) for step in path if isinstance(step, str))
            numbered = name
            if len(path) > 2 and isinstance(path[1], int):
                numbered = f"{path[0]} {path[1] + 1}.{path[2]}"
            if said.startswith(tuple(f"{at}{end}" for at in (name, numbered) for end in " :")):
                self._errors[path] = said
                return
        self.error = said


def _with_points(
    path: Path, label: str, spec: KeyTable, row: Any
) -> Iterator[tuple[Path, str, Key]]:
    for key in spec.keys:
        if isinstance(key.kind, Points):
            for i in range(number_of_points(row) + 1):
                yield (*path, key.name, i), f"{label}{key.name} {i + 1}", point_key(key)
        else:
            yield (*path, key.name), f"{label}{key.name}", key


def _choices(key: Key) -> tuple[str, ...]:
    return tuple(map(str, key.kind.options)) if isinstance(key.kind, ChoiceKind) else ()


def value_of(text: str, path: Path = ()) -> Any:
    """Return what a person wrote as TOML would have it: a number, a list, else a text.

    A firing order may be written as everywhere, 1-3-4-2.
    """
    if is_point(path):
        return point_of(text)
    if path == ORDER_PATH and re.fullmatch(r"\d+([-, ]+\d+)*", text):
        return [int(number) for number in re.findall(r"\d+", text)]
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text


def text_of(value: Any, path: Path = ()) -> str:
    """Return a value as a person writes it in the editor."""
    if is_point(path):
        return point_text(value)
    if path == ORDER_PATH and isinstance(value, list):
        return "-".join(map(str, value))
    if isinstance(value, str):
        return value
    if isinstance(value, list):
        return "[" + ", ".join(_inside(item) for item in value) + "]"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _inside(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else text_of(value)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def _put(table: dict[str, Any], path: Path, value: Any) -> None:
    at: Any = table
    for step in path[:-1]:
        fresh: Any = [] if step == "points" else {}
        at = at[step] if isinstance(step, int) else at.setdefault(step, fresh)
    if isinstance(at, list) and path[-1] == len(at):
        at.append(value)
    else:
        at[path[-1]] = value


def _take(table: dict[str, Any], path: Path) -> None:
    at: Any = table
    for step in path[:-1]:
        if isinstance(step, str) and step not in at:
            return
        at = at[step]
    if isinstance(at, list) and isinstance(path[-1], int):
        del at[path[-1] : path[-1] + 1]
        if not at:
            _take(table, path[:-1])
        return
    at.pop(path[-1], None)
    if len(path) == 2 and not at:
        table.pop(str(path[0]), None)
