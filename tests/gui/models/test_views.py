import csv
import io
import re
from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest

from strokewise.analysis.crank.kinematics import volume_ratio
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Sensor
from strokewise.analysis.trace.trace import pressure_of
from strokewise.analysis.verdict.verdict import Tdc
from strokewise.gui.models.figures.fit_views import fit_figure, posterior_figure
from strokewise.gui.models.figures.units import (
    BAR,
    KPA,
    NOT_CALIBRATED,
    PSI,
    SENSOR_RANGE,
    next_unit,
    unit_named,
)
from strokewise.gui.models.figures.views import (
    FAINTEST,
    Subject,
    overlay,
    pressure_over_angle,
    pressure_over_volume,
    speed_over_angle,
    weights,
)

EXPONENT = 1.3
TDC = 100.0


@dataclass(frozen=True)
class OnePass:
    time_s: np.ndarray
    angle_deg: np.ndarray
    pressure_bar: np.ndarray
    peak_angle_deg: float
    forward: bool = True
    sensor: int = 0


def polytropic_pass(turn=0, speed_rpm=200.0, ratio=9.0, peak=1.0):
    after = np.linspace(-150, 120, 541)
    volume = volume_ratio(after, ratio, rod_ratio=3.3)
    pressure = peak * (ratio / volume) ** EXPONENT
    angle = TDC + 360 * turn + after
    return OnePass(after / (speed_rpm * 6), angle, pressure, TDC + 360 * turn)


@pytest.fixture
def subject(engine):
    passes = [polytropic_pass(turn) for turn in (0, 2, 4)]
    sensors = (Sensor(cylinder=1, points=((0.0, 0.0), (4096.0, 20.0))),)
    return Subject(engine(compression_ratio=9.0, sensors=sensors), passes, TDC)


def test_passes_of_different_turns_lie_over_each_other(subject):
    figure = pressure_over_angle(subject)
    for curve in figure.curves:
        assert curve.x[np.argmax(curve.y)] == pytest.approx(0)
    assert [c.weight for c in figure.curves] == weights(3)
    assert figure.lines[0].label == "TDC"


def test_older_passes_are_fainter_but_never_gone():
    w = weights(20)
    assert w == sorted(w)
    assert w[-1] == 1
    assert w[0] == FAINTEST


def test_the_polytropic_exponent_is_that_of_the_gas(subject):
    figure = pressure_over_volume(subject, log=True)
    assert any(f"exponent {EXPONENT:.3f}" in fact for fact in figure.facts)
    assert any("assumed" in fact for fact in figure.facts)
    line = figure.curves[-1]
    slope = np.diff(np.log(line.y)) / np.diff(np.log(line.x))
    assert slope[0] == pytest.approx(-EXPONENT, abs=1e-6)


def test_a_stated_rod_is_used_and_not_called_assumed(subject):
    profile = replace(subject.profile, stroke_mm=94.0, rod_length_mm=168.0)
    figure = pressure_over_volume(replace(subject, profile=profile))
    assert not any("assumed" in fact for fact in figure.facts)


def test_volume_runs_from_one_to_below_the_compression_ratio(subject):
    x = pressure_over_volume(subject).curves[0].x
    assert x.min() == pytest.approx(1.0, abs=1e-6)
    assert x.max() < 9.0


def test_without_a_compression_ratio_it_says_what_is_missing(engine, subject):
    figure = pressure_over_volume(replace(subject, profile=engine()))
    assert not figure.curves
    assert "compression ratio" in figure.empty


def test_speed_is_in_revolutions_a_minute(subject):
    figure = speed_over_angle(subject)
    assert np.allclose(figure.curves[0].y, 200.0)


def test_before_tdc_is_found_angles_count_from_the_peak(subject):
    figure = pressure_over_angle(replace(subject, tdc_deg=None))
    assert "peak pressure" in figure.x_axis.title
    assert not figure.lines


def test_units_are_bar_kpa_and_psi(subject):
    peak = {u.name: pressure_over_angle(subject, u).curves[0].y.max() for u in (BAR, KPA, PSI)}
    assert peak["kPa"] == pytest.approx(100 * peak["bar"])
    assert peak["psi"] == pytest.approx(14.5038 * peak["bar"], rel=1e-5)  # NIST SP 811
    assert next_unit(next_unit(next_unit(BAR))) is BAR
    assert unit_named("psi") is PSI
    assert unit_named("furlong") is BAR


def test_nothing_turned_yet_is_said(engine):
    for make in (pressure_over_angle, speed_over_angle, pressure_over_volume):
        figure = make(Subject(engine(), (), None))
        assert not figure.curves
        assert figure.empty


def test_two_recordings_lie_over_each_other(subject):
    good = replace(subject, name="good")
    worn = replace(subject, name="worn", passes=[polytropic_pass(0, peak=0.6)])
    figure = overlay((good, worn))
    assert len(figure.curves) == 4
    assert {c.dash for c in figure.curves} == {"line", "dashes"}
    assert "worn (dashes): median peak 10.44 bar" in figure.facts
    nothing = overlay((good, replace(worn, passes=())))
    assert nothing.empty == "No compression in worn"


