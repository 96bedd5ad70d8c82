"""The plain answer: readable at 80 columns, and nothing in it that the verdict does not say."""

import dataclasses

import pytest

from strokewise.analysis.crank.strokes import EnginePhase, firing_tdcs, phase_at
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, even_intervals_deg
from strokewise.analysis.remark import remark
from strokewise.analysis.samples import Health
from strokewise.analysis.tdc.diagnostics import Diagnostics
from strokewise.analysis.verdict.find import FindAnswer
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.pages.find import find_page, position_words
from strokewise.gui.pages.text import page_text
from strokewise.gui.pages.words import health_words, percent
from strokewise.gui.sayings import as_said


def find_words(verdict: Verdict, profile: Profile, end: EnginePhase | None = None) -> str:
    """Return what ``find`` prints of a verdict."""
    return page_text(find_page(FindAnswer(verdict, profile, end)))


def flat(text: str) -> str:
    """Undo the wrapping, so that a sentence can be looked for."""
    return " ".join(text.split())


def test_a_decided_answer_says_where_how_sure_and_from_what(
    decided: Verdict, four: Profile
) -> None:
    said = flat(find_words(decided, four))
    assert said.startswith("DECIDED, TDC ± 0.11°: cylinder 1 fires at 123.41°. Nine compressions")
    assert "123.41°, 95 % sure to lie from 123.30° to 123.52°" in said
    assert "after the index 87.90°" in said
    assert "cyl 1 cyl 3 cyl 4 cyl 2 123.41° 303.41° 483.41° 663.41°" in said
    assert "12.4 bar absolute, 11.4 bar gauge, median of 9 compressions" in said
    assert "1.013 bar, 20 °C, assumed, as nobody stated it" in said
    assert "24,310 samples in 1,013 frames; nothing lost" in said
    assert "! The rod length is not stated." in said


def test_an_answer_from_an_earlier_start_says_so_first(decided: Verdict, four: Profile) -> None:
    why = "the board has started anew, and nothing since then decides"
    earlier = as_said(why)
    reason = remark("answer-from-before", earlier=earlier, answer=decided.reason)
    old = dataclasses.replace(decided, earlier=earlier, reason=reason)
    said = flat(find_words(old, four))
    assert said.startswith(f"DECIDED, BUT FROM BEFORE: {why}. Then cylinder 1 fires at 123.41°.")
    assert said.count(why) == 1


def test_what_the_fit_tells_beside_tdc_is_said_with_units(decided: Verdict, four: Profile) -> None:
    told = Diagnostics(
        Interval(8.8, 8.0, 9.6),
        Interval(0.85, 0.59, 1.21),
        Interval(2.871, 2.61, 3.13),
        Interval(14.6, 14.5, 14.7),
    )
    said = flat(find_words(dataclasses.replace(decided, diagnostics=told), four))
    assert "14.6 bar (14.5 to 14.7) absolute, brought to 200 rev/min and 1.013 bar outside" in said
    assert "Compression ratio 8.8 (8.0 to 9.6), sensor's adaptor and hose in it" in said
    assert "Leaks like a hole of 0.85 mm (0.59 to 1.21)" in said
    assert "pressure peaks 2.87° before TDC (2.61 to 3.13)" in said


def test_an_undecided_answer_gives_no_firing_angle_but_what_to_do(
    undecided: Verdict, four: Profile
) -> None:
    said = flat(find_words(undecided, four))
    assert said.startswith("NOT SURE WHICH TDC")
    assert "turn the engine two more turns" in said
    assert "123.4°, 95 % sure to lie from 121.3° to 125.5°" in said
    assert "cylinder 1 fires at 123.4°: 93.0 %" in said
    assert "cylinder 1 fires at 483.4°: 7.0 %" in said
    assert "Firing TDCs" not in said


def test_what_is_missing_is_said(undecided: Verdict, four: Profile) -> None:
    assert "3 frames lost, 1,234 bytes missing" in flat(find_words(undecided, four))


def test_nothing_found_says_so(four: Profile) -> None:
    said = find_words(Verdict(False, as_said("The crank never moved.")), four)
    assert said.startswith("NOT SURE: no TDC found. The crank never moved.")


def test_the_end_of_the_recording_names_the_cylinder_on_its_firing_stroke(four: Profile) -> None:
    said = position_words(phase_at(four, 123.41, 360.0))
    assert said == (
        "cylinder 3 on its firing stroke, 57° past firing TDC; next to fire: cylinder 4, 123° "
        "further on"
    )


def test_a_single_between_its_firing_strokes_says_that_none_is_on_it() -> None:
    single = Profile(1, (1,), (720.0,))
    said = position_words(phase_at(single, 0.0, 270.0))
    assert said == "no cylinder on its firing stroke; next to fire: cylinder 1, 450° further on"


@pytest.mark.parametrize("cylinders", [1, 4, 12])
def test_no_line_is_wider_than_the_screen(
    decided: Verdict, undecided: Verdict, cylinders: int
) -> None:
    order = tuple(range(1, cylinders + 1))
    engine = Profile(cylinders, order, even_intervals_deg(cylinders, 720.0))
    long_reason = as_said("One long reason after the other keeps the person at it. " * 4)
    for verdict in (
        dataclasses.replace(decided, firing_deg=firing_tdcs(engine, 719.99), reason=long_reason),
        dataclasses.replace(undecided, reason=long_reason),
    ):
        said = find_words(
            verdict,
            engine,
            end=phase_at(engine, 123.0, 17.0),
        )
        assert max(map(len, said.splitlines())) < 80
        assert all(line == line.rstrip() for line in said.splitlines())


def test_every_fault_of_a_recording_has_its_words() -> None:
    health = Health(10, 2, 1, 1, 1, 1, 3)
    assert health_words(health, 0.015) == (
        "10 samples in 2 frames; 1 frame lost, 1 frame damaged, 1 line without a checksum, "
        "1 byte missing, 1.5 % of the readings clipped, 3 separate runs of the board"
    )


def test_per_cent_never_rounds_to_certainty() -> None:
    assert [percent(p) for p in (1.0, 0.99999, 0.5, 0.00001, 0.0)] == [
        "100.0 %",
        "over 99.9 %",
        "50.0 %",
        "under 0.1 %",
        "0.0 %",
    ]
