"""``strokewise find``, every word of it: whoever reads it turns the engine by it.

The toy engine's sensor is in cylinder 3, which fires half a turn after cylinder 1: at 280°, where
cylinder 1 fires at 100°. So nothing here comes out the same taken forward for back.
"""

from pathlib import Path

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.gui.models.near import near_words
from strokewise.gui.pages.headline import decimals_of, sided_apart, spread

RECORDINGS = Path(__file__).parents[4] / "recordings"
FRAME = (
    "Angles are crank degrees from the encoder's zero, later in the engine's own direction of"
    " turning is larger. They hold until the board restarts or the clamp is moved."
)
TURN_ON = [
    "Timing not proven (a rebuild, or a moved cam drive)",
    "Turning the engine by hand",
    "Turning back",
    "First of all",
]
CRANK_AGAIN = [
    *TURN_ON[:2],
    "Pressure in the plug hole",
    "Ignition and fuel live",
    "Cranking with the starter",
    TURN_ON[-1],
]


def apart(one, other, period):
    return (one - other + period / 2) % period - period / 2


def degrees(interval, decimals=2):
    value, low, high = (f"{interval[end]:.{decimals}f}°" for end in ("angle", "low", "high"))
    return f"{value}, 95 % sure to lie from {low} to {high}"


def span(interval, unit="", most=2):
    return spread(Interval(interval["value"], interval["low"], interval["high"]), unit, most)


def test_the_whole_decided_page(toy_file, page, told, reads, sentence):
    answer, said = told("find", toy_file), page("find", toy_file)
    tdc, firing = answer["tdc"], answer["firing"]
    assert (tdc["cylinder"], tdc["method"]) == (3, "fit")
    assert tdc["low"] < tdc["angle"] < tdc["high"]
    assert abs(apart(tdc["angle"], 280.0, 360.0)) < 4.0
    assert abs(apart(tdc["after_index"], 280.0, 360.0)) < 4.0
    first = firing["1"]
    assert abs(apart(first, 100.0, 720.0)) < 4.0
    for cylinder, after in (("3", 180.0), ("4", 360.0), ("2", 540.0)):
        assert apart(firing[cylinder], first + after, 720.0) == pytest.approx(0.0, abs=2e-3)
    assert list(firing) == ["1", "3", "4", "2"]
    assert abs(apart(tdc["angle"], firing["3"], 360.0)) < 2e-3
    sure, other = answer["phase"]["candidates"]
    assert (sure["firing_1"], other["firing_1"]) == pytest.approx((first, first + 360.0), abs=2e-3)
    assert sure["probability"] == answer["phase"]["probability"] > 0.9999 > other["probability"]
    peak = float(answer["compression"]["peak"].split()[0])
    gauge = float(answer["compression"]["peak_gauge"].split()[0])
    assert peak - gauge == pytest.approx(1.013, abs=0.011)
    passes = answer["compression"]["passes"]
    end = 12 * 360 - first  # the crank at the end, after cylinder 1's firing TDC
    past = end % 720 - 540
    assert 70 < past < 90

    assert (answer["decided"], answer["warnings"]) == (True, [])
    why = sentence(answer["reason"])
    decimals = decimals_of(Interval(tdc["angle"], tdc["low"], tdc["high"]))
    near = near_words((tdc["high"] - tdc["low"]) / 2)
    fires = f"cylinder 1 fires at {first:.{decimals}f}°"
    headline = f"DECIDED, {near}: {fires}. {why} TDC of cylinder 3"
    reads(said.plain[: len(headline)], headline)
    beside = answer["diagnostics"]
    between = (beside["loss_angle"][end] for end in ("value", "low", "high"))
    loss = sided_apart(Interval(*between), ("before", "after"))
    expected = {
        "TDC of cylinder 3": f"{degrees(tdc, decimals)}; joint fit of all compressions,"
        f" {tdc['passes']} compressions",
        "after the index": f"{tdc['after_index']:.{decimals}f}°",
        "Firing TDCs": "in firing order, over two turns of the crank; only cylinder 3 was"
        " measured, the rest is as the firing order stated has it cyl 1 cyl 3 cyl 4 cyl 2 "
        + " ".join(f"{angle:.{decimals}f}°" for angle in firing.values()),
        "Compression": f"{peak:.1f} bar absolute, {gauge:.1f} bar gauge, median of {passes}"
        " compressions",
        "Air": "1.013 bar, 20 °C, assumed, as nobody stated it",
        "Peak compared": f"{span(beside['peak_bar_at_200_rpm'], ' bar', 1)} absolute, brought to"
        " 200 rev/min and 1.013 bar outside",
        "Compression ratio": f"{span(beside['compression_ratio'])}, sensor's adaptor and hose in"
        " it",
        "Loss angle": f"pressure peaks {' TDC ('.join(loss)})",
        "Engine at the end": f"cylinder 2 on its firing stroke, {past:.0f}° past firing TDC; next"
        f" to fire: cylinder 1, {180 - past:.0f}° further on; by the firing order as stated",
        "Recording": "7,200 samples in 462 frames; nothing lost",
    }
    if beside["leak_hole_mm"] is not None:  # left out where the trace cannot tell it
        expected["Leaks like"] = f"a hole of {span(beside['leak_hole_mm'], ' mm')}"
    shown = {label: " ".join(text.split()) for label, text in said.facts.items()}
    assert ("Leaks like" in shown) == ("Leaks like" in expected)
    assert set(shown) <= set(expected)
    assert {"TDC of cylinder 3", "Firing TDCs", "Compression", "Engine at the end"} <= set(shown)
    for label, text in shown.items():
        reads(text, expected[label])
    assert said.plain.endswith(FRAME)
    assert (said.warnings, said.cautions) == ([], TURN_ON)


