"""``strokewise cam``, every word of it: a sprocket moved the wrong way bends valves.

The figures themselves are held against the truth in ``test_cam_command.py``; here each is asked for
in the answer to a program, and every word of the page built from them.
"""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import CamDrive
from strokewise.gui.pages.headline import sided, sided_apart, spread

RECORDINGS = Path(__file__).parents[4] / "recordings"
RECORDING = str(RECORDINGS / "cranked.swr")
STEP = [
    "Moving the cam drive",
    "Turning the engine by hand",
    "Turning back",
    "First of all",
]
EFFECTIVE = (
    "Crank degrees. The gas feels a valve some degrees from its seat, the more the"
    " faster the engine turns; the figures are worked back to the lift that the profile's timing"
    " belongs to, with a model of orifice and last lift, and say by how much that is uncertain."
)
TOOTH_DEG = 720 / 42


def restated(known, **figures):
    """Let the profile state other timing; the trace stays: inlet shuts 49°, exhaust opens 47°."""
    profile = known[0].profile
    timing = replace(profile.valve_timing, **figures)
    known[0] = replace(known[0], profile=replace(profile, valve_timing=timing))


def late(shift):
    """How a shift must be said, its side and both ends."""
    value, ends = sided_apart(between(shift), most=1)
    return f"{value}, 95 % sure to lie from {ends}"


def between(shift):
    return Interval(shift["value"], shift["low"], shift["high"])


def percent(share):
    return "over 99.9 %" if share > 0.9995 else f"{100 * share:.1f} %"


def test_inlet_and_exhaust_are_never_mixed_up(known, page, told, reads):
    """Separate cams: the inlet's stands a tooth late, the exhaust's two teeth early."""
    restated(known, intake_closes_abdc_deg=32.0, exhaust_opens_bbdc_deg=13.0)
    words = ("cam", RECORDING, "--separate-cams", "--clearances-set")
    answer = told(*words)
    inlet, exhaust = answer["shift_intake"], answer["shift_exhaust"]
    assert inlet["value"] == pytest.approx(17.0, abs=3.0)
    assert exhaust["value"] == pytest.approx(-34.0, abs=3.0)
    assert inlet["low"] < 17.0 < inlet["high"]
    assert exhaust["low"] < -34.0 < exhaust["high"]
    assert (answer["shift"], answer["teeth"]) == (None, None)
    assert (answer["teeth_intake"]["value"], answer["teeth_exhaust"]["value"]) == (1, -2)
    closes = answer["events"]["intake_closes_abdc"]
    opens = answer["events"]["exhaust_opens_bbdc"]
    assert closes["value"] == pytest.approx(49.0, abs=2.0)
    assert opens["value"] == pytest.approx(47.0, abs=2.0)
    felt = answer["effective_events"]

    said = page(*words)
    assert answer["decided"] is True
    reads(
        answer["reason"],
        f"intake cam {sided(between(inlet), most=1)}; exhaust cam"
        f" {sided(between(exhaust), most=1)}",
    )
    assert said.plain.startswith(f"DECIDED: I{answer['reason'][1:]}. by the inlet")
    found = said.facts
    sure = answer["teeth_intake"]["probability"], answer["teeth_exhaust"]["probability"]
    reads(found["by the inlet"], f"{late(inlet)}; 1 tooth out ({percent(sure[0])})")
    reads(found["by the exhaust"], f"{late(exhaust)}; 2 teeth out ({percent(sure[1])})")
    assert "Cam" not in found
    reads(
        found["Inlet closes"],
        f"{spread(between(closes), '°', 1)} after BDC, stated"
        f" 32° at 0 mm lift; the gas feels it at {felt['intake_closes_abdc']:.1f}°",
    )
    reads(
        found["Exhaust opens"],
        f"{spread(between(opens), '°', 1)} before BDC, stated"
        f" 13° at 0 mm lift; the gas feels it at {felt['exhaust_opens_bbdc']:.1f}°",
    )
    assert said.plain.endswith(EFFECTIVE)
    assert (said.warnings, said.cautions) == ([], STEP)


def test_the_way_to_put_it_right_goes_against_the_shift(known, page, told, reads):
    """Late is made earlier. One tooth left over is said with its sign."""
    restated(known, intake_closes_abdc_deg=32.0, exhaust_opens_bbdc_deg=13.0)
    words = ("cam", RECORDING, "--separate-cams", "--clearances-set")
    answer = told(*words)
    ways = {
        part: [way for way in answer["corrections"] if way["of"] == part]
        for part in ("intake", "exhaust")
    }
    assert ways["intake"][0]["teeth_earlier"] == 1
    assert ways["exhaust"][0]["teeth_earlier"] == -2
    for part, moved in (("intake", 1), ("exhaust", -2)):
        first, shift = ways[part][0], answer[f"shift_{part}"]
        for end in ("value", "low", "high"):
            assert first["left"][end] == pytest.approx(shift[end] - moved * TOOTH_DEG, abs=2e-3)
        done = "1 tooth earlier" if moved == 1 else "2 teeth later"
        left = first["left"]
        reads(
            first["words"],
            f"move the sprocket {done}: then {sided(between(left), most=1)}",
        )
    said = page(*words).facts
    for label, part in (("Intake cam", "intake"), ("Exhaust cam", "exhaust")):
        first = ways[part][0]
        near = percent(first["probability"])
        assert said[label] == f"{first['words']}; the nearest with {near}"


