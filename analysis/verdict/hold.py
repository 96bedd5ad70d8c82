"""What ends an answer? The encoder that no longer follows the crank, seen before any compression.

An answer belongs to one start of the board and one hold of the clamp. While the count stands the
pressure may leak to the air outside, and move by what one count's width and a little give of the
coupling explain; a crank that turns does more than that, and then the count is no longer the
crank's. A count that moves under flat pressure is no such end: a sensor taken out looks like that,
as it does when valves are set; but from then on nothing checks the clamp.

Looked at in ticks of the board's own clock, so that nothing hangs on how the samples arrive.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.samples import IntArray

TICK_US = 20_000
"""One period of the mains at 50 Hz, so that its hum averages out; a starter turns 25° in it."""

STANDS_COUNTS = 1
"""A count that moves by no more stands: a shaft on a line flickers between two cells."""

SETTLE_S, HOSE_LAG_S = 0.1, 0.02
"""A hose and its sensor lag by no more than the second, unless more is stated, and pressure moves
on until the first, or until twice what is stated."""

TURNED_SHARE, TURNED_S, TURNS_S = 0.5, 0.1, 0.4
"""So much of its way to the air outside no charge leaks within the second, worn rings or not: what
went away from the air and came back so far was moved by a piston. Looked for so long after the
count stood: later somebody may open a valve or take the sensor out."""

STEEPEST_PER_DEG = 0.07
"""The most by which ln p changes with a degree of the crank: adiabatic air at a compression ratio
of 25 (1.4 times half the root of the clearance's share, slider crank of the usual rod)."""

GIVE_DEG = 1.0
"""A clamp's spring and a coupling's play let the crank move so far under a standing count."""

MOVED_BAR = 0.06
"""Less may be a breath of air, a finger on the hose, a count of a coarse converter."""

HOLD_NOISE_SHARE = 0.3
"""Of the scatter within a tick, what may be left in its mean: hum of 60 Hz leaves half of this."""

CREEP_BAR_S = 0.02
"""A zero that warms up creeps no faster; the slowest hand takes a compression at ten times that."""

WEATHER_BAR = 0.1
"""So far the air outside may be from what is stated: weather, and a workshop on a hill."""

REST_TICKS, REST_LEAST = 400, 100
"""Ticks of turning, some 8 s and at least 2: their lowest quarter is at the air outside as this
sensor shows it, or under it. (By hand, half of the time may go by in one compression.)"""

REST_PERCENTILE = 25.0

ENCODER_STANDS: Final = "encoder-stands"
"""Code of the warning that the pressure moves while the count stands."""


@dataclass(frozen=True, slots=True)
class Ended:
    """The moment from which the count is no longer the crank's, on the board's clock.

    Attributes
    ----------
    moved_s : float
        Pressure moved from here on while the count stood.
    stood_s : float
        Since when the count had stood.
    """

    moved_s: float
    stood_s: float


@dataclass(frozen=True, slots=True)
class Change:
    """Samples from ``at`` on belong to another hold than those before.

    ``ended`` is None where the count moved on again, and a new hold begins.
    """

    at: int
    ended: Ended | None


@dataclass(frozen=True, slots=True)
class _Stand:
    """A count that stands, between what its pressure has been since it settled, and before that
    may go by its lag."""

    low: int
    high: int
    since_us: int
    begun_bar: float
    deepest: tuple[float, int]
    peak: tuple[float, int]
    lowest_bar: float = np.inf
    highest_bar: float = -np.inf
    noise_bar: float = 0.0
    most_bar: float = np.inf
    least_bar: float = -np.inf

    @property
    def settled(self) -> bool:
        return self.highest_bar >= self.lowest_bar


class _Tick(NamedTuple):
    """What a tick's samples come to, and where the next one begins."""

    first_us: int
    last_us: int
    low: int
    high: int
    last: int
    mean_bar: float
    scatter_bar: float
    stop: int

    def stays_at(self, low: int, high: int) -> bool:
        """Return whether a count that was between two others stands on."""
        return max(self.high, high) - min(self.low, low) <= STANDS_COUNTS


def _ticks(time_us: IntArray, count: IntArray, bar: FloatArray, stops: IntArray) -> Iterator[_Tick]:
    """Yield what the samples up to each stop come to; all at once, for an hour has 180,000."""
    starts = np.concatenate([[0], stops[:-1]])
    bar, size = bar[: stops[-1]], stops - starts
    mean = np.add.reduceat(bar, starts) / size
    off = bar - np.repeat(mean, size)
    scatter = np.sqrt(np.add.reduceat(off * off, starts) / size)
    count = count[: stops[-1]]
    low, high = np.minimum.reduceat(count, starts), np.maximum.reduceat(count, starts)
    columns = (
        time_us[starts], time_us[stops - 1], low, high, count[stops - 1], mean, scatter, stops,
    )  # fmt: skip
    return map(_Tick._make, zip(*(column.tolist() for column in columns), strict=True))


class HoldWatch:
    """Follows count and pressure of one sensor through one start of the board.

    Parameters
    ----------
    cell_deg : float
        Crank degrees of one count.
    outside_bar : float
        The air outside, as stated.
    lag_s : float
        By which hose and sensor lag, where it is stated.

    Attributes
    ----------
    ended : Ended or None
        Set when a hold ends, until the count moves on, which begins another.
    """

    def __init__(self, cell_deg: float, outside_bar: float, lag_s: float = 0.0) -> None:
        self._lag_s = max(HOSE_LAG_S, lag_s)
        self._settle_us = max(SETTLE_S, 2.0 * lag_s) * 1e6
        self._factor = float(np.exp(STEEPEST_PER_DEG * (2.0 * abs(cell_deg) + GIVE_DEG)))
        self._outside_bar = outside_bar
        self._rest: deque[float] = deque(maxlen=REST_TICKS)
        self._air = (outside_bar - WEATHER_BAR, outside_bar + WEATHER_BAR)
        self._stand: _Stand | None = None
        self._moving: tuple[_Tick, float] | None = None  # the last tick, and the mean before it
        self._waiting: tuple[IntArray, IntArray, FloatArray] | None = None  # of one tick
        self.ended: Ended | None = None

    def copy(self) -> HoldWatch:
        """Return a watch that goes its own way."""
        twin = HoldWatch.__new__(HoldWatch)
        twin.__dict__.update(self.__dict__)
        twin._rest = self._rest.copy()
        return twin

    def feed(self, time_us: IntArray, count: IntArray, pressure_bar: FloatArray) -> Change | None:
        """Take the next samples, all arrays (n,), up to where a hold ends or another begins.

        Returns
        -------
        Change or None
            None where all of them were taken. Else those from ``at`` on are to be fed again.
        """
        waited = 0
        if self._waiting is not None:
            before_us, before, before_bar = self._waiting
            waited = len(before_us)
            time_us, count = np.concatenate([before_us, time_us]), np.concatenate([before, count])
            pressure_bar = np.concatenate([before_bar, pressure_bar])
        number = time_us // TICK_US
        stops = (number[1:] != number[:-1]).nonzero()[0] + 1
        whole = _ticks(time_us, count, pressure_bar, stops) if len(stops) else ()
        for tick in whole:
            ended = self.ended
            self._close(tick)
            if ended is not self.ended:
                self._waiting = None
                return Change(tick.stop - waited, self.ended)
        rest = slice(int(stops[-1]) if len(stops) else 0, None)
        self._waiting = time_us[rest], count[rest], pressure_bar[rest]
        return None

    def _close(self, tick: _Tick) -> None:
        """Judge a tick that is complete."""
        stand = self._stand
        if stand is None and self._moving is not None:
            last = self._moving[0].last
            stand = self._begun(*self._moving) if tick.stays_at(last, last) else None
        if stand is None or not tick.stays_at(stand.low, stand.high):
            before_bar = self._rest[-1] if self._rest else tick.mean_bar
            self._stand, self._moving = None, (tick, before_bar)
            self._rest.append(tick.mean_bar)
            self.ended = None
            return
        low, high = min(tick.low, stand.low), max(tick.high, stand.high)
        self._stand = replace(stand, low=low, high=high)
        if self.ended is not None:
            return
        noise_bar = HOLD_NOISE_SHARE * tick.scatter_bar
        if self._moved(self._stand, tick.mean_bar, noise_bar, tick.first_us):
            self.ended = Ended(tick.first_us * 1e-6, stand.since_us * 1e-6)

    def _moved(self, stand: _Stand, mean_bar: float, noise_bar: float, at_us: int) -> bool:
        """Return whether the pressure moves as under no crank that stands, and note where it is."""
        stood_us = at_us - stand.since_us
        if stood_us < TURNS_S * 1e6:
            if self._turned_round(stand, mean_bar, noise_bar, at_us):
                return True
            here = mean_bar, at_us
            deepest, peak = min(stand.deepest, here), max(stand.peak, here)
            self._stand = stand = replace(stand, deepest=deepest, peak=peak)
        if stood_us < self._settle_us:
            return not stand.least_bar - noise_bar <= mean_bar <= stand.most_bar + noise_bar
        return self._left(stand, mean_bar, max(noise_bar, stand.noise_bar))

    def _begun(self, tick: _Tick, before_bar: float) -> _Stand:
        """Watch a count that stands since the end of a tick; pressure goes on as it was a while."""
        count, at_us, mean_bar = tick.last, tick.last_us, tick.mean_bar
        self._air = self._outside()
        tick_s = TICK_US * 1e-6
        on_bar = (mean_bar - before_bar) / tick_s * (self._lag_s + tick_s)
        margin = MOVED_BAR + HOLD_NOISE_SHARE * tick.scatter_bar
        most = max(mean_bar + max(on_bar, 0.0), self._air[1])
        least = min(mean_bar + min(on_bar, 0.0), self._air[0])
        return _Stand(
            count,
            count,
            at_us,
            mean_bar,
            (mean_bar, at_us),
            (mean_bar, at_us),
            most_bar=self._squeezed(most) + margin,
            least_bar=self._eased(least) - margin,
        )

    def _squeezed(self, bar: float) -> float:
        """Return the highest that a count's width and the give make of a pressure.

        With a zero that is off, what is read may be under none: there is as much again over it.
        """
        return bar + abs(bar) * (self._factor - 1.0)

    def _eased(self, bar: float) -> float:
        """Return the lowest that they make of it."""
        return bar - abs(bar) * (1.0 - 1.0 / self._factor)

    def _outside(self) -> tuple[float, float]:
        """Return between what the air outside lies as this sensor shows it, once it has turned."""
        rest = self._outside_bar
        if len(self._rest) >= REST_LEAST:
            rest = float(np.percentile(self._rest, REST_PERCENTILE))
        low, high = sorted((self._outside_bar, rest))
        return low - WEATHER_BAR, high + WEATHER_BAR

    def _turned_round(self, stand: _Stand, mean_bar: float, noise_bar: float, at_us: int) -> bool:
        """Return whether the pressure went away from the air and came back, as a piston moves it.

        A sensor that lags goes one way, to where the crank stopped; and a charge leaks slowly.
        """
        margin = MOVED_BAR + noise_bar
        low, high = self._air
        (deepest, deepest_us), (peak, peak_us) = stand.deepest, stand.peak
        fell = deepest < self._eased(min(stand.begun_bar, low)) - margin
        rose = peak > self._squeezed(max(stand.begun_bar, high)) + margin
        up = fell and mean_bar - deepest > TURNED_SHARE * (low - deepest) + margin
        down = rose and peak - mean_bar > TURNED_SHARE * (peak - high) + margin
        turned_us = TURNED_S * 1e6
        return (up and at_us - deepest_us <= turned_us) or (down and at_us - peak_us <= turned_us)

    def _left(self, stand: _Stand, mean_bar: float, noise_bar: float) -> bool:
        """Return whether a settled pressure left what a standing crank explains, and narrow that.

        A coarse converter may show no noise for long, and then flicker between two steps.
        """
        if not stand.settled:
            self._stand = replace(
                stand, lowest_bar=mean_bar, highest_bar=mean_bar, noise_bar=noise_bar
            )
            return False
        margin = MOVED_BAR + noise_bar
        most = self._squeezed(max(stand.lowest_bar, self._air[1])) + margin
        least = self._eased(min(stand.highest_bar, self._air[0])) - margin
        if not least <= mean_bar <= most:
            return True
        creep = CREEP_BAR_S * TICK_US * 1e-6
        self._stand = replace(
            stand,
            lowest_bar=min(stand.lowest_bar + creep, mean_bar),
            highest_bar=max(stand.highest_bar - creep, mean_bar),
            noise_bar=noise_bar,
        )
        return False
