"""What would a perfect ``find`` answer about a simulated recording?"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.angle import short_way
from strokewise.daq.bench.bench import Bench, Take
from strokewise.daq.bench.engine.burn import HEAT_J_KG
from strokewise.daq.bench.engine.constants import constants_of, with_burns
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import BenchEngine
from strokewise.daq.bench.rig.board import BoardModel, Boot
from strokewise.daq.bench.rig.encoder_model import shaft_deg
from strokewise.daq.bench.scenarios.scenario_marks import MARK_NAME, pressed_mark

HALF_TURN_OF_CAM_DEG = 360.0
TRUTH_NEAR_DEG = 90.0  # half a cycle away the sign changes too


def truth(take: Take) -> dict[str, Any]:
    """Return the truth of a take, with the keys of ``find``'s answer.

    Angles are what the encoder shows, at the end of the recording and turned the engine's own way,
    when the crank really stands there: eccentricity, slips and false counts so far are in them.
    ``"truth"`` holds what ``find`` does not answer.
    """
    bench, run, board = take.bench, take.run, take.board
    engine = bench.engine
    frame = Frame(board, float(run.crank_deg[-1]), engine.cycle_deg)
    sensor = bench.rig.sensors[0]
    sensed = sensor.cylinder if sensor.place == "plug hole" else 1
    firing = firing_deg(engine, frame)
    tdc = firing[sensed] % 360.0
    answer: dict[str, Any] = {
        "decided": True,
        "reason": "the truth of a simulated recording",
        "warnings": [],
        "tdc": {
            "angle": round(tdc, 4),
            "low": round(tdc, 4),
            "high": round(tdc, 4),
            "cylinder": sensed,
            "method": "truth",
        },
        "firing": {str(cylinder): round(angle, 4) for cylinder, angle in firing.items()},
        "phase": {
            "probability": 1.0,
            "candidates": [{"firing_1": round(firing[1], 4), "probability": 1.0}],
        },
    }
    if bench.rig.encoder.index:
        after = frame.angle_deg(compression_deg(engine, sensed)) - frame.index_deg()
        answer["tdc"]["after_index"] = round(after % frame.index_period_deg, 4)
    peaks, burned = peaks_bar(run, sensed), burned_passes(run, sensed)
    answer["tdc"]["passes"] = len(peaks)
    motored = [peak for peak, lit in zip(peaks, burned, strict=True) if not lit]
    if motored:
        peak = float(np.median(motored))
        gauge = peak - engine.atmosphere.pressure_bar
        answer["compression"] = {
            "peak": f"{peak:.2f} bar",
            "peak_gauge": f"{gauge:.2f} bar",
            "passes": len(motored),
        }
    answer["truth"] = _beside(bench, frame, board)
    if any(burned):
        answer["truth"]["burned"] = burned  # of each compression passed
    return answer


class Frame:
    """The encoder frame of a moment: from true crank degrees to what the encoder shows.

    Parameters
    ----------
    board : BoardModel
        As it stands at that moment.
    near_deg : float
        Where the crank truly stands then.
    """

    def __init__(self, board: BoardModel, near_deg: float, cycle_deg: float) -> None:
        self._rig = board.encoder.rig
        self._boot: Boot = board.boots[-1]
        self.slipped_deg = sum(slip.by_deg for slip, _ in board.encoder.slips_begun)
        self.false_counts = int(board.encoder.false_counts_now)
        self._near_deg = near_deg
        self._cycle_deg = cycle_deg

    @property
    def index_period_deg(self) -> float:
        """Crank degrees from one index to the next."""
        return 360.0 / self._rig.drive_ratio

    def angle_deg(self, crank_deg: float) -> float:
        """Return what the encoder shows at a crank angle of the cycle, near the end of the run."""
        cycles = round((self._near_deg - crank_deg) / self._cycle_deg)
        crank = crank_deg + cycles * self._cycle_deg
        shaft = float(shaft_deg(crank - self.slipped_deg, self._rig))
        lines = self._rig.direction * shaft * self._rig.counts_per_rev / 360.0
        return self._of_count(lines)

    def index_deg(self) -> float:
        """Return the encoder's angle at one of its index edges, met turning the right way."""
        forwards = self._rig.direction > 0
        return self._of_count(0.0 if forwards else self._rig.index_width_counts)

    def _of_count(self, lines: float) -> float:
        count = lines + self.false_counts - (self._boot.cleared or 0)
        per_turn = self._rig.counts_per_rev * self._rig.drive_ratio
        return count * 360.0 * self._rig.direction / per_turn


