"""What is known of an engine, what is assumed, and what would each missing thing sharpen?

The one table behind ``strokewise engine`` and the comments of a new profile.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from strokewise.daq.profile.keys import TABLES, TOP_TABLE
from strokewise.daq.profile.known import DEFAULTS


@dataclass(frozen=True, slots=True)
class Sharpening:
    """One key of the profile.

    Attributes
    ----------
    key : str
        As in ``--set``: ``"valve_timing.at_lift"``.
    example : str
        How it is written in the file.
    sharpens : str
        What knowing it is good for; nothing more than that needs it.
    """

    key: str
    example: str
    sharpens: str

    @property
    def table(self) -> str:
        """The table that it stands in; empty at the top."""
        return self.key.rpartition(".")[0]

    @property
    def name(self) -> str:
        """The key within its table."""
        return self.key.rpartition(".")[2]


_VALVES_OPEN = "cam timing against the manual, the valve bars, and which valves are free when"
_GAPS_JUDGED = "what each gap is to be, and whether one that was measured is good"
_CAM_TEETH_OUT = "how many teeth the cam is out, instead of degrees alone"
_GEAR = "where to start the drive gear so that it ends at its stated angle"
_SLOT = "where to set the oil pump's slot before the drive gear goes in"

SHARPENINGS: tuple[Sharpening, ...] = (
    Sharpening("name", '"Bench four"', "nothing: it tells jobs and sheets apart"),
    Sharpening("cycle", '"four-stroke"', "whether there is an overlap TDC to be told apart"),
    Sharpening(
        "firing_intervals", '["180 deg", "180 deg", "180 deg", "180 deg"]', "an uneven engine"
    ),
    Sharpening("rotation", '"clockwise"', "which way is on, seen from the pulley end"),
    Sharpening("turning_back", '"allowed"', "whether you are ever told to turn back or to rock"),
    Sharpening("compression_ratio", "8.6", "TDC's ±, and pressure over volume at all"),
    Sharpening("bore", '"82 mm"', "how soon heat and leaks show, and a valve's lift"),
    Sharpening("stroke", '"94 mm"', "TDC's ±, with the rod: the piston's own motion"),
    Sharpening("rod_length", '"168 mm"', "TDC's ±, with the stroke: the piston's own motion"),
    Sharpening("pin_offset", '"0 mm"', "TDC itself where the pin stands off the middle"),
    Sharpening("atmosphere.pressure", '"1.013 bar"', "the height of every pressure, in the hills"),
    Sharpening("atmosphere.temperature", '"20 degC"', "what the charge weighs, so its losses"),
    Sharpening("valve_timing.intake_opens_btdc", '"12 deg"', _VALVES_OPEN),
    Sharpening("valve_timing.intake_closes_abdc", '"48 deg"', _VALVES_OPEN),
    Sharpening("valve_timing.exhaust_opens_bbdc", '"46 deg"', _VALVES_OPEN),
    Sharpening("valve_timing.exhaust_closes_atdc", '"14 deg"', _VALVES_OPEN),
    Sharpening("valve_timing.at_lift", '"0 mm"', "which lift those four figures belong to"),
    Sharpening("valves.order", '"EIIEEIIE"', "which valve is which along the head"),
    Sharpening("valves.clearance_inlet", '"0.30 mm"', _GAPS_JUDGED),
    Sharpening("valves.clearance_exhaust", '"0.35 mm"', _GAPS_JUDGED),
    Sharpening("valves.state", '"cold"', "whether the gaps are meant cold or hot"),
    Sharpening("valves.lifters", '"solid"', "whether there is a gap to set at all"),
    Sharpening("valves.adjust", '"screw"', "whether a shim is named instead of a turn"),
    Sharpening("cam_drive.crank_teeth", "21", _CAM_TEETH_OUT),
    Sharpening("cam_drive.cam_teeth", "42", _CAM_TEETH_OUT),
    Sharpening("cam_drive.keyway_offsets", '["0 deg"]', "a sprocket with several keyways"),
    Sharpening("drive_gear.teeth", "10", _GEAR),
    Sharpening("drive_gear.helix_angle", '"45 deg"', _GEAR),
    Sharpening("drive_gear.pitch_diameter", '"25 mm"', _GEAR),
    Sharpening("drive_gear.engagement", '"12 mm"', _GEAR),
    Sharpening("drive_gear.hand", '"right"', _GEAR),
    Sharpening("drive_gear.slot_angle", '"90 deg"', _SLOT),
    Sharpening("drive_gear.slot_depth", '"4 mm"', _SLOT),
    Sharpening("drive_gear.slot", '"turns"', "what to do where the pump's slot stands wrong"),
    Sharpening("distributor.rotation", '"clockwise"', "where each lead stands on the cap"),
    Sharpening("static_timing.advance", '"6 deg BTDC"', "where to stop for the ignition"),
    Sharpening("pulley.radius", '"80 mm"', "degrees in millimetres along the rim"),
    Sharpening("flywheel.teeth", "120", "degrees in teeth of the ring gear"),
    Sharpening("encoder.counts_per_rev", "2400", "every angle; needed unless the board says it"),
    Sharpening("encoder.drive_ratio", "1.0", "an encoder that does not sit on the crank"),
    Sharpening("encoder.direction", "1", "which way the count rises"),
    Sharpening("sensor.channel", "0", "which of the board's readings it is"),
    Sharpening("sensor.place", '"plug hole"', "whether a compression or a suction is looked for"),
    Sharpening("sensor.cylinder", "1", "whose TDC is found"),
    Sharpening("sensor.reference", '"absolute"', "the height of every pressure"),
    Sharpening("sensor.response_time", '"0.4 ms"', "TDC at starter speed: the sensor's lag"),
    Sharpening("sensor.points", '[[102, "0 bar"], [922, "20 bar"]]', "real pressures, TDC's ±"),
)
"""In the order of the file."""

MARKS_SHARPEN = "what each timing mark is meant to show, and which of them lies"


@dataclass(frozen=True, slots=True)
class Assumed:
    """A default that counts because nobody said anything."""

    key: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class EngineKnown:
    """What a profile says, what is assumed beside it, and what is missing.

    Attributes
    ----------
    known : tuple of (str, str)
        Keys and what was said.
    """

    known: tuple[tuple[str, str], ...]
    assumed: tuple[Assumed, ...]
    missing: tuple[Sharpening, ...]


def engine_known(table: Mapping[str, Any]) -> EngineKnown:
    """Return what a profile's table says, and what it leaves open.

    Parameters
    ----------
    table : mapping
        As TOML gives it, checked already.
    """
    known = tuple(_said(table))
    stated = {key for key, _ in known}
    whys = {each.key: each for each in DEFAULTS}
    assumed, missing = [], []
    for each in SHARPENINGS:
        if each.key in stated:
            continue
        if each.key in whys:
            # A default within a table that nobody began concerns nothing.
            if not each.table or each.table in ("atmosphere", "encoder", "sensor", *table):
                default = whys[each.key]
                assumed.append(Assumed(each.key, shown(default.value), default.why))
        else:
            missing.append(each)
    if not table.get("marks"):
        missing.append(Sharpening("marks", "", MARKS_SHARPEN))
    return EngineKnown(known, tuple(assumed), tuple(missing))


def _said(table: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return every key of a profile that is stated, in the order of the file."""
    found = [(key.name, shown(table[key.name])) for key in TOP_TABLE.keys if key.name in table]
    for name, spec in TABLES.items():
        given = table.get(name)
        rows = given if isinstance(given, list) else [given] if given else []
        for i, row in enumerate(rows):
            for key in spec.keys:
                if key.name in row:
                    # The first goes by the name alone, as the table of what sharpens names it.
                    path = f"{name}.{key.name}" if i == 0 else f"{name} {i + 1}.{key.name}"
                    found.append((path, shown(row[key.name])))
    return found


def shown(value: Any) -> str:
    """Return a value as it is written in words: a firing order as 1-3-4-2."""
    if isinstance(value, list) and value and all(isinstance(each, int) for each in value):
        return "-".join(str(each) for each in value)
    if isinstance(value, list):
        return ", ".join(shown(each) for each in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


DEFAULT_OF: dict[str, str] = {each.key: shown(each.value) for each in DEFAULTS}
"""What counts, by key, where nobody says anything."""
