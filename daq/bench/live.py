"""What does a simulated board deliver in real time, for ever? A source like a port."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.reel import Reel, layout
from strokewise.daq.bench.rig.board import BoardModel
from strokewise.daq.bench.rig.link import BenchLink, bundle
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.bench.truth import Frame, firing_deg
from strokewise.daq.closing import Closing
from strokewise.daq.recording.container import Chunk, Item

AHEAD_S = 0.1  # the board is computed so far ahead; a fault waits no longer for its turn
LONGEST_WAIT_S = 0.1  # an empty chunk is a sign of life, as from a port


class BenchSource(Closing):
    """The bench, running live; one iteration, then close it.

    Parameters
    ----------
    bench : Bench
    clock, sleep : callable
        Seconds, rising, and how to wait for some.

    Notes
    -----
    While it runs, another thread may change what is wrong with the bench, and the engine goes on
    turning::

        source = BenchSource(scenario("cranked").build())
        source.change(scenario("cranked").build({"burnt_valve": 8.0}))
    """

    def __init__(
        self,
        bench: Bench,
        *,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._bench = bench
        self._clock = clock
        self._sleep = sleep
        self._stopped = False
        self._start_s = clock()
        self._reel = Reel(bench)
        self._boots = 0
        self._board = self._new_board(0.0)
        self._link = BenchLink(bench.rig.link, np.random.default_rng((bench.seed, 0x6C696E6B)))
        self._wanted = bench

    @property
    def header(self) -> dict[str, Any]:
        """What a recording of it should say of itself."""
        return {"simulated": True, "engine": stated_profile(self._wanted)}

    def change(self, bench: Bench) -> None:
        """Go on with another bench, its engine from the next cycle on; from any thread.

        A change of counts, direction, ratio, channels or board is one of wiring: the board starts
        anew for it, as it does for an engine of another layout.
        """
        self._wanted = bench

    def firing_deg(self) -> dict[int, float]:
        """Return where the encoder now stands at the firing TDC of each cylinder: the truth.

        In [0, cycle), as ``find`` would say it; from any thread.
        """
        engine = self._bench.engine
        return firing_deg(engine, Frame(self._board, self._reel.now_deg, engine.cycle_deg))

    def now_us(self) -> int:
        """Return the time since the iteration began."""
        return round((self._clock() - self._start_s) * 1e6)

    def stop(self) -> None:
        """End the iteration soon."""
        self._stopped = True

    def close(self) -> None:
        """Let go of the thread that computes ahead."""
        self._reel.close()

    def __iter__(self) -> Iterator[Item]:
        """Deliver chunks in real time until stopped; one is empty when nothing came for a while.

        Each wait is computed from the start, so that waits that take too long do not add up.
        """
        self._start_s = self._clock()
        arriving = bundle(self._link.carry(self._sent()), self._bench.rig.link.latency_s)
        for due_s, data in arriving:
            while (wait_s := self._start_s + due_s - self._clock()) > 0 and not self._stopped:
                if wait_s <= LONGEST_WAIT_S:
                    self._sleep(wait_s)
                    break
                self._sleep(LONGEST_WAIT_S)
                yield Chunk(self.now_us(), b"")
            if self._stopped:
                return
            yield Chunk(self.now_us(), data)

    def _sent(self) -> Iterator[tuple[float, bytes]]:
        """Yield what the board sends, message by message, for ever."""
        while True:
            self._apply_change()
            yield from self._board.follow(self._reel.advance(AHEAD_S))

    def _apply_change(self) -> None:
        wanted, present = self._wanted, self._bench
        if wanted is present:
            return
        self._bench = wanted
        self._reel.change(wanted)
        self._link.rig = wanted.rig.link
        if wiring(wanted) == wiring(present):
            self._board.change(wanted.rig)
        else:
            self._board = self._new_board(self._reel.now_s)

    def _new_board(self, begins_s: float) -> BoardModel:
        self._boots += 1
        return BoardModel(
            self._bench.rig,
            atmosphere_bar=self._bench.engine.atmosphere.pressure_bar,
            seed=self._bench.seed + self._boots,
            begins_s=begins_s,
        )


def wiring(bench: Bench) -> tuple[Any, ...]:
    """Return what cannot change while a board runs."""
    encoder, rig = bench.rig.encoder, bench.rig
    return (
        layout(bench.engine),
        encoder.counts_per_rev,
        encoder.direction,
        encoder.drive_ratio,
        encoder.clamp_deg,
        encoder.start_count,
        len(rig.sensors),
        rig.board,
    )
