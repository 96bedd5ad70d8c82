"""What happens on a live bench from one moment to the next, for ever, while faults are changed?

Runs are played one after the other: each begins where the one before left the crank, with a rest
between. The next is computed in the background while the present one plays. When the bench is
changed, its new run takes over in the middle: at the next overlap TDC of the sensed cylinder, where
its pressure is that of the atmosphere in both.
"""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.columns import end_to_end
from strokewise.analysis.crank.angle import short_way
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.daq.bench.bench import Bench, run_rate_hz, turn
from strokewise.daq.bench.engine.burn import Combustion
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    Held,
    RecordedTurning,
    RockedTurning,
    RunDown,
    Spanner,
    Starter,
)
from strokewise.daq.bench.engine.solve import simulate
from strokewise.daq.bench.engine.stretch import Stretch
from strokewise.daq.bench.scenarios.scenario_settings import sensed_cylinder
from strokewise.daq.bench.truth import compression_deg

REST_S = 1.5  # between two runs
MOVE_DEG_S = 60.0  # by hand to where the next run begins, where that is elsewhere
LEAK_S = 0.3  # what compression is left at the end of a run leaks away in the rest
MOST_RUN_DOWN_S = 3.0  # every bench engine stands still after that, from a speed up to
MOST_RUN_DOWN_RPM = 1000.0
STILL_RPM, STILL_S = 1.0, 0.5
TDC_APART_DEG = 360.0
SPIN_UP_S = 1.2  # from rest to the speed at which the ignition is switched off


class Reel:
    """The time line of a live bench.

    Parameters
    ----------
    bench : Bench
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._round = 0
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="bench-run")
        self._now = played(bench, None)
        self._index = 0
        self._run_begins = float(self._now.time_s[0]), float(self._now.crank_deg[0])
        self._changed: Future[Stretch] | None = None
        self._next = self._prepare()

    def change(self, bench: Bench) -> None:
        """Go on with another bench: from the next cycle if the engine runs on, else at its end.

        An engine of another layout begins at once, from rest.
        """
        old, self._bench = self._bench, bench
        if (bench.engine, bench.turning) == (old.engine, old.turning):
            return
        self._changed = None
        if layout(bench.engine) == layout(old.engine):
            start_deg = self._run_begins[1]
            self._changed = self._pool.submit(played, self._seeded(self._round), start_deg)
        else:
            self._now = self._now.part(0, self._index)
        self._next.cancel()
        self._next = self._prepare()

    def advance(self, seconds: float) -> Stretch:
        """Return what happens next, at least one point and at most about ``seconds`` long."""
        self._take_over()
        if self._index >= len(self._now) - 1:
            self._now = self._after_rest()
            self._index = 0
            self._next = self._prepare()
        rate_hz = 1.0 / float(self._now.time_s[1] - self._now.time_s[0])
        end = min(self._index + max(1, round(seconds * rate_hz)), len(self._now) - 1)
        part = self._now.part(self._index, end)
        self._index = end
        return part

    @property
    def now_s(self) -> float:
        """Where the time line has got to."""
        return float(self._now.time_s[self._index])

    @property
    def now_deg(self) -> float:
        """Where the crank has got to."""
        return float(self._now.crank_deg[self._index])

    def close(self) -> None:
        """Wait for what is being computed, and let go of it."""
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _seeded(self, number: int) -> Bench:
        return replace(self._bench, seed=self._bench.seed + number)

    def _prepare(self) -> Future[Stretch]:
        """Begin to compute the run after the present one."""
        end_deg = float(self._now.crank_deg[-1])
        return self._pool.submit(played, self._seeded(self._round + 1), end_deg)

    def _after_rest(self) -> Stretch:
        """Return a rest and the next run, continuing in time and angle."""
        following = self._next.result()
        self._changed = None  # the next run is the changed bench's already
        self._round += 1
        rest = rest_between(self._now, following)
        following = following.moved(float(rest.time_s[-1]), float(rest.crank_deg[-1]))
        self._run_begins = float(following.time_s[0]), float(following.crank_deg[0])
        return join_stretches(rest, following)

    def _take_over(self) -> None:
        """Let a changed bench's run take over, if it is ready and the crank comes by the joint."""
        if self._changed is None or not self._changed.done():
            return
        new, self._changed = self._changed.result(), None
        begins_s, begins_deg = self._run_begins
        new = new.moved(begins_s, begins_deg)
        cycle = new.engine.cycle_deg
        tdc_deg = compression_deg(new.engine, sensed_cylinder(self._bench))
        joint_deg = tdc_deg + TDC_APART_DEG
        mine = crossings(self._now, joint_deg, cycle)
        mine = mine[mine > self._index]
        theirs = crossings(new, joint_deg, cycle)
        if len(mine) == 0 or len(theirs) == 0:
            return
        leave = int(mine[0])
        join = int(theirs[np.argmin(np.abs(new.time_s[theirs] - self._now.time_s[leave]))])
        first, rest = self._now.part(self._index, leave), new.part(join, len(new) - 1)
        turns_deg = round((first.crank_deg[-1] - rest.crank_deg[0]) / cycle) * cycle
        rest = rest.moved(float(first.time_s[-1]), float(rest.crank_deg[0]) + turns_deg)
        self._now = join_stretches(first, rest)
        self._index = 0
        self._next.cancel()
        self._next = self._prepare()


