"""Can every scenario be named, set and built, and does it show what its name says?"""

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.engine.settings import RecordedTurning, RockedTurning, Spanner, Starter
from strokewise.daq.bench.parameters import split_settings
from strokewise.daq.bench.rig.sensor_model import calibration_points
from strokewise.daq.bench.scenarios.scenarios import SCENARIOS, scenario
from strokewise.daq.bench.stated_profile import stated_profile, toml_text
from strokewise.daq.bench.truth import truth
from strokewise.daq.profile.known import known_engine
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

CRANKED_FOR = {"seconds": 2.0}
LATER = {
    "clamp-slipped": {"seconds": 2.2, "slip_at": 1.0},
    "board-restarts": {"seconds": 2.6, "restart_at": 0.5},
}
SHORT_BY_HAND = {"turn": 900.0, "hand_speed": 90.0, "pause": (0.05, 0.1)}


def shortened(name):
    """The scenario, turned no longer than the checks here need."""
    found = scenario(name)
    if name in LATER:
        return found.build(LATER[name])
    turning = found.base.turning
    if isinstance(turning, Starter):
        return found.build(CRANKED_FOR)
    if isinstance(turning, Spanner):
        turn = (
            SHORT_BY_HAND["turn"] * np.sign(turning.total_deg)
            if name != "turned-backwards"
            else -900.0
        )
        return found.build({**SHORT_BY_HAND, "turn": float(turn)})
    if isinstance(turning, RockedTurning):
        return found.build({"swings": 2})
    return found.build()


@pytest.fixture(scope="module")
def taken():
    """Every scenario's take, made once when first asked for."""
    made = {}

    def get(name):
        if name not in made:
            made[name] = take(shortened(name))
        return made[name]

    return get


def received(taken):
    intake = Intake()
    blocks = intake.feed(taken.items)
    return join(blocks + intake.finish()), intake.health


def frame_deg(counts, encoder):
    """The contract's formula."""
    return (counts + 0.5) * 360 * encoder.direction / (encoder.counts_per_rev * encoder.drive_ratio)


def shown_bar(segment, bench, channel=0):
    sensor = bench.rig.sensors[channel]
    (low, low_bar), (high, high_bar) = calibration_points(sensor, bench.rig.board.adc_bits)
    readings = segment.samples.readings[:, channel].astype(float)
    return low_bar + (readings - low) * (high_bar - low_bar) / (high - low)


def apart_deg(one, other, period=720.0):
    return (one - other + period / 2) % period - period / 2


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_key_can_be_shown_and_set_again_to_what_it_is(name):
    bench = scenario(name).build()
    assert scenario(name).about[0].isupper()
    again = scenario(name).build(
        {parameter.key: parameter.shown(bench) for parameter in scenario(name).parameters}
    )
    for parameter in scenario(name).parameters:
        assert parameter.shown(again) == parameter.shown(bench), parameter.key
        assert parameter.about


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_profile_is_one_that_the_profile_reader_takes(name, tmp_path):
    bench = scenario(name).build()
    table = stated_profile(bench)
    text = toml_text(table, "a comment")
    assert tomllib.loads(text) == table
    path = tmp_path / "engine.toml"
    path.write_text(text, encoding="utf-8")
    known = known_engine(overrides=[], engine=path)
    assert isinstance(known.profile, Profile)
    assert known.profile.cylinders == bench.engine.cylinders
    assert known.profile.encoder.counts_per_rev == bench.rig.encoder.counts_per_rev
    if name != "wrong-firing-order":
        assert known.profile.firing_order == bench.engine.firing_order
        assert known.profile.firing_intervals_deg == bench.engine.intervals_deg


BURNING = (
    "burning-petrol",
    "burning-diesel",
    "idling-misfires",
    "cut-after-running",
    "catches-while-cranking",
    "thermal-shock",
)
COMPRESSION_SEEN = [
    name
    for name in SCENARIOS
    if name
    not in (
        "stop-both-sides",
        "manifold",
        "runner",
        "vacuum-sensor",
        "dead-cylinder",
        "hose-valve-left-in",
        *BURNING,
    )
]


