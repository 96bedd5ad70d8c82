import json
from dataclasses import replace

import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Mark, Sensor
from strokewise.gui.models.run.snapshot import Reading
from strokewise.gui.models.setup.checks import (
    STILL_READINGS,
    SensorCheck,
    TurnCheck,
    sensor_choices,
    sensor_on,
)
from strokewise.gui.models.setup.draft import Draft, text_of, value_of
from strokewise.gui.models.setup.profile_words import FORM_GROUPS, key_said
from strokewise.gui.models.setup.settings import (
    MOST_RECENT,
    Settings,
    load_settings,
    save_settings,
    settings_file,
)

POINTS = ((100.0, 0.0), (900.0, 20.0))


def steady(raw, times=STILL_READINGS):
    check = SensorCheck()
    for k in range(times):
        check.add(Reading(0, (raw + k % 2,), k), 0)
    return check


def test_zero_at_atmosphere_shifts_every_point_alike():
    check = steady(150)  # 1.013 bar should read 140.52; it reads 150.5
    sensor = check.zeroed(Sensor(points=POINTS, reference="absolute"), 1.013)
    shift = 150.5 - (100 + 1.013 * 40)
    assert [p[0] for p in sensor.points] == pytest.approx([100 + shift, 900 + shift], abs=0.01)
    assert [p[1] for p in sensor.points] == [0.0, 20.0]


def test_a_gauge_sensor_is_zeroed_to_nothing():
    sensor = steady(110).zeroed(Sensor(points=POINTS, reference="gauge"), 1.013)
    assert sensor.points[0][0] == pytest.approx(110.5)


def test_a_zero_is_refused_while_the_reading_moves_or_means_nothing():
    check = SensorCheck()
    for k in range(STILL_READINGS):
        check.add(Reading(0, (100 + 20 * k,), k), 0)
    with pytest.raises(InputError, match="does not stand still"):
        check.zeroed(Sensor(points=POINTS), 1.013)
    with pytest.raises(InputError, match="does not stand still"):
        steady(100, times=3).zeroed(Sensor(points=POINTS), 1.013)
    with pytest.raises(InputError, match="no known points"):
        steady(100).zeroed(Sensor(), 1.013)


def test_another_channel_begins_anew():
    check = steady(150)
    assert check.steady
    check.add(Reading(0, (150, 700), 1000), 1)
    assert not check.steady


def test_every_channel_can_be_chosen_known_or_not(engine):
    profile = engine(sensors=(Sensor(1, cylinder=3), Sensor(0, place="manifold")))
    choices = sensor_choices(profile, Reading(0, (1, 2, 3), 0))
    assert choices == (
        (0, "channel 0: manifold"),
        (1, "channel 1: plug hole, cylinder 3"),
        (2, "channel 2: not in the profile"),
    )
    assert sensor_choices(engine(sensors=()), None) == ((0, "channel 0: not in the profile"),)
    assert sensor_on(profile, 1).cylinder == 3
    assert sensor_on(profile, 2) is None


def test_sensors_are_added_and_taken_out_of_a_draft(engine):
    draft = Draft.of(engine(sensors=(Sensor(0, cylinder=1, points=POINTS),)))
    draft.add_sensor()
    draft.write(("sensor", 1, "place"), "manifold")
    assert [(s.channel, s.place) for s in draft.profile.sensors] == [
        (0, "plug hole"),
        (1, "manifold"),
    ]
    assert draft.profile.sensors[0].points == POINTS
    draft.add_sensor(1)
    assert draft.profile is None
    wrong = [row.label for row in draft.rows if row.error]
    assert wrong == ["sensor 3: channel"]  # beside its own key
    assert draft.remove_sensor(1)
    assert [s.channel for s in draft.profile.sensors] == [0]
    assert not draft.remove_sensor(3)
    assert draft.remove_sensor(0)
    assert draft.profile.sensors == ()


def test_the_same_reading_is_not_counted_twice():
    check = SensorCheck()
    for _ in range(STILL_READINGS):
        check.add(Reading(0, (100,), 7), 0)
    assert not check.steady


@pytest.mark.parametrize(("end", "direction"), [(2405, 1), (-2395, -1)])
def test_counts_and_direction_come_from_one_turn(engine, end, direction):
    check = TurnCheck()
    assert "press K" in check.words
    check = check.press(Reading(5, (0,), 0))
    assert "Turn one full turn the right way" in check.words
    check = check.press(Reading(end, (0,), 1))
    assert f"{abs(end - 5)} counts" in check.words
    encoder = check.applied(engine()).encoder
    assert (encoder.counts_per_rev, encoder.direction) == (2400, direction)


def test_the_drive_ratio_is_kept_in_mind(engine):
    profile = engine()
    profile = replace(profile, encoder=replace(profile.encoder, drive_ratio=0.5))
    check = TurnCheck().press(Reading(0, (0,), 0)).press(Reading(1200, (0,), 1))
    assert check.applied(profile).encoder.counts_per_rev == 2400


def test_a_third_press_begins_again_and_no_turn_is_no_answer(engine):
    check = TurnCheck().press(Reading(0, (0,), 0)).press(Reading(3, (0,), 1))
    assert "Only 3 counts" in check.words
    with pytest.raises(InputError, match="no turn found"):
        check.applied(engine())
    assert check.press(Reading(9, (0,), 2)).first_count == 9


def test_settings_come_back_as_they_were(tmp_path):
    settings = Settings(theme="dark", unit="psi").with_profile("a.toml").with_profile("b.toml")
    settings = settings.with_profile("a.toml").with_cautions_read("job")
    path = tmp_path / "deep" / "window.json"
    assert save_settings(settings, path) == ""
    assert load_settings(path) == settings
    assert settings.recent_profiles == ("a.toml", "b.toml")


