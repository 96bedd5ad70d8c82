"""Which keys does an engine profile have, and what is built from them?

A :class:`Table` lists the keys of one TOML table, each with its kind. Reading and writing both
follow these lists, so neither can know a key that the other does not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from strokewise.analysis.profile import (
    Atmosphere,
    CamDrive,
    DriveGear,
    Encoder,
    Mark,
    Sensor,
    Valves,
    ValveTiming,
)
from strokewise.daq.profile.kinds import (
    AfterTdc,
    ChoiceKind,
    Kind,
    ListOf,
    Number,
    Point,
    Points,
    Quantity,
    TextKind,
    ValveOrder,
    Whole,
)
from strokewise.daq.profile.quantity import ANGLE, LENGTH, PRESSURE, TEMPERATURE, TIME, Dimension


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table and the attribute that it becomes."""

    name: str
    kind: Kind
    field: str
    needed: bool = False


@dataclass(frozen=True, slots=True)
class KeyTable:
    """The keys of one table.

    Attributes
    ----------
    field : str or None
        Attribute of the profile that the built value becomes; None when the keys are attributes of
        the profile itself.
    builds : callable or None
        What is built from the keys.
    many : bool
        Whether the table may come several times (``[[name]]``).
    """

    keys: tuple[Key, ...]
    field: str | None = None
    builds: Callable[..., Any] | None = None
    many: bool = False


def _quantity(
    name: str, dimension: Dimension, low: float, high: float, field: str, needed: bool = False
) -> Key:
    return Key(name, Quantity(dimension, low, high), field, needed)


_WAY_ROUND = ChoiceKind(("clockwise", "counter-clockwise"))
_EVENT_DEG = (-90.0, 150.0)  # a valve may open after TDC, and late closing reaches past 100°
_SMALLEST_MM = 1e-3  # so that zero and negative lengths are refused

TOP_TABLE = KeyTable(
    (
        Key("name", TextKind("Bench four"), "name"),
        Key("cycle", ChoiceKind(("four-stroke", "two-stroke")), "cycle"),
        Key("cylinders", Whole(1, 12), "cylinders"),
        Key("firing_order", ListOf(Whole(1, 12), "[1, 3, 4, 2]"), "firing_order"),
        Key(
            "firing_intervals",
            ListOf(Quantity(ANGLE, 0.001, 720), '["180 deg", "180 deg", "180 deg", "180 deg"]'),
            "firing_intervals_deg",
        ),
        Key("rotation", _WAY_ROUND, "rotation"),
        Key("turning_back", ChoiceKind(("allowed", "never")), "turning_back"),
        # Steam-age gas engines start near 3, model and diesel engines end below 30.
        Key("compression_ratio", Number(3, 30), "compression_ratio"),
        _quantity("bore", LENGTH, 5, 1000, "bore_mm"),
        _quantity("stroke", LENGTH, 5, 3000, "stroke_mm"),
        _quantity("rod_length", LENGTH, 5, 5000, "rod_length_mm"),
        _quantity("pin_offset", LENGTH, -20, 20, "pin_offset_mm"),
    )
)

