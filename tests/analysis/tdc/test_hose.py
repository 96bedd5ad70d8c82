"""A hose that rings delays pressure and hardly blunts it: running down an engine tells by how much.

The hose here is of the second order (``daq/bench/rig/sensor_model.py``), which is not the fit's.
"""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.engine.settings import RunDown
from strokewise.daq.bench.scenarios.scenarios import scenario

DELAYS_S, DAMPING = 0.6e-3, 0.6


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_a_hose_delays_is_told_from_tdc_by_the_speeds(seed, turned_bench):
    """Taken for a lag it moved TDC by 1.2° to 1.5°, in two of the three out of the interval."""
    bench = scenario("run-down").build({})
    sensor = bench.rig.sensors[0]
    hose_hz = DAMPING / (np.pi * DELAYS_S)  # of the second order: 2 ζ / ω late
    sensor = replace(sensor, lag_s=0.2e-3, hose_hz=hose_hz, hose_damping=DAMPING)
    rig = replace(bench.rig, sensors=(sensor,))
    made = turned_bench(replace(bench, turning=RunDown(1700.0, 2.5), rig=rig, seed=seed))
    stated = replace(made.profile.sensors[0], response_time_s=None)
    tracker = Tracker(replace(made.profile, sensors=(stated,)))
    for segment in made.recording.segments:
        tracker.feed(segment)
    tdc = tracker.verdict(closing=True).tdc
    assert tdc is not None
    off = (tdc.angle_deg.value - float(made.truth["tdc"]["angle"]) + 180.0) % 360.0 - 180.0
    assert abs(off) < min(0.5, tdc.angle_deg.half_width)
