"""Rocking: the middle of compressions met from both sides, and the guide through it."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from suite_bench import played

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Recording
from strokewise.analysis.tdc.rocking import centre, met
from strokewise.analysis.tdc.rocking_guide import guide
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.verdict.find import find
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.gui.sayings import say

TDC, NOMINAL = 200.4, 199.0
PROFILE = Profile(4, (1, 3, 4, 2), (180.0,) * 4, turning_back="allowed")


def swing(way=1, *, rpm=12.0, loss_deg=8.0, charge=1.0, reach=75.0, noise=0.0, seed=0):
    """A pass whose pressure peaks ``loss_deg`` before TDC at 10 rev/min, less when faster."""
    after = np.arange(-reach, reach, 1.5)
    early = loss_deg * 10.0 / rpm
    pressure = charge * (0.6 + 4.0 * np.exp(-0.5 * ((after + early) / 28.0) ** 2))
    pressure += np.random.default_rng(seed).normal(0.0, noise, len(after))
    k = len(after)
    nodes = Nodes(
        after / (6.0 * rpm) + 100.0, TDC + way * after, np.full(k, way * 6.0 * rpm), pressure,
        np.full(k, 10.0), np.zeros(k, bool), 0.005, 0.15, 0.005,
    )  # fmt: skip
    return Pass(nodes, NOMINAL, 0, way > 0)


def both_ways(n, **more):
    return tuple(swing(way, **more) for _ in range(n) for way in (1, -1))


def test_the_middle_of_two_mirrored_swings():
    found = centre(both_ways(1))
    assert found.value == pytest.approx(TDC, abs=0.02)
    assert found.low < TDC < found.high


def test_unequal_speeds_do_not_move_the_middle():
    speeds = ((1, 9.0), (-1, 21.0), (1, 13.0), (-1, 16.0), (1, 24.0), (-1, 11.0))
    passes = tuple(swing(way, rpm=rpm) for way, rpm in speeds)
    plain = np.mean([met(p).after_deg for p in passes]) + NOMINAL
    assert abs(plain - TDC) > 0.2  # what a plain mean would make of it
    assert centre(passes).value == pytest.approx(TDC, abs=0.05)


def test_each_swing_may_have_its_own_charge():
    passes = tuple(
        swing(way, charge=charge) for way, charge in ((1, 1.0), (-1, 0.6), (1, 0.9), (-1, 0.7))
    )
    assert centre(passes).value == pytest.approx(TDC, abs=0.05)


def test_one_wild_swing_does_not_carry_the_middle():
    passes = (*both_ways(4), swing(1, loss_deg=20.0))
    assert centre(passes).value == pytest.approx(TDC, abs=0.25)


def test_few_swings_at_unlike_speeds_are_less_sure():
    even = centre((swing(1, rpm=12.0), swing(-1, rpm=12.0)))
    uneven = centre((swing(1, rpm=8.0), swing(-1, rpm=24.0)))
    assert uneven.half_width > 3.0 * even.half_width
    assert centre(both_ways(4)).half_width < even.half_width


def test_no_middle_from_one_side():
    assert centre(()) is None
    assert centre((swing(1), swing(1, rpm=20.0))) is None
    flat = replace(swing(-1), nodes=swing(-1, reach=12.0).nodes)
    assert centre((swing(1), flat)) is None


@cache
def recorded(name):
    bench = scenario(name).build({})
    made = played(bench)
    intake = Intake()
    blocks = intake.feed(made.items) + intake.finish()
    profile = check_table(stated_profile(bench)).profile
    return Recording(join(blocks), intake.health), profile, made.truth["tdc"]["angle"]


def test_find_by_rocking_on_the_bench():
    recording, profile, true = recorded("rocked")
    verdict = find(recording, profile, method="rocking")
    assert verdict.tdc.method == "rocking"
    assert verdict.tdc.angle_deg.value == pytest.approx(true, abs=0.2)
    assert verdict.tdc.angle_deg.half_width < 0.4


def test_find_by_rocking_says_so_when_it_was_not_rocked():
    recording, profile, _ = recorded("cranked")
    verdict = find(recording, profile, method="rocking")
    assert not verdict.decided
    assert verdict.tdc is None
    assert verdict.reason.code == "rock-both-ways"


def test_the_guide_obeys_never():
    told = guide(both_ways(2), replace(PROFILE, turning_back="never"))
    assert told.refused
    assert not told.enough
    assert "never be turned back" in say(told.instruction)
    assert "two full turns its own way" in say(told.instruction)


def test_cautions_go_with_every_instruction():
    codes = [notice.code for notice in guide((), PROFILE).cautions]
    assert codes == ["crank-bolt", "chain-and-belt", "rocking-by-hand"]
    unknown = guide((), replace(PROFILE, turning_back=None)).cautions
    assert unknown[0].code == "turning-back-unknown"
    texts = " ".join(say(notice.remark) for notice in unknown)
    for word in ("bolt", "ratchet tensioner", "belt"):
        assert word in texts


@pytest.mark.parametrize(("passes", "said"), [
    ((), "turn forwards through the compression"),
    ((swing(1),), "now turn back through"),
    ((swing(-1),), "now turn forwards through"),
    ((swing(1, reach=45.0), swing(-1)), "after TDC so far, 55° are wanted"),
    ((swing(1), swing(-1, reach=45.0)), "before TDC so far, 55° are wanted"),
    ((swing(1, loss_deg=40.0, rpm=10.0), swing(-1, loss_deg=40.0, rpm=10.0, reach=60.0)),
     "before TDC so far, 64° are wanted"),
    ((swing(1, rpm=5.0, loss_deg=3.0), swing(-1)), "turn forwards faster"),
    ((swing(1), swing(-1, rpm=5.0, loss_deg=3.0)), "turn back faster"),
    ((swing(1, rpm=10.0), swing(-1, rpm=24.0)), "turn both ways alike"),
    ((swing(1, rpm=90.0), swing(-1, rpm=90.0)), "gently: 90"),
    (both_ways(2), "good: the same again, 1 more each way"),
])  # fmt: skip
def test_the_guide_says_what_is_amiss(passes, said):
    told = guide(passes, PROFILE)
    assert said in say(told.instruction)
    assert not told.enough


def test_the_guide_says_when_it_is_enough():
    told = guide(both_ways(3), PROFILE)
    assert told.enough
    assert say(told.instruction).startswith("enough")
    assert (told.forward, told.backward) == (3, 3)
    assert told.before_deg == pytest.approx(75.0 - (TDC - NOMINAL), abs=1.6)  # of the nominal TDC
    assert told.forward_rpm == pytest.approx(12.0)


def test_the_guide_knows_when_more_does_not_help():
    rng = np.random.default_rng(4)
    passes = tuple(
        swing(way, loss_deg=8.0 + rng.normal(0.0, 3.0)) for _ in range(9) for way in (1, -1)
    )
    told = guide(passes, PROFILE)
    assert not told.enough
    assert "no longer helps" in say(told.instruction)
