"""What is answered of an engine drawn at random, as the accuracy's benchmarks draw them?"""

from __future__ import annotations

import sys
from typing import Any

from suite_bench import played
from suite_imports import ROOT

from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict

sys.path.insert(0, str(ROOT / "tests" / "benchmarks"))
from random_benches import recording_of
from running_benches import draw_any


def answered(seed: int, way: Any, *, lag_known: bool) -> tuple[Verdict, dict[str, Any]]:
    """Return the verdict on an engine turned one way, and the truth."""
    drawn = draw_any(seed, way, lag_known=lag_known)
    made = played(drawn.bench)
    tracker = Tracker(drawn.profile)
    for segment in recording_of(made).segments:
        tracker.feed(segment)
    return tracker.verdict(closing=True), made.truth