def test_damaged_settings_are_the_defaults(tmp_path):
    path = tmp_path / "window.json"
    for text in ("", "[]", "{", json.dumps({"theme": 3, "recent_profiles": "x", "nonsense": 1})):
        path.write_text(text)
        assert load_settings(path) == Settings()
    assert load_settings(tmp_path / "none.json") == Settings()


def test_settings_that_cannot_be_kept_are_said(tmp_path):
    (tmp_path / "file").write_text("")
    assert "could not be kept" in save_settings(Settings(), tmp_path / "file" / "window.json")


def test_settings_live_where_the_platform_keeps_them():
    assert "strokewise" in str(settings_file())
    many = Settings()
    for k in range(20):
        many = many.with_profile(f"{k}.toml")
    assert len(many.recent_profiles) == MOST_RECENT


TABLE = {
    "cylinders": 4,
    "firing_order": [1, 3, 4, 2],
    "bore": "82 mm",
    "marks": [{"name": "notch", "stated": "6 deg BTDC"}],
}


def row(draft, label):
    return next(r for r in draft.rows if r.label == label)


def test_a_sound_profile_has_no_errors():
    draft = Draft(TABLE)
    assert draft.sound
    assert draft.profile.bore_mm == 82
    assert row(draft, "firing_order").text == "1-3-4-2"
    assert row(draft, "marks 1: stated").text == "6 deg BTDC"
    assert not any(r.error for r in draft.rows)


def test_a_wrong_unit_is_said_in_its_place():
    draft = Draft(TABLE)
    draft.write(("bore",), "82")
    assert not draft.sound
    assert row(draft, "bore").error
    assert not row(draft, "stroke").error
    draft.write(("bore",), "3.228 in")
    assert draft.sound
    assert draft.profile.bore_mm == pytest.approx(81.99, abs=0.01)


def test_what_does_not_go_together_is_said_beside_a_key():
    draft = Draft(TABLE)
    draft.write(("firing_order",), "[1, 3, 3, 2]")
    assert not draft.sound
    assert row(draft, "firing_order").error or draft.error


def test_an_emptied_key_is_left_out():
    draft = Draft(TABLE)
    draft.write(("bore",), " ")
    assert draft.sound
    assert draft.profile.bore_mm is None
    draft.write(("atmosphere", "pressure"), "0.98 bar")
    assert draft.profile.atmosphere.pressure_bar == pytest.approx(0.98)
    draft.write(("atmosphere", "pressure"), "")
    assert not draft.profile.atmosphere.stated


def test_marks_can_be_added():
    draft = Draft(TABLE)
    draft.add_mark()
    draft.write(("marks", 1, "stated"), "0 deg ATDC")
    assert draft.sound
    assert draft.profile.marks[1].stated_atdc_deg == 0


def test_a_profile_survives_the_editor(four):
    assert Draft.of(four).profile == four


def test_values_are_read_as_toml_has_them():
    assert value_of("4") == 4
    assert value_of("82 mm") == "82 mm"
    assert value_of('[[102, "0 bar"]]') == [[102, "0 bar"]]
    assert text_of([[102, "0 bar"], [922, "20 bar"]]) == '[[102, "0 bar"], [922, "20 bar"]]'


def test_every_key_is_asked_for_in_words(engine):
    draft = Draft.of(engine(marks=(Mark("notch"),), sensors=(Sensor(0, cylinder=1),)))
    for each in draft.rows:
        said = key_said(each.path)
        assert said.group in FORM_GROUPS
        assert "_" not in said.words
        assert said.words != each.label
    assert key_said(("marks", 1, "stated")).words == "Mark 2: meant to show"


@pytest.mark.parametrize("text", ["1-3-4-2", "1 3 4 2", "1,3,4,2", "[1, 3, 4, 2]"])
def test_a_firing_order_is_written_as_everywhere(text):
    draft = Draft({"cylinders": 4, "firing_order": [1, 2, 3, 4]})
    draft.write(("firing_order",), text)
    assert draft.profile.firing_order == (1, 3, 4, 2)


def test_a_point_is_put_in_its_place_and_a_mark_is_taken_out():
    table = {
        "cylinders": 1,
        "firing_order": [1],
        "sensor": {"points": [[900, "20 bar"]]},
        "marks": [{"name": "notch"}],
    }
    draft = Draft(table)
    assert draft.add_point(0, 100, "0 bar")
    assert draft.profile.sensors[0].points == ((100.0, 0.0), (900.0, 20.0))
    assert not draft.add_point(1, 100, "0 bar")
    shown = [each.text for each in draft.rows if "points" in each.path]
    assert shown == ["100 = 0 bar", "900 = 20 bar", ""]
    draft.write(("sensor", "points", 2), "1000 = 322 psi")
    assert draft.profile.sensors[0].points[-1] == pytest.approx((1000, 22.2), abs=0.01)
    draft.write(("sensor", "points", 2), "1000 is much")
    assert "a reading and its pressure" in row(draft, "sensor.points 3").error
    draft.write(("sensor", "points", 2), "")
    draft.write(("sensor", "points", 1), "")
    assert "at least 2" in row(draft, "sensor.points 1").error
    draft.write(("sensor", "points", 0), "")
    assert draft.profile.sensors == ()  # nothing is left of it
    assert not draft.remove_mark(1)
    assert draft.remove_mark(0)
    assert draft.profile.marks == ()
