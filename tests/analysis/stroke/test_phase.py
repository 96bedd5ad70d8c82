"""The likelihood of even, odd, every and none, on visits made up by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.stroke.passages import Visit
from strokewise.analysis.stroke.phase import Phase, clearly_squeezed, weigh
from strokewise.analysis.verdict.verdict import DECIDED_AT


def visit(turn: int, rise_bar: float, **change: object) -> Visit:
    settings: dict[str, object] = {
        "turn": turn,
        "time_s": 0.3 * turn,
        "rise_bar": rise_bar,
        "noise_bar": 0.005,
        "fell": True,
        "clipped": False,
        "level_bar": 1.0 + 0.5 * rise_bar,
        "top_share": 0.0,
        "lingered": False,
        "speed_rpm": 200.0,
        "forward": True,
    }
    return Visit(**{**settings, **change})  # type: ignore[arg-type]


def series(*rises: float, first: int = 0) -> tuple[Visit, ...]:
    return tuple(visit(first + i, rise) for i, rise in enumerate(rises))


def weighed(*visits: Visit, **more: object) -> Phase:
    return weigh(visits, noise_bar=0.005, **more)  # type: ignore[arg-type]


def test_one_cycle_of_a_sound_engine_decides():
    assert weighed(*series(10.0, 0.02)).even > DECIDED_AT
    assert weighed(*series(0.02, 10.0)).odd > DECIDED_AT


def test_a_rise_that_never_came_down_decides_nothing():
    """The crank stopped on the way up: the top may still come at another TDC."""
    rising = visit(1, 10.0, fell=False)
    assert weighed(visit(0, 0.02), rising).probability < 0.6
    assert weighed(visit(0, 0.02), rising, visit(2, 0.02), visit(3, 10.0)).odd > DECIDED_AT


def test_compressions_after_a_change_must_be_alike():
    rises = [visit(0, 4.2), visit(1, 0.01), visit(2, 0.8)]
    assert weighed(*rises, changed=True).probability < DECIDED_AT
    assert weighed(*rises[:2], visit(2, 4.0), changed=True).even > DECIDED_AT


def test_after_a_change_the_other_tdc_must_have_been_seen_quiet():
    """What slipped may have taken the turns with it: compressions alone would name the old ones."""
    alone = (visit(0, 6.0), visit(2, 5.8), visit(4, 5.9))
    assert weighed(*alone).even > 0.99
    assert weighed(*alone, changed=True).probability < 0.5
    assert weighed(*alone, visit(1, 0.01), changed=True).even > DECIDED_AT


def test_the_four_explanations_add_up_to_one():
    phase = weighed(*series(0.5, 0.1, 0.6))
    assert phase.even + phase.odd + phase.every + phase.none == pytest.approx(1.0)


def test_nothing_seen_decides_nothing():
    phase = weighed()
    assert phase.even == phase.odd
    assert phase.probability < 0.5


@pytest.mark.parametrize("rise_bar", [0.0, 0.05, 0.15, 0.3])
def test_a_little_breathing_on_one_turn_is_no_compression(rise_bar: float):
    assert weighed(*series(*[rise_bar, 0.0] * 10)).probability < DECIDED_AT


def test_many_turns_of_the_same_breathing_prove_no_more_than_one():
    quiet = [visit(i, rise, noise_bar=0.0) for i, rise in enumerate([0.5, 0.1] * 20)]
    once, often = weigh(tuple(quiet[:2]), noise_bar=0.0), weigh(tuple(quiet), noise_bar=0.0)
    assert often.probability == pytest.approx(once.probability, abs=1e-9)


def test_noise_is_averaged_over_a_few_visits_and_no_more():
    rises = [0.9, 0.02]
    odds = [
        weighed(*[visit(i, r, noise_bar=0.1) for i, r in enumerate(rises * n)]).even
        for n in (1, 4, 40)
    ]
    assert odds[0] < odds[1]
    assert odds[1] == pytest.approx(odds[2], abs=1e-9)


def test_a_weak_rise_met_from_both_sides_says_more_than_from_one():
    ways = [visit(0, 0.8, forward=i % 2 == 0, speed_rpm=25.0) for i in range(6)]
    one_way = [visit(0, 0.8, speed_rpm=25.0) for _ in range(6)]
    assert weighed(*ways).even > DECIDED_AT
    assert weighed(*one_way).even < DECIDED_AT


def test_rises_that_differ_widely_from_one_way_to_the_other_say_little():
    ways = [visit(0, 0.4 if i % 2 else 6.0, forward=i % 2 == 0) for i in range(6)]
    assert (
        weighed(*ways).even < weighed(*(visit(0, 6.0, forward=i % 2 == 0) for i in range(6))).even
    )


def test_one_slow_swing_among_others_is_no_change_and_the_last_one_is():
    swings = [visit(0, 1.2, forward=i % 2 == 0, speed_rpm=30.0, time_s=2.0 * i) for i in range(7)]
    slow = visit(0, 0.05, forward=False, speed_rpm=12.0, time_s=6.0)
    assert not weighed(*swings[:3], slow, *swings[4:]).changed
    assert weighed(*swings[:6], slow).changed


def test_compression_at_every_turn_is_called_neither():
    phase = weighed(*series(8.0, 7.5, 8.0, 7.5))
    assert phase.every > DECIDED_AT
    assert phase.probability < 1e-4


def test_a_two_stroke_that_compresses_at_every_turn_is_sure():
    assert weighed(*series(8.0, 7.5, 8.0), cycle="two-stroke").every > DECIDED_AT


def test_a_two_stroke_profile_on_a_four_stroke_engine_is_noticed():
    phase = weighed(*series(8.0, 0.01, 8.0, 0.01), cycle="two-stroke")
    assert phase.even > phase.every
    assert phase.every < DECIDED_AT


def test_turns_before_a_contradiction_are_not_mixed_with_those_after():
    # A slip by a whole turn: compression at the even turns, then at the odd ones.
    phase = weighed(*series(9.0, 0.02, 9.0, 0.02, 0.02, 9.0, 0.02, 9.0, 0.02))
    assert phase.changed
    assert phase.odd > DECIDED_AT
    assert phase.weighed < 9


def test_after_a_contradiction_one_compression_is_not_enough():
    phase = weighed(*series(9.0, 0.02, 9.0, 0.02, 0.02, 9.0, 0.02))
    assert phase.changed
    assert phase.probability < DECIDED_AT


def test_a_compression_that_stays_away_takes_the_answer_back():
    before = weighed(*series(9.0, 0.02, 9.0, 0.02))
    after = weighed(*series(9.0, 0.02, 9.0, 0.02, 0.01))
    assert before.even > DECIDED_AT
    assert after.changed
    assert after.probability < DECIDED_AT


def test_one_knock_at_overlap_never_turns_the_answer_round():
    rises = [9.0, 0.02] * 5
    for at in range(10):
        knocked = [*rises]
        knocked[at] = 5.0
        phase = weighed(*series(*knocked))
        assert phase.odd < DECIDED_AT


def test_a_charge_that_leaked_away_while_the_crank_stood_contradicts_nothing():
    visits = [*series(4.0, 0.01), visit(2, 0.02, lingered=True), *series(0.01, 4.0, first=3)]
    phase = weighed(*visits)
    assert not phase.changed
    assert phase.even > DECIDED_AT


@pytest.mark.parametrize(
    "rises",
    [
        ((3.0, True), (0.01, False), (2.9, True)),
        ((3.0, True), (0.01, False), (2.9, True), (0.012, False), (3.1, True)),
        ((3.0, True), (0.01, False), (2.9, True), (0.01, False), (3.0, False)),
    ],
)
def test_rocked_about_one_tdc_a_slow_swing_back_speaks_for_neither(rises):
    """It leaned to the TDC that was never met, with 0.99."""
    rocked = weighed(
        *(visit(0, rise, forward=way, time_s=float(at)) for at, (rise, way) in enumerate(rises))
    )
    assert rocked.even == pytest.approx(rocked.odd)
    again = weighed(visit(0, 3.0), visit(0, 2.8, forward=False, time_s=1.0))
    assert again.even > DECIDED_AT


def test_turned_one_way_it_waits_for_the_other_tdc_and_rocked_it_does_not():
    assert weighed(visit(0, 9.0)).probability < DECIDED_AT
    assert weighed(visit(0, 9.0), visit(0, 9.0, forward=False)).even > DECIDED_AT


def test_an_unknown_gain_needs_both_turns():
    assert weighed(*series(9.0), calibrated=False).probability < DECIDED_AT
    assert weighed(*series(9.0, 0.02), calibrated=False).even > DECIDED_AT


def test_an_unknown_gain_does_not_blow_breathing_up():
    assert weighed(*series(0.2, 0.001, 0.2, 0.001), calibrated=False).probability < DECIDED_AT


def test_a_sensor_at_its_end_at_one_turn_only_decides():
    visits = [
        visit(i, 0.0, top_share=1.0, level_bar=1.15, clipped=True)
        if i % 2
        else visit(i, 0.0, level_bar=1.0)
        for i in range(5)
    ]
    assert weighed(*visits).odd > DECIDED_AT


def test_a_drift_into_the_end_of_the_range_decides_nothing():
    low, high = visit(0, 0.0, level_bar=1.0), visit(1, 0.0, top_share=1.0, level_bar=1.15)
    assert weighed(low, high).probability < DECIDED_AT
    assert weighed(low, high, replace(low, turn=2, time_s=0.6)).odd < DECIDED_AT
    both = [replace(v, turn=v.turn + 2 * i, time_s=0.6 * i) for i in range(2) for v in (low, high)]
    assert weighed(*both, replace(low, turn=4, time_s=1.2)).odd > DECIDED_AT


def test_a_sensor_always_at_its_end_decides_nothing():
    visits = [visit(i, 0.0, top_share=1.0, level_bar=1.15, clipped=True) for i in range(6)]
    assert weighed(*visits).probability < DECIDED_AT


def test_noise_as_large_as_the_rise_decides_nothing():
    visits = [visit(i, 1.0 if i % 2 else 0.4, noise_bar=0.4) for i in range(8)]
    assert weighed(*visits).probability < DECIDED_AT


def test_odds_never_fall_as_the_rise_grows():
    odds = [weighed(*series(rise, 0.02)).even for rise in np.geomspace(0.4, 30.0, 12)]
    assert np.all(np.diff(odds) >= -1e-9)


@pytest.mark.parametrize(("rise_bar", "said"), [(9.0, True), (0.01, False)])
def test_a_visit_alone_is_clear_or_not(rise_bar: float, said: bool):
    assert clearly_squeezed(visit(0, rise_bar)) is said
    assert clearly_squeezed(visit(0, 0.3)) is None


@pytest.mark.parametrize(("rise_bar", "sure"), [(0.25, False), (0.34, False), (0.36, True)])
def test_a_rise_too_weak_for_a_compression_is_not_relied_on_however_still_the_other(
    rise_bar: float, sure: bool
):
    """Not even its TDC is roughly known then, and a sure wrong cylinder is the worst there is."""
    visits = [visit(i, 0.0 if i % 2 else rise_bar, noise_bar=0.0, speed_rpm=20.0) for i in range(4)]
    phase = weigh(tuple(visits), noise_bar=0.0)
    assert (phase.probability > 0.99) is sure


@pytest.mark.parametrize(("above_bar", "sure"), [(0.02, False), (0.038, False), (0.05, True)])
def test_a_sensor_at_its_end_must_stand_clear_of_the_other_tdc(above_bar: float, sure: bool):
    """An exhaust's back pressure reaches the end of a low range too, and fires nothing."""
    ends = [
        visit(i, 0.0, top_share=i % 2 * 1.0, level_bar=1.0 + i % 2 * above_bar, speed_rpm=30.0)
        for i in range(6)
    ]
    assert (weighed(*ends).odd > 0.99) is sure


