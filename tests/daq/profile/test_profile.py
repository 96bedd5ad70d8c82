"""The engine profile as a whole: every key, the layers, the defaults, the notices."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from strokewise.analysis.errors import ProfileError
from strokewise.analysis.profile import (
    Atmosphere,
    CamDrive,
    DriveGear,
    Encoder,
    Mark,
    Profile,
    Sensor,
    Valves,
    ValveTiming,
    even_intervals_deg,
)
from strokewise.analysis.samples import Board
from strokewise.daq.profile.keys import TABLES, TOP_TABLE
from strokewise.daq.profile.known import (
    DEFAULTS,
    check_table,
    defaults_text,
    known_engine,
    load_profile,
    resolve_layers,
)
from strokewise.daq.profile.layers import layer_from_toml
from strokewise.gui.sayings import say

EVERY_KEY = """\
# An invented engine with every key there is.
name = "Bench four"
cycle = "four-stroke"
cylinders = 4
firing_order = [1, 3, 4, 2]
firing_intervals = ["170 deg", "190 deg", "170 deg", "190 deg"]
rotation = "clockwise"
turning_back = "allowed"
compression_ratio = 8.6
bore = "3.228 in"
stroke = "94 mm"
rod_length = "16.8 cm"
pin_offset = "0.5 mm"

[atmosphere]
pressure = "29.92 inHg"
temperature = "68 degF"

[valve_timing]
intake_opens_btdc = "12 deg"
intake_closes_abdc = "48 deg"
exhaust_opens_bbdc = "46 deg"
exhaust_closes_atdc = "14 deg"
at_lift = "0.1 mm"

[valves]
order = "EIIEEIIE"
clearance_inlet = "0.012 in"
clearance_exhaust = "0.35 mm"
state = "hot"
lifters = "solid"
adjust = "shim"

[cam_drive]
crank_teeth = 21
cam_teeth = 42
keyway_offsets = ["0 deg", "2.5 deg", "-2.5 deg"]

[drive_gear]
teeth = 10
helix_angle = "45 deg"
pitch_diameter = "25 mm"
engagement = "12 mm"
hand = "right"
slot_angle = "90 deg"
slot_depth = "4 mm"
slot = "turns"

[distributor]
rotation = "counter-clockwise"

[static_timing]
advance = "6 deg BTDC"

[pulley]
radius = "80 mm"

[flywheel]
teeth = 120

[[marks]]
name = "pulley notch"
input = 1
on = "pulley"
stated = "0 deg ATDC"
turn = "both"

[[marks]]
name = "rotor arm"
on = "distributor"
stated = "6 deg BTDC"
turn = "firing"

[encoder]
counts_per_rev = 2400
drive_ratio = 1.0
direction = -1

[[sensor]]
channel = 0
place = "plug hole"
cylinder = 1
reference = "absolute"
response_time = "0.4 ms"
points = [
  [922, "20 bar"],
  [102, "0 bar"],
]

