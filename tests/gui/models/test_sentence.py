from dataclasses import replace

import pytest

from strokewise.analysis.verdict.verdict import Candidate
from strokewise.gui.models.run.silence import Away
from strokewise.gui.models.sentence import hidden, sentence_for
from strokewise.gui.models.turn.guide import Guidance, TurnGuide
from strokewise.gui.models.turn.target import Target, position, targets
from strokewise.gui.pages.sign import SHAPES, Certainty
from strokewise.gui.sayings import as_said, say

LONGEST_LINE = 42
"""What the window sets in one line at a tenth of its height, squeezed as far as is readable."""


def said(profile, verdict, angle, target=None, **more):
    target = target or Target("firing", 1)
    _, guidance = TurnGuide(profile.turning_back).follow(position(target, profile, verdict), angle)
    return sentence_for(profile, verdict, angle, guidance, target, **more)


def test_says_who_is_on_its_firing_stroke_and_how_far_to_turn(four, decided):
    # Firing TDC of 1 at 100, so of 3 at 280, of 4 at 460: at 500 cylinder 4 is firing.
    sentence = said(four, decided(four, 100.0), 500.0)
    assert sentence.text == "Cylinder 4 is on its firing stroke: turn on 320° to firing TDC of 1"
    assert sentence.certainty is Certainty.SURE
    assert sentence.sign == "SURE, TDC ± 0.1°"


def test_at_firing_tdc_it_says_at(four, decided):
    sentence = said(four, decided(four, 100.0), 100.2)
    assert sentence.first == "Cylinder 1 at firing TDC:"
    assert sentence.second == "stop: firing TDC of 1"


def test_what_turns_faster_than_one_reads_stands_still(four, decided):
    texts = {said(four, decided(four), angle, blurred=True).text for angle in (0.0, 200.0, 400.0)}
    assert texts == {"Every firing TDC is known: turn by hand to firing TDC of 1"}


def test_several_at_once_and_none_at_all(twelve, engine, decided):
    assert said(twelve, decided(twelve), 100.0 + 130).first == (
        "Cylinders 5, 7 and 1 on firing stroke:"
    )
    single = engine(1, (1,))
    assert said(single, decided(single), 400.0).first == "No cylinder on its firing stroke:"


def test_not_sure_says_what_to_do(four, half_known, nothing):
    for verdict in (half_known(), nothing):
        sentence = said(four, verdict, 0.0)
        assert sentence.certainty is Certainty.NOT_YET
        assert "turn" in sentence.text
        assert say(verdict.reason) in sentence.detail


def test_turned_enough_it_asks_for_no_more_turns(four, nothing):
    verdict = replace(
        nothing,
        reason=as_said("Sense another cylinder."),
        candidates=(Candidate(10.0, 0.5), Candidate(370.0, 0.5)),
    )
    sentence = said(four, verdict, 0.0)
    assert "two full turns" not in sentence.text
    assert "below" in sentence.second
    assert sentence.detail == "Sense another cylinder."


def test_taken_back_is_said(four, half_known):
    sentence = said(four, half_known(), 0.0, was_decided=True)
    assert sentence.certainty is Certainty.WITHDRAWN
    assert "taken back" in sentence.text


def test_waiting_names_the_trouble(four):
    sentence = sentence_for(four, None, None, trouble="/dev/ttyX went away")
    assert sentence.certainty is Certainty.WAITING
    assert "/dev/ttyX" in sentence.detail
    assert sentence_for(four, None, None).certainty is Certainty.WAITING


@pytest.mark.parametrize(
    ("back", "asked"),
    [("allowed", "rock it"), (None, "may it be turned back?"), ("never", "more turns")],
)
def test_a_sure_stroke_with_a_rough_angle_speaks_of_both_apart(four, decided, back, asked):
    profile = replace(four, turning_back=back)
    sentence = said(profile, decided(profile, 100.0, half=4.2), 520.0)
    assert sentence.sign == "STROKE SURE, TDC ± 4.2°"
    assert sentence.first == "Cylinder 4 is on its firing stroke:"
    assert asked in sentence.second
    assert "± 4.2°" in sentence.second


