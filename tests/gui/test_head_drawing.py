"""The head from above: every valve once, in its place, told by shape and word and not by colour."""

import re
from dataclasses import replace

import pytest

from strokewise.analysis.profile import Valves
from strokewise.analysis.valves.valves_answer import ValvesQuestion, valves_answer
from strokewise.analysis.verdict.found import Standing
from strokewise.daq.profile.known import known_engine
from strokewise.gui.drawings.head_svg import STATE_WORDS, head_svg, state_of
from strokewise.gui.pages.valves import STEP, valves_figures

FOUR = replace(
    known_engine(overrides=["cylinders=4", "firing_order=1-3-4-2"]).profile,
    valves=Valves(order="EIIEEIIE"),
)


def figures(after_deg, profile=FOUR, **said):
    question = ValvesQuestion(**said)
    return valves_figures(valves_answer(question, Standing(profile, after_deg, measured=False)))


def words_of(svg):
    return re.findall(r">([^<>]+)</text>", svg)


def test_every_valve_stands_in_its_place_along_the_head():
    svg = head_svg(figures(0.0))
    keys = [word for word in words_of(svg) if re.fullmatch(r"\d[EI]", word)]
    assert keys == ["1E", "1I", "2I", "2E", "3E", "3I", "4I", "4E"]
    assert "pulley end at the left" in svg


def test_free_rocking_and_done_are_what_the_answer_says():
    answer = figures(0.0, done=("1E",))
    states = {valve["valve"]: state_of(valve, answer["valves"]) for valve in answer["valves"]}
    assert states["1E"] == "done"
    assert states["1I"] == "free"
    assert (states["4E"], states["4I"]) == ("rocking", "rocking")  # overlap, one turn from firing
    for valve in answer["valves"]:
        assert (states[valve["valve"]] == "free") == (valve["ready"] and not valve["done"])
    shown = words_of(head_svg(answer))
    for state, word in STATE_WORDS.items():
        assert shown.count(word) == list(states.values()).count(state)


@pytest.mark.parametrize("after_deg", range(0, 720, 45))
def test_a_valve_off_its_base_circle_is_never_drawn_free(after_deg):
    answer = figures(float(after_deg))
    for valve in answer["valves"]:
        if not valve["on_base_circle"]:
            assert state_of(valve, answer["valves"]) in ("lifted", "rocking")


def test_without_an_order_it_says_so_and_without_a_place_there_is_none():
    svg = head_svg(figures(0.0, replace(FOUR, valves=Valves())))
    assert "order along the head not stated" in svg
    unknown = Standing(FOUR, None, measured=False)
    assert STEP.drawings(valves_answer(ValvesQuestion(), unknown)) == {}


def test_the_step_has_it_as_its_drawing():
    answer = valves_answer(ValvesQuestion(), Standing(FOUR, 90.0, measured=False))
    assert list(STEP.drawings(answer)) == ["head"]