[[sensor]]
channel = 1
place = "manifold"
reference = "gauge"
points = [[100, "-14.7 psi"], [900.5, "15 psi"]]
"""

FOUR = "cylinders = 4\nfiring_order = [1, 3, 4, 2]\n"


def read(text: str) -> Profile:
    return resolve_layers([layer_from_toml(text, "bench.toml")]).profile


def test_every_key_arrives_in_its_own_unit():
    profile = read(EVERY_KEY)
    assert profile == Profile(
        cylinders=4,
        firing_order=(1, 3, 4, 2),
        firing_intervals_deg=(170, 190, 170, 190),
        name="Bench four",
        cycle="four-stroke",
        rotation="clockwise",
        turning_back="allowed",
        compression_ratio=8.6,
        bore_mm=pytest.approx(81.9912),
        stroke_mm=94,
        rod_length_mm=pytest.approx(168),
        pin_offset_mm=0.5,
        atmosphere=Atmosphere(pytest.approx(1.01321, abs=1e-5), pytest.approx(20.0), stated=True),
        valve_timing=ValveTiming(12, 48, 46, 14, 0.1),
        valves=Valves("EIIEEIIE", pytest.approx(0.3048), 0.35, "hot", "solid", "shim"),
        cam_drive=CamDrive(21, 42, (0, 2.5, -2.5)),
        drive_gear=DriveGear(10, 45, 25, 12, "right", 90, 4, "turns"),
        distributor_rotation="counter-clockwise",
        static_advance_btdc_deg=6,
        pulley_radius_mm=80,
        flywheel_teeth=120,
        marks=(
            Mark("pulley notch", 1, "pulley", 0, "both"),
            Mark("rotor arm", None, "distributor", -6, "firing"),
        ),
        encoder=Encoder(2400, 1.0, -1),
        sensors=(
            Sensor(0, "plug hole", 1, "absolute", pytest.approx(0.0004), ((102, 0), (922, 20))),
            Sensor(
                1,
                "manifold",
                None,
                "gauge",
                None,
                (
                    (100, pytest.approx(-1.01353, abs=1e-5)),
                    (900.5, pytest.approx(1.03421, abs=1e-5)),
                ),
            ),
        ),
    )


def test_the_example_leaves_no_key_out():
    table = tomllib.loads(EVERY_KEY)
    assert {key.name for key in TOP_TABLE.keys} | set(TABLES) == set(table)
    for name, spec in TABLES.items():
        found = table[name][0] if spec.many else table[name]
        assert {key.name for key in spec.keys} == set(found), name


def test_cylinders_and_firing_order_are_enough():
    engine = known_engine(overrides=["cylinders=3", "firing_order=1-3-2"])
    assert engine.profile == Profile(3, (1, 3, 2), even_intervals_deg(3, 720))
    assert engine.stated
    assert engine.notices == ()


def test_nothing_said_is_one_cylinder_and_a_notice():
    engine = known_engine()
    assert engine.profile == Profile(1, (1,), (720.0,))
    assert not engine.stated
    assert [notice.code for notice in engine.notices] == ["engine-unknown"]


def test_the_rig_may_be_known_though_the_engine_is_not():
    engine = known_engine(overrides=["encoder.counts_per_rev=1440"])
    assert engine.profile.encoder.counts_per_rev == 1440
    assert not engine.stated


@pytest.mark.parametrize(
    ("given", "missing"), [("cylinders=4", "firing_order"), ("firing_order=1-2", "cylinders")]
)
def test_half_an_engine_is_refused(given: str, missing: str):
    with pytest.raises(ProfileError, match=f"{missing} must be given as well, such as {missing} ="):
        known_engine(overrides=[given])


def test_a_two_stroke_fires_every_turn():
    profile = read(FOUR.replace("4\n", '4\ncycle = "two-stroke"\n', 1))
    assert profile.firing_intervals_deg == (90, 90, 90, 90)


def test_one_sensor_and_a_list_of_one_are_the_same():
    single = read(FOUR + "[sensor]\ncylinder = 2\n")
    assert single == read(FOUR + "[[sensor]]\ncylinder = 2\n")
    assert single.sensors == (Sensor(cylinder=2),)


def test_the_command_line_goes_before_the_file_before_the_recording_before_the_board(
    tmp_path: Path,
):
    file = tmp_path / "bench.toml"
    file.write_text(FOUR + 'name = "file"\n[encoder]\ndrive_ratio = 0.5\n')
    header = {
        "engine": {
            "cylinders": 1,
            "firing_order": [1],
            "name": "recorded",
            "compression_ratio": 8.0,
            "encoder": {"drive_ratio": 2.0, "direction": -1},
        }
    }
    board = Board(counts_per_rev=1440)
    engine = known_engine(overrides=["name=said now"], engine=file, header=header, board=board)
    assert engine.profile.name == "said now"
    assert engine.profile.cylinders == 4
    assert engine.profile.compression_ratio == 8.0
    assert engine.profile.encoder == Encoder(1440, 0.5, -1)
    without = known_engine(header=header, board=board).profile
    assert (without.name, without.encoder.drive_ratio) == ("recorded", 2.0)


def test_the_profile_wins_over_the_boards_counts_and_says_so(tmp_path: Path):
    file = tmp_path / "bench.toml"
    file.write_text(FOUR + "[encoder]\ncounts_per_rev = 2400\n")
    engine = known_engine(engine=file, board=Board(counts_per_rev=1440))
    assert engine.profile.encoder.counts_per_rev == 2400
    (notice,) = engine.notices
    assert notice.code == "counts-contradiction"
    assert f"{file}, line 4" in say(notice.remark)
    assert "2400" in say(notice.remark)
    assert "1440" in say(notice.remark)
    assert known_engine(engine=file, board=Board(counts_per_rev=2400)).notices == ()


def test_a_profile_kept_for_the_engine_may_name_another_cylinder_than_was_recorded(tmp_path: Path):
    file = tmp_path / "bench.toml"
    file.write_text(FOUR + "[sensor]\ncylinder = 1\n")
    header = {"engine": {"sensor": {"cylinder": 3}}}
    engine = known_engine(engine=file, header=header)
    assert engine.profile.sensors[0].cylinder == 1
    (notice,) = engine.notices
    assert notice.code == "cylinder-contradiction"
    assert f"{file}, line 4 puts the sensor into cylinder 1, the recording into cylinder 3" in (
        say(notice.remark)
    )
    said = known_engine(overrides=["sensor.cylinder=2"], engine=file, header=header)
    assert said.notices == ()
    header["engine"]["sensor"]["cylinder"] = 1
    assert known_engine(engine=file, header=header).notices == ()


@pytest.mark.parametrize("counts", [0, -4, None])
def test_a_board_that_says_nothing_of_use_is_not_believed(counts: int | None):
    assert known_engine(board=Board(counts_per_rev=counts)).profile.encoder.counts_per_rev is None


def test_the_board_names_its_mark_inputs_unless_the_profile_does():
    board = Board(marks=("notch", "", "cam", "notch", "bell\a"))
    assert known_engine(board=board).profile.marks == (Mark("notch", 1), Mark("cam", 3))
    header = {"engine": {"marks": [{"name": "mine", "input": 2}]}}
    assert known_engine(header=header, board=board).profile.marks == (Mark("mine", 2),)


@pytest.mark.parametrize("engine", [[], "text", 4])
def test_a_recorded_engine_that_is_no_table_is_refused(engine: object):
    with pytest.raises(ProfileError, match="inside the recording: engine is not a table"):
        known_engine(header={"engine": engine})


def test_an_error_in_the_recorded_profile_says_so():
    with pytest.raises(ProfileError, match="profile inside the recording: bore = 82: needs a unit"):
        known_engine(header={"engine": {"bore": 82}})


def test_an_unusual_cam_drive_is_a_notice():
    text = FOUR + "[cam_drive]\ncrank_teeth = 21\ncam_teeth = 41\n"
    (notice,) = resolve_layers([layer_from_toml(text, "x")]).notices
    assert notice.code == "cam-teeth"


def test_a_pulley_mark_on_one_turn_is_a_notice():
    text = FOUR + '[[marks]]\nname = "notch"\nturn = "firing"\n'
    (notice,) = resolve_layers([layer_from_toml(text, "x")]).notices
    assert notice.code == "mark-turn"


def test_atmosphere_is_stated_only_when_somebody_measured_it():
    assert not read(FOUR).atmosphere.stated
    assert not read(FOUR + "[atmosphere]\n").atmosphere.stated
    assert read(FOUR + '[atmosphere]\npressure = "1.013 bar"\n').atmosphere.stated


@pytest.mark.parametrize("default", DEFAULTS, ids=lambda default: default.key)
def test_saying_a_default_changes_nothing(default):
    """Each entry of the documented list is what is really assumed."""
    base = tomllib.loads(EVERY_KEY)
    names = default.key.split(".")
    base[names[0]] = base[names[0]][:1] if names[0] in ("marks", "sensor") else base[names[0]]
    table = base
    for name in names[:-1]:
        table = table[name][0] if isinstance(table[name], list) else table[name]
    del table[names[-1]]
    without = check_table(base).profile
    table[names[-1]] = ["180 deg"] * 4 if default.value == "even" else default.value
    assert check_table(base).profile == without


def test_the_list_of_defaults_can_be_printed():
    lines = defaults_text().splitlines()
    assert len(lines) == len(DEFAULTS)
    assert any("atmosphere.pressure" in line and "1.013 bar" in line for line in lines)


def test_a_file_may_begin_with_a_byte_order_mark_and_have_windows_lines(tmp_path: Path):
    file = tmp_path / "bench.toml"
    file.write_bytes(b"\xef\xbb\xbf" + FOUR.replace("\n", "\r\n").encode())
    assert known_engine(engine=load_profile(file)).profile.cylinders == 4


def test_the_converters_ends_may_lie_below_vacuum() -> None:
    # A sensor of 0.5 to 4.5 V for 0 to 20 bar on a 5 V converter: its line meets 0 V at -2.5 bar.
    points = [[0, "-2.5 bar"], [4095, "22.5 bar"]]
    said = {"sensor": {"reference": "absolute", "points": points}}
    assert check_table(said).profile.sensors[0].points == ((0, -2.5), (4095, 22.5))