TABLES: dict[str, KeyTable] = {
    "atmosphere": KeyTable(
        (
            # From a mountain pass at 6,000 m to more than any weather; catches a wrong unit.
            _quantity("pressure", PRESSURE, 0.45, 1.15, "pressure_bar"),
            _quantity("temperature", TEMPERATURE, -60, 70, "temperature_c"),
        ),
        "atmosphere",
        Atmosphere,
    ),
    "valve_timing": KeyTable(
        (
            _quantity("intake_opens_btdc", ANGLE, *_EVENT_DEG, "intake_opens_btdc_deg", True),
            _quantity("intake_closes_abdc", ANGLE, *_EVENT_DEG, "intake_closes_abdc_deg", True),
            _quantity("exhaust_opens_bbdc", ANGLE, *_EVENT_DEG, "exhaust_opens_bbdc_deg", True),
            _quantity("exhaust_closes_atdc", ANGLE, *_EVENT_DEG, "exhaust_closes_atdc_deg", True),
            _quantity("at_lift", LENGTH, 0, 5, "at_lift_mm"),
        ),
        "valve_timing",
        ValveTiming,
    ),
    "valves": KeyTable(
        (
            Key("order", ValveOrder(), "order"),
            _quantity("clearance_inlet", LENGTH, _SMALLEST_MM, 3, "clearance_inlet_mm"),
            _quantity("clearance_exhaust", LENGTH, _SMALLEST_MM, 3, "clearance_exhaust_mm"),
            Key("state", ChoiceKind(("cold", "hot", "either")), "state"),
            Key("lifters", ChoiceKind(("solid", "hydraulic")), "lifters"),
            Key("adjust", ChoiceKind(("screw", "shim")), "adjust"),
        ),
        "valves",
        Valves,
    ),
    "cam_drive": KeyTable(
        (
            Key("crank_teeth", Whole(8, 200), "crank_teeth", True),
            Key("cam_teeth", Whole(8, 400), "cam_teeth", True),
            Key(
                "keyway_offsets",
                ListOf(Quantity(ANGLE, -180, 180), '["0 deg"]'),
                "keyway_offsets_deg",
            ),
        ),
        "cam_drive",
        CamDrive,
    ),
    "drive_gear": KeyTable(
        (
            Key("teeth", Whole(4, 100), "teeth", True),
            # Near 0° it is a spur gear that does not turn, near 90° a worm that no shaft drives.
            _quantity("helix_angle", ANGLE, 1, 85, "helix_angle_deg", True),
            _quantity("pitch_diameter", LENGTH, 2, 500, "pitch_diameter_mm", True),
            _quantity("engagement", LENGTH, 0.1, 200, "engagement_mm", True),
            Key("hand", ChoiceKind(("right", "left")), "hand", True),
            _quantity("slot_angle", ANGLE, -180, 180, "slot_angle_deg"),
            _quantity("slot_depth", LENGTH, 0.1, 100, "slot_depth_mm"),
            Key("slot", ChoiceKind(("turns", "fixed")), "slot"),
        ),
        "drive_gear",
        DriveGear,
    ),
    "distributor": KeyTable((Key("rotation", _WAY_ROUND, "distributor_rotation"),)),
    "static_timing": KeyTable((Key("advance", AfterTdc(-1, 90), "static_advance_btdc_deg"),)),
    "pulley": KeyTable((_quantity("radius", LENGTH, 5, 1000, "pulley_radius_mm"),)),
    "flywheel": KeyTable((Key("teeth", Whole(10, 1000), "flywheel_teeth"),)),
    "marks": KeyTable(
        (
            Key("name", TextKind("pulley notch"), "name", True),
            Key("input", Whole(1, 255), "input"),
            Key("on", ChoiceKind(("pulley", "flywheel", "cam sprocket", "distributor")), "on"),
            Key("stated", AfterTdc(1, 360), "stated_atdc_deg"),
            Key("turn", ChoiceKind(("both", "firing", "overlap")), "turn"),
        ),
        "marks",
        Mark,
        many=True,
    ),
    "encoder": KeyTable(
        (
            Key("counts_per_rev", Whole(4, 10_000_000), "counts_per_rev"),
            Key("drive_ratio", Number(0.01, 100), "drive_ratio"),
            Key("direction", ChoiceKind((1, -1)), "direction"),
        ),
        "encoder",
        Encoder,
    ),
    "sensor": KeyTable(
        (
            Key("channel", Whole(0, 3), "channel"),  # a sample carries up to four readings
            Key("place", ChoiceKind(("plug hole", "manifold")), "place"),
            Key("cylinder", Whole(1, 12), "cylinder"),
            Key("reference", ChoiceKind(("absolute", "gauge")), "reference"),
            # Half a second would smear a whole hand-turned compression.
            _quantity("response_time", TIME, 0, 0.5, "response_time_s"),
            Key(
                "points",
                Points(
                    ListOf(
                        # Below vacuum too: the pairs are often the converter's two ends, and the
                        # line of a sensor with a raised zero reaches below it at reading 0.
                        Point(Number(0, 65535), Quantity(PRESSURE, -100, 400)),
                        '[[102, "0 bar"], [922, "20 bar"]]',
                        shortest=2,
                    )
                ),
                "points",
            ),
        ),
        "sensors",
        Sensor,
        many=True,
    ),
}