def firing_deg(engine: BenchEngine, frame: Frame) -> dict[int, float]:
    """Return where the encoder stands at the firing TDC of each cylinder, in [0, cycle)."""
    return {
        cylinder: frame.angle_deg(compression_deg(engine, cylinder)) % engine.cycle_deg
        for cylinder in sorted(engine.firing_order)
    }


def compression_deg(engine: BenchEngine, cylinder: int) -> float:
    """Return the crank angle of a cylinder's compression TDC, in [0, cycle).

    Compression follows the cam: with the cam half a turn out it comes a turn of the crank later.
    """
    half_turns = round(engine.intake_shift_deg / HALF_TURN_OF_CAM_DEG)
    return (engine.firing_deg(cylinder) + half_turns * HALF_TURN_OF_CAM_DEG) % engine.cycle_deg


def peaks_bar(run: EngineRun, cylinder: int) -> list[float]:
    """Return the true highest pressure of each pass through a cylinder's compression TDC, bar.

    A pass goes through TDC in either direction; it reaches to where the crank was farthest from
    TDC before the next.
    """
    within, crossed = _passes(run, cylinder)
    if len(crossed) == 0:
        return []
    between = [
        int(begin + np.argmax(np.abs(within[begin:end]))) for begin, end in pairwise(crossed)
    ]
    bounds = [0, *between, len(within)]
    pressure = run.pressure_bar[:, cylinder - 1]
    return [float(pressure[begin:end].max()) for begin, end in pairwise(bounds)]


def burned_passes(run: EngineRun, cylinder: int) -> list[bool]:
    """Return of each pass through a cylinder's compression TDC whether its charge burned."""
    _, crossed = _passes(run, cylinder)
    k = with_burns(
        constants_of(run.engine), run.engine, run.turning, np.radians(run.crank_deg[0]), run.seed
    )
    if not k.burns:
        return [False] * len(crossed)
    from_firing = run.crank_deg[crossed] - run.engine.firing_deg(cylinder)
    cycles = np.round(from_firing / run.engine.cycle_deg).astype(int)
    rows = np.clip(cycles - k.burn_first[cylinder - 1], 0, len(k.burn_table) - 1)
    forwards = run.speed_rpm[crossed] > 0.0
    lit = k.burn_table[rows, cylinder - 1, HEAT_J_KG] > 0.0
    return [bool(burned) for burned in forwards & lit]


def _passes(run: EngineRun, cylinder: int) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return how far the crank is from compression TDC, and where it has just gone through it."""
    cycle = run.engine.cycle_deg
    from_tdc = run.crank_deg - compression_deg(run.engine, cylinder)
    within = short_way(from_tdc, cycle)
    side = within >= 0
    return within, np.flatnonzero(
        (side[1:] != side[:-1]) & (np.abs(within[1:]) < TRUTH_NEAR_DEG)
    ) + 1


def _beside(bench: Bench, frame: Frame, board: BoardModel) -> dict[str, Any]:
    engine, rig = bench.engine, bench.rig
    beside: dict[str, Any] = {
        "seed": bench.seed,
        "compression_ratio": engine.compression_ratio,
        "ring_leak_mm2": list(engine.ring_leaks_mm2),
        "response_time_s": [sensor.lag_s for sensor in rig.sensors],
        # A count speaks of a moment before its sample, a reading of one after it.
        "reading_after_angle_s": round(rig.sensors[0].delay_s + rig.encoder.delay_s, 9),
        "cam": {
            "shift_intake_deg": engine.intake_shift_deg,
            "shift_exhaust_deg": engine.exhaust_shift_deg,
        },
        "marks": [
            {
                "name": name,
                "input": number,
                "after_tdc_deg": round(float(short_way(at_deg, 360.0)), 4),
                "crank_deg": round(at_deg % 720.0, 4),
                "angle": round(frame.angle_deg(at_deg) % engine.cycle_deg, 4),
            }
            for name, number, at_deg in _marks(bench)
        ],
        "slips": [
            {"time_s": round(begins_s, 4), "by_deg": slip.by_deg}
            for slip, begins_s in board.encoder.slips_begun
        ],
        "false_counts": frame.false_counts,
        "board_starts": len(board.boots),
    }
    return beside


def _marks(bench: Bench) -> list[tuple[str, int | None, float]]:
    """Return name, input and crank angle of every mark, one pressed on the screen too."""
    marks: list[tuple[str, int | None, float]] = [
        (mark.name, mark.input, mark.at_deg) for mark in bench.rig.marks
    ]
    if pressed_mark(bench):
        marks.append((MARK_NAME, None, bench.rig.presses[0].at_deg))
    return marks
