"""One engine sampled in many ways is one engine: the intervals of its TDC agree.

From 0.2° to 2.4° between samples, 8 to 12 bit, any zero of the encoder, counted up or down. A
coarser board knows less, so its interval may be wider, and holds what a finer one finds.
"""

from dataclasses import replace
from itertools import combinations

import pytest
from suite_bench import tdc_off_deg

from strokewise.analysis.verdict.find import find
from strokewise.daq.bench.scenarios.scenarios import scenario

FINEST = "0.2°, 12 bit"
BOARDS = {
    # samples a second at some 200 rev/min, bits, counts a turn, degrees of the clamp, way counted
    FINEST: (6000.0, 12, 3600, 123.4, 1),
    "1°, 12 bit, counted down": (1200.0, 12, 3600, 123.4, -1),
    "1°, 8 bit, another zero": (1200.0, 8, 3600, 341.7, 1),
    "2°, 10 bit, another zero": (600.0, 10, 1440, 17.2, 1),
    "2.4°, 12 bit": (500.0, 12, 2400, 123.4, 1),
    "2.4°, 8 bit, counted down, coarse": (500.0, 8, 720, 251.9, -1),
}


@pytest.fixture(scope="module")
def off_deg(turned_bench):
    """TDC's interval of each board, against the truth."""

    def found(rate_hz, bits, counts, clamp_deg, way):
        bench = scenario("cranked").build({})
        rig = replace(
            bench.rig,
            board=replace(bench.rig.board, sample_rate_hz=rate_hz, adc_bits=bits),
            encoder=replace(
                bench.rig.encoder, counts_per_rev=counts, clamp_deg=clamp_deg, direction=way
            ),
        )
        turned = turned_bench(replace(bench, rig=rig))
        tdc = find(turned.recording, turned.profile).tdc
        assert tdc is not None
        angle = tdc.angle_deg
        off = tdc_off_deg(angle.value, turned.truth)
        return angle.shifted(off - angle.value)

    return {name: found(*board) for name, board in BOARDS.items()}


def test_every_interval_holds_the_truth(off_deg):
    for name, interval in off_deg.items():
        assert interval.low <= 0.0 <= interval.high, name


def test_any_two_hold_what_the_other_finds(off_deg):
    for (one, a), (other, b) in combinations(off_deg.items(), 2):
        assert a.low <= b.value <= a.high, (one, other)
        assert b.low <= a.value <= b.high, (one, other)


def test_a_coarser_board_is_no_surer(off_deg):
    finest = off_deg[FINEST].half_width
    for name, interval in off_deg.items():
        assert 0.9 * finest < interval.half_width < 3.0 * finest, name