@pytest.mark.parametrize(
    ("said_before", "caution"),
    [("turning_back=never", "Never turn back"), (None, "Turning back, nobody said")],
)
def test_whether_it_may_be_turned_back(toy, tmp_path, page, said_before, caution):
    engine = {key: value for key, value in toy.engine.items() if key != "turning_back"}
    file = toy.write(tmp_path / "toy.swr", toy.sent(toy.frames(turns=6.0)), engine=engine)
    more = () if said_before is None else ("--set", said_before)
    cautions = page("find", file, *more).cautions
    assert cautions == [*TURN_ON[:2], caution, TURN_ON[-1]]


def test_undecided_says_so_and_leads_to_turning_again(toy, tmp_path, page, told, sentence):
    """One compression, and then the crank stood: TDC is found, and the other turn never seen."""
    file = toy.write(tmp_path / "short.swr", toy.sent(toy.frames(turns=1.2)))
    answer, said = told("find", file, code=3), page("find", file, code=3)
    assert (answer["decided"], answer["firing"]) == (False, None)
    found = answer["tdc"] is not None
    head = ": no TDC found."
    if found:
        near = near_words((answer["tdc"]["high"] - answer["tdc"]["low"]) / 2).removeprefix("TDC ")
        head = f" WHICH TDC: the piston's top is found to {near}, the stroke is not."
    assert said.plain.startswith(f"NOT SURE{head} {sentence(answer['reason'])} ")
    assert "Firing TDCs" not in said.facts
    assert "Engine at the end" not in said.facts
    assert said.cautions == CRANK_AGAIN


def test_a_stop_cannot_tell_the_stroke(page, told, reads):
    words = ("find", RECORDINGS / "stop-both-sides.swr", "--method", "stop")
    answer, said = told(*words, code=3), page(*words, code=3)
    first, second = answer["phase"]["candidates"]
    assert (first["probability"], second["probability"]) == (0.5, 0.5)
    assert second["firing_1"] - first["firing_1"] == pytest.approx(360.0, abs=2e-3)
    reads(said.facts["Could be"], f"cylinder 1 fires at {first['firing_1']:.2f}°: 50.0 %")
    reads(said.facts["or"], f"cylinder 1 fires at {second['firing_1']:.2f}°: 50.0 %")
    reads(
        said.facts["TDC of cylinder 1"],
        f"{degrees(answer['tdc'])}; piston stop, both sides, {answer['tdc']['passes']} stop"
        " contacts",
    )
    assert said.plain.startswith(
        "NOT SURE WHICH TDC: the piston's top is found to ± 0.1°, the stroke is not. The middle of"
        " 3 contact(s) before TDC and 2 after it, 65.5° apart; a stop cannot tell"
    )
    assert said.plain.endswith(FRAME)
    assert said.warnings == [
        "A piston stop is for turning by hand only, never the starter: plugs out of the other"
        " cylinders, come up to it gently from each side, take it out before anything else is done."
    ]
    assert said.cautions == ["Piston stop in the plug hole", *CRANK_AGAIN]


def test_a_published_method_says_what_it_leaves_out(page):
    said = page("find", RECORDINGS / "cranked.swr", "--method", "fixed-loss")
    assert said.warnings == [
        "The method fixed-loss does not fit this engine's losses, and its interval is only the"
        " scatter between passes: TDC can lie some degrees outside; use it to compare."
    ]
    assert "; peak pressure less a fixed loss angle, " in said.facts["TDC of cylinder 1"]
    assert said.cautions == TURN_ON
