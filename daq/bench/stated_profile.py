"""What does the engine profile say of a bench? True as far as it goes, unless told to lie."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from strokewise.analysis.profile import ValveTiming
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import BenchEngine
from strokewise.daq.bench.rig.rig import EncoderRig, SensorRig
from strokewise.daq.bench.rig.sensor_model import calibration_points
from strokewise.daq.bench.scenarios.scenario_marks import MARK_NAME, pressed_mark

CRANK_TEETH, CAM_TEETH = 21, 42  # the sprockets of every four-stroke bench engine
INLINE_FOUR = 4
MARK_STATED = "0 deg ATDC"


def stated_profile(bench: Bench) -> dict[str, Any]:
    """Return the engine profile as the table of a TOML file, units and all."""
    table = _least(bench.engine)
    if bench.profile_full:
        table = _engine(bench.engine, bench.engine_name)
    if bench.rig.marks:
        table["marks"] = [
            {
                "name": mark.name,
                "input": mark.input,
                "on": mark.on,
                "stated": MARK_STATED,
                "turn": "firing" if mark.period_deg == 720.0 else "both",
            }
            for mark in bench.rig.marks
        ]
    elif pressed_mark(bench):
        table["marks"] = [
            {"name": MARK_NAME, "on": "pulley", "stated": MARK_STATED, "turn": "both"}
        ]
    table["encoder"] = _encoder(bench.rig.encoder)
    sensors = [
        _sensor(sensor, channel, bench.rig.board.adc_bits, alone=len(bench.rig.sensors) == 1)
        for channel, sensor in enumerate(bench.rig.sensors)
        if sensor.place != "open air"
    ]
    if sensors:
        table["sensor"] = sensors[0] if len(sensors) == 1 else sensors
    for key, value in bench.profile_changes.items():
        _change(table, key.split("."), value)
    return table


def _least(engine: BenchEngine) -> dict[str, Any]:
    table: dict[str, Any] = {
        "name": "Unknown rebuild (simulated)",
        "cycle": engine.cycle,
        "cylinders": engine.cylinders,
        "firing_order": list(engine.firing_order),
    }
    if engine.firing_intervals_deg is not None:
        table["firing_intervals"] = [_deg(interval) for interval in engine.firing_intervals_deg]
    return table


def _engine(engine: BenchEngine, name: str) -> dict[str, Any]:
    table = _least(engine) | {
        "name": f"Bench {name} (invented)",
        "rotation": "clockwise",
        "turning_back": "allowed",
        "compression_ratio": engine.compression_ratio,
        "bore": _mm(engine.bore_mm),
        "stroke": _mm(engine.stroke_mm),
        "rod_length": _mm(engine.rod_length_mm),
        "pin_offset": _mm(engine.pin_offset_mm),
    }
    if engine.atmosphere.stated:
        table["atmosphere"] = {
            "pressure": f"{engine.atmosphere.pressure_bar:g} bar",
            "temperature": f"{engine.atmosphere.temperature_c:g} degC",
        }
    if engine.cycle == "four-stroke":
        table["valve_timing"] = _timing(engine.valve_timing)
        table["valves"] = _valves(engine)
        table["cam_drive"] = {"crank_teeth": CRANK_TEETH, "cam_teeth": CAM_TEETH}
    table["pulley"] = {"radius": "78 mm"}
    table["flywheel"] = {"teeth": 124}
    return table


def _valves(engine: BenchEngine) -> dict[str, Any]:
    table: dict[str, Any] = {"lifters": "hydraulic"}
    if engine.intake.clearance_mm > 0:
        table = {
            "clearance_inlet": f"{engine.intake.clearance_mm:.2f} mm",
            "clearance_exhaust": f"{engine.exhaust.clearance_mm:.2f} mm",
            "state": "cold",
            "lifters": "solid",
            "adjust": "screw",
        }
    if engine.cylinders == INLINE_FOUR:
        table["order"] = "EIIEEIIE"
    return table


def _timing(timing: ValveTiming) -> dict[str, Any]:
    return {
        "intake_opens_btdc": _deg(timing.intake_opens_btdc_deg),
        "intake_closes_abdc": _deg(timing.intake_closes_abdc_deg),
        "exhaust_opens_bbdc": _deg(timing.exhaust_opens_bbdc_deg),
        "exhaust_closes_atdc": _deg(timing.exhaust_closes_atdc_deg),
        "at_lift": _mm(timing.at_lift_mm),
    }


def _encoder(encoder: EncoderRig) -> dict[str, Any]:
    return {
        "counts_per_rev": encoder.counts_per_rev,
        "drive_ratio": encoder.drive_ratio,
        "direction": encoder.direction,
    }


def _sensor(sensor: SensorRig, channel: int, adc_bits: int, *, alone: bool) -> dict[str, Any]:
    table: dict[str, Any] = {} if alone else {"channel": channel}
    table["place"] = "plug hole" if sensor.place == "plug hole" else "manifold"
    if sensor.place == "plug hole":
        table["cylinder"] = sensor.cylinder
    table["reference"] = sensor.reference
    table["points"] = [
        [reading, f"{pressure:g} bar"] for reading, pressure in calibration_points(sensor, adc_bits)
    ]
    return table


def _change(table: dict[str, Any], path: list[str], value: Any) -> None:
    for name in path[:-1]:
        table = table.setdefault(name, {})
    if value is None:
        table.pop(path[-1], None)
    else:
        table[path[-1]] = value


def _mm(value: float) -> str:
    return f"{value:g} mm"


def _deg(value: float) -> str:
    return f"{value:g} deg"


def toml_text(table: Mapping[str, Any], comment: str = "") -> str:
    """Return a profile's table as TOML text: plain values first, then its tables."""
    lines = [f"# {line}" for line in comment.splitlines()]
    lines += [f"{key} = {_toml(value)}" for key, value in table.items() if not _is_table(value)]
    for key, value in table.items():
        if isinstance(value, Mapping):
            lines += ["", f"[{key}]", *(f"{k} = {_toml(v)}" for k, v in value.items())]
        elif _is_table(value):
            for part in value:
                lines += ["", f"[[{key}]]", *(f"{k} = {_toml(v)}" for k, v in part.items())]
    return "\n".join(lines) + "\n"


def _is_table(value: Any) -> bool:
    if isinstance(value, list):
        return bool(value) and all(isinstance(part, Mapping) for part in value)
    return isinstance(value, Mapping)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(part) for part in value) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{k} = {_toml(v)}" for k, v in value.items()) + " }"
    return repr(value)