@pytest.mark.parametrize(("rise_bar", "said"), [(0.22, None), (0.45, None), (0.65, True)])
def test_a_visit_of_middling_odds_is_compared_with_nothing(rise_bar: float, said: bool | None):
    """Taken for clear, two such visits would contradict each other and hide all before them."""
    assert clearly_squeezed(visit(0, rise_bar)) is said
    assert clearly_squeezed(visit(0, 0.1)) is False


def at_its_end(**change: object) -> Phase:
    """Three cycles with the sensor at its end at the odd turns."""
    ends = [visit(i, 0.0, top_share=i % 2 * 1.0, level_bar=1.0 + i % 2 * 0.08) for i in range(6)]
    odd, even = {}, {}
    for name, (at_odd, at_even) in change.items():  # type: ignore[misc]
        odd[name], even[name] = at_odd, at_even
    return weighed(*(replace(v, **(odd if v.turn % 2 else even)) for v in ends))


def test_the_sensors_end_counts_only_where_it_is_met_at_one_kind_of_turn():
    """A level that grazes the end tells nothing, nor one that both turns reach, nor coarse steps:
    seven powers of e each way would be taken from how a cable hums."""
    assert at_its_end().odd > 0.9999
    assert at_its_end(top_share=(0.4, 0.0)).odd < 0.9
    assert at_its_end(top_share=(1.0, 0.5)).odd < 0.9
    assert at_its_end(step_bar=(0.02, 0.02)).odd < 0.9
    assert at_its_end(step_bar=(0.01, 0.01)).odd > 0.9999


