"""What is asked about a job, now and again later? A request that can be kept, and its answer.

A request is kept as the words a person would type, files named as in the job's folder; nothing runs
them: they are read back into the same request and the step is asked again.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import InputError
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.read import open_recording
from strokewise.gui.found import Going, unwatched
from strokewise.gui.job.job import Job
from strokewise.gui.job.kept import Answered, JobRecording
from strokewise.gui.options import SaidOfEngine
from strokewise.gui.registry import Asks, kept_steps, step_entry
from strokewise.gui.steps import (
    Said,
    about_files,
    ask,
    step_named,
    typed_from_words,
    words_from_typed,
)
from strokewise.gui.typed import Typed


@dataclass(frozen=True, slots=True)
class Request:
    """What is asked: a step, the recordings, the profile, single settings, and what was typed.

    Attributes
    ----------
    files : tuple of str
        Names in the job's folder.
    engine : str or None
        Name of the profile's file.
    settings : tuple of str
        ``KEY=VALUE``.
    """

    step: str
    files: tuple[str, ...]
    engine: str | None
    settings: tuple[str, ...]
    typed: Typed

    @property
    def words(self) -> tuple[str, ...]:
        """The request as a person would type it."""
        profile = ("--engine", self.engine) if self.engine else ()
        settings = [word for setting in self.settings for word in ("--set", setting)]
        typed = words_from_typed(step_named(self.step), self.typed)
        return (self.step, *self.files, *profile, *settings, *typed, "--json")


def request_from(words: Sequence[str], names: frozenset[str] | set[str]) -> Request:
    """Return the request behind the words that were kept.

    Parameters
    ----------
    names : set of str
        The files of the job's folder: a job may come from anywhere, and nothing else is read.

    Raises
    ------
    InputError
        It is none, or not one that a job keeps.
    """
    step = _kept_step(words[0] if words else "")
    files: list[str] = []
    settings: list[str] = []
    rest: list[str] = []
    engine: str | None = None
    left = list(words[1:])
    while left:
        word = left.pop(0)
        if word == "--json":
            continue
        if word in ("--engine", "--set") and left:
            value = left.pop(0)
            if word == "--set":
                settings.append(value)
            else:
                engine = value
        elif not word.startswith("--") and (not rest or "=" in rest[-1]) and word in names:
            files.append(word)
        else:
            rest.append(word)
    typed = typed_from_words(step_named(step), rest)
    return Request(step, tuple(files), engine, tuple(settings), typed)


def request_for(
    job: Job,
    name: str,
    recordings: Sequence[JobRecording],
    settings: Sequence[str] = (),
    options: Sequence[str] = (),
) -> Request:
    """Return the request for some recordings of the job.

    Parameters
    ----------
    options : sequence of str
        What is said to the step, in the form of the command line.
    """
    step = _kept_step(name)
    own = _own_cylinder(job, recordings, settings)
    typed = typed_from_words(step_named(step), options)
    if name == "valves" and "done" not in typed and job.valves_good:
        typed["done"] = [",".join(job.valves_good)]
    return Request(
        step,
        tuple(each.name for each in recordings),
        job.profiles[-1] if job.profiles else None,
        (*own, *settings),
        typed,
    )


def _kept_step(name: str) -> str:
    kept = [entry.name for entry in kept_steps()]
    if name not in kept:
        listed = ", ".join(kept)
        raise InputError(f'"{name}" gives no answer to keep; ask {listed}')
    return name


def _own_cylinder(
    job: Job, recordings: Sequence[JobRecording], settings: Sequence[str]
) -> tuple[str, ...]:
    """Return the setting by which a recording's own sensed cylinder goes before the job's profile.

    The job's profile is about the engine; which hole the sensor was in changes from recording to
    recording, and who recorded it knew.
    """
    if len(recordings) != 1 or not job.profiles or any("sensor.cylinder" in s for s in settings):
        return ()
    engine = open_recording(job.folder / recordings[0].name).header.get("engine")
    sensor = engine.get("sensor") if isinstance(engine, Mapping) else None
    cylinder = sensor.get("cylinder") if isinstance(sensor, Mapping) else None
    sensors = known_engine(engine=job.profile_path).profile.sensors
    if not isinstance(cylinder, int) or len(sensors) != 1 or sensors[0].cylinder == cylinder:
        return ()
    return (f"sensor.cylinder={cylinder}",)


def groups(
    name: str, recordings: Sequence[JobRecording], *, named: bool
) -> tuple[tuple[JobRecording, ...], ...]:
    """Return about which recordings a step is asked, a group for each answer.

    Parameters
    ----------
    named : bool
        The recordings were named for this; else they are all that the job has.
    """
    entry = step_entry(name)
    asks: Asks = entry.asks if entry is not None else "recording"
    if asks == "recordings":
        return (tuple(recordings),) if recordings else ()
    if asks == "crank" and not named:
        return ((),)
    return tuple((each,) for each in recordings)


def answer_request(folder: Path, request: Request, going: Going = unwatched) -> Said:
    """Ask what a request asks, its files being those of a job's folder.

    Parameters
    ----------
    going : callable, optional
        Told how far the reading of a recording has come, 0 to 1; whoever raises in it stops.

    Raises
    ------
    StrokewiseError
        A file or a profile cannot be used, or what was said cannot.
    """
    engine = None if request.engine is None else folder / request.engine
    said = SaidOfEngine(engine, request.settings)
    files = [folder / name for name in request.files]
    typed = _in_folder(folder, request)
    return ask(request.step, about_files(request.step, files, typed, said, going=going), typed)


def _in_folder(folder: Path, request: Request) -> Typed:
    """Return what was typed, with files of the job's folder named so that they are found."""
    names = {path.name for path in folder.iterdir()}
    takes = step_named(request.step).takes
    return {
        field: [str(folder / text) if text in names else text for text in texts]
        if takes[field].kind == "file"
        else texts
        for field, texts in request.typed.items()
    }


def differences(job: Job, kept: Answered) -> tuple[str, ...]:
    """Compute a kept answer again and return what differs, a line each; none when it is the same.

    The version is not compared: a new version with the same answer is the hoped-for case.
    """
    request = request_from(kept.asked, {path.name for path in job.folder.iterdir()})
    try:
        again = answer_request(job.folder, request).json
    except (InputError, OSError) as error:
        return (f"gives no answer any more: {error}",)
    keys = dict.fromkeys((*kept.answer, *again))
    return tuple(
        f"{key}: was {_short(kept.answer.get(key))}, is {_short(again.get(key))}"
        for key in keys
        if key != "version" and _plain(kept.answer.get(key)) != _plain(again.get(key))
    )


def _plain(value: Any) -> str:
    return json.dumps(value, sort_keys=True)


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 120 else text[:117] + "…"
