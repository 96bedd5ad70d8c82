"""Which engine and which rig does the sheet speak of? The profile in words, and whose words.

What nobody said is named as such, and what is assumed too.
"""

from __future__ import annotations

from dataclasses import replace

from strokewise.analysis.errors import StrokewiseError
from strokewise.analysis.profile import CamDrive, Mark, Profile, Sensor, even_intervals_deg
from strokewise.daq.known_recording import known_of
from strokewise.daq.profile.known import KnownEngine, known_engine
from strokewise.daq.profile.layers import COMMAND_LINE, HELLO, RECORDED
from strokewise.daq.recording.read import read_recording
from strokewise.gui.job.job import Job
from strokewise.gui.job.kept import Answered
from strokewise.gui.pages.page import Row
from strokewise.gui.sheet.findings import latest

NOT_STATED = "not stated"


def engine_behind(job: Job, kept: Answered | None) -> KnownEngine:
    """Return the engine that an answer was computed for: its profile, recording and settings.

    Without an answer, or where one of its files is damaged, what the job itself says counts.
    """
    if kept is None or not kept.recordings:
        return job.engine()
    words = list(kept.asked)
    settings = [words[i + 1] for i, word in enumerate(words[:-1]) if word == "--set"]
    profile = job.folder / kept.profile if kept.profile in job.profiles else None
    names = {recorded.name for recorded in job.recordings}
    file = kept.recordings[0].name
    try:
        if file not in names:
            return known_engine(overrides=settings, engine=profile)
        return known_of(read_recording(job.folder / file), engine=profile, settings=settings)
    except StrokewiseError:
        return job.engine()


def sheet_engine(job: Job) -> KnownEngine:
    """Return the engine of the answer that leads the sheet, else what the job itself says."""
    found = [kept for kept in latest(job) if kept.command == "find"]
    found.sort(key=lambda kept: kept.answer.get("decided") is not True)
    return engine_behind(job, found[0] if found else None)


def engine_rows(known: KnownEngine) -> tuple[Row, ...]:
    """Return what is known of the engine, and who said it."""
    p = known.profile
    if not known.stated:
        return (Row("Engine", "unknown: cylinders and firing order not stated", False),)
    even = p.firing_intervals_deg == even_intervals_deg(p.cylinders, p.cycle_deg)
    intervals = "evenly" if even else "at " + ", ".join(f"{a:g}°" for a in p.firing_intervals_deg)
    order = "-".join(map(str, p.firing_order))
    drive = p.cam_drive

    def row(label: str, text: str | None, *keys: str) -> Row:
        return _row(label, text, known, *keys)

    rows = [
        row("Name", p.name or None, "name"),
        row(
            "Layout",
            f"{p.cylinders} cylinder{'s' if p.cylinders > 1 else ''}, {p.cycle}",
            "cylinders",
        ),
        row("Firing order", f"{order}, firing {intervals}", "firing_order"),
        row("Turns (seen from pulley)", p.rotation, "rotation"),
        row("Turning back", p.turning_back, "turning_back"),
        row("Compression ratio", _number(p.compression_ratio, " : 1"), "compression_ratio"),
        row("Bore × stroke", _bore_and_stroke(p), "bore", "stroke"),
        row("Rod length", _number(p.rod_length_mm, " mm"), "rod_length"),
        row("Pin offset", f"{p.pin_offset_mm:g} mm", "pin_offset"),
        row("Valve timing", _valve_timing(p), "valve_timing"),
        row("Valve order", p.valves.order if p.valves else None, "valves.order"),
        row("Clearances wanted", _clearances(p), *CLEARANCE_KEYS),
        row("Cam drive", _cam_drive(drive), "cam_drive"),
        *(
            [row("Drive gear", _drive_gear(p), "drive_gear", "distributor")]
            if p.drive_gear or p.distributor_rotation
            else []
        ),
        row("Static timing", _number(p.static_advance_btdc_deg, "° BTDC"), "static_timing"),
        row("Marks", "; ".join(map(_mark, p.marks)) or None, "marks"),
    ]
    return tuple(rows)


CLEARANCE_KEYS = ("valves.clearance_inlet", "valves.clearance_exhaust", "valves.lifters")