def layout(engine: BenchEngine) -> tuple[int, tuple[int, ...], float]:
    """Return what two engines must share for one to run on as the other."""
    return engine.cylinders, engine.firing_order, engine.cycle_deg


def played(bench: Bench, start_deg: float | None) -> Stretch:
    """Return a run of a bench from rest to rest, beginning at a crank angle where it can."""
    turning = bench.turning
    spin_up: Stretch | None = None
    if isinstance(turning, Starter):
        run_down_s = max(turning.run_down_s, MOST_RUN_DOWN_S)
        turning = replace(turning, run_down_s=run_down_s)
    elif isinstance(turning, RunDown | Held):
        rpm = turning.rpm if isinstance(turning, Held) else turning.start_rpm
        most_s = MOST_RUN_DOWN_S * max(rpm / MOST_RUN_DOWN_RPM, 1.0)
        if isinstance(turning, Held):
            turning = replace(turning, run_down_s=max(turning.run_down_s, most_s))
        else:
            turning = replace(turning, duration_s=max(turning.duration_s, most_s))
        begin_deg = start_deg if start_deg is not None else turning.start_deg or 0.0
        spin_up = _spun_up(bench, begin_deg, rpm)
        start_deg = float(spin_up.crank_deg[-1])
    elif isinstance(turning, RockedTurning) and turning.swings % 2:
        turning = replace(turning, swings=turning.swings + 1)  # end on the side it began
    if start_deg is not None and isinstance(turning, Starter | RunDown | Held | Spanner):
        turning = replace(turning, start_deg=start_deg % bench.engine.cycle_deg)
    found = Stretch.of_run(turn(replace(bench, turning=turning)))
    if isinstance(turning, Starter | RunDown | Held):
        found = until_still(found)
    if spin_up is not None:
        return join_stretches(
            spin_up, found.moved(float(spin_up.time_s[-1]), float(spin_up.crank_deg[-1]))
        )
    return found


def _spun_up(bench: Bench, begin_deg: float, rpm: float) -> Stretch:
    """Return the engine as it is brought to a speed, evenly faster and without burning.

    It ends at overlap TDC of the sensed cylinder, where its pressure is that of the air in both.
    """
    cycle = bench.engine.cycle_deg
    joint_deg = compression_deg(bench.engine, sensed_cylinder(bench)) + TDC_APART_DEG
    way_deg = 0.5 * rpm * DEG_S_PER_RPM * SPIN_UP_S
    way_deg += (joint_deg - begin_deg - way_deg) % cycle
    duration_s = way_deg / (0.5 * rpm * DEG_S_PER_RPM)
    share = np.linspace(0.0, 1.0, 60)
    turning = RecordedTurning(tuple(share * duration_s), tuple(begin_deg + way_deg * share**2))
    engine = replace(bench.engine, combustion=Combustion())
    return Stretch.of_run(simulate(engine, turning, run_rate_hz(bench.turning), bench.seed))


def until_still(stretch: Stretch) -> Stretch:
    """Return a stretch that ends soon after the crank last moved."""
    moving = np.flatnonzero(np.abs(stretch.speed_rpm) > STILL_RPM)
    if len(moving) == 0:
        return stretch
    still = np.searchsorted(stretch.time_s, stretch.time_s[moving[-1]] + STILL_S)
    return stretch.part(0, min(int(still), len(stretch) - 1))


def rest_between(before: Stretch, after: Stretch) -> Stretch:
    """Return a rest behind ``before``, and the way to where ``after`` begins."""
    cycle = after.engine.cycle_deg
    begins_deg, ends_deg = float(after.crank_deg[0]), float(before.crank_deg[-1])
    gap = float(short_way(begins_deg - ends_deg, cycle))
    step_s = float(after.time_s[1] - after.time_s[0])
    duration_s = REST_S + abs(gap) / MOVE_DEG_S
    elapsed_s = np.arange(0.0, duration_s + step_s / 2, step_s)
    share = elapsed_s / elapsed_s[-1]
    smooth = share**2 * (3.0 - 2.0 * share)
    fade = np.exp(-elapsed_s / LEAK_S)
    left = np.zeros(after.engine.cylinders)
    if layout(before.engine) == layout(after.engine):
        left = before.pressure_bar[-1] - after.pressure_bar[0]
    pressure = after.pressure_bar[0] + np.outer(fade, left)
    manifold = after.manifold_bar[0] + fade * (before.manifold_bar[-1] - after.manifold_bar[0])
    return Stretch(
        after.engine,
        before.time_s[-1] + elapsed_s,
        ends_deg + gap * smooth,
        gap * 6.0 * share * (1.0 - share) / elapsed_s[-1] / DEG_S_PER_RPM,
        pressure,
        manifold,
    )


def join_stretches(first: Stretch, second: Stretch) -> Stretch:
    """Return two stretches as one; where they meet the second's point is left out."""
    joined = end_to_end([first, second.part(1, len(second) - 1)])
    return replace(joined, engine=second.engine)


def crossings(stretch: Stretch, at_deg: float, cycle_deg: float) -> NDArray[np.intp]:
    """Return the indices at which the crank has just passed an angle of the cycle, forwards."""
    cycles = np.floor((stretch.crank_deg - at_deg) / cycle_deg)
    return np.flatnonzero(np.diff(cycles) > 0) + 1
