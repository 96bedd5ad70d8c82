"""What is known of this engine and rig? One checked profile, from everyone who said something.

The command line goes before the ``--engine`` file, that before the profile inside the recording,
that before what the board says in its hello, that before :data:`DEFAULTS`. With nothing said at
all there is still a profile: the sensed cylinder alone.
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

from strokewise.analysis.errors import InputError, ProfileError
from strokewise.analysis.profile import Profile, even_intervals_deg
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.samples import Board
from strokewise.daq.profile.checks import check_profile, profile_notices
from strokewise.daq.profile.keys import TABLES, TOP_TABLE, KeyTable
from strokewise.daq.profile.layers import (
    COMMAND_LINE,
    HELLO,
    RECORDED,
    KeyPath,
    Layer,
    board_layer,
    load_profile,
    merge_layers,
    override_layer,
    own_path,
    recorded_layer,
    sources_of,
    where_said,
)
from strokewise.daq.profile.write import profile_to_table, profile_to_toml, write_profile

__all__ = [
    "DEFAULTS",
    "Default",
    "KnownEngine",
    "check_table",
    "defaults_text",
    "known_engine",
    "load_profile",
    "profile_to_table",
    "profile_to_toml",
    "resolve_layers",
    "write_profile",
]


@dataclass(frozen=True, slots=True)
class Default:
    """What is assumed where nobody says anything about a key."""

    key: str
    value: Any
    why: str


DEFAULTS: tuple[Default, ...] = (
    Default("cycle", "four-stroke", "by far the most common"),
    Default("firing_intervals", "even", "the cycle shared out evenly over the cylinders"),
    Default("pin_offset", "0 mm", "most pins are central; a workshop manual names an offset"),
    Default("atmosphere.pressure", "1.013 bar", "the standard atmosphere at sea level"),
    Default("atmosphere.temperature", "20 degC", "a workshop"),
    Default("valve_timing.at_lift", "0 mm", "figures belong to the valve leaving its seat"),
    Default("valves.state", "cold", "how most clearances are set"),
    Default("valves.lifters", "solid", "only these have a clearance to set"),
    Default("valves.adjust", "screw", "screw and locknut"),
    Default("cam_drive.keyway_offsets", ["0 deg"], "a sprocket with one keyway"),
    Default("marks.on", "pulley", "where most timing marks are"),
    Default("marks.turn", "both", "a mark on the crank passes on both turns"),
    Default("encoder.drive_ratio", 1.0, "clamped on the crank"),
    Default("encoder.direction", 1, "the count rises as the engine turns the right way"),
    Default("sensor.channel", 0, "the first reading of each sample"),
    Default("sensor.place", "plug hole", "a compression is seen best there"),
)
"""The one list of defaults. A key that is not in it is unknown when nobody states it."""


@dataclass(frozen=True, slots=True)
class KnownEngine:
    """The engine profile that counts, and what a person must know about how it came about.

    Attributes
    ----------
    profile : Profile
        Checked and complete.
    notices : tuple of Notice
        ``"engine-unknown"``, ``"counts-contradiction"``, ``"cylinder-contradiction"``,
        ``"cam-teeth"``, ``"mark-turn"``.
    stated : bool
        False when nobody gave cylinders and firing order, so that only the sensed cylinder can be
        named.
    layers : tuple of Layer
        Everyone who said something, the first one winning.

    Examples
    --------
    >>> from strokewise.daq import known_engine
    >>> known = known_engine()  # nobody said anything
    >>> known.stated, [notice.code for notice in known.notices]
    (False, ['engine-unknown'])
    """

    profile: Profile
    notices: tuple[Notice, ...] = ()
    stated: bool = True
    layers: tuple[Layer, ...] = field(default=(), compare=False, repr=False)

    def said_by(self, *path: str | int) -> tuple[str, ...]:
        """Return who said what stands at a key, and at each key below it; empty where nobody did.

        Examples
        --------
        >>> from strokewise.daq import known_engine
        >>> known = known_engine(overrides=["cylinders=4", "firing_order=1-3-4-2"])
        >>> known.said_by("cylinders"), known.said_by("pin_offset")
        (('command line',), ())
        """
        return sources_of(self.layers, path)


def known_engine(
    *,
    overrides: Iterable[str] = (),
    engine: Path | str | Layer | None = None,
    header: Mapping[str, Any] | None = None,
    board: Board | None = None,
) -> KnownEngine:
    """Put together what everyone says of the engine.

    Parameters
    ----------
    overrides : iterable of str
        ``key=value`` of the command line.
    engine : path or Layer, optional
        The profile file, or its layer when it has been loaded already.
    header : mapping, optional
        The recording's header, of which ``engine`` counts.
    board : Board, optional
        The hello of the segment in question.

    Raises
    ------
    ProfileError
        One line that names source, line, key and value, what is wrong and the right form.

    Examples
    --------
    >>> from strokewise.daq import known_engine
    >>> said = ["cylinders=4", "firing_order=1-3-4-2", "rod_length=5.8 in"]
    >>> round(known_engine(overrides=said).profile.rod_length_mm, 2)
    147.32
    """
    layers = [override_layer(overrides)]
    if engine is not None:
        layers.append(engine if isinstance(engine, Layer) else load_profile(engine))
    layers.append(recorded_layer(header or {}))
    return resolve_layers(layers, board)


def resolve_layers(layers: Sequence[Layer], board: Board | None = None) -> KnownEngine:
    """Merge the layers, the first one winning, read every key and check the whole.

    Raises
    ------
    ProfileError
        As :func:`known_engine`.
    """
    reading = _Reading([*layers, board_layer(board)])
    profile, stated = reading.profile()
    check_profile(profile, reading.refuse)
    notices = list(profile_notices(profile))
    if not stated:
        notices.append(notice("engine-unknown"))
    return KnownEngine(
        profile, (*reading.contradictions(profile), *notices), stated, tuple(reading.layers)
    )


def check_table(table: Mapping[str, Any], source: str = "engine profile") -> KnownEngine:
    """Read a table that is no file, such as an editor's.

    Raises
    ------
    ProfileError
        As :func:`known_engine`.
    """
    return resolve_layers([Layer(source, table)])


def defaults_text() -> str:
    """Return the list of defaults for printing, one a line."""
    shown = [(default.key, _shown(default.value), default.why) for default in DEFAULTS]
    wide = [max(len(row[column]) for row in shown) for column in (0, 1)]
    return "\n".join(f"{key:<{wide[0]}}  {value:<{wide[1]}}  {why}" for key, value, why in shown)


class _Reading:
    """Reads the merged table of some layers; knows where everything was said."""

    def __init__(self, layers: Sequence[Layer]) -> None:
        self.layers = layers
        self.table = merge_layers(layers)

    def refuse(self, path: KeyPath, what: str) -> NoReturn:
        """Raise the error for the key at a path."""
        path = own_path(self.table, path) or path
        value: Any = self.table
        for step in path:
            value = value.get(step, {}) if isinstance(value, Mapping) else value[step]
        said = "" if isinstance(value, Mapping) else f" = {_shown(value)}"
        raise ProfileError(f"{where_said(self.layers, path)}: {_label(path)}{said}: {what}")

    def profile(self) -> tuple[Profile, bool]:
        """Return the profile, and whether its engine was stated at all."""
        self._refuse_unknown(self.table, TOP_TABLE, ())
        values = self._keys(TOP_TABLE, self.table, ())
        stated = "cylinders" in values or "firing_order" in values
        if not stated:
            values |= {"cylinders": 1, "firing_order": (1,)}
        for missing, other in (("cylinders", "firing_order"), ("firing_order", "cylinders")):
            if missing not in values:
                self.refuse(
                    (other,), f"{missing} must be given as well, such as {_EXAMPLE_LINES[missing]}"
                )
        for name, spec in TABLES.items():
            if name in self.table:
                values |= self._table(name, spec)
        cycle_deg = 360.0 if values.get("cycle") == "two-stroke" else 720.0
        values.setdefault(
            "firing_intervals_deg", even_intervals_deg(values["cylinders"], cycle_deg)
        )
        return Profile(**values), stated

    def contradictions(self, profile: Profile) -> tuple[Notice, ...]:
        """Return the warnings where two sources disagree about the rig of this recording."""
        return (*self._counts_contradiction(profile), *self._cylinder_contradiction(profile))

    def _counts_contradiction(self, profile: Profile) -> tuple[Notice, ...]:
        path = ("encoder", "counts_per_rev")
        hello = self._said_by(HELLO)
        if hello is None or not hello.names(path):
            return ()
        board_counts = hello.table["encoder"]["counts_per_rev"]
        counts = profile.encoder.counts_per_rev
        if counts == board_counts:
            return ()
        where = where_said(self.layers, path)
        return (notice("counts-contradiction", where=where, counts=counts, board=board_counts),)

    def _cylinder_contradiction(self, profile: Profile) -> tuple[Notice, ...]:
        """A profile file kept for one engine easily names another cylinder than was recorded."""
        path = ("sensor", "cylinder")
        recorded, said = self._said_by(RECORDED), self._said_by(COMMAND_LINE)
        if recorded is None or not recorded.names(path) or len(profile.sensors) != 1:
            return ()
        if said is not None and said.names(path):
            return ()
        sensor = recorded.table["sensor"]
        there = (sensor[0] if isinstance(sensor, list) else sensor)["cylinder"]
        here = profile.sensors[0].cylinder
        if here == there:
            return ()
        where = where_said(self.layers, path)
        return (notice("cylinder-contradiction", where=where, used=here, recorded=there),)

    def _said_by(self, source: str) -> Layer | None:
        return next((layer for layer in self.layers if layer.source == source), None)

    def _table(self, name: str, spec: KeyTable) -> dict[str, Any]:
        """Return the attributes of the profile that one table becomes."""
        table = self.table[name]
        if spec.many:
            single = isinstance(table, Mapping)
            entries: Any = [table] if single else table
            if not isinstance(entries, list) or not all(isinstance(e, Mapping) for e in entries):
                self.refuse((name,), f"must be tables, each headed [[{name}]]")
            paths: list[KeyPath] = [(name,)] if single else [(name, i) for i in range(len(entries))]
            built = [self._built(spec, *pair) for pair in zip(entries, paths, strict=True)]
            return {str(spec.field): tuple(built)}
        if not isinstance(table, Mapping):
            self.refuse((name,), f"must be a table, headed [{name}]")
        if spec.field is None:
            self._refuse_unknown(table, spec, (name,))
            return self._keys(spec, table, (name,))
        return {spec.field: self._built(spec, table, (name,))}

    def _built(self, spec: KeyTable, table: Mapping[str, Any], path: KeyPath) -> Any:
        """Return what one table builds."""
        assert spec.builds is not None
        self._refuse_unknown(table, spec, path)
        values = self._keys(spec, table, path)
        missing = [key.name for key in spec.keys if key.needed and key.field not in values]
        if missing:
            self.refuse(path, f"{' and '.join(missing)} must be given as well")
        if spec.field == "atmosphere" and values:
            values["stated"] = True
        return spec.builds(**values)

    def _keys(self, spec: KeyTable, table: Mapping[str, Any], path: KeyPath) -> dict[str, Any]:
        """Return the read values of one table by attribute."""
        values = {}
        for key in spec.keys:
            if key.name in table:
                try:
                    values[key.field] = key.kind.read(table[key.name])
                except InputError as error:
                    self.refuse((*path, key.name), str(error))
        return values

    def _refuse_unknown(self, table: Mapping[str, Any], spec: KeyTable, path: KeyPath) -> None:
        """Refuse the first key that nobody knows, naming the nearest that is known."""
        known = [key.name for key in spec.keys] + ([] if path else list(TABLES))
        for name in table:
            if name not in known:
                where = where_said(self.layers, (*path, name))
                label = _label((*path, name))
                raise ProfileError(f"{where}: unknown key {label}; {_nearest(name, known, path)}")


_EXAMPLE_LINES = {"cylinders": "cylinders = 4", "firing_order": "firing_order = [1, 3, 4, 2]"}


def _nearest(name: str, known: Sequence[str], path: KeyPath) -> str:
    """Return the hint for an unknown key: the nearest known here, else elsewhere, else all."""
    near = difflib.get_close_matches(name, known, n=1)
    if near:
        return (
            f"did you mean {_label((*[step for step in path if isinstance(step, str)], near[0]))}?"
        )
    elsewhere = {key.name: table for table, spec in TABLES.items() for key in spec.keys}
    elsewhere |= dict.fromkeys((key.name for key in TOP_TABLE.keys), "")
    near = difflib.get_close_matches(name, elsewhere, n=1)
    if near:
        return f"did you mean {'.'.join(filter(None, (elsewhere[near[0]], near[0])))}?"
    return f"known here: {', '.join(known)}"


def _label(path: KeyPath) -> str:
    """Return a key as a person writes it, a table of several counted from 1: ``marks 2.stated``."""
    label = ""
    for step in path:
        label += f" {step + 1}" if isinstance(step, int) else f".{step}"
    return label.removeprefix(".")


def _shown(value: Any) -> str:
    """Return a value as it stood, on one line and not too long."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "…"
