"""What each view shows, or why it shows nothing, at every stage of an answer."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from strokewise.analysis.profile import Sensor
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.recording.read import open_recording
from strokewise.gui.models.figures.units import BAR, is_calibrated, unit_for
from strokewise.gui.models.figures.view_figures import figure_of
from strokewise.gui.models.keys import VIEWS
from strokewise.gui.models.run.follower import Follower
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.snapshot import Link
from strokewise.gui.models.run.sources import profile_maker

RECORDINGS = Path(__file__).parents[3] / "recordings"
FIGURES = [name for name, _ in VIEWS if name != "chart"]


def moment(toy, profile, angles):
    follower = Follower(profile, toy.Tracker)
    for block in toy.blocks(toy.segment(angles)):
        follower.feed(block)
    follower.judge()
    return follower.snapshot(1, Link("a", "running"))


@pytest.fixture
def sure(toy):
    return moment(toy, toy.profile(), np.linspace(-300, 1000, 9000))


@pytest.mark.parametrize("view", FIGURES)
def test_no_view_is_ever_blank_without_a_word(toy, sure, view):
    stages = [
        Follower(toy.profile(), toy.Tracker).snapshot(0, Link()),
        moment(toy, toy.profile(), np.linspace(-300, -200, 900)),
        replace(sure, passes=()),
        sure,
    ]
    for snapshot in stages:
        figure = figure_of(view, snapshot, BAR)
        assert bool(figure.curves) != bool(figure.empty), (view, figure.empty)


def test_sure_before_a_fit_the_view_says_where_to_look(sure):
    figure = figure_of("fit", sure, BAR)
    assert figure.empty.startswith("No fit yet. The answer is sure without it")
    assert "Key 2" in figure.empty


def test_a_manifold_is_not_told_to_turn_through_a_compression(toy):
    profile = toy.profile(sensors=(Sensor(place="manifold"),))
    snapshot = replace(moment(toy, profile, np.linspace(0, 900, 4000)), passes=())
    for view in ("angle", "volume", "speed", "fit"):
        empty = figure_of(view, snapshot, BAR).empty
        assert "sits in the manifold" in empty
        assert "turn" not in empty


def test_a_tdc_found_by_the_stop_needs_no_compression(sure):
    verdict = replace(sure.verdict, tdc=replace(sure.verdict.tdc, method="stop"))
    snapshot = replace(sure, verdict=verdict, passes=())
    assert "piston stop" in figure_of("angle", snapshot, BAR).empty
    assert figure_of("tdc", snapshot, BAR).curves


def test_nothing_before_the_first_sample(toy):
    snapshot = Follower(toy.profile(), toy.Tracker).snapshot(0, Link())
    assert figure_of("angle", snapshot, BAR).empty.startswith("No samples yet")


def test_a_sensor_without_known_points_shows_no_pressure_on_any_view():
    contents = open_recording(RECORDINGS / "cranked.swr")
    known = profile_maker(header=contents.header)(None).profile
    profile = replace(known, sensors=(replace(known.sensors[0], points=()),))
    deck = Deck(contents.items, lambda board: profile, Tracker)
    deck.seek(3.0)
    deck.follower.judge()
    snapshot = deck.snapshot()
    assert snapshot.verdict.decided
    assert snapshot.passes
    assert not is_calibrated(snapshot.profile)
    assert not unit_for(snapshot.profile, BAR).calibrated
    for view in ("angle", "volume", "loglog", "fit"):
        figure = figure_of(view, snapshot, BAR)
        for part in filter(None, (figure, figure.below)):
            words = " ".join([*part.facts, part.empty, part.y_axis.title, part.csv()[:200]])
            assert " bar" not in words, view
            assert "(bar)" not in words, view
            assert "uncalibrated" in words or "not calibrated" in words, view