def test_a_two_stroke_needs_no_second_turn():
    """Its profile says that every turn compresses: only a profile of another engine would lie."""
    assert weighed(visit(0, 9.0), cycle="two-stroke").every > DECIDED_AT


@pytest.mark.parametrize(("left_bar", "sure"), [(1.24, True), (1.0, False)])
def test_a_charge_that_leaked_away_before_tdc_contradicts_nothing(left_bar: float, sure: bool):
    """It stands over all that the other TDC showed; a compression that stays away does not."""
    tops = [(0, 0.9, 2.4), (1, 0.002, 0.97), (2, 1.2, 2.5), (3, 0.001, 0.97), (4, 0.0, left_bar)]
    visits = [visit(turn, rise, top_bar=top, speed_rpm=20.0) for turn, rise, top in tops]
    assert (weighed(*visits).even > DECIDED_AT) == sure


@pytest.mark.parametrize(("clipped", "above_bar", "sure"), [
    (True, 0.59, True), (False, 0.59, False), (True, 0.34, False),
])  # fmt: skip
def test_cut_off_on_its_flank_a_compression_counts_from_the_other_tdc(
    clipped: bool, above_bar: float, sure: bool
):
    """What the foot hides is no weakness: the other TDC shows how far the sensor's end is up."""
    shape = {"clipped": clipped, "top_share": 0.2, "speed_rpm": 20.0, "level_bar": 0.96}
    high = [visit(turn, 0.26, top_bar=0.91 + above_bar, **shape) for turn in (0, 2, 4)]
    quiet = [visit(turn, 0.002, top_bar=0.91, level_bar=0.91) for turn in (1, 3)]
    in_time = sorted([*high, *quiet], key=lambda v: v.time_s)
    assert (weighed(*in_time).even > DECIDED_AT) == sure


