"""The piston stop: contacts, their middle, and what is missing when one side is."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from suite_bench import played

from strokewise.analysis.crank.kinematics import angle_of_travel
from strokewise.analysis.profile import Encoder, Profile, Sensor
from strokewise.analysis.samples import Board, Health, Press, Recording, Samples, Segment
from strokewise.analysis.tdc.stop import contacts_of, tdc_by_stop
from strokewise.analysis.trace.nodes import nodes_of
from strokewise.analysis.trace.trace import trace_of
from strokewise.analysis.verdict.find import find
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.gui.sayings import say

COUNTS = 2400
RATE_HZ = 1000.0
TDC = 100.0
PROFILE = Profile(
    cylinders=4,
    firing_order=(1, 3, 4, 2),
    firing_intervals_deg=(180.0,) * 4,
    turning_back="allowed",
    encoder=Encoder(COUNTS),
    sensors=(Sensor(cylinder=1),),
)


def path_of(*stations, speed=60.0):
    """Crank angles of a way through stations: (angle, seconds to rest there)."""
    pieces = []
    for (start, rest_s), (end, _) in pairwise(stations):
        pieces.append(np.full(round(rest_s * RATE_HZ), start))
        steps = max(round(abs(end - start) / speed * RATE_HZ), 1)
        pieces.append(np.linspace(start, end, steps, endpoint=False))
    end, rest_s = stations[-1]
    pieces.append(np.full(round(rest_s * RATE_HZ), end))
    return np.concatenate(pieces)


def segment_of(path, presses=(), counts=COUNTS):
    k = len(path)
    samples = Samples(
        time_us=(np.arange(k) * 1e6 / RATE_HZ).astype(np.int64),
        count=np.floor(path * counts / 360.0).astype(np.int64),
        readings=np.full((k, 1), 500, np.uint16),
        after_gap=np.zeros(k, bool),
    )
    keys = tuple(Press(name, round(at_s * 1e6)) for name, at_s in presses)
    return Segment(0, Board("toy", counts, 12, ("none",)), samples, presses=keys)


def nodes_from(path):
    return nodes_of(trace_of(segment_of(path), PROFILE))


BEFORE, AFTER = TDC - 30.0, TDC + 30.0 - 360.0
BOTH = path_of((0.0, 0.5), (BEFORE, 1.0), (AFTER, 1.0), (BEFORE, 1.0), (AFTER, 1.0))


def test_the_middle_of_both_sides():
    found = tdc_by_stop(nodes_from(BOTH), (), PROFILE)
    assert found.tdc_deg.value == pytest.approx(TDC, abs=0.1)
    assert found.tdc_deg.low < TDC < found.tdc_deg.high
    assert found.tdc_deg.half_width < 0.25
    assert [c.side for c in found.contacts] == ["before"] * 2 + ["after"] * 2
    assert {n.code for n in found.warnings} == {
        "piston-stop",
        "stop-not-confirmed",
        "stop-met-hard",
    }


def test_caution_stands_in_place():
    text = say(tdc_by_stop(nodes_from(BOTH), (), PROFILE).warnings[0].remark)
    assert "never the starter" in text
    assert "plugs out" in text
    assert "by hand only" in text


def test_keys_confirm_and_the_rest_does_not_count():
    path = path_of(
        (0.0, 0.5), (40.0, 1.0), (-20.0, 0.1), (BEFORE, 1.0), (AFTER, 1.0), (AFTER + 90.0, 0.0)
    )
    contacts = contacts_of(nodes_from(path))
    assert [c.confirmed for c in contacts] == [False, False, False]
    at = [c.time_s + 0.6 for c in contacts]
    keys = (Press("stop", round(at[1] * 1e6)), Press("stop", round(at[2] * 1e6)))
    found = tdc_by_stop(nodes_from(path), keys, PROFILE)
    assert len(found.contacts) == 2
    assert found.tdc_deg.value == pytest.approx(TDC, abs=0.1)
    assert "stop-not-confirmed" not in {n.code for n in found.warnings}


def test_other_keys_confirm_nothing():
    keys = (Press("pulley notch", 1_500_000),)
    assert not any(c.confirmed for c in contacts_of(nodes_from(BOTH), keys))


def test_a_rest_short_of_the_stop_is_left_out_and_said():
    path = path_of(
        (0.0, 0.5), (BEFORE - 5.0, 1.0), (AFTER, 1.0), (BEFORE, 1.0), (AFTER, 1.0), (BEFORE, 1.0)
    )
    found = tdc_by_stop(nodes_from(path), (), PROFILE)
    assert found.tdc_deg.value == pytest.approx(TDC, abs=0.1)
    assert "stop-not-reached" in {n.code for n in found.warnings}


def test_pausing_on_the_way_is_no_contact():
    path = path_of((0.0, 0.5), (BEFORE, 1.0), (-50.0, 1.0), (-150.0, 1.0), (AFTER, 1.0))
    assert [c.side for c in contacts_of(nodes_from(path))] == ["before", "after"]


def test_one_side_only_says_which_way_to_go():
    path = path_of((0.0, 0.5), (BEFORE, 1.0), (0.0, 0.0), (-40.0, 0.0))
    found = tdc_by_stop(nodes_from(path), (), PROFILE)
    assert found.tdc_deg is None
    assert "backwards all the way round" in say(found.reason)
    never = tdc_by_stop(nodes_from(path), (), replace(PROFILE, turning_back="never"))
    assert never.tdc_deg is None
    assert "never to turn this engine back" in say(never.reason)


def test_nothing_met():
    for path in (path_of((0.0, 0.2), (500.0, 0.1)), np.full(2000, 3.0), np.empty(0)):
        found = tdc_by_stop(nodes_from(path), (), PROFILE)
        assert found.tdc_deg is None
        assert "no contact" in say(found.reason)


def test_ends_that_no_stop_makes():
    path = path_of((0.0, 0.5), (60.0, 1.0), (-20.0, 1.0), (60.0, 1.0))
    found = tdc_by_stop(nodes_from(path), (), PROFILE)
    assert found.tdc_deg is None
    assert "no stop in the plug hole" in say(found.reason)


@pytest.mark.parametrize("counts", [360, 2400])
def test_interval_grows_with_the_count_and_holds_the_truth(counts):
    rng = np.random.default_rng(counts)
    profile = replace(PROFILE, encoder=Encoder(counts))
    inside = []
    for _ in range(30):
        tdc, half = TDC + rng.uniform(0.0, 5.0), rng.uniform(20.0, 40.0)
        before, after = tdc - half, tdc + half - 360.0
        path = path_of((0.0, 0.5), (before, 1.0), (after, 1.0), (before, 1.0), (after, 1.0))
        nodes = nodes_of(trace_of(segment_of(path, counts=counts), profile))
        interval = tdc_by_stop(nodes, (), profile).tdc_deg
        inside.append(interval.low < tdc < interval.high)
        assert interval.half_width > 0.4 * 360.0 / counts
    assert np.mean(inside) >= 0.9


def test_pin_offset_moves_the_middle_by_the_slider_crank():
    crank = {"rod_ratio": 3.2, "pin_offset_ratio": -0.06}
    before, after = (float(angle_of_travel(0.9, **crank, side=s)) for s in ("before", "after"))
    path = path_of((0.0, 0.5), (TDC + before, 1.0), (TDC + after - 360.0, 1.0), (TDC + before, 1.0))
    assert abs(before + after) / 2 > 0.05  # what a plain middle would be wrong by
    plain = tdc_by_stop(nodes_from(path), (), PROFILE).tdc_deg.value
    told = replace(PROFILE, stroke_mm=100.0, rod_length_mm=160.0, pin_offset_mm=3.0)
    corrected = tdc_by_stop(nodes_from(path), (), told).tdc_deg.value
    assert corrected - plain == pytest.approx(-(before + after) / 2, abs=0.005)


def recorded(settings, seed):
    bench = scenario("stop-both-sides").build(settings, seed=seed)
    made = played(bench)
    intake = Intake()
    blocks = intake.feed(made.items) + intake.finish()
    profile = replace(PROFILE, encoder=Encoder(bench.rig.encoder.counts_per_rev))
    return Recording(join(blocks), intake.health), profile, made.truth["tdc"]["angle"]


def test_find_by_stop_on_the_bench():
    recording, profile, true = recorded({}, seed=3)
    verdict = find(recording, profile, method="stop")
    assert not verdict.decided
    assert "cannot tell compression from overlap" in say(verdict.reason)
    assert verdict.tdc.method == "stop"
    assert verdict.tdc.passes == 5
    assert verdict.tdc.angle_deg.low < true < verdict.tdc.angle_deg.high
    assert verdict.tdc.angle_deg.half_width < 0.15
    assert [c.probability for c in verdict.candidates] == [0.5, 0.5]
    assert verdict.firing_deg is None


def test_the_last_rest_may_end_the_recording():
    recording, profile, true = recorded({"counts": "400"}, seed=8)
    assert find(recording, profile, method="stop").tdc.angle_deg.value == pytest.approx(
        true, abs=0.5
    )


def test_stop_asked_of_nothing():
    empty = find(Recording((), Health()), PROFILE, method="stop")
    assert not empty.decided
    assert empty.tdc is None
