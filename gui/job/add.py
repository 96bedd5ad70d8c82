"""How does something get into a job? Profile, recording, answer, gaps, note, photo, tick, torque.

Each becomes a numbered file of its own; nothing in a job is ever changed.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import tomli_w

from strokewise.analysis.errors import InputError
from strokewise.analysis.valves.clearances import Gap
from strokewise.daq.profile.known import known_engine, load_profile
from strokewise.daq.profile.quantity import LENGTH, write_quantity
from strokewise.daq.recording.container import RECORDING_SUFFIX
from strokewise.gui.job.job import JOB_FORMAT, Job, read_job
from strokewise.gui.job.kept import CAN_BE_UNDONE, GAP_FIELDS, JobRecording
from strokewise.gui.job.photo import read_photo
from strokewise.gui.job.store import keep, locked, make_folder, slug
from strokewise.gui.job.tasks import TASKS, Task
from strokewise.gui.job.torque import tightness
from strokewise.gui.pages.page import Page
from strokewise.gui.pages.stored import page_table

LONGEST_TEXT = 500  # characters of a note; more belongs into a file of its own
LONGEST_INITIALS = 12


def create_job(
    folder: Path | str, name: str, *, now: datetime, version: str, made_for: str = ""
) -> Job:
    """Make a new job in a new folder.

    Raises
    ------
    InputError
        The folder is taken or cannot be made, or the name is empty.
    """
    head = {
        "format": JOB_FORMAT,
        "name": _line(name, "the job's name"),
        "made": now.isoformat(timespec="seconds"),
        "version": version,
        "todo": [
            {"code": t.code, "text": t.text, "why": t.why} | ({"after": t.after} if t.after else {})
            for t in TASKS
        ],
    }
    if made_for:
        head["for"] = _line(made_for, "whom the job is for")
    make_folder(Path(folder), tomli_w.dumps(head).encode())
    return read_job(folder)


def add_profile(folder: Path | str, profile: Path | str) -> str:
    """Keep an engine profile as it was written, once it is known to be good; return its name.

    Raises
    ------
    ProfileError
        The profile is wrong.
    InputError
        The folder is no job or refuses.
    """
    layer = load_profile(profile)
    known_engine(engine=layer)
    with locked(Path(folder)):
        job = read_job(folder)
        content = (layer.text or "").encode()
        if job.profile_path is not None and job.profile_path.read_bytes() == content:
            return job.profiles[-1]
        return keep(job.folder, "profile", Path(profile).stem, ".toml", content).name


def add_recording(folder: Path | str, recording: Path | str) -> JobRecording:
    """Keep a copy of a recording; the same bytes are kept once.

    Raises
    ------
    InputError
        The recording cannot be read, or the folder is no job or refuses.
    """
    try:
        content = Path(recording).read_bytes()
    except OSError as error:
        raise InputError(f"{recording}: cannot be read: {error.strerror}") from None
    sha256 = hashlib.sha256(content).hexdigest()
    with locked(Path(folder)):
        job = read_job(folder)
        for kept in job.recordings:
            if kept.sha256 == sha256:
                return kept
        path = keep(job.folder, "recording", Path(recording).stem, RECORDING_SUFFIX, content)
    return JobRecording(int(path.name.split("-")[0]), path.name, sha256)


def add_answer(
    folder: Path | str,
    asked: Sequence[str],
    answer: Mapping[str, Any],
    *,
    recordings: Sequence[JobRecording],
    profile: str | None,
    now: datetime,
    page: Page | None = None,
) -> str:
    """Keep an answer beside what it was asked about; return the new file's name.

    Parameters
    ----------
    asked : sequence of str
        The request as a person would type it, files named as in the job's folder; the first word is
        the step.
    answer : mapping
        What a program reads.
    page : Page, optional
        What a person reads.

    Raises
    ------
    InputError
        The answer is none, or the folder is no job or refuses.
    """
    if not asked or not isinstance(answer.get("version"), str) or "decided" not in answer:
        raise InputError("not an answer: it lacks its command, decided or version")
    content = {
        "format": JOB_FORMAT,
        "asked": list(asked),
        "made": now.isoformat(timespec="seconds"),
        "version": answer["version"],
        "recordings": [{"file": each.name, "sha256": each.sha256} for each in recordings],
        "profile": profile,
        "answer": dict(answer),
    }
    if page is not None:
        content["page"] = page_table(page)
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, indent=1)
    with locked(Path(folder)):
        path = keep(Path(folder), "answer", asked[0], ".json", f"{text}\n".encode())
    return path.name


def add_gaps(folder: Path | str, gaps: Iterable[Gap], *, stage: str = "") -> str:
    """Keep measured valve gaps; return the new file's name."""
    rows = [
        {"valve": gap.valve}
        | {
            name.removesuffix("_mm"): write_quantity(round(getattr(gap, name), 6), LENGTH)
            for name in GAP_FIELDS
            if getattr(gap, name) is not None
        }
        for gap in gaps
    ]
    table: dict[str, Any] = {"stage": _line(stage, "the stage")} if stage else {}
    return _keep_table(folder, "gaps", stage, table | {"gap": rows})


def add_note(folder: Path | str, text: str, *, now: datetime) -> str:
    """Keep a note; return the new file's name."""
    table = {"made": now.isoformat(timespec="seconds"), "text": _line(text, "the note")}
    return _keep_table(folder, "note", "", table)


