"""Which figures of a step stand best in a table? Marks as they are met."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from strokewise.analysis.profile import Mark
from strokewise.gui.models.run.snapshot import Snapshot

MARK_COLUMNS = ("mark", "seen", "TDC of 1", "95 % sure", "turn")
TURNS = {"both": "both", "firing": "firing", "overlap": "overlap", None: "open"}
MARK_WIDTHS = (14, 30, 38, 18)
NOT_YET = "–"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text under headings; all of one length, the first of each a name."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[int, ...]
    """Of the columns but the first, in per cent."""


def marks_table(snapshot: Snapshot, answer: dict[str, Any] | None) -> Table:
    """Return every mark with how often it was seen by now and where it stands, if that is known.

    Counts are those of this moment, also while the answer is still in the making.
    """
    said = {mark["name"]: mark for mark in (answer or {}).get("marks", ())}
    marks = {mark.name: mark for mark in snapshot.profile.marks}
    met = snapshot.met
    for name in (*(met.names if met else ()), *said):
        marks.setdefault(name, Mark(name))
    rows = []
    for mark in marks.values():
        place = said.get(mark.name, {})
        seen = met.count_of(mark) if met is not None else 0
        by = f"input {mark.input}" if mark.input else "key M"
        rows.append((f"{mark.name} · {by}", str(max(seen, place.get("seen", 0))), *_place(place)))
    return Table(MARK_COLUMNS, tuple(rows), MARK_WIDTHS)


def _place(place: dict[str, Any]) -> tuple[str, str, str]:
    after = place.get("after_tdc")
    if after is None:
        return NOT_YET, NOT_YET, NOT_YET
    value, low, high = after["value"], after["low"], after["high"]
    side = "after"
    if value < 0:
        value, low, high, side = -value, -high, -low, "before"
    return (
        f"{value:.2f}° {side}",
        f"{low:.2f}° to {high:.2f}°",
        TURNS.get(place["turn"], NOT_YET),
    )
