"""What has been found by now, as the steps after TDC ask about it? From a moment of any run."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from strokewise.analysis.profile import Mark
from strokewise.analysis.samples import Health, Recording, Segment
from strokewise.analysis.trace.marks_met import MarkSeen
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.found import Found
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.steps.marks_passed import Met

NOW = Path("now")
"""No file is asked about."""
WEIGHED = "the first compressions are being weighed: turn on meanwhile"
HIDDEN = "hidden until the class has answered"
RESTARTED = (
    "the board has started again since: what was measured before no longer holds at the encoder;"
    " turn the engine through two compressions"
)


@dataclass(frozen=True, slots=True)
class FoundNow(Found):
    """What was found by a moment; the marks as they were met so far."""

    met: Met | None = None

    @property
    def pressed_names(self) -> tuple[str, ...]:
        """Names of the marks that were pressed, each once."""
        return () if self.met is None else self.met.names

    def seen_of(self, mark: Mark) -> MarkSeen:
        """Return every edge and press of one mark; empty when it was not met."""
        return MarkSeen(mark) if self.met is None else self.met.seen(mark)


def is_hidden(snapshot: Snapshot) -> bool:
    """Tell whether the verdict is kept from the class; every other one has a reason."""
    verdict = snapshot.verdict
    return verdict is not None and not verdict.decided and not verdict.reason


def found_now(snapshot: Snapshot) -> FoundNow:
    """Return what has been found by a moment; undecided, with what to do, where that is nothing."""
    now, verdict = snapshot.now, snapshot.verdict
    if verdict is None:
        verdict = Verdict(decided=False, reason=snapshot.why_no_passes() or WEIGHED)
    elif is_hidden(snapshot):
        verdict = replace(verdict, reason=HIDDEN)
    number = None if now is None else now.segment
    if verdict.segment is not None and number is not None and verdict.segment != number:
        verdict = Verdict(decided=False, reason=RESTARTED, warnings=verdict.warnings)
    verdict = replace(verdict, warnings=(*snapshot.notices, *verdict.warnings))
    return FoundNow(
        NOW,
        Recording((), Health()),
        snapshot.profile,
        verdict,
        Segment(number or 0),
        snapshot.angle_deg,
        snapshot.judgement,
        snapshot.met,
    )
