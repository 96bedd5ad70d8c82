"""When, how fast and how strongly does each cycle's charge burn? A Wiebe law, drawn cycle by cycle.

The burned share x = 1 − exp(−a y^(m+1)) with y the share of the burn's length gone since its start,
a = 5, and m = 2 for a spark-ignited charge: Wiebe; Heywood, Internal Combustion Engine
Fundamentals, ch. 9 (from memory). A diesel burns fastest soon after its start: m well below 2, as
one law for its two stages. The gas stays air, only hotter: fuel mass and burnt gas are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.engine.compiled import inlined

Floats = NDArray[np.float64]

#: Heat of a stoichiometric petrol charge: 44 MJ to a kilogram of fuel and 14.6 of air (Heywood,
#: app. D, from memory), J/kg.
FULL_J_KG = 44.0e6 / (1.0 + 14.6)

#: What makes y = 1 the end of the burn: 1 − exp(−5) = 99.3 % is burned there.
_WIEBE_A = 5.0
#: So many lengths after its start nothing is left to burn, whatever the shape.
_LENGTHS = 4.0

#: Columns of a drawn burn: start (degrees after the firing TDC), length (degrees), heat (J/kg).
START_DEG, LENGTH_DEG, HEAT_J_KG = 0, 1, 2

#: Cycles that are drawn; after the last one it goes on as in that one.
DRAWN_CYCLES = 2048
#: Rows before the first compression: an engine that runs at the first sample burned before it.
ROWS_BEFORE = 4
_SHORTEST_DEG = 3.0
#: Cycles burn to the end of the recording unless told otherwise.
FOR_EVER = 1_000_000


@dataclass(frozen=True, slots=True)
class Combustion:
    """How the charge burns, in every cylinder alike.

    Attributes
    ----------
    strength : float
        Heat set free by each kilogram of charge, as a share of a stoichiometric petrol charge's
        (2.8 MJ/kg); 0: the engine is only turned. The charge's residual gas counts as charge.
    start_btdc_deg, length_deg : float
        Where the burn begins, and how long it lasts to 99.3 %.
    shape : float
        The exponent m.
    start_scatter_deg, length_scatter, strength_scatter : float
        Standard deviations from cycle to cycle, the latter two as shares.
    misfires : float
        Share of the cycles that do not burn.
    first_cycle, cycles : int
        Cycles without a burn at first (2: the engine catches on its third compression), and
        cycles that burn after them, in each cylinder, until the ignition is cut.
    """

    strength: float = 0.0
    start_btdc_deg: float = 15.0
    length_deg: float = 55.0
    shape: float = 2.0
    start_scatter_deg: float = 1.5
    length_scatter: float = 0.08
    strength_scatter: float = 0.03
    misfires: float = 0.0
    first_cycle: int = 0
    cycles: int = FOR_EVER

    def __post_init__(self) -> None:
        if not 0.0 <= self.misfires <= 1.0:
            raise InputError(f"misfires must be a share from 0 to 1, not {self.misfires:g}")
        if self.length_deg < _SHORTEST_DEG or self.shape <= 0.0:
            raise InputError(
                f"a burn of {self.length_deg:g} degrees and shape {self.shape:g} cannot be: give "
                f"{_SHORTEST_DEG:g} degrees or more and a shape above 0"
            )
        wrong = [name for name in ("strength", "first_cycle", "cycles") if getattr(self, name) < 0]
        if wrong:
            raise InputError(f"{wrong[0]} of the combustion must not be negative")

    @property
    def burns(self) -> bool:
        """Anything burns at all."""
        return self.strength > 0.0 and self.cycles > 0 and self.misfires < 1.0


def drawn_burns(combustion: Combustion, cylinders: int, seed: int) -> Floats:
    """Return the burns of a run.

    Returns
    -------
    burns : (rows, cylinders, 3) array
        ``ROWS_BEFORE`` rows before a cylinder's first compression, then one for each; the columns
        are ``START_DEG``, ``LENGTH_DEG`` and ``HEAT_J_KG``.
    """
    draw = np.random.default_rng([seed, 0x6275726E])
    rows = ROWS_BEFORE + DRAWN_CYCLES
    burns = np.empty((rows, cylinders, 3))
    scatter = draw.normal(0.0, 1.0, burns.shape)
    burns[:, :, START_DEG] = (
        combustion.start_scatter_deg * scatter[:, :, 0] - combustion.start_btdc_deg
    )
    lengths = combustion.length_deg * np.exp(combustion.length_scatter * scatter[:, :, 1])
    burns[:, :, LENGTH_DEG] = np.maximum(lengths, _SHORTEST_DEG)
    strength = combustion.strength * (1.0 + combustion.strength_scatter * scatter[:, :, 2])
    fires = draw.random((rows, cylinders)) >= combustion.misfires
    cycle = np.maximum(np.arange(rows) - ROWS_BEFORE, 0)[:, None]
    lit = (cycle >= combustion.first_cycle) & (cycle < combustion.first_cycle + combustion.cycles)
    burns[:, :, HEAT_J_KG] = FULL_J_KG * np.maximum(strength, 0.0) * (fires & lit)
    return burns


@inlined
def wiebe_per_deg(since_start_deg: float, length_deg: float, shape: float) -> float:
    """Return how much of the heat is set free in each degree, so long after the start."""
    y = since_start_deg / length_deg
    if y <= 0.0 or y >= _LENGTHS:
        return 0.0
    power = y**shape
    rate: float = _WIEBE_A * (shape + 1.0) * power * exp(-_WIEBE_A * power * y) / length_deg
    return rate
