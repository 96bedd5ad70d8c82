"""What stands on the bench for one recording, and what comes of it?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import ceil
from typing import Any

import numpy as np

from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    Held,
    RockedTurning,
    RunDown,
    Spanner,
    Turning,
)
from strokewise.daq.bench.engine.solve import simulate
from strokewise.daq.bench.engine.stretch import Stretch
from strokewise.daq.bench.rig.board import BoardModel
from strokewise.daq.bench.rig.encoder_model import rising_times
from strokewise.daq.bench.rig.link import BenchLink, bundle
from strokewise.daq.bench.rig.rig import KeyPress, Rig
from strokewise.daq.recording.container import Chunk, Item, Jotting

RUN_RATE_HZ = 10_000.0  # straight lines between points: 0.12° at 200 rev/min
RUN_RATE_FOR_RPM = 1000.0  # up to this speed; for a faster one it rises with it
RUN_RATE_BY_HAND_HZ = 2_000.0  # the same angle at 40 rev/min
ONE_TURN_DEG = 360.0


@dataclass(frozen=True, slots=True)
class Bench:
    """Engine, turning and rig, and what the profile says of them.

    Attributes
    ----------
    engine_name : str
        What it is called on the bench, whatever has been changed on it.
    profile_changes : mapping of str to value
        Dotted keys of the engine profile that are stated otherwise than they are; None leaves
        the key out.
    profile_full : bool
        False: the profile of an unknown rebuild, with only what the rig needs.
    faulty_cylinder : int
        The cylinder that faults of a single cylinder strike.
    seed : int
        Everything left to chance.
    """

    engine: BenchEngine = field(default_factory=BenchEngine)
    engine_name: str = "four"
    turning: Turning = field(default_factory=Spanner)
    rig: Rig = field(default_factory=Rig)
    profile_changes: Mapping[str, Any] = field(default_factory=dict)
    profile_full: bool = True
    faulty_cylinder: int = 1
    seed: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """A recording's worth of a bench.

    Attributes
    ----------
    run : Run
        The truth.
    board : BoardModel
        After it has followed the run: it knows its starts, slips and false counts.
    items : tuple of Item
        Chunks and jottings in the order of time, as a recording holds them.
    """

    bench: Bench
    run: EngineRun
    board: BoardModel
    items: tuple[Item, ...]


def turn(bench: Bench) -> EngineRun:
    """Turn the engine as the bench says."""
    return simulate(bench.engine, bench.turning, run_rate_hz(bench.turning), bench.seed)


def run_rate_hz(turning: Turning) -> float:
    """Return how many points a second the straight lines of a run need."""
    if isinstance(turning, Spanner | RockedTurning):
        return RUN_RATE_BY_HAND_HZ
    rpm = turning.start_rpm if isinstance(turning, RunDown) else 0.0
    rpm = turning.rpm if isinstance(turning, Held) else rpm
    return RUN_RATE_HZ * ceil(max(rpm / RUN_RATE_FOR_RPM, 1.0))


def take(bench: Bench, run: EngineRun | None = None) -> Take:
    """Turn the engine and return what the host received.

    Parameters
    ----------
    run : Run, optional
        The run of the same engine and turning, where it is known already.
    """
    run = turn(bench) if run is None else run
    board = BoardModel(
        bench.rig, atmosphere_bar=bench.engine.atmosphere.pressure_bar, seed=bench.seed
    )
    messages = board.follow(Stretch.of_run(run)) + board.close()
    rng = np.random.default_rng((bench.seed, 0x6C696E6B))
    arrived = bundle(BenchLink(bench.rig.link, rng).carry(messages), bench.rig.link.latency_s)
    items: list[Item] = [Chunk(round(when * 1e6), data) for when, data in arrived]
    items += presses(run, bench.rig.presses, rng)
    items.sort(key=lambda item: item.host_us if isinstance(item, Chunk | Jotting) else 0)
    return Take(bench, run, board, tuple(items))


def presses(run: EngineRun, keys: tuple[KeyPress, ...], rng: np.random.Generator) -> list[Jotting]:
    """Return the keys that a person pressed on the laptop during a run."""
    pressed = []
    for key in keys:
        if key.at_time_s is not None:
            moments = np.array([key.at_time_s])
        else:
            moments = rising_times(run.time_s, run.crank_deg, key.at_deg, 0.0, ONE_TURN_DEG)
        delay = np.maximum(rng.normal(key.reaction_s, key.scatter_s, len(moments)), 0.0)
        pressed += [
            Jotting(round(when * 1e6), mark=key.name) for when in (moments + delay).tolist()
        ]
    return pressed
