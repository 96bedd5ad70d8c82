"""How is a job said to a person and to a program? What is in it, and what is still to do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from strokewise.gui.job.job import Job
from strokewise.gui.job.kept import Answered, Tick, Torque
from strokewise.gui.job.tasks import Task
from strokewise.gui.job.torque import tightness_words
from strokewise.gui.pages.answers import Answer, base_answer
from strokewise.gui.pages.text import fact, paragraph, warning_words
from strokewise.gui.pages.words import counted
from strokewise.gui.sayings import Told


def job_words(job: Job, warnings: Sequence[str] = ()) -> str:
    """Return the whole job in plain text."""
    made = f"made {job.made:%Y-%m-%d}" + (f" for {job.made_for}" if job.made_for else "")
    facts = fact("Job", f"{job.name}, {made}")
    facts += fact("Engine profile", job.profiles[-1] if job.profiles else "none: unknown engine")
    facts += fact("Recordings", ", ".join(each.name for each in job.recordings) or "none")
    for stage in job.stages:
        measured = counted(len(job.gaps(stage)), "valve", " measured")
        said = f"{measured}, {len(job.good_at(stage))} right" + (f"; {stage}" if stage else "")
        facts += fact("Clearances", said)
    for torque in job.torques:
        facts += fact(f"Torque {torque.number}", torque_words(torque))
    for note in job.notes:
        facts += fact(f"Note {note.made:%Y-%m-%d}", note.text)
    for photo in job.photos:
        facts += fact(f"Photo {photo.number}", f"{job.caption_of(photo)} ({photo.name})")
    for kept in job.answers:
        facts += fact(f"Answer {kept.number}", answered_words(kept))
    tasks = [line for task in job.tasks for line in _task(task, job)]
    left = len(job.to_do)
    heading = f"Still to do: {left} of {len(job.tasks)}" if left else "Nothing is left to do"
    parts = [
        "\n".join(facts),
        "\n".join([heading, *tasks]),
        warning_words(Told("job", text) for text in warnings),
    ]
    return "\n\n".join(part for part in parts if part)


def answered_words(kept: Answered) -> str:
    """Return what was asked and what came out, in one sentence."""
    files = ", ".join(each.name for each in kept.recordings)
    decided = "decided" if kept.answer.get("decided") else "not decided"
    reason = str(kept.answer.get("reason", ""))
    about = f" about {files}" if files else ""
    return f"{kept.command}{about}: {decided}; {reason} (version {kept.version})"


def torque_words(torque: Torque) -> str:
    """Return what was drawn tight, how, and by whom."""
    value = tightness_words(torque.value)
    return f"{torque.what}, {value}, {torque.tool}, {signed_words(torque)}"


def signed_words(entry: Tick | Torque) -> str:
    """Return when it was put down, by whom, and the note of it."""
    note = f": {entry.note}" if entry.note else ""
    return f"{entry.on} {entry.initials}{note}"


def job_answer(job: Job, warnings: Sequence[str] = ()) -> Answer:
    """Return the job as one JSON object; ``decided`` means that nothing is left to do."""
    left = len(job.to_do)
    answer = base_answer(
        not left,
        f"{left} of {len(job.tasks)} still to do" if left else "nothing is left to do",
        [Told("job", text) for text in warnings],
    )
    answer["name"] = job.name
    answer["recordings"] = [each.name for each in job.recordings]
    answer["profile"] = job.profiles[-1] if job.profiles else None
    answer["answers"] = [
        {"number": kept.number, "asked": list(kept.asked), "answer": dict(kept.answer)}
        for kept in job.answers
    ]
    answer["torques"] = [
        {
            "number": each.number,
            "what": each.what,
            "value": each.value,
            "tool": each.tool,
            "on": each.on.isoformat(),
            "initials": each.initials,
            "note": each.note,
        }
        for each in job.torques
    ]
    answer["photos"] = [
        {"number": each.number, "file": each.name, "shows": job.caption_of(each)}
        for each in job.photos
    ]
    answer["todo"] = [_task_answer(task, job) for task in job.tasks]
    return answer


def _task(task: Task, job: Job) -> list[str]:
    tick = job.tick_of(task.code)
    if tick is None:
        return [
            paragraph(f"{task.text} ({task.code})", first="  [ ] ", rest="      "),
            *([paragraph(task.why, first="      ", rest="      ")] if task.why else []),
        ]
    return [paragraph(f"{task.text}, {signed_words(tick)}", first="  [x] ", rest="      ")]


def _task_answer(task: Task, job: Job) -> dict[str, Any]:
    tick = job.tick_of(task.code)
    return {
        "task": task.code,
        "text": task.text,
        "why": task.why,
        "own": next((own.number for own in job.own_tasks if own.task is task), None),
        "done": None
        if tick is None
        else {"on": tick.on.isoformat(), "initials": tick.initials, "note": tick.note},
    }
