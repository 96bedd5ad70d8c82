"""The whole answer on valve clearances."""

from strokewise.analysis.profile import Profile, Valves, ValveTiming, even_intervals_deg
from strokewise.analysis.valves.base_circle import valves_of
from strokewise.analysis.valves.clearances import Gap
from strokewise.analysis.valves.valve_setting import (
    rocking_rule,
    sum_rule,
    valve_setting,
    working_list,
)
from strokewise.gui.sayings import say

TIMING = ValveTiming(12, 48, 46, 14)
BENCH = Valves(order="EIIEEIIE", clearance_inlet_mm=0.30, clearance_exhaust_mm=0.35)


def engine(order=(1, 3, 4, 2), valves=BENCH, timing=TIMING):
    intervals = even_intervals_deg(len(order), 720)
    return Profile(len(order), order, intervals, valves=valves, valve_timing=timing)


def codes(setting):
    return [notice.code for notice in setting.notices]


def test_the_list_follows_the_crank_and_remembers_what_is_done():
    profile = engine()
    first = working_list(profile, 0, 0)
    assert {s.valve.key for s in first.ready} == {"1E", "1I", "2I", "3E"}
    # on top stands the one that leaves its base circle first
    assert first.ready[0].left_deg == min(s.left_deg for s in first.ready)
    done = [s.valve.key for s in first.ready]
    then = working_list(profile, 0, 0, done)
    assert then.ready == ()
    assert {v.key for v in then.done} == set(done)
    assert [s.to_go_deg for s in then.later] == sorted(s.to_go_deg for s in then.later)
    # turning on by what the list says makes the next one ready
    nearest = then.later[0]
    on = working_list(profile, 0, nearest.to_go_deg, done)
    assert nearest.valve in [s.valve for s in on.ready]


def test_two_turns_offer_every_valve_once_at_least():
    profile, done = engine(), set()
    for angle in range(0, 720, 5):
        done |= {s.valve.key for s in working_list(profile, 123, angle, done).ready}
    assert done == {valve.key for valve in valves_of(profile)}


def test_rules_agree_with_the_cam():
    rocking, nine = rocking_rule(engine()), sum_rule(engine())
    assert rocking.applies
    assert rocking.agrees
    assert ("4", "1") in rocking.pairs
    assert nine.applies
    assert nine.agrees


def test_the_rocking_rule_is_refused_by_a_cam_that_is_too_long():
    setting = valve_setting(engine(timing=ValveTiming(60, 170, 110, 60)), 0, 0)
    assert not setting.rules[0].agrees
    assert "rule-disagrees" in codes(setting)


def test_rules_that_do_not_apply_are_said():
    three = engine((1, 3, 2), Valves(order="EIEIEI"))
    assert not rocking_rule(three).applies
    assert not sum_rule(three).applies
    assert not sum_rule(engine(valves=Valves(order="EIEIEIEI"))).applies
    assert not sum_rule(engine(valves=None)).applies


def test_notices_say_what_is_assumed_or_missing():
    assert codes(valve_setting(engine(), 0, 0, engine_is="cold")) == []
    assert codes(valve_setting(engine(), 0, 0, engine_is="hot")) == ["cold-hot"]
    bare = valve_setting(engine(valves=None, timing=None), 0, 0)
    assert codes(bare) == ["timing-assumed", "clearance-unknown", "cold-hot"]
    wet = valve_setting(engine(valves=Valves(lifters="hydraulic")), 0, 0)
    assert codes(wet) == ["hydraulic"]
    assert "preload" in say(wet.notices[0].remark)


def test_gaps_are_judged_within():
    setting = valve_setting(engine(), 0, 0, gaps=[Gap("1E", 0.35, 0.2, 0.35)], done=("1I",))
    assert setting.gaps[0].status == "remeasure"
    assert setting.targets_mm == {"inlet": 0.30, "exhaust": 0.35}
    assert [v.key for v in setting.working.done] == ["1I"]
    assert "1I" not in [v.key for stop in setting.plan.stops for v in stop.valves]


