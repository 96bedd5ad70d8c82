"""Writing a profile and reading it again gives the same profile, bit for bit."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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
from strokewise.daq.profile.known import (
    check_table,
    known_engine,
    profile_to_table,
    profile_to_toml,
    write_profile,
)


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda value: value + 0.0)


def maybe(strategy: st.SearchStrategy) -> st.SearchStrategy:
    return st.none() | strategy


NAME = st.text(
    st.characters(exclude_categories=("C", "Z"), include_characters=" "), min_size=1, max_size=30
).filter(lambda text: text.strip() != "")
WAY_ROUND = maybe(st.sampled_from(["clockwise", "counter-clockwise"]))
EVENT = number(0, 90)


@st.composite
def marks(draw: st.DrawFn) -> tuple[Mark, ...]:
    names = draw(st.lists(NAME, unique=True, max_size=3))
    inputs = draw(st.permutations([1, 2, None]))
    return tuple(
        Mark(
            name,
            inputs[i],
            draw(st.sampled_from(["pulley", "flywheel", "cam sprocket", "distributor"])),
            draw(maybe(number(-360, 360))),
            draw(st.sampled_from(["both", "firing", "overlap"])),
        )
        for i, name in enumerate(names)
    )


@st.composite
def sensors(draw: st.DrawFn, cylinders: int) -> tuple[Sensor, ...]:
    channels = draw(st.lists(st.integers(0, 3), unique=True, max_size=3))
    found = []
    for channel in channels:
        readings = draw(st.lists(number(0, 65535), unique=True, min_size=2, max_size=4))
        pressures = draw(
            st.lists(number(0, 400), unique=True, min_size=len(readings), max_size=len(readings))
        )
        points = tuple(zip(sorted(readings), sorted(pressures), strict=True))
        found.append(
            Sensor(
                channel,
                draw(st.sampled_from(["plug hole", "manifold"])),
                draw(maybe(st.integers(1, cylinders))),
                draw(maybe(st.sampled_from(["absolute", "gauge"]))),
                draw(maybe(number(0, 0.5))),
                draw(st.sampled_from([(), points])),
            )
        )
    return tuple(found)


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    cylinders = draw(st.integers(1, 12))
    cycle = draw(st.sampled_from(["four-stroke", "two-stroke"]))
    cycle_deg = 720.0 if cycle == "four-stroke" else 360.0
    weights = draw(st.lists(number(1, 3), min_size=cylinders, max_size=cylinders))
    # Rounded up, the only cylinder's interval would be longer than a cycle.
    uneven = tuple(min(weight * cycle_deg / sum(weights), cycle_deg) for weight in weights)
    stroke_mm = draw(maybe(number(5, 200)))
    return Profile(
        cylinders=cylinders,
        firing_order=tuple(draw(st.permutations(range(1, cylinders + 1)))),
        firing_intervals_deg=draw(
            st.sampled_from([uneven, even_intervals_deg(cylinders, cycle_deg)])
        ),
        name=draw(NAME | st.just("")),
        cycle=cycle,
        rotation=draw(WAY_ROUND),
        turning_back=draw(maybe(st.sampled_from(["allowed", "never"]))),
        compression_ratio=draw(maybe(number(3, 30))),
        bore_mm=draw(maybe(number(5, 1000))),
        stroke_mm=stroke_mm,
        rod_length_mm=draw(maybe(number(121, 500))),
        pin_offset_mm=draw(number(-20, 20)),
        atmosphere=draw(
            st.just(Atmosphere())
            | st.builds(Atmosphere, number(0.5, 1.1), number(-40, 50), st.just(True))
        ),
        valve_timing=draw(maybe(st.builds(ValveTiming, EVENT, EVENT, EVENT, EVENT, number(0, 5)))),
        valves=draw(
            maybe(
                st.builds(
                    Valves,
                    maybe(st.just("EI" * cylinders)),
                    maybe(number(0.001, 3)),
                    maybe(number(0.001, 3)),
                    st.sampled_from(["cold", "hot", "either"]),
                    st.sampled_from(["solid", "hydraulic"]),
                    st.sampled_from(["screw", "shim"]),
                )
            )
        ),
        cam_drive=draw(
            maybe(
                st.builds(
                    CamDrive,
                    st.integers(8, 200),
                    st.integers(8, 400),
                    st.lists(number(-180, 180), min_size=1, max_size=3).map(tuple),
                )
            )
        ),
        drive_gear=draw(
            maybe(
                st.builds(
                    DriveGear,
                    st.integers(4, 100),
                    number(1, 85),
                    number(2, 500),
                    number(0.1, 200),
                    st.sampled_from(["right", "left"]),
                    maybe(number(-180, 180)),
                    maybe(number(0.1, 100)),
                    maybe(st.sampled_from(["turns", "fixed"])),
                )
            )
        ),
        distributor_rotation=draw(WAY_ROUND),
        static_advance_btdc_deg=draw(maybe(number(-90, 90))),
        pulley_radius_mm=draw(maybe(number(5, 1000))),
        flywheel_teeth=draw(maybe(st.integers(10, 1000))),
        marks=draw(marks()),
        encoder=draw(
            st.builds(
                Encoder,
                maybe(st.integers(4, 10_000_000)),
                number(0.01, 100),
                st.sampled_from([1, -1]),
            )
        ),
        sensors=draw(sensors(cylinders)),
    )


@settings(deadline=None)  # loading pint or a busy machine is no failure
@given(profiles())
def test_toml_gives_the_same_profile_again(profile: Profile):
    assert check_table(tomllib.loads(profile_to_toml(profile))).profile == profile


@settings(deadline=None)
@given(profiles())
def test_json_in_a_recordings_header_gives_the_same_profile_again(profile: Profile):
    header = json.loads(json.dumps({"engine": profile_to_table(profile)}))
    assert known_engine(header=header).profile == profile


def test_defaults_are_not_written():
    plain = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720), sensors=(Sensor(),))
    assert profile_to_table(plain) == {"cylinders": 4, "firing_order": [1, 3, 4, 2], "sensor": {}}


def test_quantities_are_written_with_their_units():
    profile = Profile(
        1, (1,), (720.0,), bore_mm=82.0, static_advance_btdc_deg=6.0, atmosphere=Atmosphere(1.0)
    )
    table = profile_to_table(profile)
    assert table["bore"] == "82 mm"
    assert table["static_timing"] == {"advance": "6 deg BTDC"}
    assert table["atmosphere"] == {"pressure": "1 bar", "temperature": "20 degC"}


def test_a_profile_is_written_whole_and_replaces_the_old(tmp_path: Path):
    file = tmp_path / "bench.toml"
    first = Profile(1, (1,), (720.0,), name="first")
    second = Profile(2, (1, 2), (360.0, 360.0), name="zweiter – 2°")
    write_profile(first, file)
    write_profile(second, file)
    assert known_engine(engine=file).profile == second
    assert [entry.name for entry in tmp_path.iterdir()] == ["bench.toml"], "no part is left behind"


def test_a_folder_that_is_not_there_is_one_line(tmp_path: Path):
    with pytest.raises(ProfileError, match=r"bench\.toml: cannot write the engine profile: No"):
        write_profile(Profile(1, (1,), (720.0,)), tmp_path / "none" / "bench.toml")


def test_a_failed_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    file = tmp_path / "bench.toml"
    first = Profile(1, (1,), (720.0,), name="first")
    write_profile(first, file)

    def full_disk(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full_disk)
    with pytest.raises(ProfileError, match="No space left"):
        write_profile(Profile(2, (1, 2), (360.0, 360.0)), file)
    assert known_engine(engine=file).profile == first
    assert [entry.name for entry in tmp_path.iterdir()] == ["bench.toml"]
