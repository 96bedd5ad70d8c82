"""What the page of the cam says, from facts made up for it."""

from __future__ import annotations

from strokewise.analysis.cam.cam_correction import CamChoice
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.half_turn import HalfTurn
from strokewise.gui.pages.cam import choice_words
from strokewise.gui.pages.half_turn import half_turn_figures, half_turn_words


def test_half_a_turn_is_said_with_what_tells() -> None:
    assert half_turn_words(HalfTurn(near=("cam dot",))).startswith('"cam dot" comes on its stated')
    out = half_turn_words(HalfTurn(away=("cam dot", "rotor")))
    assert out.startswith('"cam dot" and "rotor" comes a whole turn')
    assert out.endswith("look at which of the two to move")
    assert "cannot tell" in half_turn_words(HalfTurn())
    apart = half_turn_words(HalfTurn(("cam dot",), ("rotor",)))
    assert '"rotor" on the other' in apart


def test_a_way_to_put_it_right_is_said_in_full() -> None:
    left = Interval(-0.1, -1.6, 1.4)
    earlier = choice_words(CamChoice(1, 1, left, 0.9))
    assert earlier == "move the sprocket 1 tooth earlier: then 0.1° early (1.6 early to 1.4 late)"
    assert choice_words(CamChoice(0, 1, left, 0.9)).startswith("leave it as it is")
    both = choice_words(CamChoice(-2, 2, left, 0.9))
    assert both.startswith("move the sprocket 2 teeth later and use keyway 2: ")
    assert choice_words(CamChoice(0, 2, left, 0.9), 2).startswith("leave it as it is")


def test_half_a_turn_to_a_program_is_null_where_nothing_tells() -> None:
    told = half_turn_figures(HalfTurn(away=("cam dot",), probability=0.851))
    assert told == {"value": True, "probability": 0.851, "from": "cam dot"}
    near = half_turn_figures(HalfTurn(near=("cam dot", "rotor"), probability=0.99))
    assert (near["value"], near["from"]) == (False, "cam dot and rotor")
    nothing = {"value": None, "probability": None, "from": None}
    assert half_turn_figures(HalfTurn()) == nothing
    assert half_turn_figures(HalfTurn(untold=("cam dot",))) == nothing
    assert "may be another engine's" in half_turn_words(HalfTurn(untold=("cam dot",)))