@pytest.mark.parametrize("name", COMPRESSION_SEEN)
def test_the_truth_is_where_the_pressure_that_arrived_peaks(name, taken):
    """From the bytes back with the contract's formula alone: the peak stands shortly before TDC."""
    made = taken(name)
    true = truth(made)
    segment = received(made)[0][-1]
    bench = made.bench
    angle = frame_deg(segment.samples.count, bench.rig.encoder)
    pressure = shown_bar(segment, bench)
    firing = true["firing"][str(true["tdc"]["cylinder"])]
    cycle = bench.engine.cycle_deg
    if name == "clamp-slipped":
        after = segment.samples.time_us - segment.samples.time_us[0] > 1.1e6
        angle, pressure = angle[after], pressure[after]
    lead = apart_deg(angle[np.argmax(pressure)], firing, cycle)
    slack = 3.0 if name == "counts-lost" else 0.0  # the truth is that of the end
    early = lead if name == "turned-backwards" else -lead
    lagged = bench.rig.sensors[0].lag_s * np.abs(made.run.speed_rpm).max() * 6
    assert -lagged - 0.5 - slack < early < 25.0 + slack
    assert 0 <= true["tdc"]["angle"] < 360
    assert apart_deg(firing, true["tdc"]["angle"], 360.0) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(
    "name", ["cranked", "camshaft-encoder", "clamp-slipped", "board-restarts", "cam-tooth-late"]
)
def test_marks_and_index_arrive_where_the_truth_says(name, taken):
    made = taken(name)
    true = truth(made)
    segment = received(made)[0][-1]
    encoder = made.bench.rig.encoder
    cell = 360 / (encoder.counts_per_rev * encoder.drive_ratio)
    events = segment.events
    for mark in true["truth"]["marks"]:
        mine = frame_deg(events.count[events.input == mark["input"]], encoder)
        assert len(mine) >= 1, mark
        off = apart_deg(mine[-1], mark["angle"], 720.0 if mark["input"] == 2 else 360.0)
        assert abs(off) < cell + 0.2  # the mark's own delay at speed, and eccentricity
    index = frame_deg(events.count[events.input == 0], encoder)[-1]
    firing = true["firing"][str(true["tdc"]["cylinder"])]
    after = apart_deg(firing - index, true["tdc"]["after_index"], 360.0 / encoder.drive_ratio)
    assert abs(after) < cell + 0.05


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("cranked", 12.0, 16.0),
        ("burnt-valve", 2.0, 7.0),
        ("worn-rings", 5.0, 10.0),
        ("valve-without-clearance", 1.2, 6.0),
        ("dead-cylinder", 1.0, 2.0),
        ("throttle-shut", 3.0, 10.0),
        ("tired-battery", 8.0, 13.0),
        ("diesel", 30.0, 45.0),
    ],
)
def test_compression_of_healthy_and_hurt_engines(name, low, high, taken):
    assert low < float(truth(taken(name))["compression"]["peak"].split()[0]) < high


@pytest.mark.parametrize(
    ("name", "passes", "burned"),
    [
        ("burning-petrol", 19, 19),
        ("burning-diesel", 19, 19),
        ("cut-after-running", 20, 4),
        ("run-down-hot", 14, 0),
        ("compression-release", 2, 0),
    ],
)
def test_the_truth_tells_cycles_that_burned_from_those_that_did_not(name, passes, burned, taken):
    made = taken(name)
    true = truth(made)
    lit = true["truth"].get("burned", [False] * true["tdc"]["passes"])
    assert len(lit) == true["tdc"]["passes"] >= passes
    assert sum(lit) == burned
    assert lit == sorted(lit, reverse=True)  # cut once, never lit again
    # Burned gas is far hotter than any compression makes it.
    run = made.run
    hottest = []
    for at in np.arange(round(run.crank_deg[0] / 720), len(lit) + 1) * 720.0:
        near = np.abs(run.crank_deg - at) < 60.0
        if near.sum() > 10:
            hottest.append(run.temperature_k[near, 0].max())
    assert (np.array(hottest) > 1300.0).sum() == burned
    assert ("compression" in true) == (burned < len(lit))


def test_an_idling_engine_burns_some_cycles_and_misfires_in_others(taken):
    true = truth(taken("idling-misfires"))
    burned = true["truth"]["burned"]
    assert 0.5 < np.mean(burned) < 0.95
    assert true["compression"]["passes"] == len(burned) - sum(burned)


