"""Damaged recordings end in an answer or in an honest refusal, never in an error of ours.

Each of these once did: a fit without a compression, one whose passes had all gone, one that had
left the model's reach.
"""

import tracemalloc

import numpy as np
import pytest
from suite_damage import bytes_lost, lying, mutated, sent, sent_as_lines, verdict_on

from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.verdict.manifold import rule_manifold


@pytest.mark.parametrize(("name", "seed"), [("hand-turned", 1), ("rocked", 0), ("rocked", 2)])
def test_plain_lines_that_lose_a_byte_in_a_thousand(name: str, seed: int) -> None:
    data = bytes_lost(sent_as_lines(name), 0.001, np.random.default_rng(seed))
    verdict, health = verdict_on(name, data)
    assert verdict.reason
    assert health.segments == 1, "a lost digit passed for a new start of the board"


@pytest.mark.parametrize(
    ("name", "seed"), [("cranked", 0), ("hand-turned", 2), ("rocked", 2), ("stop-both-sides", 7)]
)
def test_bytes_that_are_changed_anyhow(name: str, seed: int) -> None:
    verdict, _ = verdict_on(name, mutated(sent(name)[1], np.random.default_rng(seed)))
    assert verdict.reason


@pytest.mark.parametrize("name", ["cranked", "manifold"])
def test_frames_that_lie_with_a_crc_that_holds(name: str) -> None:
    verdict, _ = verdict_on(name, lying(sent(name)[1], 0.05, np.random.default_rng(1)))
    assert verdict.reason


def pulses(angle_deg: np.ndarray) -> Nodes:
    many = np.ones(len(angle_deg))
    return Nodes(
        np.arange(len(angle_deg)) * 0.01, angle_deg, 1500.0 * many, 0.9 + 0.0 * many, 5.0 * many,
        many < 0, 0.001, 0.15, 0.005,
    )  # fmt: skip


@pytest.mark.parametrize("cycles", [4, 1_000_000])
def test_a_count_that_leaps_leaves_the_manifold_without_a_whole_cycle(cycles: int) -> None:
    far = np.concatenate([np.arange(700.0, 719.0, 0.25), 720.0 * cycles + np.arange(0, 600.0, 2.0)])
    four = Profile(4, (1, 3, 4, 2), firing_intervals_deg=(180.0,) * 4)
    tracemalloc.start()
    try:
        verdict = rule_manifold(pulses(far), four, Sensor(place="manifold"), ())
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert not verdict.decided
    assert verdict.reason.code == "few-turns-in-manifold"
    assert most < 10e6, "memory follows the span of the count"
