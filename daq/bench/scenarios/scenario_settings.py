"""What of a bench can be set by name? Engine, turning and rig; the faults have their own list."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import RockedTurning, RunDown, Spanner, Starter
from strokewise.daq.bench.parameters import BenchParameter, Value, setting
from strokewise.daq.bench.rig.rig import ADC_BITS, SAMPLE_RATES_HZ, SensorRig
from strokewise.daq.bench.scenarios.scenario_engines import ENGINES, starter_for
from strokewise.daq.profile.quantity import ANGLE, LENGTH, PRESSURE, TIME, Dimension

MILLISECONDS = Dimension("a time", "ms", "0.4 ms", TIME.usual)
AREA = Dimension("an area", "mm**2", "6 mm2", ("mm2", "cm2"))
VOLUME = Dimension("a volume", "cm**3", "50 cm3", ("cm3", "ml", "litre"))
SPEED = Dimension("a speed", "rpm", "25 rpm", ("rpm", "turn/s"))
FREQUENCY = Dimension("a frequency", "Hz", "1000 Hz", ("Hz", "kHz"))

BY_HAND = Spanner | RockedTurning


def sensed_cylinder(bench: Bench) -> int:
    """Return the cylinder of the first plug-hole sensor, or 1."""
    holes = [sensor.cylinder for sensor in bench.rig.sensors if sensor.place == "plug hole"]
    return holes[0] if holes else 1


def change_first_sensor(bench: Bench, change: Callable[[SensorRig], SensorRig]) -> Bench:
    """Return the bench with its first sensor changed."""
    first, *others = bench.rig.sensors
    return replace(bench, rig=replace(bench.rig, sensors=(change(first), *others)))


def _set_engine(bench: Bench, name: str) -> Bench:
    engine = ENGINES[name]
    turning = bench.turning
    if isinstance(turning, Starter):
        turning = starter_for(engine, duration_s=turning.duration_s, run_down_s=turning.run_down_s)
    return replace(bench, engine=engine, engine_name=name, turning=turning)


def _set_cylinder(bench: Bench, cylinder: int) -> Bench:
    engine = replace(bench.engine, adaptor_cylinder=cylinder)
    bench = replace(bench, engine=engine)
    return change_first_sensor(bench, lambda sensor: replace(sensor, cylinder=cylinder))


def _set_place(bench: Bench, place: str) -> Bench:
    fitted = sensed_cylinder(bench) if place == "plug hole" else None
    bench = replace(bench, engine=replace(bench.engine, adaptor_cylinder=fitted))
    return change_first_sensor(bench, lambda sensor: replace(sensor, place=place))  # type: ignore[arg-type]


def _plugs(bench: Bench) -> str:
    return "out" if bench.engine.plugs_out else "in"


def _set_plugs(bench: Bench, word: str) -> Bench:
    places = {sensor.place for sensor in bench.rig.sensors}
    kept = {sensor.cylinder for sensor in bench.rig.sensors if sensor.place == "plug hole"}
    others = [n for n in range(1, bench.engine.cylinders + 1) if n not in kept]
    if "plug hole" not in places:
        others = list(range(1, bench.engine.cylinders + 1))
    out = tuple(others) if word == "out" else ()
    return replace(bench, engine=replace(bench.engine, plugs_out=out))


def _sensor_range(bench: Bench) -> Value:
    first = bench.rig.sensors[0]
    return first.low_bar, first.high_bar


def _set_sensor_range(bench: Bench, ends: tuple[float, float]) -> Bench:
    low, high = ends
    return change_first_sensor(bench, lambda sensor: replace(sensor, low_bar=low, high_bar=high))


def _set_direction(bench: Bench, word: str) -> Bench:
    encoder = replace(bench.rig.encoder, direction=1 if word == "with" else -1)
    return replace(bench, rig=replace(bench.rig, encoder=encoder))


def _set_profile(bench: Bench, word: str) -> Bench:
    return replace(bench, profile_full=word == "full")


ENGINE_SETTINGS: tuple[BenchParameter, ...] = (
    BenchParameter(
        "engine", "which engine stands on the bench",
        lambda bench: bench.engine_name, _set_engine,
        choices=tuple(ENGINES),
    ),
    BenchParameter(
        "cylinder", "the cylinder that the sensor is screwed into", sensed_cylinder, _set_cylinder,
        low=1, high=12, whole=True,
    ),
    setting("compression_ratio", "of the engine itself", "engine.compression_ratio",
            low=5, high=25),
    setting("bore", "cylinder bore", "engine.bore_mm", LENGTH, low=20, high=200),
    setting("stroke", "piston stroke", "engine.stroke_mm", LENGTH, low=20, high=250),
    setting("rod_length", "between its bearing centres", "engine.rod_length_mm", LENGTH,
            low=40, high=500),
    setting("pin_offset", "towards the major thrust side", "engine.pin_offset_mm", LENGTH,
            low=-5, high=5),
    setting("air_pressure", "of the atmosphere", "engine.atmosphere.pressure_bar", PRESSURE,
            low=0.5, high=1.1),
    BenchParameter(
        "plugs", "plugs of the cylinders that are not sensed: in or out", _plugs, _set_plugs,
        choices=("in", "out"), fault=True,
    ),
)  # fmt: skip

TURNING_SETTINGS: tuple[BenchParameter, ...] = (
    setting("seconds", "time with the starter engaged", "turning.duration_s", TIME,
            turning=Starter, low=0.2, high=120),
    setting("run_down", "time recorded after the starter is let go", "turning.run_down_s", TIME,
            turning=Starter, low=0, high=60),
    setting("battery", "its voltage as a share of a full one", "turning.battery",
            turning=Starter, low=0.2, high=1.2, fault=True),
    setting("sag", "share of the voltage lost each second", "turning.sag_per_s",
            turning=Starter, low=0, high=0.5, fault=True),
    setting("seconds", "time recorded from ignition off", "turning.duration_s", TIME,
            turning=RunDown, low=0.2, high=60),
    setting("speed", "at which the ignition is switched off", "turning.start_rpm", SPEED,
            turning=RunDown, low=100, high=3000),
    setting("turn", "how far in all; negative turns the engine backwards", "turning.total_deg",
            ANGLE, turning=Spanner, low=-36000, high=36000),
    setting("swing", "each pull of the spanner", "turning.swing_deg", ANGLE, turning=Spanner,
            low=5, high=720),
    setting("back_roll", "how far the crank comes back in a pause", "turning.back_roll_deg", ANGLE,
            turning=Spanner, low=0, high=60),
    setting("swings", "how many times it is rocked", "turning.swings", turning=RockedTurning,
            low=1, high=200, whole=True),
    setting("amplitude", "how far to either side of TDC", "turning.amplitude_deg", ANGLE,
            turning=RockedTurning, low=10, high=170),
    setting("hand_speed", "mean speed of a swing, or a range as 10..30 rpm", "turning.rpm", SPEED,
            turning=BY_HAND, low=1, high=150),
    setting("pause", "rest between swings, or a range as 0.3..1 s", "turning.pause_s", TIME,
            turning=BY_HAND, low=0, high=30),
)  # fmt: skip

RIG_SETTINGS: tuple[BenchParameter, ...] = (
    setting("counts", "counts for each turn of the encoder", "rig.encoder.counts_per_rev",
            low=100, high=40000, whole=True),
    BenchParameter(
        "count_runs", "with or against the engine's own way",
        lambda bench: "with" if bench.rig.encoder.direction > 0 else "against", _set_direction,
        choices=("with", "against"),
    ),
    setting("drive_ratio", "encoder turns for each turn of the crank; 0.5 on the camshaft",
            "rig.encoder.drive_ratio", low=0.1, high=20),
    setting("clamp", "where the clamp happened to be put on", "rig.encoder.clamp_deg", ANGLE,
            low=-720, high=720),
    setting("index", "whether the encoder has an index", "rig.encoder.index"),
    BenchParameter(
        "place", "where the sensor is screwed in",
        lambda bench: bench.rig.sensors[0].place, _set_place,
        choices=("plug hole", "manifold", "runner", "open air"),
    ),
    BenchParameter(
        "sensor_range", "what the sensor can show, as 0..20 bar", _sensor_range, _set_sensor_range,
        PRESSURE, low=-400, high=400,
    ),
    setting("reference", "what the sensor measures against", "rig.sensors.*.reference",
            choices=("absolute", "gauge")),
    setting("lag", "time constant of sensor and hose", "rig.sensors.*.lag_s", MILLISECONDS,
            scale=1e-3, low=0, high=500, fault=True),
    setting("noise", "standard deviation of the sensor's noise", "rig.sensors.*.noise_bar",
            PRESSURE, low=0, high=5, fault=True),
    setting("rate", "samples each second", "rig.board.sample_rate_hz", FREQUENCY,
            low=SAMPLE_RATES_HZ[0], high=SAMPLE_RATES_HZ[1]),
    setting("bits", "of the analogue converter", "rig.board.adc_bits",
            low=ADC_BITS[0], high=ADC_BITS[1], whole=True),
    setting("wire", "frames, or plain lines", "rig.board.wire", choices=("binary", "lines")),
    setting("checksum", "whether plain lines carry one", "rig.board.checksum"),
    BenchParameter(
        "profile", "full, or only what an unknown rebuild leaves",
        lambda bench: "full" if bench.profile_full else "little", _set_profile,
        choices=("full", "little"),
    ),
)  # fmt: skip
