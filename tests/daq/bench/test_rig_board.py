"""Does the simulated board send what a board of the wire format would?"""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.rig.board import BoardModel, pressure_at
from strokewise.daq.bench.rig.rig import (
    BoardRig,
    EncoderRig,
    MarkPickup,
    Rig,
    SensorRig,
)
from strokewise.daq.bench.rig.sensor_model import calibration_points

EXACT = SensorRig(noise_bar=0.0, lag_s=0.0)
RIG = Rig(
    EncoderRig(clamp_deg=100.0),
    sensors=(EXACT,),
    marks=(MarkPickup(1, at_deg=5.0), MarkPickup(3, "cam dot", "cam sprocket", 365.0)),
)


def sent_by(rig, stretch, seed=4):
    board = BoardModel(rig, atmosphere_bar=1.013, seed=seed)
    return board.follow(stretch) + board.close(), board


def test_hello_says_what_the_rig_is(bench_toys):
    messages, _ = sent_by(RIG, bench_toys.stretch())
    (segment,), health = bench_toys.decoded(messages)
    said = segment.board
    assert said.counts_per_rev == 2400
    assert said.adc_bits == 12
    assert said.adc == ("pressure",)
    assert said.marks == ("pulley notch", "", "cam dot")
    assert said.boot is not None
    assert (health.lost_frames, health.bad_frames) == (0, 0)


@pytest.mark.parametrize("rate", [500.0, 1000.0, 4000.0, 10_000.0])
def test_samples_are_latched_at_their_stated_time(bench_toys, rate):
    stretch = bench_toys.stretch(seconds=1.0)
    rig = replace(RIG, board=BoardRig(sample_rate_hz=rate, starts_at_us=5000))
    (segment,), _ = bench_toys.decoded(sent_by(rig, stretch)[0])
    samples = segment.samples
    assert len(samples) == pytest.approx(rate, abs=2)
    assert np.all(np.diff(samples.time_us) == round(1e6 / rate))
    true_s = (samples.time_us - 5000) * 1e-6
    crank = -50.0 + 1200.0 * true_s
    begins_at = np.floor((-50.0 + 100.0) * 2400 / 360)
    expected = np.floor((crank + 100.0) * 2400 / 360) - begins_at
    assert np.abs(samples.count - expected).max() <= 1  # a line crossed at that very moment
    assert np.mean(samples.count == expected) > 0.98
    shown = bench_toys.bar(samples.readings[:, 0], calibration_points(EXACT, 12))
    true_bar = np.interp(true_s, stretch.time_s, stretch.pressure_bar[:, 0])
    assert np.abs(shown - true_bar).max() < 0.005


def test_fast_clock_counts_more_microseconds(bench_toys):
    rig = replace(RIG, board=BoardRig(clock_ppm=5000.0))
    (segment,), _ = bench_toys.decoded(sent_by(rig, bench_toys.stretch(seconds=4.0))[0])
    assert np.ptp(segment.samples.time_us) == pytest.approx(4.0e6 * 1.005, abs=2000)
    index = segment.events.time_us[segment.events.input == 0]
    assert np.diff(index) == pytest.approx(0.3e6 * 1.005, abs=2)


def test_events_are_latched_at_their_edge(bench_toys):
    (segment,), _ = bench_toys.decoded(sent_by(RIG, bench_toys.stretch(seconds=3.05))[0])
    events = segment.events
    base = segment.samples.time_us[0]
    for number, at_deg, period, times in (
        (0, -100.0, 360.0, 10),
        (1, 5.0, 360.0, 11),
        (3, 365.0, 720.0, 5),
    ):
        mine = events.input == number
        assert np.count_nonzero(mine) == times
        crank = -50.0 + 1200.0 * (events.time_us[mine] - base) * 1e-6
        assert (crank - at_deg + 180) % period - 180 == pytest.approx(0.0, abs=0.002)
        began = np.floor((-50.0 + 100.0) * 2400 / 360)  # the counter was cleared at this cell
        shown = (events.count[mine] + began + 0.5) * 360 / 2400 - 100.0
        assert shown - crank == pytest.approx(0.0, abs=0.08)  # half a cell


def test_missed_marks_do_not_come(bench_toys):
    rig = replace(RIG, marks=(MarkPickup(1, missed=1.0),))
    (segment,), _ = bench_toys.decoded(sent_by(rig, bench_toys.stretch())[0])
    assert set(segment.events.input.tolist()) == {0}


def test_time_and_count_wrap_as_the_boards_integers_do(bench_toys):
    board = BoardRig(starts_at_us=2**32 - 500_000)
    rig = replace(RIG, encoder=replace(RIG.encoder, start_count=2**31 - 3000), board=board)
    (segment,), health = bench_toys.decoded(sent_by(rig, bench_toys.stretch())[0])
    assert health.segments == 1
    assert np.all(np.diff(segment.samples.time_us) == 1000)
    assert np.all(np.diff(segment.samples.count) >= 0)
    assert np.ptp(segment.samples.count) == pytest.approx(3 * 200 / 60 * 2400, abs=2)


