"""What a person can get wrong in a profile: each error names key, value, file and line."""

from __future__ import annotations

from pathlib import Path

import pytest

from strokewise.analysis.errors import InputError, ProfileError
from strokewise.daq.profile.known import check_table, known_engine, load_profile, resolve_layers
from strokewise.daq.profile.layers import LARGEST_FILE, layer_from_toml

FOUR = "cylinders = 4\nfiring_order = [1, 3, 4, 2]\n"  # lines 1 and 2; what follows starts on 3
TIMING = (
    '[valve_timing]\nintake_opens_btdc = "12 deg"\nintake_closes_abdc = "48 deg"\n'
    'exhaust_opens_bbdc = "46 deg"\nexhaust_closes_atdc = "14 deg"\n'
)
GEAR = (
    '[drive_gear]\nteeth = 10\nhelix_angle = "45 deg"\npitch_diameter = "25 mm"\n'
    'engagement = "12 mm"\nhand = "right"\n'
)


def refusal(text: str) -> str:
    with pytest.raises(ProfileError) as caught:
        resolve_layers([layer_from_toml(text, "bench.toml")])
    message = str(caught.value)
    assert "\n" not in message
    return message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("bore = 82", 'bench.toml, line 3: bore = 82: needs a unit, such as "82 mm"'),
        ('bore = "82"', 'bench.toml, line 3: bore = "82": needs a unit, such as "82 mm"'),
        ('bore = "82 deg"', 'bore = "82 deg": has the unit "deg", but must be a length'),
        ('bore = "-82 mm"', 'bore = "-82 mm": must be between 5 and 1000 mm'),
        ('bore = "0 mm"', "must be between 5 and 1000 mm"),
        ('bore = "nan mm"', "is not a length"),
        ('bore = "82 in"', "must be between 5 and 1000 mm"),
        ("bore = true", "must be a length with its unit"),
        ("bore = [82]", "bore = [82]: must be a length with its unit"),
        ("compression_ratio = 1.0", "compression_ratio = 1.0: must be between 3 and 30"),
        ("compression_ratio = nan", "compression_ratio = NaN: must be between 3 and 30"),
        ("compression_ratio = inf", "must be between 3 and 30"),
        ('compression_ratio = "8.6"', "must be a plain number without quotes"),
        ("compression_ratio = true", "must be a plain number without quotes"),
        ('cycle = "4-stroke"', 'cycle = "4-stroke": must be "four-stroke" or "two-stroke"'),
        ('name = "a\\u0007b"', "printable characters"),
        ("name = 4", 'name = 4: must be text in quotes, such as "Bench four"'),
        ('rotation = "left"', 'must be "clockwise" or "counter-clockwise"'),
        ('turning_back = "yes"', 'must be "allowed" or "never"'),
        ('stroke = "94 mm"\nrod_length = "47 mm"', "line 4: rod_length"),
        ('stroke = "94 mm"\nrod_length = "50 mm"\npin_offset = "3 mm"', "pin offset together, 50"),
        ('firing_intervals = ["180 deg"]', "has 1 intervals for 4 cylinders"),
        (
            'firing_intervals = ["180 deg", "180 deg", "180 deg", "181 deg"]',
            "adds up to 721 deg, but a four-stroke cycle has 720 deg",
        ),
        (
            'firing_intervals = ["180 deg", 180, "180 deg", "180 deg"]',
            "entry 2, 180, needs a unit",
        ),
        ('firing_intervals = ["360 deg", "0 deg", "180 deg", "180 deg"]', "entry 2"),
        ('[atmosphere]\npressure = "14.7 bar"', "line 4: atmosphere.pressure"),
        ('[atmosphere]\ntemperature = "293 degC"', "must be between -60 and 70 degC"),
        (
            TIMING.replace("48", "-85").replace("12", "-20"),
            "keep the intake valve open for 75 crank",
        ),
        (TIMING.replace('exhaust_opens_bbdc = "46 deg"\n', ""), "exhaust_opens_bbdc must be given"),
        (TIMING + 'at_lift = "-1 mm"', "valve_timing.at_lift"),
        ('[valves]\norder = "EIX"', "must be the letters E and I"),
        ('[valves]\norder = "EIE"', "do not share out evenly over 4 cylinders"),
        ('[valves]\norder = "EEEEEEEE"', "0 inlet and 8 exhaust"),
        ('[valves]\nclearance_inlet = "0 mm"', "valves.clearance_inlet"),
        ("[valves]\nclearance_exhaust = 0.3", "needs a unit"),
        ('[valves]\nstate = "warm"', 'must be "cold", "hot" or "either"'),
        ('[valves]\nlifters = "soft"', 'must be "solid" or "hydraulic"'),
        ('[valves]\nadjust = "nut"', 'must be "screw" or "shim"'),
        ("[cam_drive]\ncam_teeth = 42", "crank_teeth must be given as well"),
        ("[cam_drive]\ncrank_teeth = 21.5\ncam_teeth = 42", "must be a whole number"),
        ("[cam_drive]\ncrank_teeth = 21\ncam_teeth = 42\nkeyway_offsets = []", "must be a list"),
        (
            '[cam_drive]\ncrank_teeth = 21\ncam_teeth = 42\nkeyway_offsets = ["200 deg"]',
            "between -180 and 180 deg",
        ),
        (GEAR.replace("45", "89"), "must be between 1 and 85 deg"),
        (GEAR.replace('"12 mm"', '"0 mm"'), "drive_gear.engagement"),
        (GEAR.replace("right", "up"), 'must be "right" or "left"'),
        ("[drive_gear]\nteeth = 10", "helix_angle and pitch_diameter and engagement and hand"),
        ('[static_timing]\nadvance = "6 deg"', "does not say whether before or after TDC"),
        ("[static_timing]\nadvance = 6", 'write it like "6 deg BTDC"'),
        ('[static_timing]\nadvance = "600 deg BTDC"', "must be within 90 deg of TDC"),
        ('[pulley]\nradius = "0 mm"', "pulley.radius"),
        ("[flywheel]\nteeth = 2", "flywheel.teeth = 2: must be between 10 and 1000"),
        ("[flywheel]\nteeth = -1000000", "between"),
        ("[[marks]]\ninput = 1", "line 3: marks 1: name must be given"),
        (
            '[[marks]]\nname = "a"\ninput = 1\n[[marks]]\nname = "b"\ninput = 1',
            "line 8: marks 2.input = 1: is already the input of mark",
        ),
        ('[[marks]]\nname = "a"\n[[marks]]\nname = "a"', "line 6: marks 2.name"),
        ('[[marks]]\nname = "a"\ninput = 0', "between 1 and 255"),
        ('[[marks]]\nname = "a"\non = "fan"', 'must be "pulley", "flywheel"'),
        ('marks = ["notch"]', "must be tables, each headed [[marks]]"),
        ("[encoder]\ncounts_per_rev = 0", "encoder.counts_per_rev = 0: must be between 4"),
        ("[encoder]\ndirection = 2", "must be 1 or -1"),
        ("[encoder]\ndirection = true", "must be 1 or -1"),
        ("[encoder]\ndrive_ratio = 0", "must be between 0.01 and 100"),
        ("encoder = 2400", "must be a table, headed [encoder]"),
        ("sensor = 1", "must be tables, each headed [[sensor]]"),
        ("[sensor]\nchannel = 4", "must be between 0 and 3"),
        ("[sensor]\ncylinder = 5", "sensor.cylinder = 5: the engine has 4 cylinders"),
        ("[[sensor]]\n[[sensor]]\ncylinder = 2", "two sensors are on channel 0"),
        ('[sensor]\nplace = "exhaust"', 'must be "plug hole" or "manifold"'),
        ('[sensor]\nresponse_time = "4 s"', "must be between 0 and 0.5 s"),
        ('[sensor]\npoints = [[1, "0 bar"]]', "must be a list of at least 2"),
        ('[sensor]\npoints = [[1, "0 bar"], [1, "2 bar"]]', "the same reading twice"),
        ('[sensor]\npoints = [[1, "0 bar"], [2, "0 bar"]]', "all rise, or all fall"),
        ('[sensor]\npoints = [[1, "0 bar"], [2, "2 bar"], [3, "1 bar"]]', "all rise, or all fall"),
        ('[sensor]\npoints = [[1, "0 bar"], [2, 20]]', "needs a unit"),
        ('[sensor]\npoints = [1, "0 bar"]', "must be a reading and its pressure"),
        ('[sensor]\npoints = [["1", "0 bar"], [2, "2 bar"]]', "must be a plain number"),
        ('[sensor]\npoints = [[1, "0 barg"], [2, "2 bar"]]', "say absolute or gauge"),
    ],
)
def test_a_wrong_value_is_named_with_its_place(text: str, message: str):
    said = refusal(FOUR + text)
    assert said.startswith("bench.toml, line ")
    assert message in said


