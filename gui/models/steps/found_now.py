"""What has been found by now, as the steps after TDC ask about it? From a moment of any run."""

from __future__ import annotations

from dataclasses import replace

from strokewise.analysis.trace.marks_met import MarksMet
from strokewise.analysis.verdict.found import Found
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.models.run.snapshot import Snapshot

WEIGHED = "the first compressions are being weighed: turn on meanwhile"
ANSWER_HIDDEN = "hidden until the class has answered"
RESTARTED_TURN_ON = (
    "the board has started again since: what was measured before no longer holds at the encoder;"
    " turn the engine through two compressions"
)


def is_hidden(snapshot: Snapshot) -> bool:
    """Tell whether the verdict is kept from the class; every other one has a reason."""
    verdict = snapshot.verdict
    return verdict is not None and not verdict.decided and not verdict.reason


def found_now(snapshot: Snapshot) -> Found:
    """Return what has been found by a moment; undecided, with what to do, where that is nothing."""
    now, verdict = snapshot.now, snapshot.verdict
    if verdict is None:
        verdict = Verdict(decided=False, reason=snapshot.why_no_passes() or WEIGHED)
    elif is_hidden(snapshot):
        verdict = replace(verdict, reason=ANSWER_HIDDEN)
    number = None if now is None else now.segment
    if verdict.segment is not None and number is not None and verdict.segment != number:
        verdict = Verdict(decided=False, reason=RESTARTED_TURN_ON, warnings=verdict.warnings)
    verdict = replace(verdict, warnings=(*snapshot.notices, *verdict.warnings))
    marks: MarksMet | None = snapshot.met
    return Found(snapshot.profile, verdict, snapshot.angle_deg, snapshot.judgement, marks)
