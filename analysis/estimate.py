"""How sure are we? A value never travels without its interval."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with its 95 % interval, ``low <= value <= high``, all in one unit.

    Angles are not wrapped, so an interval may reach below 0 or beyond a turn.

    Examples
    --------
    >>> tdc = Interval.from_sigma(81.5, 0.1)
    >>> round(tdc.half_width, 3), round(tdc.shifted(360).value, 1)
    (0.196, 441.5)

    Raises
    ------
    ValueError
        The three are out of order.
    """

    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"interval out of order: {self.low} <= {self.value} <= {self.high}")

    @classmethod
    def from_sigma(cls, value: float, sigma: float) -> Interval:
        """Return the interval of a normal posterior with standard deviation ``sigma``."""
        half = Z_95 * abs(sigma)
        return cls(value, value - half, value + half)

    @property
    def half_width(self) -> float:
        """Half the distance from low to high, the ± of a printed answer."""
        return (self.high - self.low) / 2

    def shifted(self, by: float) -> Interval:
        """Return the same interval moved by a known amount."""
        return Interval(self.value + by, self.low + by, self.high + by)

    def widened(self, factor: float) -> Interval:
        """Return the interval with both ends so many times as far from the value."""
        low, high = (self.value + factor * (end - self.value) for end in (self.low, self.high))
        return Interval(self.value, low, high)

    def holding(self, other: Interval) -> Interval:
        """Return the interval of the same value that holds another one, too."""
        return Interval(self.value, min(self.low, other.low), max(self.high, other.high))

    def scaled(self, factor: float) -> Interval:
        """Return the interval in another unit; a negative factor swaps the ends."""
        ends = sorted((self.low * factor, self.high * factor))
        return Interval(self.value * factor, *ends)


Z_95 = 1.959964  # two-sided 95 % point of the normal distribution
TAILS_95 = (0.025, 0.975)
"""Between these shares of any distribution lies its 95 % interval."""

SIGMA_OF_MEDIAN_SIZE = 1.4826
"""Sigma of normal scatter over the median of its absolute values."""

WIDTH_OVER_SIGMA = 12.0**0.5
"""Width over sigma of what lies anywhere in a cell, each place as likely."""
