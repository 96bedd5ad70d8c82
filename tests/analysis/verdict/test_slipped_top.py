"""A clamp that slips just at a compression's top: its speed there is none of the crank's."""

from dataclasses import replace

import numpy as np
import pytest
from suite_turned import ENGINE, SENSOR, turned

from strokewise.analysis.trace.passes import humps_of
from strokewise.analysis.verdict.judge import judge


def test_a_starter_meets_no_compression_backwards():
    """The middle of peaks met from two sides put TDC 64° off, at ± 12° (a bench, seed 785171)."""
    nodes = turned(4)
    at = humps_of(nodes)[1].at
    near = np.abs(np.arange(len(nodes)) - at) < 2
    slipped = replace(nodes, speed_deg_s=np.where(near, -1500.0, nodes.speed_deg_s))
    sound, judged = (judge(n, ENGINE, SENSOR, fitted=False) for n in (nodes, slipped))
    assert [hump.moving for hump in judged.humps] == [True, False, True, True, True]
    assert judged.tdc_deg is not None
    assert sound.tdc_deg is not None
    assert judged.tdc_deg.value == pytest.approx(sound.tdc_deg.value, abs=1.0)