def rig_rows(known: KnownEngine) -> tuple[Row, ...]:
    """Return what is known of encoder, sensors and surroundings, and who said it."""
    profile = known.profile
    encoder, air = profile.encoder, profile.atmosphere
    counts = f"{encoder.counts_per_rev} counts a turn" if encoder.counts_per_rev else NOT_STATED
    way = "rises" if encoder.direction > 0 else "falls"
    turns = f"{encoder.drive_ratio:g} turn{'' if encoder.drive_ratio == 1 else 's'}"
    rows = [
        _row(
            "Encoder",
            f"{counts}, {turns} for each of the crank; the count {way} as the engine turns its "
            "own way",
            known,
            "encoder",
        ),
        *(_sensor_row(sensor, known) for sensor in profile.sensors),
    ]
    if not profile.sensors:
        rows.append(_row("Sensor", None, known))
    said = f"{air.pressure_bar:.3f} bar, {air.temperature_c:g} °C"
    return (*rows, _row("Atmosphere", said, known, "atmosphere"))


def _sensor_row(sensor: Sensor, known: KnownEngine) -> Row:
    row = _row(f"Sensor {sensor.channel + 1}", _sensor(sensor), known, "sensor")
    return replace(row, known=bool(sensor.points))


def _row(label: str, value: str | None, known: KnownEngine, *keys: str) -> Row:
    """Return one fact with who said it; a default is assumed, and nobody's word."""
    if value is None:
        return Row(label, NOT_STATED, False)
    said = tuple(dict.fromkeys(by for key in keys for by in known.said_by(*key.split("."))))
    who = " and ".join(map(who_words, said)) or ASSUMED
    return Row(label, f"{value} ({who})", bool(said))


SAID_BY = {COMMAND_LINE: "said for this answer", RECORDED: "recording", HELLO: "board"}
"""Whose word it is, in the words of the sheet; any other source is the profile given."""
ASSUMED = "assumed"


def who_words(source: str) -> str:
    """Return whose word a source is."""
    return SAID_BY.get(source, "profile")


def _cam_drive(drive: CamDrive | None) -> str | None:
    return f"{drive.crank_teeth} : {drive.cam_teeth} teeth" if drive else None


def _number(value: float | None, unit: str) -> str | None:
    return None if value is None else f"{value:.6g}{unit}"


def _bore_and_stroke(p: Profile) -> str | None:
    if p.bore_mm is None and p.stroke_mm is None:
        return None
    sides = [NOT_STATED if v is None else f"{v:.5g} mm" for v in (p.bore_mm, p.stroke_mm)]
    return " × ".join(sides)


def _valve_timing(p: Profile) -> str | None:
    t = p.valve_timing
    if t is None:
        return None
    return (
        f"inlet {t.intake_opens_btdc_deg:g}° BTDC to {t.intake_closes_abdc_deg:g}° ABDC, exhaust "
        f"{t.exhaust_opens_bbdc_deg:g}° BBDC to {t.exhaust_closes_atdc_deg:g}° ATDC, "
        f"at {t.at_lift_mm:g} mm lift"
    )


def _clearances(p: Profile) -> str | None:
    v = p.valves
    if v is None:
        return None
    if v.lifters == "hydraulic":
        return "hydraulic lifters: preload, no gap"
    gaps = [
        NOT_STATED if mm is None else f"{mm:.4g} mm"
        for mm in (v.clearance_inlet_mm, v.clearance_exhaust_mm)
    ]
    return f"inlet {gaps[0]}, exhaust {gaps[1]}, {v.state}"


def _drive_gear(p: Profile) -> str:
    gear = p.drive_gear
    parts = []
    if gear is not None:
        parts.append(
            f"{gear.teeth} teeth, {gear.hand}-hand helix of {gear.helix_angle_deg:g}°, pitch"
            f" diameter {gear.pitch_diameter_mm:g} mm, engagement {gear.engagement_mm:g} mm"
        )
        if gear.slot_angle_deg is not None:
            parts.append(f"oil pump's slot {gear.slot_angle_deg:g}° clockwise from the rotor's key")
    if p.distributor_rotation is not None:
        parts.append(f"rotor turns {p.distributor_rotation}, seen on the cap")
    return "; ".join(parts)


def _mark(mark: Mark) -> str:
    if mark.stated_atdc_deg is None:
        return f"{mark.name} on the {mark.on}"
    side = "BTDC" if mark.stated_atdc_deg < 0 else "ATDC"
    return f"{mark.name} on the {mark.on}: {abs(mark.stated_atdc_deg):g}° {side}"


def _sensor(sensor: Sensor) -> str:
    place = sensor.place if sensor.cylinder is None else f"{sensor.place} {sensor.cylinder}"
    parts = [place, sensor.reference or "reference not stated"]
    if sensor.points:
        points = ", ".join(f"{reading:g} = {bar:.4g} bar" for reading, bar in sensor.points)
        parts.append(f"calibrated at {points}")
    else:
        parts.append("not calibrated")
    if sensor.response_time_s is None:
        parts.append("response time not stated")
    else:
        parts.append(f"response {sensor.response_time_s * 1000:g} ms")
    return ", ".join(parts)
