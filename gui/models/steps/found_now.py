"""What has been found by now, as the steps after TDC ask about it? From a moment of any run."""

from __future__ import annotations

from dataclasses import replace

from strokewise.analysis.remark import remark
from strokewise.analysis.trace.marks_met import MarksMet
from strokewise.analysis.verdict.found import Found
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.models.run.snapshot import ANSWER_HIDDEN, Snapshot
from strokewise.gui.sayings import as_said

WEIGHED = remark("first-weighed")
RESTARTED_TURN_ON = remark("restarted-since")
"""Why a step has nothing to ask about yet, or no more."""


def is_hidden(snapshot: Snapshot) -> bool:
    """Tell whether the verdict is kept from the class."""
    verdict = snapshot.verdict
    return verdict is not None and verdict.reason == ANSWER_HIDDEN


def found_now(snapshot: Snapshot) -> Found:
    """Return what has been found by a moment; undecided, with what to do, where that is nothing."""
    now, verdict = snapshot.now, snapshot.verdict
    if verdict is None:
        why = snapshot.why_no_passes()
        reason = as_said(why) if why else WEIGHED
        verdict = Verdict(decided=False, reason=reason)
    number = None if now is None else now.segment
    if verdict.segment is not None and number is not None and verdict.segment != number:
        verdict = Verdict(decided=False, reason=RESTARTED_TURN_ON, warnings=verdict.warnings)
    verdict = replace(verdict, warnings=(*snapshot.notices, *verdict.warnings))
    marks: MarksMet | None = snapshot.met
    return Found(snapshot.profile, verdict, snapshot.angle_deg, snapshot.judgement, marks)
