"""Other recordings over a trace, a healthy one behind it: the same views, and what is between."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.gui.models.classroom.causes import reference_of
from strokewise.gui.models.classroom.classroom import Classroom, bench_name
from strokewise.gui.models.classroom.questions import masked
from strokewise.gui.models.classroom.reference import healthy_subject
from strokewise.gui.models.figures.laid import MOST_TRACES, NOTHING_LAID
from strokewise.gui.models.figures.units import BAR
from strokewise.gui.models.figures.view_figures import figure_of
from strokewise.gui.models.palette import DARK, LIGHT
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.sources import profile_maker

VIEWS_BEHIND = ("angle", "volume", "loglog", "speed")


def deck_of(name):
    bench = scenario(name).build()
    profile = profile_maker(header={"engine": stated_profile(bench)})
    deck = Deck(take(bench).items, profile, Tracker, name=bench_name(name), simulated=True)
    deck.seek(float("inf"))
    deck.follower.judge()
    return deck


@pytest.fixture(scope="module")
def burnt():
    """A moment of the scenario with a burnt valve, and the healthy trace of the same bench."""
    room = Classroom()
    room.choose("burnt-valve")
    moment = deck_of("burnt-valve").snapshot()
    bench, words = room.healthy(moment)
    return moment, healthy_subject(bench, words)


@pytest.mark.parametrize("view", VIEWS_BEHIND)
def test_a_healthy_trace_lies_behind_and_the_difference_is_shaded(burnt, view):
    moment, healthy = burnt
    plain = figure_of(view, moment, BAR)
    figure = figure_of(view, moment, BAR, laid=replace(NOTHING_LAID, healthy=healthy))
    assert [each.name for each in figure.curves[1:]] == [each.name for each in plain.curves]
    assert figure.curves[0].name == "healthy (simulated)"
    dash = "dots" if view == "loglog" else "dashes"  # the slope has dashes already
    assert figure.curves[0].dash == dash
    assert f"{dash}: healthy (simulated)" in figure.facts
    assert figure.shade
    assert not plain.shade
    assert figure.led is None or figure.led.name == plain.led.name
    for x, y in figure.shade:
        xs = np.concatenate([figure.curves[0].x, plain.curves[-1].x])
        assert x.min() >= np.nanmin(xs) - 1e-9
        assert x.max() <= np.nanmax(xs) + 1e-9
        assert np.isfinite(y).all()


def test_the_difference_is_that_of_the_two_tops(burnt):
    moment, healthy = burnt
    figure = figure_of("angle", moment, BAR, laid=replace(NOTHING_LAID, healthy=healthy))
    top, its = (float(np.nanmax(figure.curves[i].y)) for i in (-1, 0))
    assert top < 0.6 * its  # a burnt valve
    assert f"at the top −{100 * (1 - top / its):.0f} %" in " ".join(figure.facts)
    # The area between the outlines is the area between the curves.
    shaded = sum(
        abs(np.trapezoid(y[: len(y) // 2], x[: len(x) // 2]))
        - abs(np.trapezoid(y[len(y) // 2 :], x[len(x) // 2 :]))
        for x, y in figure.shade
    )
    grid = np.linspace(-90, 90, 1801)
    one, other = (np.interp(grid, figure.curves[i].x, figure.curves[i].y) for i in (-1, 0))
    assert -shaded == pytest.approx(np.trapezoid(other - one, grid), rel=0.1)


def test_all_well_is_its_own_reference():
    room = Classroom()
    room.choose("cranked")
    moment = deck_of("cranked").snapshot()
    bench, words = room.healthy(moment)
    laid = replace(NOTHING_LAID, healthy=healthy_subject(bench, words))
    figure = figure_of("angle", moment, BAR, laid=laid)
    one, other = figure.curves[-1], figure.curves[0]
    grid = np.linspace(-80, 80, 161)
    apart = np.interp(grid, one.x, one.y) - np.interp(grid, other.x, other.y)
    assert np.abs(apart).max() < 0.02 * np.nanmax(other.y)


def test_a_prepared_question_is_held_against_its_own_engine_without_the_fault(burnt):
    moment, _ = burnt
    moment = replace(moment, link=replace(moment.link, name="question 2"))
    bench, words = Classroom().healthy(moment, "burnt-valve")
    assert (bench, words) == (reference_of(scenario("burnt-valve")), "")
    assert "turned evenly" in Classroom().healthy(moment, "van.swr")[1]


def test_an_engine_held_at_one_speed_is_no_measure_of_speed(burnt):
    moment, _ = burnt
    bench, words = Classroom().healthy(replace(moment, link=replace(moment.link, name="van.swr")))
    laid = replace(NOTHING_LAID, healthy=healthy_subject(bench, words))
    speed, plain = figure_of("speed", moment, BAR, laid=laid), figure_of("speed", moment, BAR)
    assert len(speed.curves) == len(plain.curves)
    assert not speed.shade
    assert "no healthy speed behind it" in speed.facts[-1]
    assert figure_of("angle", moment, BAR, laid=laid).shade


def test_a_recording_is_held_against_the_engine_of_its_profile(burnt):
    moment, _ = burnt
    moment = replace(moment, link=replace(moment.link, name="van.swr", simulated=False))
    room = Classroom()
    bench, words = room.healthy(moment)
    assert bench.engine.compression_ratio == moment.profile.compression_ratio
    assert bench.engine.bore_mm == moment.profile.bore_mm
    assert "turned evenly at" in words
    bare = replace(moment, profile=replace(moment.profile, bore_mm=None, compression_ratio=None))
    _, words = room.healthy(bare)
    assert "compression ratio, bore assumed" in words
    with pytest.raises(InputError, match="no compression yet"):
        room.healthy(replace(moment, passes=()))
    sensor = replace(moment.profile.sensors[0], place="manifold")
    with pytest.raises(InputError, match="plug hole"):
        room.healthy(replace(moment, profile=replace(moment.profile, sensors=(sensor,))))


def test_nothing_healthy_lies_behind_while_a_question_stands(burnt):
    moment, healthy = burnt
    laid = replace(NOTHING_LAID, healthy=healthy)
    figure = figure_of("angle", masked(moment, "fault"), BAR, laid=laid)
    assert not figure.shade
    assert "healthy" not in " ".join((*figure.facts, *(each.name for each in figure.curves)))


def test_a_sensor_without_known_points_is_not_held_against_a_pressure(burnt):
    moment, healthy = burnt
    sensor = replace(moment.profile.sensors[0], points=())
    bare = replace(moment, profile=replace(moment.profile, sensors=(sensor,)))
    figure = figure_of("angle", bare, BAR, laid=replace(NOTHING_LAID, healthy=healthy))
    assert not figure.shade
    assert any("no known points" in fact for fact in figure.facts)


def test_up_to_six_traces_lie_over_each_other_by_colour_dash_and_name(burnt):
    moment, healthy = burnt
    laid = NOTHING_LAID
    for i in range(MOST_TRACES + 2):
        laid = laid.with_other(replace(healthy, name=f"van {i}.swr"))
    assert laid.full
    figure = figure_of("overlay", moment, BAR, name="this.swr", laid=laid)
    assert len(figure.curves) == MOST_TRACES
    assert [curve.colour for curve in figure.curves] == list(range(MOST_TRACES))
    assert [curve.name for curve in figure.legend] == [
        "this.swr",
        *(f"van {i}.swr" for i in range(MOST_TRACES - 1)),
    ]
    for palette in (LIGHT, DARK):
        assert len(set(palette.curves)) >= MOST_TRACES
    fewer = laid.without_last().without_last().without_last().without_last()
    two = figure_of("overlay", moment, BAR, name="this.swr", laid=fewer)
    assert len(two.legend) == 2
    assert len(two.curves) > 2  # older passes too, where they bury nobody


def test_where_tdc_is_not_known_the_healthy_trace_is_laid_by_its_peak(burnt):
    moment, healthy = burnt
    moment = replace(moment, verdict=None)
    figure = figure_of("angle", moment, BAR, laid=replace(NOTHING_LAID, healthy=healthy))
    behind = figure.curves[0]
    assert behind.x[np.argmax(behind.y)] == 0.0
    assert figure.x_axis.label == "crank angle after peak pressure"
    assert "laid by its peak, for TDC is not known here" in " ".join(figure.facts)
