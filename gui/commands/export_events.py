"""What else does a recording hold beside its samples? Index, mark edges and keys as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from strokewise.analysis.crank.angle import angle_of_count, motion_of
from strokewise.analysis.samples import INDEX_INPUT
from strokewise.gui.pages.words import counted

if TYPE_CHECKING:
    from strokewise.analysis.profile import Profile
    from strokewise.analysis.samples import Recording, Segment

EVENT_COLUMNS = ("segment", "time_s", "crank_deg", "kind", "name", "input", "count")
EVENT_WORDS = (
    "kind: index, the encoder's own; mark, an edge on a mark input; key, pressed by a person. "
    "Angles of edges are of the count latched by the board, those of keys of the trace then"
)
KIND_WORDS = {"index": ("index pulse",), "mark": ("mark edge",), "key": ("key", " pressed")}

Row = tuple[Any, ...]


def event_table(recording: Recording, profile: Profile) -> dict[str, list[Any]]:
    """Return every event of all runs of the board, in the order of time.

    None stands where something is not known: the angle of a key pressed while nothing was
    sampled, the count and input of any key.
    """
    rows = [row for run in recording.segments for row in _rows(run, profile)]
    return {name: [row[i] for row in rows] for i, name in enumerate(EVENT_COLUMNS)}


def events_said(table: dict[str, list[Any]]) -> str:
    """Return how many of each kind, in words."""
    count = {kind: table["kind"].count(kind) for kind in KIND_WORDS}
    found = [counted(count[kind], *KIND_WORDS[kind]) for kind in KIND_WORDS if count[kind]]
    return ", ".join(found) or "no events"


def _rows(run: Segment, profile: Profile) -> list[Row]:
    events, samples = run.events, run.samples
    angles = angle_of_count(events.count, profile.encoder).tolist()
    rows: list[Row] = [
        (
            run.number,
            at_us * 1e-6,
            angle,
            "index" if number == INDEX_INPUT else "mark",
            _name(run, profile, number),
            number,
            count,
        )
        for at_us, angle, number, count in zip(
            events.time_us.tolist(),
            angles,
            events.input.tolist(),
            events.count.tolist(),
            strict=True,
        )
    ]
    motion = motion_of(samples.time_us, samples.count, profile.encoder) if run.presses else None
    for press in run.presses:
        angle = None
        if motion is not None and len(samples) > 1:
            at = np.interp(
                press.time_us, samples.time_us, motion.angle_deg, left=np.nan, right=np.nan
            )
            angle = None if np.isnan(at) else float(at)
        rows.append((run.number, press.time_us * 1e-6, angle, "key", press.name, None, None))
    return sorted(rows, key=lambda row: row[1])


def _name(run: Segment, profile: Profile, number: int) -> str:
    """What the profile, or else the board, calls an input."""
    if number == INDEX_INPUT:
        return ""
    said = [mark.name for mark in profile.marks if mark.input == number]
    board = run.board.marks if run.board is not None else ()
    return next(iter([*said, *board[number - 1 : number]]), "")