def test_of_many_recordings_one_without_a_compression_leaves_the_others_to_be_seen(subject):
    good, manifold = replace(subject, name="good"), replace(subject, name="manifold", passes=())
    worn = replace(subject, name="worn", passes=[polytropic_pass(0, peak=0.6)])
    figure = overlay((good, manifold, worn))
    assert not figure.empty
    assert figure.title == "2 recordings over each other"
    assert [each.name for each in figure.legend] == ["good", "worn"]
    assert "no compression in manifold" in figure.facts
    assert overlay((manifold, good, worn)).empty == "No compression in manifold"


def test_the_cursor_reads_values_with_units(subject):
    figure = pressure_over_angle(subject, KPA)
    assert figure.reading_at(0.0).startswith("crank angle after TDC 0.0 °")
    assert "1740 kPa" in figure.reading_at(0.0)  # 9**1.3 bar = 17.40 bar
    assert figure.value_at(999.0) == []


def test_the_table_has_a_row_for_every_point(subject):
    rows = list(csv.reader(io.StringIO(pressure_over_angle(subject).csv())))
    assert rows[0] == ["curve", "crank angle after TDC (°)", "absolute pressure (bar)"]
    assert len(rows) == 1 + 3 * 541
    assert float(rows[1][1]) == pytest.approx(-150)


def test_the_fit_shows_what_it_leaves_over():
    angle = np.linspace(-90, 60, 50)[None]
    model = 10 - (angle / 40) ** 2
    used = np.ones(angle.shape, bool)
    used[0, -5:] = False
    runs = SimpleNamespace(angle_deg=angle, pressure_bar=model + 0.05, used=used)
    fit = SimpleNamespace(tdc_deg=Interval(10, 9, 11), runs=runs, model_bar=model)
    figure = fit_figure(fit)
    assert len(figure.curves[0].x) == 45
    assert figure.curves[0].dash == "points"
    assert np.allclose(figure.below.curves[0].y, 0.05)
    assert "Measured less fitted" in figure.below.title
    assert figure.csv().count("curve,") == 2
    assert fit_figure(None).empty


def test_the_posterior_holds_its_probability():
    tdc = Tdc(Interval(123.4, 123.2, 123.6), 1, "fit", 9)
    figure = posterior_figure(tdc)
    x, y = figure.curves[0].x, figure.curves[0].y
    assert np.trapezoid(y, x) == pytest.approx(1.0, abs=1e-3)
    inside = (x >= 123.2) & (x <= 123.6)
    assert np.trapezoid(y[inside], x[inside]) == pytest.approx(0.95, abs=0.02)
    assert any("normal curve, drawn from the interval of the fit" in f for f in figure.facts)
    stopped = posterior_figure(replace(tdc, method="stop"))
    assert any("the interval of the contacts with the piston stop" in f for f in stopped.facts)
    assert posterior_figure(None).empty


@pytest.fixture
def bare(subject):
    """The same passes from a sensor without known points."""
    sensors = (replace(subject.profile.sensors[0], points=()),)
    return replace(subject, profile=replace(subject.profile, sensors=sensors), name="bare")


@pytest.mark.parametrize("unit", [BAR, KPA, PSI], ids=lambda unit: unit.name)
@pytest.mark.parametrize(
    "make",
    [
        pressure_over_angle,
        pressure_over_volume,
        lambda subject, unit: pressure_over_volume(subject, unit, log=True),
        lambda subject, unit: overlay((subject, subject), unit),
    ],
    ids=["angle", "volume", "loglog", "overlay"],
)
def test_a_sensor_without_known_points_shows_no_pressure(bare, make, unit):
    figure = make(bare, unit)
    assert figure.y_axis.title == "uncalibrated (% of range)"
    assert NOT_CALIBRATED in figure.facts
    assert figure.curves
    shown = " ".join([figure.csv().splitlines()[0], *figure.facts, figure.reading_at(1.0)])
    assert not re.search(r"\b(bar|kPa|psi|absolute)\b", shown)
    assert "exponent 1" not in shown


def test_share_of_range_is_the_share_of_the_converter(bare):
    reading = np.array([0.0, 1024.0, 4095.0])
    bar, _ = pressure_of(reading, bare.profile.sensors[0], bare.profile, 12)
    assert np.allclose(bar * SENSOR_RANGE.per_bar, 100 * reading / 4096)


def test_a_pressure_and_a_mere_reading_are_not_laid_over_each_other(subject, bare):
    for one, other in ((subject, bare), (bare, subject)):
        figure = overlay((replace(subject, name="good") if one is subject else one, other))
        assert not figure.curves
        assert not figure.facts or "bar" not in " ".join(figure.facts)
        assert "sensor of bare has no known points" in figure.empty