def test_hose_valve_lets_the_trace_rise_and_never_fall(taken):
    made = taken("hose-valve-left-in")
    pressure = shown_bar(received(made)[0][0], made.bench)
    assert pressure.max() > 8.0
    assert np.diff(pressure).min() > -0.15  # noise alone
    assert pressure[-1] > pressure.max() - 0.3


def test_liquid_makes_the_pressure_rise_far_too_steeply(taken):
    steepness = {}
    for name in ("hand-turned", "liquid-in-cylinder"):
        run = taken(name).run
        slope = np.gradient(run.pressure_bar[:, 0]) / np.maximum(np.gradient(run.crank_deg), 1e-3)
        moving = run.speed_rpm > 10
        steepness[name] = np.max(slope[moving])
    assert steepness["liquid-in-cylinder"] > 3 * steepness["hand-turned"]


def test_cam_half_turn_moves_compression_against_the_cam_mark_alone(taken):
    healthy, out = truth(taken("cranked")), truth(taken("cam-half-turn"))
    assert apart_deg(out["firing"]["1"], healthy["firing"]["1"]) == pytest.approx(-360, abs=1e-6)
    assert out["tdc"]["angle"] == healthy["tdc"]["angle"]
    assert out["truth"]["marks"] == healthy["truth"]["marks"]


def test_cam_tooth_moves_the_cam_and_its_sprocket_mark_together(taken):
    bench = taken("cam-tooth-early").bench
    assert bench.engine.intake_shift_deg == pytest.approx(-720 / 42)
    assert bench.engine.exhaust_shift_deg == pytest.approx(-720 / 42)
    assert [mark.at_deg for mark in bench.rig.marks] == pytest.approx([0.0, -720 / 42])


def test_a_manifold_of_an_even_four_repeats_every_half_turn(taken):
    made = taken("manifold")
    segment = received(made)[0][0]
    pressure = shown_bar(segment, made.bench)
    angle = frame_deg(segment.samples.count, made.bench.rig.encoder)
    last = angle > angle[-1] - 720
    grid = np.arange(angle[-1] - 719, angle[-1] - 1)
    swing = np.interp(grid, angle[last], pressure[last])
    swing -= np.mean(swing)
    power = np.abs(np.fft.rfft(swing))
    assert np.argmax(power[1:]) + 1 == 4  # four times in two turns
    assert np.ptp(swing) > 0.02


def test_bad_cable_and_restart_leave_their_traces(taken):
    _, health = received(taken("bad-cable"))
    assert health.lost_frames > 0
    assert health.bad_frames > 0
    segments, health = received(taken("board-restarts"))
    assert len(segments) == 2
    assert truth(taken("board-restarts"))["truth"]["board_starts"] == 2


def test_stop_is_met_at_one_depth_from_both_sides_and_confirmed_by_a_key(taken):
    made = taken("stop-both-sides")
    segments, _ = received(made)
    (segment,) = segments
    true = truth(made)
    angle = frame_deg(segment.samples.count, made.bench.rig.encoder)
    held = []
    for press in segment.presses:
        near = np.abs(segment.samples.time_us - press.time_us) < 100_000
        assert np.ptp(angle[near]) <= 0.31  # stands still when the key is pressed
        held.append(apart_deg(float(np.median(angle[near])), true["tdc"]["angle"], 360.0))
    before = [at for at in held if at < 0]
    after = [at for at in held if at > 0]
    assert len(before) == 3
    assert len(after) == 2
    middle = (np.mean(before) + np.mean(after)) / 2
    assert abs(middle) < 0.5  # the pin offset keeps it from being TDC exactly
    assert np.ptp(before) < 0.2
    assert angle.max() < true["tdc"]["angle"] + 360.0  # nobody turned through TDC


def test_a_mark_brought_to_its_pointer_is_pressed_while_the_crank_stands(taken):
    made = taken("marks-by-key")
    (segment,), _ = received(made)
    (mark,) = truth(made)["truth"]["marks"]
    assert mark["after_tdc_deg"] == 6.0
    angle = frame_deg(segment.samples.count, made.bench.rig.encoder)
    off = []
    for press in segment.presses:
        near = np.abs(segment.samples.time_us - press.time_us) < 60_000
        assert np.ptp(angle[near]) <= 0.16
        off.append(apart_deg(float(np.median(angle[near])), mark["angle"], 360.0))
    assert len(off) == 5
    assert np.max(np.abs(off)) < 1.2
    assert np.std(off) > 0.05


