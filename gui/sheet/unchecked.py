"""What was not checked? All that a reader of the sheet could take for granted and must not."""

from __future__ import annotations

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.analysis.valves.base_circle import valves_of
from strokewise.daq.profile.known import KnownEngine
from strokewise.gui.job.job import Job
from strokewise.gui.sheet.findings import latest, title_of

RUNNING_STAGE = "running"  # a stage of measuring whose name says so counts as measured again

NEVER = (
    "Bearings, oil pressure, cooling, fuel, ignition strength, torques and seals: nothing on this "
    "sheet speaks of them"
)
NEVER_BUT_TORQUES = (
    "Bearings, oil pressure, cooling, fuel, ignition strength and seals: nothing on this sheet "
    "speaks of them; torques stand here as they were put down, and nobody held them against the "
    "engine maker's figures"
)


def unchecked(job: Job, known: KnownEngine) -> tuple[str, ...]:
    """Return a line for each thing that was not measured or only assumed."""
    return (
        *_questions(job),
        *_taken_back(job),
        *_compressions(job, known.profile),
        *_clearances(job, known.profile),
        *_assumed(known),
        NEVER_BUT_TORQUES if job.torques else NEVER,
    )


def _questions(job: Job) -> list[str]:
    answers = latest(job)
    asked = {kept.command for kept in answers}
    missing = {
        "find": "Top dead centre",
        "marks": "The timing marks against true TDC",
        "cam": "Cam timing (a cam half a turn out cannot be seen in pressure at all)",
    }
    return [
        *(f"{what}: not measured" for command, what in missing.items() if command not in asked),
        *(
            f"{title_of(kept)}: measured, but not decided"
            for kept in answers
            if kept.answer.get("decided") is not True
        ),
        *_timing(job),
    ]


def _taken_back(job: Job) -> list[str]:
    """What somebody did not want on the sheet is at least known to be there."""
    taken = (
        *((f"Recording {each.name}: it", by) for each, by in job.recordings_undone),
        *((f"{title_of(kept)}: answer {kept.number}", by) for kept, by in job.answers_undone),
    )
    return [
        f"{what} was taken back, {by.on} {by.initials}; the job's folder still holds it"
        for what, by in taken
    ]


def _timing(job: Job) -> list[str]:
    asked = {kept.command for kept in latest(job)}
    strobe = any(kept.answer.get("strobe") for kept in latest(job) if kept.command == "static")
    return [
        *([] if "drive" in asked else ["The drive gear's tooth and the order of the leads"]),
        *([] if strobe else ["Ignition timing with the engine running"]),
    ]


def _compressions(job: Job, profile: Profile) -> list[str]:
    found = set()
    for kept in latest(job):
        tdc = kept.answer.get("tdc")
        if kept.command == "find" and kept.answer.get("compression") and isinstance(tdc, dict):
            found.add(tdc.get("cylinder"))
    left = [str(c) for c in range(1, profile.cylinders + 1) if c not in found]
    if not left:
        return []
    return [f"Compression of cylinder{'s' if len(left) > 1 else ''} {', '.join(left)}"]


def _clearances(job: Job, profile: Profile) -> list[str]:
    if profile.cycle == "two-stroke":
        return []
    if profile.valves is not None and profile.valves.lifters == "hydraulic":
        return ["Preload of the hydraulic lifters"]
    try:
        keys = [valve.key for valve in valves_of(profile)]
    except InputError:
        keys = []
    running = [stage for stage in job.stages if RUNNING_STAGE in stage]
    lines = []
    for what, stages in (
        ("Valve clearances", job.stages),
        ("Valve clearances after the first running", running),
    ):
        measured = {gap.valve for stage in stages for gap in job.gaps(stage)}
        left = [key for key in keys if key not in measured]
        if not measured:
            lines.append(f"{what}: none measured")
        elif left:
            lines.append(f"{what} of {', '.join(left)}: not measured")
    return lines


def _assumed(known: KnownEngine) -> list[str]:
    profile = known.profile
    lines = []
    if not known.stated:
        lines.append("Cylinders and firing order are not known")
    if not profile.atmosphere.stated:
        air = profile.atmosphere
        lines.append(
            f"The atmosphere was not measured: {air.pressure_bar:g} bar and "
            f"{air.temperature_c:g} °C are assumed"
        )
    for sensor in profile.sensors:
        if not sensor.points:
            lines.append(f"Sensor {sensor.channel + 1} is not calibrated")
        if sensor.response_time_s is None:
            lines.append(f"The response time of sensor {sensor.channel + 1} is not known")
    return lines
