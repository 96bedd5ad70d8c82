"""Has the board fallen silent, and since when? The one clock for what is stale.

What was true of the crank when the last samples came is not known to be true any more once none
follow: the crank may have been turned, the clamp pulled off, the board started anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import median
from typing import Literal

from strokewise.analysis.samples import Samples

SHOWN_SILENT_S = 0.4
"""No samples for so long and the board is silent: with the time that a picture takes, the answer
has left the headline within half a second."""

SILENT_BLOCKS = 3
"""A board that sends its samples in long blocks is silent when so many of them stay away."""

BLOCKS_KEPT = 9
"""Steps between blocks whose median is the board's own."""

WHOLE_SECONDS_TO = 120
"""Longer silences are counted in minutes."""


@dataclass(frozen=True, slots=True)
class Heard:
    """When samples last came, by the clock of whoever listens.

    Attributes
    ----------
    at_s : float or None
        None before the first.
    last_us : int
        Board time of the last sample.
    steps_s : tuple of float
        Board time between the last deliveries.
    """

    at_s: float | None = None
    last_us: int = 0
    steps_s: tuple[float, ...] = ()

    def hear(self, samples: Samples, now_s: float) -> Heard:
        """Return the state after more samples of the same start of the board have come."""
        if not len(samples):
            return self
        last_us = int(samples.time_us[-1])
        steps = self.steps_s
        if self.at_s is not None and last_us > self.last_us:
            steps = (*steps, (last_us - self.last_us) * 1e-6)[-BLOCKS_KEPT:]
        return Heard(now_s, last_us, steps)

    def stay(self, now_s: float) -> Heard:
        """Return the state after something else came than samples that count."""
        return replace(self, at_s=now_s)

    @property
    def patience_s(self) -> float:
        """After so long without samples the board is silent."""
        block_s = median(self.steps_s) if self.steps_s else 0.0
        return max(SHOWN_SILENT_S, SILENT_BLOCKS * block_s)

    def silent_s(self, now_s: float) -> float | None:
        """Return for how long the board has been silent; None while it is not."""
        if self.at_s is None or now_s - self.at_s < self.patience_s:
            return None
        return now_s - self.at_s


Ending = Literal["", "restart", "encoder"]
"""What has ended the hold of the clamp that an answer belonged to."""


@dataclass(frozen=True, slots=True)
class Away:
    """The board is silent, for ``silent_s``; or it is back, and what that means is still open."""

    silent_s: float
    back: bool


def duration_words(seconds: float) -> str:
    """Return how long, in whole seconds or minutes."""
    if seconds < 1:
        return "½ s"
    if seconds < WHOLE_SECONDS_TO:
        return f"{int(seconds)} s"
    return f"{int(seconds / 60)} min"
