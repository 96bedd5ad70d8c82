"""What is kept in a job's numbered files, and how is each read back?"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime
from pathlib import Path
from typing import Any

from strokewise.analysis.valves.clearances import Gap
from strokewise.daq.depth import nested_deeper
from strokewise.daq.profile.quantity import LENGTH, read_quantity
from strokewise.gui.job.store import Kept
from strokewise.gui.job.tasks import Task
from strokewise.gui.pages.page import Page
from strokewise.gui.pages.stored import page_from

DEEPEST_PAGE = 32
"""Lists within lists of an answer's page, with room."""

DEEP = "tables within tables, too deep to be part of a job"

LARGEST_TEXT_FILE = 4 << 20  # bytes; an answer is a few kilobytes

CAN_BE_UNDONE = {
    "gap_sheets": "gaps",
    "notes": "note",
    "photos": "photo",
    "own_tasks": "task",
    "torques": "torque",
    "answers": "answer",
    "recordings": "recording",
}
"""What is left out once it is taken back, and what it is called; a tick has its own way."""

GAP_FIELDS = tuple(each.name for each in fields(Gap) if each.name.endswith("_mm"))


@dataclass(frozen=True, slots=True)
class JobRecording:
    """A recording of the job; ``name`` is the file's, ``sha256`` of its bytes when it was added."""

    number: int
    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Answered:
    """One answer, with all that is needed to compute it again.

    Attributes
    ----------
    asked : tuple of str
        The command line, files named as in the job's folder.
    recordings : tuple of Recorded
        What it was asked about.
    profile : str or None
        Name of the profile's file.
    answer : mapping
        The command's JSON object.
    page : Page or None
        What a person read; None where a version kept it that had no pages.
    """

    number: int
    command: str
    asked: tuple[str, ...]
    made: datetime
    version: str
    recordings: tuple[JobRecording, ...]
    profile: str | None
    answer: Mapping[str, Any]
    page: Page | None = None

    def rests_on(self, name: str) -> bool:
        """Whether it was asked about a file of the job, in whatever way."""
        return name in (*self.asked, *(each.name for each in self.recordings))


@dataclass(frozen=True, slots=True)
class GapSheet:
    """Measured valve gaps; ``stage`` is empty or says when, such as "after first running"."""

    number: int
    stage: str
    gaps: tuple[Gap, ...]


@dataclass(frozen=True, slots=True)
class Tick:
    """A task ticked, or with ``done`` False the tick taken back."""

    number: int
    task: str
    initials: str
    on: date
    done: bool = True
    note: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """Something a person wrote."""

    number: int
    made: datetime
    text: str


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo by its file's name; what it shows stands in its caption."""

    number: int
    name: str


@dataclass(frozen=True, slots=True)
class PhotoCaption:
    """What a photo shows; ``photo`` is its file's name."""

    number: int
    photo: str
    made: datetime
    text: str


@dataclass(frozen=True, slots=True)
class OwnTask:
    """A task that this job alone has."""

    number: int
    task: Task


@dataclass(frozen=True, slots=True)
class Torque:
    """Something drawn tight: what, how tight with its unit, with which tool, by whom and when."""

    number: int
    what: str
    value: str
    tool: str
    initials: str
    on: date
    note: str = ""


@dataclass(frozen=True, slots=True)
class Undone:
    """Something taken back; ``which`` is the number of its file."""

    number: int
    which: int
    initials: str
    on: date


def _read_recording(kept: Kept) -> JobRecording:
    sha256 = hashlib.sha256(kept.path.read_bytes()).hexdigest()
    return JobRecording(kept.number, kept.path.name, sha256)


def _read_answer(kept: Kept) -> Answered:
    content = table_in(kept.path)
    asked = tuple(str(word) for word in content["asked"])
    return Answered(
        number=kept.number,
        command=asked[0],
        asked=asked,
        made=datetime.fromisoformat(content["made"]),
        version=str(content["version"]),
        recordings=tuple(
            JobRecording(int(each["file"].split("-")[0]), each["file"], each["sha256"])
            for each in content["recordings"]
        ),
        profile=content["profile"],
        answer=dict(content["answer"]),
        page=page_from(content["page"]) if "page" in content else None,
    )


def _read_gaps(kept: Kept) -> GapSheet:
    content = table_in(kept.path)
    gaps = [
        Gap(
            str(row["valve"]),
            **{
                name: read_quantity(row[name.removesuffix("_mm")], LENGTH)
                for name in GAP_FIELDS
                if name.removesuffix("_mm") in row
            },
        )
        for row in content["gap"]
    ]
    return GapSheet(kept.number, str(content.get("stage", "")), tuple(gaps))


def _read_tick(kept: Kept) -> Tick:
    content = table_in(kept.path)
    return Tick(
        kept.number,
        str(content["task"]),
        str(content["initials"]),
        _day_in(content),
        bool(content["done"]),
        str(content.get("note", "")),
    )


def _read_note(kept: Kept) -> Note:
    content = table_in(kept.path)
    return Note(kept.number, datetime.fromisoformat(content["made"]), str(content["text"]))


def _read_photo(kept: Kept) -> Photo:
    return Photo(kept.number, kept.path.name)


def _read_caption(kept: Kept) -> PhotoCaption:
    content = table_in(kept.path)
    made = datetime.fromisoformat(content["made"])
    return PhotoCaption(kept.number, str(content["photo"]), made, str(content["text"]))


def _read_task(kept: Kept) -> OwnTask:
    content = table_in(kept.path)
    return OwnTask(kept.number, Task(**{key: str(text) for key, text in content.items()}))


def _read_torque(kept: Kept) -> Torque:
    content = table_in(kept.path)
    what, value, tool, initials = (
        str(content[key]) for key in ("what", "value", "tool", "initials")
    )
    note = str(content.get("note", ""))
    return Torque(kept.number, what, value, tool, initials, _day_in(content), note)


def _read_undone(kept: Kept) -> Undone:
    content = table_in(kept.path)
    return Undone(kept.number, int(content["which"]), str(content["initials"]), _day_in(content))


def _day_in(content: Mapping[str, Any]) -> date:
    if not isinstance(content["on"], date):
        raise ValueError("on is no date")
    return content["on"]


KEPT_READERS: dict[str, tuple[str, Callable[[Kept], Any]]] = {
    "profile": ("profiles", lambda kept: kept.path.name),
    "recording": ("recordings", _read_recording),
    "answer": ("answers", _read_answer),
    "gaps": ("gap_sheets", _read_gaps),
    "tick": ("ticks", _read_tick),
    "note": ("notes", _read_note),
    "photo": ("photos", _read_photo),
    "caption": ("captions", _read_caption),
    "task": ("own_tasks", _read_task),
    "torque": ("torques", _read_torque),
    "undone": ("undone", _read_undone),
}


def table_in(path: Path) -> dict[str, Any]:
    """Return the TOML or JSON of a file of the job; nothing in it is deeper than a page is."""
    read = json.loads if path.suffix == ".json" else tomllib.loads
    try:
        content: dict[str, Any] = read(_text_of(path))
    except RecursionError:
        raise ValueError(DEEP) from None
    if nested_deeper(content, DEEPEST_PAGE):
        raise ValueError(DEEP)
    return content


def _text_of(path: Path) -> str:
    with path.open("rb") as stream:
        content = stream.read(LARGEST_TEXT_FILE + 1)
    if len(content) > LARGEST_TEXT_FILE:
        raise ValueError("too large to be part of a job")
    return content.decode("utf-8-sig")
