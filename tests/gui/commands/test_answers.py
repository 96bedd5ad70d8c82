"""The JSON answers, held against the format as documented."""

import dataclasses
import json
from importlib import metadata
from typing import Any

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, even_intervals_deg
from strokewise.analysis.tdc.diagnostics import Diagnostics
from strokewise.analysis.verdict.find import FindAnswer
from strokewise.analysis.verdict.verdict import DECIDED_AT, Candidate, Tdc, Verdict
from strokewise.gui.commands.step_command import print_said
from strokewise.gui.pages.answers import answer_json, as_line, base_answer, interval_answer
from strokewise.gui.pages.find import find_figures, find_page
from strokewise.gui.sayings import as_said
from strokewise.gui.steps import Said


def find_answer(verdict: Verdict) -> dict[str, Any]:
    """Return the JSON of a verdict about four cylinders."""
    answer = FindAnswer(verdict, Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720.0)))
    return answer_json(find_page(answer), find_figures(answer))


def test_a_decided_verdict_has_every_documented_key(decided: Verdict) -> None:
    answer = json.loads(as_line(find_answer(decided)))
    assert answer == {
        "decided": True,
        "reason": "Nine compressions on one turn, none on the other.",
        "warnings": [{"code": "rod-assumed", "text": "The rod length is not stated."}],
        "version": metadata.version("strokewise"),
        "tdc": {
            "angle": 123.41,
            "low": 123.3,
            "high": 123.52,
            "after_index": 87.9,
            "cylinder": 1,
            "method": "fit",
            "passes": 9,
        },
        "firing": {"1": 123.41, "3": 303.41, "4": 483.41, "2": 663.41},
        "phase": {
            "probability": 0.99999,
            "candidates": [
                {"firing_1": 123.41, "probability": 0.99999},
                {"firing_1": 483.41, "probability": 0.00001},
            ],
        },
        "compression": {"peak": "12.4 bar", "peak_gauge": "11.39 bar", "passes": 9},
        "health": {
            "samples": 24310,
            "frames": 1013,
            "lost_frames": 0,
            "bad_frames": 0,
            "clipped": 0.0,
            "segments": 1,
        },
    }


def test_what_the_fit_tells_beside_tdc_is_answered_with_intervals(decided: Verdict) -> None:
    told = Diagnostics(Interval(8.8, 8.0, 9.6), None, Interval(2.871, 2.61, 3.13), None)
    answer = find_answer(dataclasses.replace(decided, diagnostics=told))
    assert answer["diagnostics"] == {
        "compression_ratio": {"value": 8.8, "low": 8.0, "high": 9.6},
        "leak_hole_mm": None,
        "loss_angle": {"value": 2.871, "low": 2.61, "high": 3.13},
        "peak_bar_at_200_rpm": None,
    }


def test_an_undecided_verdict_keeps_the_keys_and_says_null(undecided: Verdict) -> None:
    answer = find_answer(undecided)
    assert answer["firing"] is None
    assert answer["compression"] is None
    assert answer["tdc"]["after_index"] is None
    assert answer["tdc"]["angle"] == 123.41


def test_nothing_found_is_null_not_missing() -> None:
    answer = find_answer(Verdict(False, as_said("No compression in it.")))
    assert answer["tdc"] is None
    assert answer["phase"] == {"probability": 0.0, "candidates": []}


def test_firing_angles_of_an_undecided_verdict_are_kept_back(decided: Verdict) -> None:
    unsure = dataclasses.replace(decided, decided=False)
    assert find_answer(unsure)["firing"] is None


def test_the_file_is_named_first_when_there_are_several(
    decided: Verdict, capsys: pytest.CaptureFixture[str]
) -> None:
    page = find_page(FindAnswer(decided, Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720.0))))
    print_said(Said(page, None, find_answer(decided)), as_json=True, file="a.swr")
    answer = json.loads(capsys.readouterr().out)
    assert next(iter(answer.items())) == ("file", "a.swr")


def test_an_angle_just_under_a_turn_is_printed_as_zero(decided: Verdict) -> None:
    tdc = Tdc(Interval(359.99999, 359.9, 360.1), 1, "fit", 9)
    answer = find_answer(dataclasses.replace(decided, tdc=tdc, firing_deg={1: 719.99999}))
    assert (answer["tdc"]["angle"], answer["firing"]["1"]) == (0.0, 0.0)
    assert answer["tdc"]["low"] == pytest.approx(-0.1)
    assert answer["tdc"]["high"] == pytest.approx(0.1)


@pytest.mark.parametrize("probability", [DECIDED_AT - 1e-12, 1 - 1e-15])
def test_rounding_never_adds_certainty(undecided: Verdict, probability: float) -> None:
    verdict = dataclasses.replace(
        undecided, probability=probability, candidates=(Candidate(1.0, probability),)
    )
    phase = find_answer(verdict)["phase"]
    assert phase["probability"] <= probability
    assert phase["candidates"][0]["probability"] <= probability


def test_a_small_chance_is_not_rounded_to_none(undecided: Verdict) -> None:
    verdict = dataclasses.replace(undecided, candidates=(Candidate(1.0, 2.3456e-12),))
    assert find_answer(verdict)["phase"]["candidates"][0]["probability"] == 2.35e-12


def test_not_a_number_is_refused_rather_than_written() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        as_line({**base_answer(True, "made up"), "angle": float("nan")})


def test_an_interval_that_is_not_known_is_null() -> None:
    assert interval_answer(None) is None
    assert interval_answer(Interval(1.00049, 1, 2)) == {"value": 1.0, "low": 1, "high": 2}
