"""By how much is TDC off because a real cylinder is not quite the model? A sigma, by experience."""

from __future__ import annotations

from dataclasses import dataclass, replace

SOUND_COST = 0.7
"""A fit whose residuals are no larger shows no mismatch of its own."""

LOSS_TOLD_DEG = 3.0
"""Past this loss angle, as by hand, the trace tells the losses' shape itself."""


@dataclass(frozen=True, slots=True)
class Mismatch:
    """What TDC is off by because a real cylinder is not quite the model, as a sigma.

    Set on bench engines with other correlations of heat loss than the model's, and on a second
    physics: heat by any power of pressure and speed, films, crevices and rings of its own.

    Attributes
    ----------
    floor_deg : float
        No answer is surer than this.
    per_loss : float
        For each degree of loss angle: losses are never quite the model's shape.
    per_cost : float
        How that grows with the residuals beyond those of a sound fit.
    unseen : float
        For each degree of loss angle up to ``LOSS_TOLD_DEG``, where losses of another shape leave
        no residuals: turned by a starter a second physics moved TDC by 0.3° so.
    """

    floor_deg: float
    per_loss: float
    per_cost: float
    unseen: float = 0.0

    def sigma_deg(self, lost_deg: float, cost: float) -> float:
        """Return the sigma for a loss angle and the fit's cost."""
        grown = 1.0 + self.per_cost * max(cost - SOUND_COST, 0.0)
        unseen_deg = self.unseen * min(lost_deg, LOSS_TOLD_DEG)
        return self.floor_deg + unseen_deg + self.per_loss * lost_deg * grown


ONE_WAY = Mismatch(0.05, 0.010, 2.0, unseen=0.09)
RUNNING_DOWN = replace(ONE_WAY, floor_deg=0.13)
"""Speeds that tell what a hose delays from TDC tell it from losses as well, and those go with speed
by another power than the model's: of 67 engines of the second physics (780000 to 780029, 781000 to
781039) the interval held 59 without."""
BOTH_WAYS = Mismatch(0.016, 0.0006, 1.0)
"""Passes of both directions mirror the losses away, but for what is uneven in them. A clamp's play
of some 0.02° is in it; more moves the middle by half of itself, and no pressure shows it. So does a
smooth error of pressure of some thousandths of the rise, alike both ways: with a floor of 0.01°
27 of 40 engines with one held TDC (775000 to 775039)."""
