"""Do the edges on the pins tell what the encoder model shows, crossing by crossing?"""

from dataclasses import replace

import numpy as np
import pytest
from suite_quadrature import count_steps

from strokewise.daq.bench.bench import turn
from strokewise.daq.bench.pins import (
    EDGE,
    PIN_A,
    PIN_B,
    PIN_INDEX,
    PINS_HEAD,
    PINS_LEAD_S,
    cells_crossed,
    even_drive,
    pin_drive,
    pulse_edges,
)
from strokewise.daq.bench.rig.encoder_model import EncoderModel
from strokewise.daq.bench.scenarios.scenarios import scenario


def states_of(edges):
    """The two levels after each edge of A and B, from the start on."""
    level = {PIN_A: 0, PIN_B: 0}
    states = []
    for edge in edges[edges["pin"] <= PIN_B]:
        level[int(edge["pin"])] = int(edge["level"])
        states.append(level[PIN_B] << 1 | level[PIN_A])
    return np.array(states[1:])  # the first two edges are the levels at the start


@pytest.mark.parametrize(("name", "settings"), [("rocked", {"swings": 2}), ("hand-turned", {})])
def test_a_board_that_counts_the_edges_counts_what_the_encoder_shows(name, settings):
    bench = scenario(name).build(settings)
    bench = replace(bench, rig=replace(bench.rig, encoder=replace(bench.rig.encoder,
                                                                  line_error=0.1)))  # fmt: skip
    run = turn(bench)
    drive = pin_drive(bench, run)
    count, skipped = count_steps(states_of(drive.edges))
    assert not skipped.any()
    assert count[1:].tolist() == drive.count.tolist()
    # The same from the model, which interpolates the shaft's place instead of each crossing.
    rng = np.random.default_rng((bench.seed, 0x70696E73))
    track = EncoderModel(bench.rig.encoder, rng).follow(run.time_s, run.crank_deg, run.speed_rpm)
    at_s = np.random.default_rng(1).uniform(0.0, float(track.time_s[-1]), 5_000)
    shown = track.cell_at(at_s) - drive.first_cell
    assert np.mean(drive.count_at((at_s + PINS_LEAD_S) * drive.hertz) != shown) < 0.001


def test_lines_are_crossed_both_ways_at_their_own_place():
    time_s = np.array([0.0, 1.0, 2.0])
    edges = np.array([0.0, 1.25, 2.0, 3.0])
    when_s, cell = cells_crossed(time_s, np.array([0.5, 2.5, 0.5]), edges)
    assert cell.tolist() == [1, 2, 1, 0]
    assert when_s == pytest.approx([0.375, 0.75, 1.25, 1.625])


def test_a_pulse_rises_at_its_near_side_going_up_and_at_its_far_side_going_down():
    time_s = np.array([0.0, 1.0, 2.0])
    when_s, level = pulse_edges(time_s, np.array([-1.0, 9.0, -1.0]), 0.0, 4.0, 100.0)
    order = np.argsort(when_s)
    assert when_s[order] == pytest.approx([0.1, 0.5, 1.5, 1.9])
    assert level[order].tolist() == [1, 0, 1, 0]


def test_an_even_drive_is_even_and_its_jitter_keeps_edges_apart():
    even = even_drive(10_000, 0.1).edges
    moving = even[even["cycle"] > 0]
    assert len(moving) == 1000
    assert np.all(np.diff(moving["cycle"].astype(int)) == 1600)
    shaken = even_drive(10_000, 0.1, jitter=0.5).edges
    gaps = np.diff(shaken[shaken["cycle"] > 0]["cycle"].astype(int))
    assert gaps.min() >= 799
    assert gaps.max() <= 2401
    marked = even_drive(10_000, 0.5, marks_per_s=20).edges
    assert np.count_nonzero((marked["pin"] == PIN_INDEX) & (marked["level"] == 1)) == 10


def test_the_bytes_hold_what_the_harness_reads():
    drive = even_drive(1_000, 0.05)
    packed = drive.to_bytes()
    magic, edges, volts, step_s = PINS_HEAD.unpack_from(packed)
    assert (magic, edges, volts, step_s) == (b"SWD1", len(drive.edges), 2, 0.00005)
    assert len(packed) == PINS_HEAD.size + edges * EDGE.itemsize + volts * 2 * 4
