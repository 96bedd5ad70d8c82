"""The crank angle from counts, on motions whose angle is known exactly."""

import numpy as np
import pytest

from strokewise.analysis.crank.angle import angle_of_count, deg_per_count, motion_of
from strokewise.analysis.profile import Encoder


def counts_of(angle_deg: np.ndarray, encoder: Encoder) -> np.ndarray:
    """Cut an exact angle to the cells of an ideal encoder."""
    return np.floor(angle_deg / deg_per_count(encoder)).astype(np.int64)


def times_us(n: int, period_us: int) -> np.ndarray:
    return np.arange(n, dtype=np.int64) * period_us


def test_a_count_is_the_middle_of_its_cell():
    encoder = Encoder(360, 1.0, 1)
    assert angle_of_count(0.0, encoder) == pytest.approx(0.5)
    assert angle_of_count(0.0, Encoder(360, 1.0, -1)) == pytest.approx(-0.5)


@pytest.mark.parametrize(("ratio", "expected"), [(0.5, 2.0), (1.0, 1.0), (2.0, 0.5)])
def test_the_drive_ratio_is_encoder_turns_for_each_crank_turn(ratio, expected):
    assert deg_per_count(Encoder(360, ratio, 1)) == pytest.approx(expected)


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize("rpm", [6.0, 60.0, 200.0, -30.0])
def test_steady_turning_is_found_to_a_small_part_of_a_cell(rpm, direction):
    encoder = Encoder(1440, 1.0, direction)
    time = times_us(4000, 1000)
    true_deg = rpm * 6.0 * time * 1e-6 + 0.3
    motion = motion_of(time, counts_of(true_deg, encoder), encoder)
    inner = slice(300, -300)
    assert np.abs(motion.angle_deg - true_deg)[inner].max() < 0.25 * motion.cell_deg
    assert np.median(motion.speed_deg_s[inner]) == pytest.approx(rpm * 6.0, rel=0.01)


def test_the_dip_of_speed_before_tdc_is_followed():
    """Cranking speed dips by a third twice a turn; the angle must not be smoothed across it."""
    encoder = Encoder(2400, 1.0, 1)
    time = times_us(3000, 1000)
    t = time * 1e-6
    true_deg = 1200.0 * t + 8.0 * np.sin(2 * np.pi * 6.7 * t)
    motion = motion_of(time, counts_of(true_deg, encoder), encoder)
    assert np.abs(motion.angle_deg - true_deg)[200:-200].max() < 0.15


def test_a_standing_crank_stands():
    time = times_us(1000, 1000)
    motion = motion_of(time, np.full(1000, 7, np.int64), Encoder(1440, 1.0, 1))
    assert np.ptp(motion.angle_deg) < 1e-9
    assert np.abs(motion.speed_deg_s).max() < 1e-6


def test_a_reversal_stays_within_a_cell():
    encoder = Encoder(1440, 1.0, 1)
    time = times_us(4000, 1000)
    true_deg = 40.0 * np.sin(2 * np.pi * 0.4 * time * 1e-6)
    motion = motion_of(time, counts_of(true_deg, encoder), encoder)
    assert np.abs(motion.angle_deg - true_deg).max() < motion.cell_deg


def test_lost_samples_in_a_short_gap_do_not_bend_the_angle_beside_it():
    encoder = Encoder(1440, 1.0, 1)
    time = times_us(4000, 1000)
    true_deg = 1200.0 * time * 1e-6
    kept = np.r_[0:2000, 2024:4000]
    motion = motion_of(time[kept], counts_of(true_deg, encoder)[kept], encoder)
    assert np.abs(motion.angle_deg - true_deg[kept])[100:-100].max() < 0.15


@pytest.mark.parametrize("n", [0, 1, 2, 4, 5, 16])
def test_few_samples_are_no_error(n):
    motion = motion_of(times_us(n, 1000), np.arange(n, dtype=np.int64), Encoder(1440, 1.0, 1))
    assert len(motion.angle_deg) == len(motion.speed_deg_s) == n
    assert np.isfinite(motion.angle_deg).all()