@pytest.mark.parametrize(
    ("order", "message"),
    [
        ("[1, 3, 3, 2]", "cylinder 3 comes twice and cylinder 4 is missing"),
        ("[1, 3, 2]", "cylinder 4 is missing (the engine has 4 cylinders)"),
        ("[1, 3, 4, 2, 5]", "there is no cylinder 5"),
        ("[1, 3, 4, 0]", "entry 4, 0, must be between 1 and 12"),
        ("[1, 3, 4, 2.0]", "must be a whole number"),
        ('"1342"', "must be a list, such as [1, 3, 4, 2]"),
        ("[]", "must be a list"),
    ],
)
def test_a_wrong_firing_order_names_the_cylinder(order: str, message: str):
    said = refusal(f"cylinders = 4\n# the order\nfiring_order = {order}\n")
    assert said.startswith("bench.toml, line 3: firing_order = ")
    assert message in said


@pytest.mark.parametrize("cylinders", ["0", "13", "-4", "4.0", "true", '"4"'])
def test_a_wrong_number_of_cylinders(cylinders: str):
    said = refusal(f"cylinders = {cylinders}\nfiring_order = [1, 3, 4, 2]")
    assert said.startswith("bench.toml, line 1: cylinders = ")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("bor = 82", "line 3: unknown key bor; did you mean bore?"),
        (
            "counts_per_rev = 1440",
            "unknown key counts_per_rev; did you mean encoder.counts_per_rev?",
        ),
        ("[encoder]\ncounts = 1", "line 4: unknown key encoder.counts; did you mean"),
        ("[sensors]\nchannel = 0", "line 3: unknown key sensors; did you mean sensor?"),
        ('[[marks]]\nname = "a"\nstate = "6 deg BTDC"', "did you mean marks.stated?"),
        ("[pulley]\nxyzzy = 1", "known here: radius"),
        ('[distributor]\nrotaton = "clockwise"', "did you mean distributor.rotation?"),
    ],
)
def test_an_unknown_key_names_the_nearest_known(text: str, message: str):
    assert message in refusal(FOUR + text)


