"""How is a job's answer computed, now and again later? By the very command a person would type.

The answer that is kept is what ``strokewise COMMAND … --json`` prints, and the command line is kept
with it, its files named as in the job's folder. Computing it again is running that line again.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import InputError
from strokewise.gui.job.job import Answered, Job, Recorded
from strokewise.gui.options import EXIT_BAD_INPUT

ABOUT_ONE = ("find", "marks", "cam", "check")
"""Commands that answer one recording."""

ABOUT_NONE = ("valves", "drive", "static")
"""Commands that answer from the profile alone, or about where a recording ends."""

ABOUT_MANY = ("compare",)
"""Commands that answer several recordings together."""

# A job may come from anywhere: only commands that read and answer are run again for it.
ANSWERING = (*ABOUT_ONE, *ABOUT_MANY, *ABOUT_NONE)


@dataclass(frozen=True, slots=True)
class Asked:
    """What came back: the exit code, and the answer unless there was none."""

    words: tuple[str, ...]
    code: int
    answer: Mapping[str, Any] | None


def command_line(
    job: Job, command: str, recordings: Sequence[Recorded], extra: Sequence[str] = ()
) -> tuple[str, ...]:
    """Return the command line for some recordings of the job, files named as in its folder."""
    if command not in ANSWERING:
        raise InputError(f'"{command}" gives no answer to keep; ask {", ".join(ANSWERING)}')
    profile = ("--engine", job.profiles[-1]) if job.profiles else ()
    cylinder = _own_cylinder(job, recordings, extra)
    return (command, *(each.name for each in recordings), *profile, *cylinder, *extra, "--json")


def _own_cylinder(
    job: Job, recordings: Sequence[Recorded], extra: Sequence[str]
) -> tuple[str, ...]:
    """Return the setting by which a recording's own sensed cylinder goes before the job's profile.

    The job's profile is about the engine; which hole the sensor was in changes from recording to
    recording, and who recorded it knew.
    """
    from strokewise.daq.recording.read import open_recording

    if len(recordings) != 1 or not job.profiles or any("sensor.cylinder" in w for w in extra):
        return ()
    engine = open_recording(job.folder / recordings[0].name).header.get("engine")
    sensor = engine.get("sensor") if isinstance(engine, Mapping) else None
    cylinder = sensor.get("cylinder") if isinstance(sensor, Mapping) else None
    sensors = job.engine().profile.sensors
    if not isinstance(cylinder, int) or len(sensors) != 1 or sensors[0].cylinder == cylinder:
        return ()
    return ("--set", f"sensor.cylinder={cylinder}")


def groups(
    command: str, recordings: Sequence[Recorded], *, named: bool
) -> tuple[tuple[Recorded, ...], ...]:
    """Return about which recordings a command is asked, a group for each answer.

    Parameters
    ----------
    named : bool
        The recordings were named for this; else they are all that the job has.
    """
    if command in ABOUT_MANY:
        return (tuple(recordings),) if recordings else ()
    if command in ABOUT_NONE and not named:
        return ((),)
    return tuple((each,) for each in recordings)


def ask(folder: Path, words: Sequence[str]) -> Asked:
    """Run a command line of the job and take its answer.

    Errors are said on standard error by the command itself.
    """
    from strokewise.gui.cli import main

    if not words or words[0] not in ANSWERING:
        raise InputError(f"{' '.join(words)}: not a command that answers")
    files = {path.name for path in folder.iterdir()}
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        try:
            code = main([str(folder / word) if word in files else word for word in words])
        except SystemExit as ended:  # how argparse ends
            code = ended.code if isinstance(ended.code, int) else EXIT_BAD_INPUT
    if code == EXIT_BAD_INPUT:
        return Asked(tuple(words), code, None)
    answer = json.loads(out.getvalue())
    return Asked(tuple(words), code, answer if isinstance(answer, dict) else None)


def differences(job: Job, kept: Answered) -> tuple[str, ...]:
    """Compute a kept answer again and return what differs, a line each; none when it is the same.

    The version is not compared: a new version with the same answer is the hoped-for case.
    """
    again = ask(job.folder, kept.asked).answer
    if again is None:
        return ("gives no answer any more",)
    names = dict.fromkeys((*kept.answer, *again))
    return tuple(
        f"{name}: was {_short(kept.answer.get(name))}, is {_short(again.get(name))}"
        for name in names
        if name != "version" and _plain(kept.answer.get(name)) != _plain(again.get(name))
    )


def _plain(value: Any) -> str:
    return json.dumps(value, sort_keys=True)


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 120 else text[:117] + "…"
