"""Was an answer that stood taken back, or has it moved by a stroke or more?"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.remark import Notice, remark
from strokewise.analysis.verdict.verdict import Verdict

WITHDRAWN: Final = "withdrawn"
"""Code of the warning."""

ANOTHER_ANSWER_DEG = 20.0
"""An answer that moves by so much is another answer, not a finer one."""


def taken_back(before: Verdict, now: Verdict, cycle_deg: float) -> Verdict:
    """Say so when an answer that stood is taken back, or has moved by a stroke or more."""
    if not before.decided:
        # What was taken back once is said until there is an answer again.
        kept = tuple(w for w in before.warnings if w.code == WITHDRAWN and not now.decided)
        return replace(now, warnings=(*now.warnings, *kept))
    if now.decided and before.firing_deg and now.firing_deg:
        moved = nearest(now.firing_deg[1] - before.firing_deg[1], cycle_deg)
        if abs(moved) < ANOTHER_ANSWER_DEG:
            return now
        said = remark("answer-moved", by_deg=moved)
    else:
        said = remark(WITHDRAWN, why=now.reason)
    return replace(now, warnings=(*now.warnings, Notice(WITHDRAWN, said)))