def test_nearer_to_a_stroke_s_end_than_tdc_is_known_both_are_named(four, decided, engine):
    verdict = decided(four, 100.0, half=40.0)
    assert said(four, verdict, 440.0).first == "Cylinder 3 or 4 on firing stroke:"
    assert said(four, verdict, 370.0).first == "Cylinder 3 is on its firing stroke:"
    assert "at firing TDC" not in said(four, verdict, 460.0).text
    single = engine(1, (1,))
    near = said(single, decided(single, 100.0, half=40.0), 80.0)
    assert near.first == "Cylinder 1 on firing stroke, or near it:"


def test_a_silent_board_leaves_no_answer_in_the_headline(four, decided):
    gone = said(four, decided(four), 500.0, away=Away(6.0, back=False), trouble="port gone")
    assert gone.certainty is Certainty.WAITING
    assert gone.first == "Board silent for 6 s:"
    assert "port gone" in gone.detail
    back = said(four, decided(four), 500.0, away=Away(0.0, back=True))
    assert back.certainty is Certainty.WAITING
    assert "Cylinder" not in back.text


def test_what_ended_an_answer_is_the_headline(four, nothing, decided):
    for ended, words in (("restart", "started anew"), ("encoder", "does not follow")):
        sentence = said(four, nothing, 0.0, ended=ended)
        assert sentence.certainty is Certainty.WITHDRAWN
        assert words in sentence.first
    assert said(four, decided(four), 500.0, ended="restart").certainty is Certainty.SURE


def test_an_unchecked_clamp_says_for_how_long(four, decided):
    verdict = replace(decided(four), unchecked_since_s=10.0)
    sentence = said(four, verdict, 500.0, now_s=45.0)
    assert sentence.certainty is Certainty.SURE
    assert "checked the clamp for 35 s" in sentence.detail


def test_trouble_stands_beside_an_answer_that_still_holds(four, decided):
    sentence = said(four, decided(four), 500.0, trouble="port gone")
    assert sentence.certainty is Certainty.SURE
    assert "port gone" in sentence.detail


def test_every_certainty_has_a_word_and_a_shape_of_its_own():
    assert set(SHAPES) == set(Certainty)
    assert len(set(SHAPES.values())) == len(Certainty)
    assert len({c.value for c in Certainty}) == len(Certainty)


def test_the_hidden_sentence_gives_nothing_away():
    assert not any(character.isdigit() for character in hidden().text)


@pytest.mark.parametrize("back", ["allowed", "never", None])
def test_every_line_is_short_enough_for_the_largest_type(
    twelve, decided, half_known, nothing, back
):
    from dataclasses import replace

    from strokewise.analysis.profile import Mark

    profile = replace(
        twelve,
        turning_back=back,
        static_advance_btdc_deg=12.5,
        marks=(Mark("outer ring notch", stated_atdc_deg=0.0),),
    )
    verdict = decided(profile)
    lines = []
    for target in targets(profile):
        place = position(target, profile, verdict)
        guide = TurnGuide(back)
        for angle in (*range(0, 1500, 7), place.angle_deg - 3.3, place.angle_deg + 6):
            guide, guidance = guide.follow(place, float(angle))
            sentence = sentence_for(profile, verdict, float(angle), guidance, target)
            lines += [sentence.first, sentence.second]
    for verdict in (half_known(12), nothing):
        for was in (True, False):
            sentence = sentence_for(
                profile, verdict, 0.0, Guidance("there", 0.0), Target("tdc"), was_decided=was
            )
            lines += [sentence.first, sentence.second]
    rough = decided(profile, half=123.4)
    for angle in range(0, 720, 7):
        for blurred in (True, False):
            sentence = sentence_for(profile, rough, float(angle), blurred=blurred)
            lines += [sentence.first, sentence.second]
    for more in (
        {"away": Away(119.0, back=False)},
        {"away": Away(0.0, back=True)},
        {"ended": "restart"},
        {"ended": "encoder"},
    ):
        sentence = sentence_for(profile, nothing, 0.0, **more)
        lines += [sentence.first, sentence.second]
    assert max(map(len, lines)) <= LONGEST_LINE, max(lines, key=len)