def test_stop_depth_can_be_set_in_any_unit_of_length():
    deep = scenario("stop-both-sides").build({"stop_below": "0.5 in"})
    assert isinstance(deep.turning, RecordedTurning)
    (shown,) = [p for p in scenario("stop-both-sides").parameters if p.key == "stop_below"]
    assert shown.read(deep) == pytest.approx(12.7)


def test_the_same_seed_makes_the_same_bytes_and_another_seed_others():
    bench = scenario("hand-turned").build({**SHORT_BY_HAND, "turn": 200.0})
    assert take(bench).items == take(bench).items
    assert take(replace(bench, seed=99)).items != take(bench).items


@pytest.mark.parametrize(
    ("name", "settings", "message"),
    [
        ("cranked", {"lga": "1 ms"}, "lga: this scenario has nothing .* did you mean lag"),
        ("cranked", {"swing": "20 deg"}, "swing: this scenario has nothing .* --list"),
        ("cranked", {"lag": "2"}, 'lag=2 needs a unit, such as "0.4 ms"'),
        ("cranked", {"lag": "2 bar"}, 'lag=2 bar has the unit "bar"'),
        ("cranked", {"lag": "9 s"}, "lag=9000 ms must lie between 0 and 500 ms"),
        ("cranked", {"bits": "7"}, "bits=7 must lie between 8 and 16"),
        ("cranked", {"bits": "9.5"}, "bits=9.5 must be a whole number"),
        ("cranked", {"bits": "ten"}, "bits=ten is not a plain number"),
        ("cranked", {"engine": "sixe"}, "engine=sixe must be one of: four, .* did you mean six"),
        ("cranked", {"dead": "maybe"}, "dead=maybe must be yes or no"),
        ("cranked", {"cylinder": "9"}, "no cylinder 9"),
        ("cranked", {"faulty": "7"}, "faulty=7: this engine has 4 cylinders"),
        ("cranked", {"stated_order": "1-2-3"}, "stated_order=1-2-3 must name each of the 4"),
        ("cranked", {"liquid": "70 cm3"}, "liquid=70cm3 would stop this crank before TDC"),
        ("cranked", {"noise": True}, "noise=True must be a number"),
        ("cranked", {"dead": 1.0}, "dead=1.0 must be yes or no"),
        ("hand-turned", {"hand_speed": "0..30 rpm"}, "hand_speed=0 rpm must lie between 1 and"),
    ],
)
def test_wrong_settings_are_refused_in_one_clear_line(name, settings, message):
    with pytest.raises(InputError, match=message) as raised:
        scenario(name).build(settings)
    assert "\n" not in str(raised.value)


def test_unknown_scenarios_name_the_nearest():
    with pytest.raises(InputError, match="no scenario 'handturned'; did you mean hand-turned"):
        scenario("handturned")


def test_settings_are_written_key_equals_value():
    assert split_settings(["noise=0.02bar", " lag = 1 ms"]) == {"noise": "0.02bar", "lag": "1 ms"}
    for wrong in ("noise", "=3", "noise="):
        with pytest.raises(InputError, match="write it as key=value"):
            split_settings([wrong])


def test_faults_of_any_kind_can_be_combined_in_any_scenario():
    bench = scenario("six").build(
        {
            "cam_teeth": 1,
            "ring_leak": "1.5 mm2",
            "slip": "5 deg",
            "hum": "0.2 bar",
            "faulty": 4,
            "dead": True,
        }
    )
    assert bench.engine.ring_leaks_mm2 == (1.5, 1.5, 1.5, 60.0, 1.5, 1.5)
    assert bench.rig.encoder.slips[0].by_deg == 5.0
    assert bench.rig.sensors[0].hum_bar == pytest.approx(0.2)
    keys = {parameter.key for parameter in scenario("six").faults}
    assert {"cam_teeth", "burnt_valve", "slip", "hose_valve", "battery"} <= keys


def test_random_benches_come_from_replacing_parts():
    base = scenario("cranked").base
    other = replace(base, engine=replace(base.engine, compression_ratio=12.0), seed=5)
    assert other.engine.compression_ratio == 12.0
    assert other.rig == base.rig