def test_the_line_is_found_behind_many_lines_of_array():
    text = FOUR + '[sensor]\npoints = [\n  # "cylinder = 3"\n  [1, "0 bar"],\n  [2, "2 bar"],\n]\n'
    assert refusal(text + "cylinder = 9\n").startswith("bench.toml, line 9: sensor.cylinder = 9")


def test_an_error_of_the_command_line_does_not_blame_the_file(tmp_path: Path):
    file = tmp_path / "bench.toml"
    file.write_text(FOUR + 'bore = "82 mm"\n')
    with pytest.raises(ProfileError, match=r"^command line: bore = \"82 deg\""):
        known_engine(overrides=["bore=82 deg"], engine=file)


def test_a_sensor_at_a_cylinder_of_an_unknown_engine_is_refused():
    with pytest.raises(
        ProfileError, match="the engine has 1 cylinder; give cylinders and firing_o"
    ):
        known_engine(overrides=["sensor.cylinder=3"])


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"cylinders = 4\nfiring_order = [1, 3\n", "bench.toml: not valid TOML"),
        (b"cylinders = 4\ncylinders = 4\n", "line 2"),
        (b"cylinders : 4\n", "bench.toml, line 1, column 11: not valid TOML"),
        (b"\xff\xfe\x00", "not UTF-8 text, so not an engine profile"),
        (b"cylinders = " + b"9" * 5000, "not valid TOML"),
        (b"a = " + b"[" * 2000 + b"]" * 2000, "not valid TOML"),
        (b"#" * (LARGEST_FILE + 1), "larger than 256 kB, so not an engine profile"),
    ],
)
def test_a_file_that_is_no_profile(tmp_path: Path, content: bytes, message: str):
    file = tmp_path / "bench.toml"
    file.write_bytes(content)
    with pytest.raises(ProfileError) as caught:
        load_profile(file)
    assert message in str(caught.value)
    assert str(file) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_file_that_cannot_be_read(tmp_path: Path):
    with pytest.raises(ProfileError, match=r"none\.toml: cannot read the engine profile: No such"):
        load_profile(tmp_path / "none.toml")
    with pytest.raises(ProfileError, match="cannot read the engine profile"):
        load_profile(tmp_path)


def test_a_profile_error_is_an_input_error():
    with pytest.raises(InputError, match="engine profile: cylinders"):
        check_table({"cylinders": 99, "firing_order": [1]})
