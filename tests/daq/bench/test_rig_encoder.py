"""Does the encoder model show what an encoder with that fault would show?"""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.rig.encoder_model import EncoderModel, rising_times, take_up_play
from strokewise.daq.bench.rig.rig import EncoderRig, MarkPickup, Rig, Slip

RNG = np.random.default_rng
ABSOLUTE = EncoderRig(clamp_deg=0.0, start_count=None)


def turned(track_rig, *, speed_rpm=123.4567, seconds=2.0, start_deg=0.0, seed=1):
    time_s = np.linspace(0.0, seconds, 40_001)
    crank = start_deg + speed_rpm * 6.0 * time_s
    model = EncoderModel(track_rig, RNG(seed))
    return model.follow(time_s, crank, np.full_like(time_s, speed_rpm)), crank, time_s


def frame_deg(cells, rig):
    return (cells + 0.5) * 360 * rig.direction / (rig.counts_per_rev * rig.drive_ratio)


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize("ratio", [1.0, 0.5, 3.2])
@pytest.mark.parametrize("counts", [400, 2400, 4096])
def test_contract_formula_gives_the_crank_back_within_half_a_cell(direction, ratio, counts):
    rig = EncoderRig(counts, direction, ratio, clamp_deg=77.7, start_count=None)
    track, crank, time_s = turned(rig)
    error = frame_deg(track.cell_at(time_s), rig) - (crank + 77.7 / ratio)
    half_cell = 180 / (counts * ratio)
    assert np.max(np.abs(error)) <= half_cell * (1 + 1e-6)
    assert np.max(np.abs(error)) > 0.8 * half_cell  # it really is cut to cells
    assert abs(np.mean(error)) < 0.1 * half_cell  # and the middle of the cell is unbiased


def test_eccentric_clamp_errs_once_a_turn_by_its_amplitude():
    rig = replace(ABSOLUTE, counts_per_rev=4096, eccentric_deg=0.5, eccentric_at_deg=40.0)
    track, crank, time_s = turned(rig)
    error = frame_deg(track.cell_at(time_s), rig) - crank
    assert np.max(error) == pytest.approx(0.5, abs=0.06)
    assert crank[np.argmax(error)] % 360 == pytest.approx(40.0, abs=15)


def test_slip_at_a_time_and_after_an_angle():
    at_time = replace(ABSOLUTE, slips=(Slip(8.0, at_time_s=1.0),))
    track, crank, time_s = turned(at_time)
    behind = crank - frame_deg(track.cell_at(time_s), at_time)
    assert behind[time_s < 0.99] == pytest.approx(0.0, abs=0.2)
    assert behind[time_s > 1.03] == pytest.approx(8.0, abs=0.2)
    by_angle = replace(at_time, slips=(Slip(8.0, after_turning_deg=360.0),))
    track, crank, time_s = turned(by_angle, start_deg=500.0)
    behind = crank - frame_deg(track.cell_at(time_s), by_angle)
    assert behind[crank < 855].max() < 0.2
    assert behind[crank > 880].min() > 7.8


def test_slip_needs_exactly_one_moment():
    with pytest.raises(InputError, match="either at_time_s or after_turning_deg"):
        Slip(3.0)


def test_lost_and_stray_counts_come_at_the_stated_rate():
    rig = replace(ABSOLUTE, lost_per_turn=3.0)
    track, crank, time_s = turned(rig, speed_rpm=600.0, seconds=20.0)
    missing = (crank[-1] - frame_deg(track.cell_at(time_s), rig)[-1]) * 2400 / 360
    assert missing == pytest.approx(600.0, rel=0.15)  # 200 turns, three each
    stray = replace(rig, lost_per_turn=0.0, stray_per_s=50.0)
    track, crank, time_s = turned(stray, seconds=20.0)
    assert len(track.false_at_s) == pytest.approx(1000, rel=0.15)
    assert set(np.diff(track.false_counts).tolist()) == {-1, 1}


def test_lost_counts_are_lost_against_the_turning():
    rig = replace(ABSOLUTE, lost_per_turn=5.0)
    track, crank, time_s = turned(rig, speed_rpm=-600.0)
    assert frame_deg(track.cell_at(time_s), rig)[-1] > crank[-1] + 5.0


def test_delay_shows_the_angle_of_a_moment_ago():
    rig = replace(ABSOLUTE, delay_s=0.002)
    track, crank, time_s = turned(rig, speed_rpm=201.37)
    behind = crank - frame_deg(track.cell_at(time_s), rig)
    assert np.mean(behind[100:]) == pytest.approx(201.37 * 6 * 0.002, abs=0.01)


def test_uneven_lines_repeat_every_turn_and_never_run_back():
    rig = replace(ABSOLUTE, counts_per_rev=400, line_error=0.3)
    time_s = np.linspace(0, 2, 20001)
    crank = 360.0 * time_s
    track = EncoderModel(rig, RNG(3)).follow(time_s, crank, np.full_like(time_s, 60.0))
    cells = track.cell_at(time_s)
    assert np.all(np.diff(cells) >= 0)
    np.testing.assert_array_equal(cells[:10000] + 400, cells[10000:20000])
    width = np.diff(np.flatnonzero(np.diff(cells)))
    assert width.std() > 0.2 * width.mean()


