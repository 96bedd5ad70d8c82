import io
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from rich.console import Console

from strokewise.analysis.estimate import Interval
from strokewise.daq.recording.container import Chunk
from strokewise.gui.models.run.follower import Follower
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.snapshot import Link
from strokewise.gui.models.terminal import DIGITS, TERMINAL_WIDTH, big, plain_line, screen
from strokewise.gui.models.turn.first_turns import FirstTurns
from strokewise.gui.models.turn.rocking import rocking_for
from strokewise.gui.sayings import as_said


def drawn(snapshot, width=80):
    out = io.StringIO()
    Console(file=out, width=width, force_terminal=False).print(
        screen(snapshot), width=TERMINAL_WIDTH
    )
    return out.getvalue()


def followed(toy, profile, angles):
    follower = Follower(profile, toy.Tracker)
    for block in toy.blocks(toy.segment(angles)):
        follower.feed(block)
    follower.judge()
    return follower.snapshot(1, Link("/dev/ttyACM0", "running", samples=18_000, rate_hz=2000.0))


def test_says_who_fires_how_far_and_what_each_does(toy):
    text = drawn(followed(toy, toy.profile(), np.linspace(-300, 950, 18_000)))
    assert "SURE" in text
    assert "Cylinder 1 is on its firing stroke:" in text  # firing TDC of 1 at 820
    assert "turn on 590° to firing TDC of 1" in text
    for doing in ("firing", "compression", "intake", "exhaust"):
        assert doing in text
    assert "May be adjusted now: valves on their base circle:" in text
    assert "2000 samples/s" in text


@pytest.mark.parametrize("cylinders", [1, 4, 12])
def test_fits_the_usual_terminal(toy, cylinders):
    order = (1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10) if cylinders == 12 else (1, 3, 4, 2)[:cylinders]
    profile = toy.profile(cylinders, order, name="x" * 200)
    lines = drawn(followed(toy, profile, np.linspace(-300, 1000, 9000))).splitlines()
    assert max(map(len, lines)) < 80
    assert len(lines) <= 24


@pytest.fixture
def rocked(toy, swings):
    """A screen of an engine met from the sides that are named, with TDC known to ± half."""

    def make(*ways, half=1.4, cylinders=4, **more):
        order = (1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10) if cylinders == 12 else (1, 3, 4, 2)
        profile = toy.profile(cylinders, order[:cylinders], **more)
        snapshot = followed(toy, profile, np.linspace(-300, 950, 18_000))
        tdc = replace(snapshot.verdict.tdc, angle_deg=Interval(100, 100 - half, 100 + half))
        verdict = replace(snapshot.verdict, tdc=tdc, reason=as_said("compression seen. " * 9))
        judged = SimpleNamespace(passes=swings(*ways))
        return replace(snapshot, verdict=verdict, rocking=rocking_for(profile, verdict, judged))

    return make


def test_rocking_is_offered_with_its_cautions_beside_the_cylinders(rocked):
    text = " ".join(drawn(rocked(1)).split())
    assert "rocking would narrow that" in text
    assert "ratchet tensioner" in text
    assert "fires in" in text
    assert plain_line(rocked(1)).endswith("rocking would narrow that")
    assert "rocking" not in drawn(rocked(1, half=0.1))
    refused = " ".join(drawn(rocked(1, turning_back="never")).split())
    assert "must never be turned back, so do not rock it" in refused
    assert "Before turning back" not in refused


def test_while_it_is_rocked_the_next_swing_stands_with_every_caution(rocked):
    text = " ".join(drawn(rocked(1, -1)).split())
    assert "Good: the same again, 2 more each way" in text
    for thing in ("crank's bolt", "ratchet tensioner", "Ignition off"):
        assert thing in text
    assert "2 more each way" in plain_line(rocked(1, -1))
    unstated = " ".join(drawn(rocked(1, -1, turning_back=None)).split())
    assert "look it up in the maker's manual first" in unstated


@pytest.mark.parametrize("cylinders", [1, 4, 12])
@pytest.mark.parametrize("turning_back", ["allowed", "never", None])
@pytest.mark.parametrize("ways", [(1,), (1, -1), (1, -1) * 4])
def test_the_rocking_guide_fits_the_usual_terminal(rocked, cylinders, turning_back, ways):
    text = drawn(rocked(*ways, cylinders=cylinders, turning_back=turning_back))
    assert len(text.splitlines()) <= 24
    assert max(map(len, text.splitlines())) < 80


def test_two_turns_by_hand_come_before_rocking(rocked):
    snapshot = replace(rocked(1), first_turns=FirstTurns(suspect=True))
    assert "rocking" not in drawn(snapshot)
    assert "two full turns by hand" in " ".join(drawn(snapshot).split())


def test_undecided_shows_no_cylinder_as_firing(toy):
    text = drawn(followed(toy, toy.profile(), np.linspace(-300, 300, 4000)))
    assert "NOT SURE YET" in text
    assert "►" not in text


def test_nothing_heard_yet(toy):
    snapshot = Follower(toy.profile(), toy.Tracker).snapshot(0, Link("x", "lost", "x went away"))
    assert "WAITING" in drawn(snapshot)
    assert "x went away" in drawn(snapshot)
    assert plain_line(snapshot).startswith("WAITING")


def test_a_hydraulic_engine_has_nothing_to_set(toy):
    from strokewise.analysis.profile import Valves

    profile = toy.profile(valves=Valves(lifters="hydraulic"))
    assert "no clearance to set" in drawn(followed(toy, profile, np.linspace(-300, 1000, 9000)))


def test_every_digit_is_three_rows_of_one_width():
    assert all(len({len(row) for row in rows}) == 1 for rows in DIGITS.values())
    assert len(big("508°")) == 3


def test_a_replay_says_where_it_stands(toy):
    items = [Chunk(0, data) for data in toy.bytes(np.linspace(0, 100, 1000))]
    deck = Deck(items, lambda board: toy.profile(), toy.Tracker, name="a.swr", simulated=True)
    deck.seek(0.3)
    text = drawn(deck.snapshot())
    assert "a.swr · paused · 0.3 s · simulated" in text