def test_one_cam_late(known, page, told, reads):
    restated(
        known,
        intake_closes_abdc_deg=32.0,
        intake_opens_btdc_deg=28.0,
        exhaust_opens_bbdc_deg=64.0,
        exhaust_closes_atdc_deg=-4.0,
    )
    answer = told("cam", RECORDING)
    shift = answer["shift"]
    assert shift["value"] == pytest.approx(17.0, abs=2.0)
    said = page("cam", RECORDING)
    sure = sided(between(shift), most=1)
    reads(answer["reason"], f"cam {sure}")
    headline = f"DECIDED: Cam {sure}. Cam dot does not go with the cam that"
    reads(said.plain[: len(headline)], headline)
    at = said.plain.rindex("Cam ", 0, said.plain.index("95 % sure"))
    first = f"Cam {late(shift)}; 1 tooth out ("
    reads(said.plain[at : at + len(first)], first)
    reads(said.facts["by the inlet"], late(answer["shift_intake"]))
    reads(said.facts["by the exhaust"], late(answer["shift_exhaust"]))
    assert said.facts["Cam"].startswith("move the sprocket 1 tooth earlier: ")
    assert said.cautions == STEP


@pytest.mark.parametrize(("keyways", "taken"), [((0.0, 8.57), 2), ((0.0, -8.57), 1)])
def test_a_keyway_that_makes_it_later_is_taken_for_an_early_cam(known, told, keyways, taken):
    """A cam that stands two teeth early: a keyway of 17° later saves one of them, if it is one."""
    restated(known, intake_closes_abdc_deg=83.3, exhaust_opens_bbdc_deg=12.7)
    profile = replace(known[0].profile, cam_drive=CamDrive(21, 42, keyways))
    known[0] = replace(known[0], profile=profile)
    answer = told("cam", RECORDING, "--clearances-set")
    ways = {(way["teeth_earlier"], way["keyway"]) for way in answer["corrections"]}
    assert (-2, 1) in ways
    assert ((-1, 2) in ways) is (taken == 2)
    assert ((-3, 2) in ways) is (taken == 1)


def test_a_shift_wider_than_a_third_of_a_tooth_is_no_answer(known, page, told, reads):
    """Teeth of 6°: a shift known to some 2.1° could be the next one's, and 2.0° are accepted."""
    profile = replace(known[0].profile, cam_drive=CamDrive(60, 120))
    known[0] = replace(known[0], profile=profile)
    answer = told("cam", RECORDING, code=3)
    shift = answer["shift"]
    half = (shift["high"] - shift["low"]) / 2
    assert 2.0 < half < 6.0
    assert answer["decided"] is False
    reads(
        answer["reason"],
        f"cam is {sided(between(shift), most=1)}, known no better than ± {half:.1f}° where ± 2.0°"
        " is wanted: set the clearances and say --clearances-set, crank longer",
    )
    said = page("cam", RECORDING, code=3)
    assert said.plain.startswith(f"NOT SURE: C{answer['reason'][1:]}. Cam ")
    assert said.cautions == STEP


def test_what_is_not_shown_and_why(known, page, told):
    answer, said = told("cam", RECORDING), page("cam", RECORDING)
    why = answer["not_shown"]["exhaust_closes_atdc"]
    assert re.fullmatch(
        r"not shown: the pressure moves by [1-9]\d? mbar across the overlap, and a degree of either"
        r" valve moves it by less than a sensor for compressions resolves",
        why,
    )
    assert answer["not_shown"] == {"exhaust_closes_atdc": why, "intake_opens_btdc": why}
    assert said.facts["Exhaust closes"] == why
    assert said.facts["Inlet opens"] == "not shown, for the same reason"


@pytest.mark.parametrize(
    ("turn", "said"),
    [
        ("firing", 'no: "cam dot" comes on its stated turn of the crank'),
        (
            "overlap",
            'YES: "cam dot" comes a whole turn of the crank from where it should: it and the cam'
            " stand half a turn of the cam apart; look at which of the two to move",
        ),
        (
            None,
            "unknown: pressure cannot tell a cam half a turn out, as compression follows the cam;"
            " record a mark on cam sprocket or distributor, or a rotor or pump reference, with its"
            " turn stated",
        ),
    ],
)
def test_half_a_turn_is_told_by_a_mark_alone(known, page, told, turn, said):
    profile = known[0].profile
    marks = tuple(
        replace(mark, turn=turn) if mark.name == "cam dot" else mark for mark in profile.marks
    )
    marks = () if turn is None else marks
    known[0] = replace(known[0], profile=replace(profile, marks=marks, turning_back="never"))
    answer = page("cam", RECORDING)
    half = told("cam", RECORDING)["half_turn"]
    sure = "" if half["value"] is None else f" ({percent(half['probability'])})"
    assert answer.facts["Half a turn"] == said.replace(":", f"{sure}:", 1)
    assert answer.cautions == [*STEP[:2], "Never turn back", STEP[3]]
    out = told("cam", RECORDING)["half_turn"]["value"]
    assert out is {"firing": False, "overlap": True, None: None}[turn]


def test_between_two_teeth_nothing_is_decided(known, page, told):
    """Half a tooth late: either sprocket position is as near, and the engine maker's marks rule."""
    half = TOOTH_DEG / 2 + 0.2
    restated(
        known,
        intake_closes_abdc_deg=49.0 - half,
        intake_opens_btdc_deg=11.0 + half,
        exhaust_opens_bbdc_deg=47.0 + half,
        exhaust_closes_atdc_deg=13.0 - half,
    )
    answer = told("cam", RECORDING, "--clearances-set", code=3)
    assert answer["decided"] is False
    assert answer["teeth"]["probability"] < 0.95
    assert answer["reason"] == (
        "the shift lies between two teeth: set the clearances, crank longer"
    )
    said = page("cam", RECORDING, "--clearances-set", code=3)
    assert f"NOT SURE: T{answer['reason'][1:]}. Cam " in said.plain
