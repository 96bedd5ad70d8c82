"""How does a workshop call the keys of a profile, and in which group does it look for them?"""

from __future__ import annotations

from dataclasses import dataclass

from strokewise.daq.profile.keys import TABLES, TOP_TABLE
from strokewise.daq.profile.kinds import Quantity
from strokewise.gui.models.setup.known_points import is_point
from strokewise.gui.models.setup.sharpening import DEFAULT_OF, SHARPENINGS

ENGINE_GROUP, VALVES_GROUP, DRIVES_GROUP, MARKS_GROUP, RIG_GROUP = (
    "Engine",
    "Valves",
    "Cam drive and ignition",
    "Marks",
    "Rig",
)
FORM_GROUPS = (ENGINE_GROUP, VALVES_GROUP, DRIVES_GROUP, MARKS_GROUP, RIG_GROUP)

_GROUP_OF_TABLE = {
    "": ENGINE_GROUP,
    "valve_timing": VALVES_GROUP,
    "valves": VALVES_GROUP,
    "cam_drive": DRIVES_GROUP,
    "drive_gear": DRIVES_GROUP,
    "distributor": DRIVES_GROUP,
    "static_timing": DRIVES_GROUP,
    "pulley": MARKS_GROUP,
    "flywheel": MARKS_GROUP,
    "marks": MARKS_GROUP,
    "atmosphere": RIG_GROUP,
    "encoder": RIG_GROUP,
    "sensor": RIG_GROUP,
}

KEY_WORDS: dict[str, str] = {
    "name": "Name",
    "cycle": "Cycle",
    "cylinders": "Cylinders",
    "firing_order": "Firing order",
    "firing_intervals": "Firing intervals",
    "rotation": "Turns, seen from the pulley",
    "turning_back": "Turning back",
    "compression_ratio": "Compression ratio",
    "bore": "Bore",
    "stroke": "Stroke",
    "rod_length": "Rod, centre to centre",
    "pin_offset": "Pin offset, to the thrust side",
    "valve_timing.intake_opens_btdc": "Inlet opens, before TDC",
    "valve_timing.intake_closes_abdc": "Inlet closes, after BDC",
    "valve_timing.exhaust_opens_bbdc": "Exhaust opens, before BDC",
    "valve_timing.exhaust_closes_atdc": "Exhaust closes, after TDC",
    "valve_timing.at_lift": "These at a lift of",
    "valves.order": "Order from the pulley end",
    "valves.clearance_inlet": "Inlet clearance",
    "valves.clearance_exhaust": "Exhaust clearance",
    "valves.state": "Set with the engine",
    "valves.lifters": "Lifters",
    "valves.adjust": "Adjusted by",
    "cam_drive.crank_teeth": "Teeth on the crank",
    "cam_drive.cam_teeth": "Teeth on the cam",
    "cam_drive.keyway_offsets": "Keyways make the cam later by",
    "drive_gear.teeth": "Drive gear: teeth",
    "drive_gear.helix_angle": "Drive gear: helix, from its axis",
    "drive_gear.pitch_diameter": "Drive gear: pitch diameter",
    "drive_gear.engagement": "Drive gear: meshes for",
    "drive_gear.hand": "Drive gear: hand of the helix",
    "drive_gear.slot_angle": "Oil pump's slot, clockwise from the rotor's key",
    "drive_gear.slot_depth": "Tongue in the pump's slot, how deep",
    "drive_gear.slot": "The pump's slot can be turned",
    "distributor.rotation": "Rotor turns, seen on the cap",
    "static_timing.advance": "Static timing",
    "pulley.radius": "Pulley radius at the marks",
    "flywheel.teeth": "Teeth of the ring gear",
    "marks.name": "Name",
    "marks.input": "Input of the board",
    "marks.on": "Is on",
    "marks.stated": "Meant to show",
    "marks.turn": "Comes on which turn",
    "atmosphere.pressure": "Air pressure today",
    "atmosphere.temperature": "Air temperature",
    "encoder.counts_per_rev": "Encoder: counts a turn",
    "encoder.drive_ratio": "Encoder: turns a crank turn",
    "encoder.direction": "Encoder: count rises (1) or falls (-1)",
    "sensor.channel": "Channel of the board",
    "sensor.place": "Sits in",
    "sensor.cylinder": "Cylinder",
    "sensor.reference": "Measures against",
    "sensor.response_time": "Response time, with its hose",
    "sensor.points": "Known point",
}
"""In the words of the workshop."""

_SHARPENS = {each.key: each for each in SHARPENINGS}


@dataclass(frozen=True, slots=True)
class KeySaid:
    """How one key is asked for.

    Attributes
    ----------
    hint : str
        Where nothing is said: what counts then, or how it is written and what it sharpens.
    default : str
        What counts where nothing is said; empty where nothing does.
    such_as : str
        How it is written; empty for one of a few words.
    units : str
        In which units it may be said; empty where it has none.
    """

    group: str
    words: str
    hint: str
    default: str = ""
    units: str = ""
    such_as: str = ""


def key_said(path: tuple[str | int, ...]) -> KeySaid:
    """Return how a key is asked for, by its path in the profile."""
    names = [step for step in path if isinstance(step, str)]
    numbered = path[:-1] if is_point(path) else path
    numbers = [step + 1 for step in numbered if isinstance(step, int)]
    key = ".".join(names)
    table = names[0] if len(names) > 1 else ""
    words = KEY_WORDS.get(key, key)
    if table in ("marks", "sensor"):
        one = "Mark" if table == "marks" else "Sensor"
        number = f" {numbers[0]}" if numbers else ""
        words = f"{one}{number}: {words[:1].lower()}{words[1:]}"
    if is_point(path):
        words += f" {int(path[-1]) + 1}, reading = pressure"
    default = "" if is_point(path) else DEFAULT_OF.get(key, "")
    return KeySaid(
        _GROUP_OF_TABLE[table],
        words,
        _hint(key),
        default,
        units=_UNITS_OF.get(key, ""),
        such_as="such as 102 = 0 bar" if is_point(path) else _such_as(key),
    )


_UNIT_WORDS = {
    "mm": "mm or in",
    "deg": "deg",
    "bar": "bar, kPa or psi",
    "degC": "degC or degF",
    "s": "ms",
}
"""By the unit in which a quantity is carried."""
_UNITS_OF = {
    f"{table}.{key.name}".lstrip("."): _UNIT_WORDS[key.kind.dimension.unit]
    for table, spec in (("", TOP_TABLE), *TABLES.items())
    for key in spec.keys
    if isinstance(key.kind, Quantity)
}


def _such_as(key: str) -> str:
    sharpens = _SHARPENS.get(key)
    return "" if sharpens is None else f"such as {_bare(sharpens.example)}"


def _bare(example: str) -> str:
    return example.replace(chr(34), "")


def _hint(key: str) -> str:
    default = DEFAULT_OF.get(key)
    if default is not None:
        return f"{default}, unless you say otherwise"
    sharpens = _SHARPENS.get(key)
    if sharpens is None:
        return ""
    return f"such as {_bare(sharpens.example)}: {sharpens.sharpens}"