def test_restart_begins_a_segment_of_its_own(bench_toys):
    rig = replace(RIG, board=BoardRig(restarts_s=(1.0,), off_s=0.5))
    messages, board = sent_by(rig, bench_toys.stretch())
    (first, second), health = bench_toys.decoded(messages)
    assert health.lost_frames == 0
    assert len(first.samples) == pytest.approx(1000, abs=2)
    assert len(second.samples) == pytest.approx(1500, abs=2)
    assert first.board.boot != second.board.boot
    assert second.samples.count[0] == 0
    assert len(board.boots) == 2


def test_plain_lines_carry_the_same_samples(bench_toys):
    stretch = bench_toys.stretch(seconds=1.0)
    (frames,), _ = bench_toys.decoded(sent_by(RIG, stretch)[0])
    for checksum in (True, False):
        rig = replace(RIG, board=BoardRig(wire="lines", checksum=checksum))
        messages, _ = sent_by(rig, stretch)
        assert messages[0][1].startswith(b"H,")
        (lines,), health = bench_toys.decoded(messages)
        np.testing.assert_array_equal(lines.samples.count, frames.samples.count)
        np.testing.assert_array_equal(lines.samples.readings, frames.samples.readings)
        assert (health.unchecked_lines == 0) == checksum


def test_stretch_by_stretch_sends_the_same_as_at_once(bench_toys):
    rig = replace(RIG, sensors=(SensorRig(delay_s=1e-4),), board=BoardRig(jitter_us=5.0))
    whole = bench_toys.stretch(seconds=2.0)
    (once,), _ = bench_toys.decoded(sent_by(rig, whole)[0])
    board = BoardModel(rig, atmosphere_bar=1.013, seed=4)
    messages = []
    for begin in range(0, len(whole) - 1, 200):
        messages += board.follow(whole.part(begin, min(begin + 200, len(whole) - 1)))
    (pieces,), health = bench_toys.decoded(messages + board.close())
    assert health.lost_frames == 0
    np.testing.assert_array_equal(pieces.samples.time_us, once.samples.time_us)
    np.testing.assert_array_equal(pieces.samples.count, once.samples.count)
    apart = np.abs(pieces.samples.readings.astype(int) - once.samples.readings)
    assert apart.max() <= 1  # a rounding on the edge of a step
    np.testing.assert_array_equal(pieces.events.count, once.events.count)


def test_several_sensors_are_several_channels(bench_toys):
    stretch = bench_toys.stretch()
    sensors = (
        EXACT,
        replace(EXACT, cylinder=3, name="second"),
        replace(EXACT, place="manifold", low_bar=0.0, high_bar=1.2, name="vacuum"),
        replace(EXACT, place="open air", name="spare"),
    )
    (segment,), _ = bench_toys.decoded(sent_by(replace(RIG, sensors=sensors), stretch)[0])
    assert segment.board.adc == ("pressure", "second", "vacuum", "spare")
    assert segment.samples.readings.shape[1] == 4
    shown = bench_toys.bar(segment.samples.readings[:, 2], calibration_points(sensors[2], 12))
    assert shown == pytest.approx(0.95, abs=0.001)


def test_one_more_channel_leaves_the_noise_of_the_others_as_it_was(bench_toys):
    stretch = bench_toys.stretch(seconds=1.0)
    one = replace(RIG, sensors=(SensorRig(),))
    two = replace(RIG, sensors=(SensorRig(), SensorRig(cylinder=2)))
    (alone,), _ = bench_toys.decoded(sent_by(one, stretch)[0])
    (beside,), _ = bench_toys.decoded(sent_by(two, stretch)[0])
    np.testing.assert_array_equal(alone.samples.readings[:, 0], beside.samples.readings[:, 0])


def test_the_runner_lies_between_plenum_and_cylinder(bench_toys):
    stretch = bench_toys.stretch()
    stretch.pressure_bar[:, 0] = 0.6
    runner = pressure_at(stretch, SensorRig(place="runner"))
    assert runner.max() == pytest.approx(0.95, abs=1e-4)  # valve shut: the plenum's pressure
    assert 0.65 < runner.min() < 0.9  # valve open: in between
    after_tdc = stretch.crank_deg[np.argmin(runner)] % 720
    assert 400 < after_tdc < 520  # in the intake stroke


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"sample_rate_hz": 200.0}, "500 to 10000 Hz, not 200 Hz"),
        ({"samples_per_frame": 65}, "1 to 64, not 65"),
        ({"adc_bits": 24}, "8 to 16, not 24"),
    ],
)
def test_impossible_boards_are_refused(change, message):
    with pytest.raises(InputError, match=message):
        BoardRig(**change)


def test_reading_lags_behind_its_count_by_both_delays(bench_toys):
    """The peak then seems to come earlier than it does, by the delays times the speed."""
    stretch = bench_toys.stretch()
    rig = replace(
        RIG,
        encoder=replace(RIG.encoder, counts_per_rev=36_000, delay_s=0.002, start_count=None),
        sensors=(replace(EXACT, delay_s=0.003),),
        board=BoardRig(sample_rate_hz=10_000.0),
    )
    (segment,), _ = bench_toys.decoded(sent_by(rig, stretch)[0])
    angle = (segment.samples.count + 0.5) * 0.01 - 100.0
    pressure = segment.samples.readings[:, 0].astype(float)
    near = np.abs(angle - 714.0) < 70.0
    weight = pressure[near] - pressure.min()
    middle = np.sum(weight * angle[near]) / np.sum(weight)
    assert middle - 720.0 == pytest.approx(-0.005 * 1200.0, abs=0.1)
