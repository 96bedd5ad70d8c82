"""``strokewise check`` and ``response``, every word: what a rig does is told before it is trusted.

Neither leads to a step at the engine, so neither shows a caution; a bound too small would be
believed in every TDC after it.
"""

import numpy as np
import pytest

from strokewise.analysis.samples import Board
from strokewise.daq.recording.container import Jotting
from strokewise.daq.wire.frames import Event, Hello, sample_blocks


def test_a_sound_recording(toy_file, page, told):
    """Squeezed ninefold at 1.33, 1.013 bar come to 18.8: reading 100 + 200 · 18.8 = 3,865."""
    said = page("check", toy_file)
    head, facts = said.body.split("\n\n")
    assert " ".join(head.split()) == f"{toy_file}: 7,200 samples, and nothing is missing."
    assert (
        facts
        == """\
  Came through         7,200 samples in 462 frames; nothing lost
  Started              2025-01-01T00:00:00Z
  Engine               "Toy four", four-stroke, 4 cylinders, 1-3-4-2, sensor in
                       cylinder 3
  Run                  3.6 s at 2,000 samples a second; crank 12.0 turns
                       forward and 0.0 back; 11 index pulses
    channel 0          readings 303 to 3865 of 4095"""
    )
    assert (said.warnings, said.cautions) == ([], [])
    answer = told("check", toy_file)
    assert answer["reason"] == "7,200 samples, and nothing is missing"
    [run] = answer["runs"]
    assert run["turns_forward"] == pytest.approx(12.0, abs=0.01)
    assert run["turns_back"] == 0.0


def board_run(back=False, index_counts=2400, high=2000):
    """A crank of 2,400 counts turned three turns in two seconds, with an index and a mark."""
    count = np.arange(0, 7200, 3) * (-1 if back else 1)
    reading = np.full(len(count), 300)
    reading[100:200] = high
    frames = [Hello(Board("toy board", 2400, 12, ("pressure",), 7))]
    frames += list(sample_blocks(0, 800, count, reading))
    way = -1 if back else 1
    frames += [Event(1 + 250 * n, way * n * index_counts, 0) for n in (1, 2)]
    frames += [Event(1_000_000, way * 1500, 1), Event(1_900_000, way * 6000, 2)]
    return sorted(frames, key=sent_us)


def sent_us(frame):
    """When the board sends a frame: the hello first, events and samples by their time."""
    if isinstance(frame, Hello):
        return -1
    return frame.t_us if isinstance(frame, Event) else frame.start_us


@pytest.fixture
def made(toy, tmp_path):
    def write(items=(), engine=toy.engine, **run):
        return toy.write(tmp_path / "r.swr", toy.sent(board_run(**run)), engine, items)

    return write


def test_what_was_met_and_noted(made, page):
    said = page("check", made((Jotting(5, note="hose at 6 o'clock"), Jotting(9, mark="paint"))))
    assert said.facts["Run"] == (
        "1.9 s at 1,250 samples a second; crank 3.0 turns forward and 0.0 back; 2 index pulses;"
        " 1 pulse of mark input 1; 1 pulse of mark input 2; 1 mark pressed on the screen"
    )
    assert said.facts["Note"] == "hose at 6 o'clock"
    assert "channel 0 readings 300 to 2000 of 4095" in said.plain
    assert said.warnings == []


def test_turned_back(made, page, told):
    said = page("check", made(back=True))
    assert "; crank 0.0 turns forward and 3.0 back; " in said.facts["Run"]
    assert said.warnings == [
        "The crank turned back more than forward: direction in the profile may be the wrong way"
        " round."
    ]
    assert [each["code"] for each in told("check", made(back=True))["warnings"]] == ["turned-back"]


@pytest.mark.parametrize(("counts", "warned"), [(2404, False), (2396, False), (2405, True)])
def test_an_index_that_comes_elsewhere(made, page, counts, warned):
    said = page("check", made(index_counts=counts))
    assert said.warnings == (
        [
            f"The index comes every {counts} to {counts} counts, not every 2400: wrong"
            " counts_per_rev, or counts are lost or made by interference."
        ]
        if warned
        else []
    )


def test_cut_off_readings(made, page):
    said = page("check", made(high=4095))
    assert said.warnings == [
        "Channel 0: 4.2 % of the readings stand at an end of the converter, so peaks are cut off."
    ]
    assert said.facts["Came through"].endswith("; 4.2 % of the readings clipped")


PERIOD_US, TAU_S = 500, 0.0015
BY_HAND = [
    "Pressure in the plug hole",
    "Hose and hot parts",
    "Turning the engine by hand",
    "First of all",
]


@pytest.fixture
def let_go(toy, tmp_path):
    """A hose let go twice from 8 bar over the air outside, emptied with a time of 1.5 ms."""
    time_s = np.arange(0.0, 3.0, PERIOD_US * 1e-6)
    bar = np.full(len(time_s), 1.013)
    for at_s in (1.0, 2.0003):
        since = time_s - at_s
        fallen = np.where(since < 0, 1.0, np.exp(-np.maximum(since, 0.0) / TAU_S))
        bar += 8.0 * fallen * np.clip((since + 0.5) / 0.2, 0.0, 1.0)
    noise = np.random.default_rng(2).normal(0.0, 0.5, len(bar))
    reading = np.round(100 + 200 * bar + noise).astype(int)
    hello = Hello(Board("toy board", 2400, 12, ("pressure",), 7))
    blocks = sample_blocks(0, PERIOD_US, np.zeros(len(reading), int), reading)
    return toy.write(tmp_path / "let-go.swr", toy.sent([hello, *blocks]))


def test_a_bound_stays_one(let_go, page, told, reads, sentence):
    answer, said = told("response", let_go), page("response", let_go)
    time = answer["response_time"]
    assert time["low"] == 0.0
    assert TAU_S <= time["high"] < 1.1 * TAU_S
    bound = answer["upper_bound"]
    assert float(bound.removesuffix(" ms")) >= time["high"] * 1e3 - 1e-4
    assert float(bound.removesuffix(" ms")) < time["high"] * 1e3 + 0.011
    headline = f"RESPONSE TIME AT MOST {bound}. {sentence(answer['reason'])} At most"
    assert said.plain.startswith(headline)
    best = float(said.facts["At most"].removeprefix(f"{bound} (95 %); of the best fit ")[:-3])
    assert time["value"] * 1e3 - 1e-4 <= best < time["value"] * 1e3 + 0.011
    assert said.facts["For the profile"] == f'response_time = "{bound}" under [sensor]'
    steps = [label for label in said.facts if label.startswith("Step at ")]
    assert steps == ["Step at 1.00 s", "Step at 2.00 s"]
    for step in steps:
        reads(said.facts[step], f"9.01 to 1.01 bar, at most {bound}")
    assert (said.warnings, said.cautions) == ([], BY_HAND)


def test_no_step_no_bound(toy, tmp_path, page, told, sentence):
    still = np.full(4000, 303)
    hello = Hello(Board("toy board", 2400, 12, ("pressure",), 7))
    blocks = sample_blocks(0, PERIOD_US, np.zeros(len(still), int), still)
    file = toy.write(tmp_path / "still.swr", toy.sent([hello, *blocks]))
    answer, said = told("response", file, code=3), page("response", file, code=3)
    assert (answer["response_time"], answer["upper_bound"], answer["steps"]) == (None, None, 0)
    assert said.plain == f"NOT SURE. {sentence(answer['reason'])}"
    assert (said.warnings, said.cautions) == ([], BY_HAND)