def test_a_gap_is_judged_only_where_its_valve_is_free():
    """At firing TDC of 1 the valves of 4 rock: a feeler there measures the lift, not the gap."""
    asked = [Gap("4I", 0.30, 0.30), Gap("1I", 0.30, 0.30), Gap("1E", 0.35, 0.20)]
    setting = valve_setting(engine(), 0, 0, gaps=asked)
    rocking, good, tight = setting.gaps
    assert (rocking.status, rocking.off_mm, rocking.judged) == ("valve not free", None, False)
    assert (good.status, tight.status) == ("good", "to set")
    on = valve_setting(engine(), 0, rocking.to_go_deg, gaps=asked[:1])
    assert on.gaps[0].status == "good"
    before = valve_setting(engine(), 0, rocking.to_go_deg - 1.0, gaps=asked[:1])
    assert before.gaps[0].status == "valve not free"


def test_a_good_gap_is_done_and_a_bad_one_is_not():
    asked = [Gap("4I", 0.30, 0.30), Gap("1I", 0.30, 0.30), Gap("1E", 0.35, 0.20)]
    setting = valve_setting(engine(), 0, 0, gaps=asked)
    assert [v.key for v in setting.working.done] == ["1I"]
    assert "1I" not in [v.key for stop in setting.plan.stops for v in stop.valves]
    assert "1E" in [state.valve.key for state in setting.working.ready]


def test_a_gap_of_a_valve_that_is_done_is_judged_anywhere():
    setting = valve_setting(engine(), 0, 0, gaps=[Gap("4I", 0.30, 0.42)], done=("4I", "4E"))
    assert setting.gaps[0].status == "to set"
    # and what is off is not done, whatever was said
    assert [v.key for v in setting.working.done] == ["4E"]


def test_no_gap_is_judged_where_nobody_knows_where_the_crank_stands():
    (check,) = valve_setting(engine(), 0, 0, gaps=[Gap("1I", 0.30, 0.30)], place_known=False).gaps
    assert (check.status, check.off_mm) == ("place not known", None)


def test_a_valve_is_free_only_where_it_is_so_wherever_tdc_may_be():
    """A TDC known to ± 1° is within what is wanted on both sides anyway; one to ± 30° is not."""
    near, rough = (valve_setting(engine(), 0, 0, tdc_within_deg=each) for each in (1.0, 30.0))
    ready = {s.valve.key: s.spare_deg for s in valve_setting(engine(), 0, 0).working.ready}
    assert {s.valve.key for s in near.working.ready} == set(ready)
    free = {s.valve.key: s.spare_deg for s in rough.working.ready}
    assert free == {key: spare - 30.0 for key, spare in ready.items() if spare >= 40.0}
    gap = Gap("4E", 0.35, 0.35)
    on = valve_setting(engine(), 0, 60, gaps=[gap])
    assert on.gaps[0].status == "good"
    unsure = valve_setting(engine(), 0, 60, gaps=[gap], tdc_within_deg=30.0)
    assert unsure.gaps[0].status == "valve not free"
    assert {v.key for stop in rough.plan.stops for v in stop.valves} == {
        v.key for v in valves_of(engine())
    }


def test_the_sum_rule_watches_the_valve_a_whole_turn_away():
    """Of a racing cam open for 330°: its companion's valve is half a cycle off, and shut."""
    racing = engine(timing=ValveTiming(75, 75, 75, 75))
    assert sum_rule(racing).agrees
    assert rocking_rule(racing).agrees


def test_the_sum_rule_is_refused_by_a_cam_that_is_never_shut_a_turn_away():
    """Lifted for all but 10° of its two turns, its ramps with it: set there, it would leak."""
    rule = sum_rule(engine(timing=ValveTiming(245, 245, 245, 245)))
    assert rule.applies
    assert not rule.agrees
    assert say(rule.said).endswith("the cam's figures do NOT allow it on this engine")


def test_valves_without_a_base_circle_are_named():
    """Set on a ramp, they would be held open where nobody looks: no stop is planned for them."""
    setting = valve_setting(engine(timing=ValveTiming(12, 48, 245, 245)), 0, 0, engine_is="cold")
    assert [valve.key for valve in setting.plan.out_of_reach] == ["1E", "2E", "3E", "4E"]
    assert {v.kind for stop in setting.plan.stops for v in stop.valves} == {"inlet"}
    assert "no-base-circle" in codes(setting)
    [notice] = [notice for notice in setting.notices if notice.code == "no-base-circle"]
    assert say(notice.remark) == (
        "With this timing no crank angle leaves enough to spare for 1E, 2E, 3E, 4E: check the"
        " timing"
    )
