"""Which stretch of the bench's time line comes next? Cut from runs, and joined without a jump.

A recording is one stretch; a live bench is stretch after stretch for ever. Each begins at the
moment and the crank angle at which the one before ended.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.columns import rows_of
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import BenchEngine

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """True motion and pressures from one moment to another.

    Attributes
    ----------
    time_s : (n,) array
        On the bench's own clock, rising; the first is the last of the stretch before.
    crank_deg, speed_rpm, manifold_bar : (n,) arrays
    pressure_bar : (n, cylinders) array
        Absolute.
    """

    engine: BenchEngine
    time_s: FloatArray
    crank_deg: FloatArray
    speed_rpm: FloatArray
    pressure_bar: FloatArray
    manifold_bar: FloatArray

    def __len__(self) -> int:
        return len(self.time_s)

    @classmethod
    def of_run(cls, run: EngineRun) -> Stretch:
        """Return a whole run."""
        return cls(
            run.engine,
            run.time_s,
            run.crank_deg,
            run.speed_rpm,
            run.pressure_bar,
            run.manifold_bar,
        )

    def part(self, begin: int, end: int) -> Stretch:
        """Return the points from index ``begin`` up to and with ``end``."""
        return rows_of(self, slice(begin, end + 1))

    def moved(self, time_s: float, crank_deg: float) -> Stretch:
        """Return the same stretch, beginning at another moment and crank angle."""
        return replace(
            self,
            time_s=self.time_s + (time_s - self.time_s[0]),
            crank_deg=self.crank_deg + (crank_deg - self.crank_deg[0]),
        )
