"""The joint fit on passes made by scipy's own integration of other physics, and its interval."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.estimate import Z_95
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.closed_cycle import Gas, pressures
from strokewise.analysis.tdc.fit import (
    BOTH_WAYS,
    FAR,
    FINAL,
    NEAR,
    ONE_WAY,
    SOUND_COST,
    Fit,
    fit_passes,
)
from strokewise.analysis.tdc.priors import priors_for, surroundings_of
from strokewise.analysis.tdc.runs import runs_for
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Pass

SENSOR = Sensor(response_time_s=0.4e-3, points=((0.0, 0.0), (4095.0, 20.0)))
PROFILE = Profile(
    1, (1,), (720.0,), compression_ratio=9.0, bore_mm=85.0, stroke_mm=85.0, rod_length_mm=148.0,
    sensors=(SENSOR,),
)  # fmt: skip
NOISE_BAR = 0.01


def swept(rpm: float, reach_deg: float = 105.0) -> Pass:
    """An empty pass about TDC 0, before any pressure is put in."""
    angle = np.arange(-reach_deg, reach_deg, 1.2) * np.sign(rpm)
    speed = np.full_like(angle, rpm * 6.0)
    time = (angle - angle[0]) / speed
    flat = np.ones_like(angle)
    nodes = Nodes(time, angle, speed, flat, flat, angle > 1e9, NOISE_BAR, 0.1, 0.005)
    return Pass(nodes, 0.0, 0, rpm > 0)


def made(speeds_rpm: list[float], tdc_deg: float, **other: float) -> tuple[Pass, ...]:
    """Passes as the model itself would see them, with noise."""
    passes = tuple(swept(rpm) for rpm in speeds_rpm)
    runs = runs_for(passes, 0.0)
    values = {
        p.name: np.full((1, len(passes) if p.per_pass else 1), other.get(p.name, p.mean))
        for p in priors_for(PROFILE, SENSOR, zero_sigma_bar=0.03)
    }
    values["tdc_deg"][:] = tdc_deg
    values["log_start"][:] = np.log(1.4)
    values["log_warm"][:] = 0.08
    bar = pressures(runs, Gas(**values), surroundings_of(PROFILE))[0]
    bar = bar + np.random.default_rng(3).normal(0.0, NOISE_BAR, bar.shape)
    return tuple(
        replace(p, nodes=replace(p.nodes, pressure_bar=bar[i])) for i, p in enumerate(passes)
    )


def fitted(passes: tuple[Pass, ...], profile: Profile = PROFILE, zero: float = 0.03) -> Fit:
    fit = None
    for stage in (FAR, NEAR, FINAL):
        fit = fit_passes(
            passes, profile, profile.sensors[0], zero_sigma_bar=zero, start=fit, stage=stage
        )
    assert fit is not None
    return fit


@pytest.mark.parametrize("tdc_deg", [-6.0, 1.3, 8.0])
def test_tdc_is_found_from_a_start_degrees_away(tdc_deg):
    fit = fitted(made([180.0, 200.0, 220.0, 160.0], tdc_deg))
    assert fit.tdc_deg.low < tdc_deg < fit.tdc_deg.high
    assert fit.tdc_deg.value == pytest.approx(tdc_deg, abs=0.2)


def test_both_directions_are_surer_than_one_when_the_lag_is_unknown():
    unknown = replace(PROFILE, sensors=(replace(SENSOR, response_time_s=None),))
    one = fitted(made([20.0, 25.0, 30.0, 22.0], 2.0), unknown)
    both = fitted(made([20.0, -25.0, 30.0, -22.0], 2.0), unknown)
    assert both.tdc_deg.half_width < one.tdc_deg.half_width
    assert both.tdc_deg.low < 2.0 < both.tdc_deg.high


def test_an_unknown_lag_widens_the_interval():
    passes = made([180.0, 200.0, 190.0], 0.5)
    unknown = replace(PROFILE, sensors=(replace(SENSOR, response_time_s=None),))
    assert fitted(passes, unknown).tdc_deg.half_width > fitted(passes).tdc_deg.half_width


def test_a_zero_that_is_wholly_wrong_does_not_move_tdc():
    passes = made([180.0, 200.0, 190.0], 0.5)
    off = tuple(
        replace(p, nodes=replace(p.nodes, pressure_bar=p.pressure_bar + 12.0)) for p in passes
    )
    sound, wrong = fitted(passes), fitted(off, zero=50.0)
    assert wrong.tdc_deg.value == pytest.approx(sound.tdc_deg.value, abs=0.1)
    assert wrong.values["zero_bar"] == pytest.approx(12.0, abs=0.3)


def test_the_compression_ratio_and_the_leak_come_with_it():
    leaky = made([180.0, 120.0, 240.0, 60.0], 0.0, log_leak=np.log(4e-3))
    fit = fitted(leaky)
    ratio = 1.0 + np.exp(fit.values["log_clearance"][0])
    assert ratio == pytest.approx(9.0, rel=0.05)
    assert fit.values["log_leak"][0] == pytest.approx(np.log(4e-3), abs=0.3)


def test_clipped_nodes_take_no_part():
    passes = made([180.0, 200.0, 190.0], 1.0)
    cut = tuple(
        replace(
            p,
            nodes=replace(
                p.nodes,
                pressure_bar=np.minimum(p.pressure_bar, 6.0),
                clipped=p.pressure_bar >= 6.0,
            ),
        )
        for p in passes
    )
    fit = fitted(cut)
    assert fit.tdc_deg.low < 1.0 < fit.tdc_deg.high


def test_one_knock_hardly_moves_the_answer():
    passes = made([180.0, 200.0, 190.0], 1.0)
    passes[0].nodes.pressure_bar[60] += 6.0
    assert fitted(passes).tdc_deg.value == pytest.approx(1.0, abs=0.25)


def test_residuals_that_do_not_fit_widen_the_interval():
    passes = made([180.0, 200.0, 190.0], 1.0)
    bent = tuple(
        replace(
            p,
            nodes=replace(
                p.nodes, pressure_bar=p.pressure_bar * (1.0 + 0.02 * np.sin(p.angle_deg / 9.0))
            ),
        )
        for p in passes
    )
    sound, rough = fitted(passes), fitted(bent)
    assert rough.cost > 3 * sound.cost
    assert rough.tdc_deg.half_width > 1.5 * sound.tdc_deg.half_width


def test_the_interval_is_never_surer_than_its_floor():
    rocked, one_way = (fitted(made(speeds, 0.0)) for speeds in ([180.0, -180.0] * 4, [180.0] * 8))
    assert rocked.tdc_deg.half_width > Z_95 * BOTH_WAYS.floor_deg
    assert one_way.tdc_deg.half_width > Z_95 * ONE_WAY.floor_deg
    assert one_way.tdc_deg.half_width > rocked.tdc_deg.half_width


def test_mismatch_grows_with_losses_and_with_residuals():
    for mismatch in (ONE_WAY, BOTH_WAYS):
        sound = mismatch.sigma_deg(2.0, SOUND_COST)
        assert sound == pytest.approx(mismatch.sigma_deg(2.0, 0.5 * SOUND_COST))
        assert mismatch.sigma_deg(10.0, SOUND_COST) > sound
        assert mismatch.sigma_deg(2.0, 2.0) > sound


def test_no_passes_are_an_error():
    with pytest.raises(ValueError, match="no passes to fit"):
        fit_passes((), PROFILE, SENSOR)
