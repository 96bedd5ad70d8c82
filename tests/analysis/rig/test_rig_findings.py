"""Is what is wrong with a rig found before the engine is turned, and what is right called good?"""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.profile import Encoder, Mark, Profile, Sensor
from strokewise.analysis.rig.rig_findings import rig_findings
from strokewise.analysis.rig.rig_run import RigRun, run_at, run_of
from strokewise.analysis.samples import Board, Events, Health, Samples, Segment
from strokewise.gui.sayings import say

BOARD = Board("bench board", 2400, 12, ("pressure",), boot=7)
HEALTHY = Health(samples=7000, frames=440, segments=1)
REST_S, SQUEEZE_S, TURN_S, PAUSE_S = 3.0, 1.5, 2.0, 0.5
AIR = 600  # reading at the atmosphere


def profile(**changes) -> Profile:
    return replace(Profile(1, (1,), (720.0,)), **changes)


def segment(
    *,
    counts: float = 2400,
    rate_hz: float = 1000.0,
    squeeze: float = 800,
    left: float = 0.0,
    noise: float = 2.0,
    level: float = AIR,
    index_at: tuple[float, ...] = (900.0,),
    seed: int = 3,
    board: Board | None = BOARD,
) -> Segment:
    """At rest, squeezed for half a second, turned by so many counts; then it stands still."""
    rng = np.random.default_rng(seed)
    total_s = REST_S + SQUEEZE_S + TURN_S + PAUSE_S
    time_s = np.arange(round(total_s * rate_hz)) / rate_hz
    turned = np.clip((time_s - REST_S - SQUEEZE_S) / TURN_S, 0.0, 1.0)
    count = np.floor(counts * turned + 0.5).astype(np.int64)
    pressed = (time_s > REST_S + 0.2) & (time_s < REST_S + 0.7)
    let_go = time_s >= REST_S + 0.7
    reading = level + noise * rng.normal(size=len(time_s)) + squeeze * pressed + left * let_go
    samples = Samples(
        np.round(time_s * 1e6).astype(np.int64),
        count,
        np.clip(np.round(reading), 0, 4095).astype(np.uint16)[:, np.newaxis],
        np.zeros(len(time_s), bool),
    )
    at = [int(np.argmax(np.abs(count) >= abs(place))) for place in index_at]
    events = Events(samples.time_us[at], count[at], np.zeros(len(at), np.int64))
    return Segment(board=board, samples=samples, events=events)


def judged(of: Segment, known: Profile | None = None, **changes) -> dict[str, tuple[str, str]]:
    run = replace(run_of(of, HEALTHY), **changes)
    return {
        finding.check: (finding.state, say(finding.said))
        for finding in rig_findings(run, known or profile())
    }


def states(findings: dict[str, tuple[str, str]]) -> dict[str, str]:
    return {check: state for check, (state, _) in findings.items()}


def test_a_good_rig_is_good_in_everything() -> None:
    found = judged(segment())
    assert set(states(found).values()) == {"good"}, found
    assert list(found) == [
        "board", "line", "pace", "rest", "noise", "squeeze", "counts", "direction", "index",
    ]  # fmt: skip


def test_named_parts_and_found_parts_come_to_the_same() -> None:
    of = segment()
    named = run_at(
        of, HEALTHY, rest_until_us=3_000_000, squeezed_until_us=4_400_000, turned_from_us=4_450_000
    )
    by_name = {f.check: f.state for f in rig_findings(named, profile())}
    assert by_name == states(judged(of))
    assert rig_findings(named, profile())[6].figures["counts"] == 2400


@pytest.mark.parametrize(
    ("counts", "said"),
    [(600, "a quarter"), (1200, "half"), (4800, "twice"), (9600, "four times"), (1900, "1,900")],
)
def test_wrong_counts_are_odd_and_a_plain_ratio_is_named(counts: int, said: str) -> None:
    state, text = judged(segment(counts=counts, index_at=()))["counts"]
    assert state == "odd"
    assert said in text


def test_a_mark_met_by_hand_is_near_enough() -> None:
    assert judged(segment(counts=2380))["counts"][0] == "good"
    assert judged(segment(counts=2370))["counts"][0] == "odd"


def test_two_turns_of_an_encoder_on_the_camshaft_are_one_turn_of_it() -> None:
    known = profile(encoder=Encoder(counts_per_rev=2400, drive_ratio=0.5))
    found = judged(segment(), known, turns=2.0)
    assert (found["counts"][0], found["index"][0]) == ("good", "good")


def test_the_wrong_way_round_is_odd_and_direction_mends_it() -> None:
    of = segment(counts=-2400, index_at=(-900.0,))
    assert judged(of)["direction"][0] == "odd"
    assert judged(of, profile(encoder=Encoder(direction=-1)))["direction"][0] == "good"


def test_a_count_that_never_moves_is_missing() -> None:
    found = judged(segment(counts=0, index_at=()))
    assert found["counts"][0] == "missing"
    assert "never moved" in found["counts"][1]
    assert "direction" not in found


