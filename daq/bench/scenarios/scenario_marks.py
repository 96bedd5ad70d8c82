"""How does a person bring a timing mark to its pointer by hand, and say so with a key?

Each time the crank is turned on briskly, the last degrees are crept from the same side, and the key
is pressed while it stands still. Nobody stops on the line exactly.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import RecordedTurning
from strokewise.daq.bench.parameters import BenchParameter
from strokewise.daq.bench.rig.rig import KeyPress
from strokewise.daq.profile.quantity import ANGLE

MARK_NAME = "pulley notch"
TIMES = 5
STOPS_WITHIN_DEG = 0.3  # standard deviation of where a careful person stops
BRISK_DEG_S, MARK_CREEP_DEG_S, MARK_CREEP_DEG = 150.0, 15.0, 10.0
MARK_HOLD_S, PRESS_AFTER_S, PRESS_SCATTER_S = 1.0, 0.5, 0.1
MARK_LEAD_S, MARK_LEAD_DEG = 0.5, 200.0


def marks_by_key(bench: Bench, late_deg: float = 0.0) -> Bench:
    """Return the bench with the mark brought to its pointer several times, without a pickup.

    Parameters
    ----------
    late_deg : float
        How far past TDC of cylinder 1 the mark meets its pointer.
    """
    rng = np.random.default_rng((bench.seed, 0x6D61726B))
    stops_deg = late_deg + rng.normal(0.0, STOPS_WITHIN_DEG, TIMES)
    times, angles = [0.0, MARK_LEAD_S], [late_deg - MARK_LEAD_DEG] * 2
    presses = []
    for turn, stop_deg in enumerate(stops_deg.tolist()):
        there = 360.0 * turn + stop_deg
        brisk = there - MARK_CREEP_DEG - angles[-1]
        times.append(times[-1] + brisk / BRISK_DEG_S)
        angles.append(there - MARK_CREEP_DEG)
        times.append(times[-1] + MARK_CREEP_DEG / MARK_CREEP_DEG_S)
        angles.append(there)
        pressed_s = times[-1] + PRESS_AFTER_S + float(rng.normal(0.0, PRESS_SCATTER_S))
        presses.append(
            KeyPress(MARK_NAME, late_deg, at_time_s=pressed_s, reaction_s=0.0, scatter_s=0.0)
        )
        times.append(times[-1] + MARK_HOLD_S)
        angles.append(there)
    times.append(times[-1] + MARK_LEAD_DEG / BRISK_DEG_S)
    angles.append(angles[-1] + MARK_LEAD_DEG)
    return replace(
        bench,
        turning=RecordedTurning(tuple(times), tuple(angles)),
        rig=replace(bench.rig, marks=(), presses=tuple(presses)),
    )


def pressed_mark(bench: Bench) -> bool:
    """Tell whether a person presses a key for a mark."""
    return any(press.name == MARK_NAME for press in bench.rig.presses)


MARK_SETTINGS: tuple[BenchParameter, ...] = (
    BenchParameter(
        "mark_late",
        "how far past TDC of cylinder 1 the mark meets its pointer",
        lambda bench: bench.rig.presses[0].at_deg,
        marks_by_key,
        ANGLE,
        low=-60,
        high=60,
        fault=True,
        fits=pressed_mark,
    ),
)
