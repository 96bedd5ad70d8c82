"""Who said what about the engine? Profile tables in layers, and the file and line behind each key.

A layer is one source: the command line, a file, the profile inside a recording, the board's hello.
The first layer that names a key wins; tables are merged key by key, arrays are replaced whole.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import ProfileError
from strokewise.analysis.samples import Board
from strokewise.daq.depth import nested_deeper

KeyPath = tuple[str | int, ...]
"""Keys from the outside in; a number picks a table of an array, counted from 0."""

LARGEST_FILE = 256 * 1024  # bytes; a profile is a page or two, anything larger is another file

DEEPEST = 8
"""Tables within tables; the keys that there are need three."""

MOST_TRIED = 200_000
"""Characters read while looking for where statements of several lines end: a second at most."""

COMMAND_LINE = "command line"
RECORDED = "profile inside the recording"
HELLO = "the board's hello"


@dataclass(frozen=True)
class Layer:
    """What one source says of the engine.

    Attributes
    ----------
    source : str
        The file's name or another word for where the table comes from.
    table : mapping
        Keys and values as TOML gives them, not yet checked.
    text : str or None
        The TOML behind the table, to find lines in; None for what was never a file.
    """

    source: str
    table: Mapping[str, Any]
    text: str | None = None

    @cached_property
    def _lines(self) -> dict[KeyPath, int]:
        return key_lines(self.text) if self.text is not None else {}

    def where(self, path: KeyPath) -> str:
        """Return the source, and the line of the key or of the nearest table around it."""
        own = own_path(self.table, path) or path
        for length in range(len(own), 0, -1):
            line = self._lines.get(own[:length])
            if line is not None:
                return f"{self.source}, line {line}"
        return self.source

    def names(self, path: KeyPath) -> bool:
        """Tell whether this layer itself has a value at the path."""
        return own_path(self.table, path) is not None


def own_path(table: Mapping[str, Any], path: KeyPath) -> KeyPath | None:
    """Return the path as this table has it, or None where the table has nothing there.

    A single ``[sensor]`` and a list of one ``[[sensor]]`` are the same thing, so the number 0 may
    be too much or missing.
    """
    node: Any = table
    own: list[str | int] = []
    for step in path:
        if isinstance(node, Mapping) and step == 0:
            continue
        if isinstance(node, list) and isinstance(step, str) and len(node) == 1:
            node = node[0]
            own.append(0)
        try:
            node = node[step]
        except (KeyError, IndexError, TypeError):
            return None
        own.append(step)
    return tuple(own)


def load_profile(path: Path | str) -> Layer:
    """Read an engine profile file into a layer, without judging its values.

    Raises
    ------
    ProfileError
        The file cannot be read, is no text, or is not TOML; with the file and, where there is one,
        the line.
    """
    file = Path(path)
    try:
        with file.open("rb") as stream:
            raw = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ProfileError(f"{file}: cannot read the engine profile: {reason}") from None
    if len(raw) > LARGEST_FILE:
        raise ProfileError(
            f"{file}: larger than {LARGEST_FILE // 1024} kB, so not an engine profile"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ProfileError(f"{file}: not UTF-8 text, so not an engine profile") from None
    return layer_from_toml(text, str(file))


def table_said(engine: Path | str | None, settings: Iterable[str]) -> dict[str, Any]:
    """Return what a person said of the engine, for a recording's header; nothing is assumed.

    Raises
    ------
    ProfileError
        As :func:`load_profile` and :func:`override_layer`.
    """
    said = [override_layer(settings)]
    return merge_layers(said if engine is None else [*said, load_profile(engine)])


def layer_from_toml(text: str, source: str) -> Layer:
    """Read TOML text into a layer; ``source`` names it in errors.

    Raises
    ------
    ProfileError
        The text is not TOML.
    """
    text = text.replace("\r\n", "\n")
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise ProfileError(_syntax_error(source, str(error))) from None
    _refuse_deep(table, source)
    return Layer(source, table, text)


def _refuse_deep(table: Mapping[str, Any], source: str) -> None:
    """Whatever goes through a table later does so level by level."""
    if nested_deeper(table, DEEPEST):
        raise ProfileError(
            f"{source}: tables within tables, over {DEEPEST} deep, so not an engine profile"
        )


def recorded_layer(header: Mapping[str, Any]) -> Layer:
    """Return the layer of the profile inside a recording's header; empty where there is none.

    Raises
    ------
    ProfileError
        ``engine`` is there but is no table.
    """
    table = header.get("engine")
    if table is None:
        table = {}
    if not isinstance(table, Mapping):
        raise ProfileError(f"{RECORDED}: engine is not a table, so it cannot be used")
    _refuse_deep(table, RECORDED)
    return Layer(RECORDED, table)


def board_layer(board: Board | None) -> Layer:
    """Return what the board's hello says of the rig: its counts, and names for its mark inputs.

    A hello comes from a device, not from a person, so what makes no sense in it is left out.
    """
    table: dict[str, Any] = {}
    if board is not None:
        if board.counts_per_rev is not None and board.counts_per_rev > 0:
            table["encoder"] = {"counts_per_rev": board.counts_per_rev}
        named: dict[str, int] = {}
        for number, name in enumerate(board.marks, start=1):
            if isinstance(name, str) and name.strip() and name.isprintable():
                named.setdefault(name, number)
        if named:
            table["marks"] = [{"name": name, "input": number} for name, number in named.items()]
    return Layer(HELLO, table)


def parse_override(text: str) -> dict[str, Any]:
    """Read one ``key=value`` of the command line into a table.

    The value is TOML where it can be (``9``, ``[1, 3, 4, 2]``, ``"82 mm"``), else it is the text as
    it stands, so that ``bore=82 mm`` needs no second pair of quotes. A firing order may also be
    written ``1-3-4-2``.

    Raises
    ------
    ProfileError
        There is no ``=``, or the key is not one or more names joined by dots.

    Examples
    --------
    >>> parse_override("encoder.counts_per_rev=1440")
    {'encoder': {'counts_per_rev': 1440}}
    """
    key, equals, raw = text.partition("=")
    names = [name.strip() for name in key.split(".")]
    if (
        not equals
        or len(names) > DEEPEST
        or not all(re.fullmatch(r"[A-Za-z0-9_-]+", name) for name in names)
    ):
        raise ProfileError(
            f"{COMMAND_LINE}: {text!r} is not key=value, such as encoder.counts_per_rev=1440"
        )
    value = _override_value(raw.strip())
    if names == ["firing_order"] and isinstance(value, str):
        cylinders = re.split(r"\s*[-,\s]\s*", value)
        if all(cylinder.isascii() and cylinder.isdigit() for cylinder in cylinders):
            value = [int(cylinder) for cylinder in cylinders]
    for name in reversed(names):
        value = {name: value}
    table: dict[str, Any] = value
    return table


def override_layer(texts: Iterable[str]) -> Layer:
    """Return the layer of all ``key=value`` of one command; a later one goes before an earlier."""
    table: dict[str, Any] = {}
    for text in texts:
        table = merge_tables(parse_override(text), table)
    return Layer(COMMAND_LINE, table)


def merge_tables(first: Mapping[str, Any], second: Mapping[str, Any]) -> dict[str, Any]:
    """Return one table in which ``first`` goes before ``second``.

    A single table over an array of one merges with that one, so that ``--set sensor.cylinder=2``
    reaches the only ``[[sensor]]`` of a file.
    """
    merged = dict(second)
    for key, value in first.items():
        below = merged.get(key)
        if isinstance(value, Mapping) and isinstance(below, list) and len(below) == 1:
            below = below[0]
        if isinstance(value, Mapping) and isinstance(below, Mapping):
            merged[key] = merge_tables(value, below)
        else:
            merged[key] = value
    return merged


def merge_layers(layers: Sequence[Layer]) -> dict[str, Any]:
    """Return one table of all layers, the first one winning."""
    merged: dict[str, Any] = {}
    for layer in reversed(layers):
        merged = merge_tables(layer.table, merged)
    return merged


def where_said(layers: Sequence[Layer], path: KeyPath) -> str:
    """Return the source (and line) of the layer that a key of the merged table came from."""
    for length in range(len(path), 0, -1):
        for layer in layers:
            if layer.names(path[:length]):
                return layer.where(path[:length])
    return layers[0].source if layers else "engine profile"


def sources_of(layers: Sequence[Layer], path: KeyPath) -> tuple[str, ...]:
    """Return whose word counts at a path and at every key below it, each once, in their order.

    Tables are merged key by key, so one table may have several sources.
    """
    merged = merge_layers(layers)
    own = own_path(merged, path)
    node: Any = merged
    for step in own or ():
        node = node[step]
    if own is None:
        return ()
    keys = [(*path, key) for key in node] if isinstance(node, Mapping) and node else [path]
    winners = [next((each for each in layers if each.names(key)), None) for key in keys]
    found = {each.source for each in winners if each is not None}
    return tuple(each.source for each in layers if each.source in found)


def key_lines(text: str) -> dict[KeyPath, int]:
    """Return the line, counted from 1, on which each key and table of valid TOML begins.

    tomllib tells no positions, but a single statement of TOML is TOML: lines are gathered until
    they parse on their own, up to ``MOST_TRIED``: keys further down have no line then.
    """
    found: dict[KeyPath, int] = {}
    prefix: KeyPath = ()
    lines = text.split("\n")
    at = tried = 0
    while at < len(lines) and tried < MOST_TRIED:
        begins = at
        statement = lines[at]
        parsed = _parsed(statement)
        while parsed is None and at + 1 < len(lines) and tried < MOST_TRIED:
            tried += len(statement)
            at += 1
            statement += "\n" + lines[at]
            parsed = _parsed(statement)
        at += 1
        if not parsed:
            continue  # an empty line or a comment
        if lines[begins].lstrip().startswith("["):
            prefix = _header_path(parsed, found)
            found.setdefault(prefix, begins + 1)
        else:
            _note_keys(parsed, prefix, begins + 1, found)
    return found


def _parsed(statement: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(statement)
    except (ValueError, RecursionError):
        return None


def _header_path(parsed: dict[str, Any], found: Mapping[KeyPath, int]) -> KeyPath:
    """Return the path of a ``[table]`` or of the next ``[[table]]``."""
    path: KeyPath = ()
    node: Any = parsed
    while node:
        if isinstance(node, list):
            number = 0
            while (*path, number) in found:
                number += 1
            return (*path, number)
        name = next(iter(node))
        path, node = (*path, name), node[name]
    return path


def _note_keys(node: Any, prefix: KeyPath, line: int, found: dict[KeyPath, int]) -> None:
    """Note the line of every key of one statement, inline and dotted tables included."""
    if isinstance(node, dict):
        for name, value in node.items():
            found.setdefault((*prefix, name), line)
            _note_keys(value, (*prefix, name), line, found)


def _override_value(raw: str) -> Any:
    """Return a command line value as TOML would have it, or as the text it is."""
    try:
        table = tomllib.loads(f"value = {raw}")
    except (ValueError, RecursionError):
        return raw
    value = table["value"]
    plain = isinstance(value, (bool, int, float, str, list, dict))  # 1-3-4-2 may look like a date
    return value if plain and len(table) == 1 else raw


def _syntax_error(source: str, message: str) -> str:
    """Put tomllib's message on one line, the place first."""
    found = re.fullmatch(r"(.*) \(at line (\d+), column (\d+)\)", message, re.DOTALL)
    if found is not None:
        what, line, column = found.groups()
        return f"{source}, line {line}, column {column}: not valid TOML: {what}"
    return f"{source}: not valid TOML: {' '.join(message.split())}"