def add_photo(folder: Path | str, photo: Path | str, caption: str, *, now: datetime) -> str:
    """Keep a photo, upright, scaled and without what the camera wrote; return the new file's name.

    Raises
    ------
    InputError
        The photo cannot be read or is too large, or the folder is no job or refuses.
    """
    text = _line(caption, "what the photo shows")
    picture = read_photo(photo)
    with locked(Path(folder)):
        name = keep(Path(folder), "photo", caption, ".jpg", picture.jpeg).name
        table = {"photo": name, "text": text, "made": now.isoformat(timespec="seconds")}
        keep(Path(folder), "caption", caption, ".toml", tomli_w.dumps(table).encode())
    return name


def add_task(folder: Path | str, text: str, *, code: str = "", why: str = "") -> Task:
    """Put a task of this job's own on its list; its code is made of its text if left out.

    Raises
    ------
    InputError
        A task of this code is on the list, or the folder is no job or refuses.
    """
    said = _line(text, "the task")
    short = slug(code or said)
    if code and short != code:
        raise InputError(f'"{code}" is no short name; small letters, digits and dashes: {short}')
    with locked(Path(folder)):
        job = read_job(folder)
        if not short or any(task.code == short for task in job.tasks):
            raise InputError(f'"{short}" is on the list already; give another short name')
        task = Task(short, said, _line(why, "why") if why else "")
        table = {"code": task.code, "text": task.text, "why": task.why}
        keep(job.folder, "task", short, ".toml", tomli_w.dumps(table).encode())
    return task


def add_torque(
    folder: Path | str,
    what: str,
    value: str,
    *,
    tool: str,
    initials: str,
    on: date,
    note: str = "",
) -> str:
    """Keep how tight something was drawn; return the new file's name.

    Raises
    ------
    InputError
        The value has no unit or is none, something is missing, or the folder is no job.
    """
    table: dict[str, Any] = {
        "what": _line(what, "what was drawn tight"),
        "value": tightness(value).words,
        "tool": _line(tool, "the tool"),
        "initials": _line(initials, "the initials", LONGEST_INITIALS),
        "on": on,
    }
    if note:
        table["note"] = _line(note, "the note")
    return _keep_table(folder, "torque", what, table)


def take_back(folder: Path | str, number: int, *, initials: str, on: date) -> str:
    """Take back anything that can be (:data:`CAN_BE_UNDONE`); return what it was.

    Its file stays where it is, as everything in a job; what takes it back is a file, too.

    Raises
    ------
    InputError
        There is nothing of that number, nothing that can be taken back, or a recording that an
        answer rests on.
    """
    who = _line(initials, "the initials", LONGEST_INITIALS)
    with locked(Path(folder)):
        job = read_job(folder)
        there = {
            each.number: what
            for field, what in CAN_BE_UNDONE.items()
            for each in getattr(job, field)
        }
        if number not in there:
            numbers = ", ".join(map(str, sorted(there))) or "nothing"
            raise InputError(f"{number} cannot be taken back; there is {numbers}")
        _refuse_if_rested_on(job, number)
        table = {"which": number, "initials": who, "on": on}
        keep(job.folder, "undone", "", ".toml", tomli_w.dumps(table).encode())
    return there[number]


def _refuse_if_rested_on(job: Job, number: int) -> None:
    """Refuse to take a recording from under an answer."""
    for name in (each.name for each in job.recordings if each.number == number):
        on_it = [str(kept.number) for kept in job.answers if kept.rests_on(name)]
        if on_it:
            answers = f"answer{'s' if len(on_it) > 1 else ''} {' and '.join(on_it)}"
            raise InputError(f"{name} is what {answers} came from: take that back first")


def tick_task(
    folder: Path | str, code: str, *, initials: str, on: date, done: bool = True, note: str = ""
) -> Job:
    """Tick a task with date and initials, or take its tick back with ``done`` False.

    Raises
    ------
    InputError
        There is no such task, it is ticked already (or not), or one that comes before it is open.
    """
    with locked(Path(folder)):
        job = read_job(folder)
        task = next((task for task in job.tasks if task.code == code), None)
        if task is None:
            codes = ", ".join(task.code for task in job.tasks)
            raise InputError(f'there is no task "{code}"; there are {codes}')
        now_ticked = job.tick_of(code)
        if done and now_ticked is not None:
            raise InputError(f"{code} is ticked already, {now_ticked.on} {now_ticked.initials}")
        if not done and now_ticked is None:
            raise InputError(f"{code} is not ticked, so there is nothing to take back")
        before = {each.code for each in job.tasks if each.code == task.after}
        if done and before and job.tick_of(task.after) is None:
            raise InputError(f"{code} comes after {task.after}, which is not ticked yet")
        table: dict[str, Any] = {
            "task": code,
            "initials": _line(initials, "the initials", LONGEST_INITIALS),
            "on": on,
            "done": done,
        }
        if note:
            table["note"] = _line(note, "the note")
        keep(job.folder, "tick", code, ".toml", tomli_w.dumps(table).encode())
    return read_job(folder)


def _keep_table(folder: Path | str, kind: str, name: str, table: Mapping[str, Any]) -> str:
    with locked(Path(folder)):
        return keep(Path(folder), kind, name, ".toml", tomli_w.dumps(table).encode()).name


def _line(text: str, what: str, longest: int = LONGEST_TEXT) -> str:
    """Return one printable line, or refuse it."""
    line = " ".join(text.split())
    if not line or not line.isprintable() or len(line) > longest:
        raise InputError(f"{what} must be one line of 1 to {longest} printable characters")
    return line
