"""A diesel that catches on its starter, burning fast and short of TDC, seems to slip."""

import sys
from pathlib import Path

from suite_bench import played

from strokewise.analysis.verdict.tracker import Tracker

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
from random_benches import recording_of
from running_benches import draw_any


def test_where_compressions_come_later_and_higher_the_interval_holds_both():
    """Its interval was ± 1.1° about a TDC 5.0° late, with a slipped clamp told of."""
    drawn = draw_any(775008, "mixed", lag_known=False)
    made = played(drawn.bench)
    tracker = Tracker(drawn.profile)
    for segment in recording_of(made).segments:
        tracker.feed(segment)
    tdc = tracker.verdict(closing=True).tdc
    assert tdc is not None
    off = (tdc.angle_deg.value - float(made.truth["tdc"]["angle"]) + 180.0) % 360.0 - 180.0
    assert off > 3.0  # it is taken for a slip still
    assert tdc.angle_deg.low < tdc.angle_deg.value - off