def test_one_dead_channel_makes_the_count_go_to_and_fro() -> None:
    of = segment(counts=0, index_at=())
    trembling = of.samples.count.copy()
    trembling[4500:6500:2] = 1
    of = replace(of, samples=replace(of.samples, count=trembling))
    [found] = [f for f in rig_findings(run_of(of, HEALTHY), profile()) if f.check == "counts"]
    assert found.state == "missing"
    assert "to and fro by one" in say(found.said)
    assert "one channel is dead" in say(found.remedy)


def test_no_index_is_missing_and_too_many_are_odd() -> None:
    assert judged(segment(index_at=()))["index"][0] == "missing"
    assert judged(segment(index_at=(300.0, 900.0, 1500.0)))["index"][0] == "odd"
    assert "bouncing" in judged(segment(index_at=(900.0, 901.0)))["index"][1]


def test_a_mark_that_was_named_must_be_seen() -> None:
    known = profile(marks=(Mark("pulley notch", input=1),))
    assert judged(segment(), known)["mark 1"][0] == "missing"
    of = segment()
    events = Events(np.append(of.events.time_us, 5_000_000), np.append(of.events.count, 700),
                    np.append(of.events.input, 1))  # fmt: skip
    state, text = judged(replace(of, events=events), known)["mark 1"]
    assert (state, "pulley notch" in text) == ("good", True)


def test_noise_beyond_four_steps_of_ten_bits_is_odd() -> None:
    assert judged(segment(noise=10.0))["noise"][0] == "good"
    assert judged(segment(noise=25.0))["noise"][0] == "odd"


def test_no_squeeze_is_missing_and_one_that_stays_is_a_valve_left_in() -> None:
    assert judged(segment(squeeze=0.0))["squeeze"][0] == "missing"
    [finding] = [f for f in rig_findings(run_of(segment(left=600), HEALTHY), profile())
                 if f.check == "squeeze"]  # fmt: skip
    assert finding.state == "odd"
    assert "non-return valve" in say(finding.remedy)


@pytest.mark.parametrize("level", [0, 4095])
def test_a_reading_at_an_end_of_the_converter_is_no_sensor(level: int) -> None:
    found = judged(segment(level=level, squeeze=0, noise=0))
    assert found["rest"][0] == "missing"
    assert "noise" not in found


def test_known_points_must_show_the_air_at_rest() -> None:
    right = Sensor(reference="absolute", points=((409.6, 0.0), (3686.4, 20.0)))
    air = 409.6 + 1.013 / 20 * 3276.8
    assert judged(segment(level=air), profile(sensors=(right,)))["rest"][0] == "good"
    gauge = replace(right, reference="gauge")  # it then shows twice the air
    state, text = judged(segment(level=air), profile(sensors=(gauge,)))["rest"]
    assert state == "odd"
    assert "2.03 bar" in text


def test_a_sensor_on_a_channel_that_is_not_there_is_missing() -> None:
    assert judged(segment(), profile(sensors=(Sensor(channel=2),)))["rest"][0] == "missing"


def test_the_line_the_pace_and_the_board_are_judged() -> None:
    of = segment()
    assert judged(of, health=replace(HEALTHY, lost_frames=3))["line"][0] == "odd"
    assert judged(of, health=replace(HEALTHY, segments=2))["line"][0] == "odd"
    assert judged(of, health=replace(HEALTHY, unchecked_lines=9))["line"][0] == "odd"
    assert judged(segment(rate_hz=100.0))["pace"][0] == "odd"
    assert judged(segment(rate_hz=200.0))["pace"] == (
        "good", "200 samples a second: enough by hand, few for a starter",
    )  # fmt: skip
    uneven = of.samples.time_us.copy()
    uneven[1000:1100] += 400
    shaken = replace(of, samples=replace(of.samples, time_us=uneven))
    assert judged(shaken)["pace"][0] == "odd"
    assert judged(segment(board=None))["board"][0] == "missing"
    assert judged(segment(board=replace(BOARD, boot=None)))["board"][0] == "odd"


def test_skipped_states_that_the_board_tells_of_are_odd() -> None:
    assert "skipped" not in judged(segment(board=replace(BOARD, skipped=0)))
    state, text = judged(segment(board=replace(BOARD, skipped=12)))["skipped"]
    assert (state, "12 skipped states" in text) == ("odd", True)


@pytest.mark.parametrize(("came", "said"), [(False, "nothing came"), (True, "bytes came")])
def test_silence_is_told_from_noise(came: bool, said: str) -> None:
    [finding] = rig_findings(RigRun(came=came), profile())
    assert finding.state == "missing"
    assert said in say(finding.said)


def test_turned_at_once_the_rest_is_looked_for_behind() -> None:
    of = segment()
    cut = slice(4_600, None)
    later = Samples(*(getattr(of.samples, name)[cut] for name in
                      ("time_us", "count", "readings", "after_gap")))  # fmt: skip
    run = run_of(replace(of, samples=later), HEALTHY)
    assert run.rest.start > 1_500
    assert run.turned == slice(0, run.rest.start + 1)