def test_play_is_taken_up_the_right_way_and_shows_turned_back():
    crank = np.concatenate([np.arange(51.0), np.arange(49.0, 19.0, -1), np.arange(21.0, 61.0)])
    shown = take_up_play(crank, 2.0)
    np.testing.assert_allclose(shown[:51], crank[:51])
    assert shown[51:53].tolist() == [50.0, 50.0]
    np.testing.assert_allclose(shown[55:81], crank[55:81] + 2.0)
    np.testing.assert_allclose(shown[84:], crank[84:])


def brute_rises(position, at, width, period):
    """Look at the pulse sample by sample."""
    high = (position - at) % period < width
    return np.flatnonzero(~high[:-1] & high[1:])


def test_rising_edges_agree_with_looking_sample_by_sample():
    time_s = np.linspace(0, 10, 200_001)
    position = 900 * np.sin(0.9 * time_s) + 100 * time_s
    times = rising_times(time_s, position, 37.0, 5.0, 360.0)
    expected = brute_rises(position, 37.0, 5.0, 360.0)
    assert len(times) == len(expected) > 8
    np.testing.assert_allclose(times, time_s[expected], atol=2e-4)


def test_the_two_directions_meet_the_two_sides_of_a_tooth():
    mark = MarkPickup(1, at_deg=10.0, width_deg=4.0)
    rig = replace(ABSOLUTE, counts_per_rev=3600)
    for speed, start, side in ((60.0, 0.0, 10.0), (-60.0, 30.0, 14.0)):
        track, _, _ = turned(rig, speed_rpm=speed, start_deg=start, seconds=0.1)
        (when,) = track.mark_times_s(mark)
        assert frame_deg(track.cell_at(when), rig) == pytest.approx(side, abs=0.11)


def test_cam_marks_come_every_second_turn():
    track, _, _ = turned(EncoderRig(), speed_rpm=600.0, seconds=2.0, start_deg=-5)
    cam = MarkPickup(2, on="cam sprocket", at_deg=370.0)
    assert len(track.mark_times_s(cam)) == 10
    assert len(track.mark_times_s(replace(cam, on="pulley", at_deg=10.0))) == 20


def test_index_rises_once_a_turn_of_the_encoder_at_its_own_line():
    rig = EncoderRig(2400, -1, 0.5, clamp_deg=100.0, start_count=None)
    track, _, _ = turned(rig, speed_rpm=600.0, seconds=2.0)
    times = track.index_times_s()
    assert len(times) == 10
    at_index = track.cell_at(times + 1e-9) % 2400
    assert set(at_index.tolist()) <= {3, 4}  # it turns against the count: the far side of the pulse


def test_piece_by_piece_shows_the_same_as_at_once():
    rig = EncoderRig(
        eccentric_deg=0.3,
        line_error=0.1,
        play_deg=3.0,
        delay_s=0.003,
        slips=(Slip(5.0, at_time_s=1.5),),
    )
    mark = MarkPickup(1, at_deg=33.0, delay_s=0.02)
    time_s = np.linspace(0.0, 4.0, 8001)
    crank = 400 * np.sin(1.3 * time_s) + 300 * time_s
    speed = (520 * np.cos(1.3 * time_s) + 300) / 6.0
    whole = EncoderModel(rig, RNG(5)).follow(time_s, crank, speed)
    pieces, cells, index, marks = EncoderModel(rig, RNG(5)), [], [], []
    for begin in range(0, 8000, 250):
        part = slice(begin, begin + 251)
        track = pieces.follow(time_s[part], crank[part], speed[part])
        cells.append(track.cell_at(time_s[part][:-1]))
        index.append(track.index_times_s())
        marks.append(track.mark_times_s(mark))
    np.testing.assert_array_equal(np.concatenate(cells), whole.cell_at(time_s[:-1]))
    np.testing.assert_allclose(np.concatenate(index), whole.index_times_s())
    np.testing.assert_allclose(np.concatenate(marks), whole.mark_times_s(mark))
    assert len(whole.mark_times_s(mark)) > 3


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"counts_per_rev": 0}, "counts_per_rev must be 1 or more"),
        ({"direction": 2}, "direction must be 1 or -1"),
        ({"drive_ratio": 0.0}, "drive_ratio must be above 0"),
        ({"play_deg": -1.0}, "play_deg must not be negative"),
        ({"delay_s": 0.3}, "delay_s must not exceed 0.05 s"),
    ],
)
def test_impossible_encoders_are_refused(change, message):
    with pytest.raises(InputError, match=message):
        EncoderRig(**change)


def test_two_marks_on_one_input_are_refused():
    with pytest.raises(InputError, match="share one input"):
        Rig(marks=(MarkPickup(1), MarkPickup(1, "cam dot")))
