"""Long work says how far it is and how long the rest takes: on a terminal, and nowhere else."""

import io

import pytest

from strokewise.gui.found import found_in
from strokewise.gui.progress import Progress, time_left


class Terminal(io.StringIO):
    def isatty(self):
        return True


class Clock:
    now_s = 0.0

    def __call__(self):
        return self.now_s


def run(stream, times):
    clock = Clock()
    with Progress("Following the trace", stream, clock=clock) as progress:
        for now_s, share in times:
            clock.now_s = now_s
            progress(share)
    return stream.getvalue()


def test_it_says_how_far_and_how_long_and_leaves_nothing():
    said = run(Terminal(), [(1.0, 0.1), (10.0, 0.25), (10.1, 0.26), (20.0, 0.5)])
    lines = [line.strip() for line in said.split("\r") if line.strip()]
    assert lines == [
        "Following the trace: 25%, some 30 s left. Ctrl-C stops.",
        "Following the trace: 50%, some 20 s left. Ctrl-C stops.",
    ]
    assert said.endswith("\r")


def test_what_is_soon_over_and_what_nobody_looks_at_is_not_said():
    assert run(Terminal(), [(0.5, 0.5), (1.9, 1.0)]) == ""
    assert run(io.StringIO(), [(10.0, 0.25), (20.0, 0.5)]) == ""


@pytest.mark.parametrize(
    ("took_s", "share", "words"),
    [(10, 0.99, ""), (10, 0.5, ", some 10 s left"), (60, 0.1, ", some 9 min left")],
)
def test_the_rest_is_as_long_as_it_was_so_far(took_s, share, words):
    assert time_left(took_s, share) == words


def test_a_recording_is_told_of_to_its_end_and_answers_the_same(monkeypatch):
    plain = found_in("recordings/hand-turned.swr")
    monkeypatch.setattr("strokewise.analysis.verdict.tracker.SLAB_SAMPLES", 1000)
    shares = []
    watched = found_in("recordings/hand-turned.swr", going=shares.append)
    assert len(shares) > 3
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert watched.verdict.firing_deg == pytest.approx(plain.verdict.firing_deg)


def test_who_raises_stops_it():
    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        found_in("recordings/hand-turned.swr", going=stop)