@pytest.mark.parametrize(("height_bar", "sure"), [(1.45, False), (1.15, True)])
def test_a_tdc_that_stood_too_high_for_overlap_is_not_taken_for_it(height_bar: float, sure: bool):
    """A pause on the way up lets a leaky charge escape: it hardly rises then, and was squeezed."""
    high = {"height_bar": 2.5, "speed_rpm": 8.0}
    low = visit(2, 0.1, height_bar=height_bar, speed_rpm=24.0)
    seen = (visit(1, 1.3, **high), low, visit(3, 1.3, **high))
    assert (weigh(seen, noise_bar=0.07).odd > DECIDED_AT) == sure


@pytest.mark.parametrize(("other_bar", "sure"), [(0.13, False), (0.04, True)])
def test_what_is_neither_clearly_overlap_nor_compression_leaves_a_weak_one_open(
    other_bar: float, sure: bool
):
    """A burnt valve, the others never open: the slower turn leaks more, and both were squeezed."""
    seen = series(*(other_bar, 0.5) * 3)
    by_hand = [replace(v, speed_rpm=8.0) for v in seen]
    assert (weighed(*by_hand).odd > DECIDED_AT) == sure


def test_a_strong_compression_outweighs_a_rise_that_is_not_clear():
    by_hand = [replace(v, speed_rpm=8.0) for v in series(0.13, 5.0)]
    assert weighed(*by_hand).odd > DECIDED_AT


def test_cut_off_by_the_sensors_end_heights_say_nothing():
    visits = series(10.0, 0.02, 10.0)
    high = [replace(v, height_bar=1.0, clipped=v.turn % 2 == 0) for v in visits]
    assert weighed(*high).even > DECIDED_AT


def test_a_leaky_cylinder_begun_from_standing_on_its_flank_is_no_overlap():
    """The charge may have leaked away there; and valves may never open (engine 1143025)."""
    begun, passed = visit(0, 0.02, from_flank=True), visit(0, 0.02)
    assert weighed(passed, visit(1, 0.86)).odd > DECIDED_AT
    assert weighed(begun, visit(1, 0.86)).probability < 0.6
    assert weighed(begun, visit(1, 0.86), visit(2, 0.02), visit(3, 0.86)).odd > DECIDED_AT
    assert weighed(begun, visit(1, 4.0)).odd > DECIDED_AT  # so tight a one rises from there, too


def test_cut_off_by_the_end_of_its_range_no_fall_is_waited_for():
    """At its end alone at one TDC, a sensor decides; that the other crept up never came down."""
    at_end = {"clipped": True, "top_share": 0.5, "top_bar": 1.15, "speed_rpm": 20.0}
    creeping = {"fell": False, "top_bar": 1.08, "speed_rpm": 20.0}
    ends = [visit(turn, 0.001, **at_end) for turn in (0, 2)]
    others = [visit(turn, 0.006, **creeping) for turn in (1, 3)]
    visits = sorted((*ends, *others), key=lambda v: v.time_s)
    assert weighed(*visits).even > DECIDED_AT
