"""Which figures of a step stand best in a table? Marks as they are met."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from strokewise.analysis.marks.marks import MarkPlace
from strokewise.analysis.profile import Mark
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.pages.headline import AFTER, sided_apart

MARK_COLUMNS = ("mark", "seen", "TDC of 1", "95 % sure", "turn")
TURNS = {"both": "both", "firing": "firing", "overlap": "overlap", None: "open"}
MARK_WIDTHS = (16, 28, 37, 19)
NOT_YET = "–"


@dataclass(frozen=True, slots=True)
class LiveTable:
    """Rows of text under headings; all of one length, the first of each a name."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[int, ...]
    """Of the columns but the first, in per cent."""


def marks_table(snapshot: Snapshot, places: Sequence[MarkPlace]) -> LiveTable:
    """Return every mark with how often it was seen by now and where it stands, if that is known.

    Counts are those of this moment, also while the answer is still in the making.
    """
    said = {place.mark.name: place for place in places}
    marks = {mark.name: mark for mark in snapshot.profile.marks}
    met = snapshot.met
    for name in (*(met.names if met else ()), *said):
        marks.setdefault(name, Mark(name))
    rows = []
    for mark in marks.values():
        place = said.get(mark.name)
        seen = met.count_of(mark) if met is not None else 0
        by = f"input {mark.input}" if mark.input else "key M"
        rows.append(
            (f"{mark.name} · {by}", str(max(seen, place.seen if place else 0)), *_place(place))
        )
    return LiveTable(MARK_COLUMNS, tuple(rows), MARK_WIDTHS)


def _place(place: MarkPlace | None) -> tuple[str, str, str]:
    if place is None or place.after_tdc is None:
        return NOT_YET, NOT_YET, NOT_YET
    return (
        *sided_apart(place.after_tdc, AFTER, most=1),
        TURNS.get(place.turn, NOT_YET),
    )
