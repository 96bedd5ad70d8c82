"""What should be heard while turning? Faster as the target nears, steady on it.

The stream computes the sound itself, phase by phase, so that a beep never clicks and a change of
rate is heard at once. What plays it is none of its business.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strokewise.gui.models.turn.guide import Guidance

SAMPLE_RATE_HZ = 22_050
AUDIBLE_FROM_DEG = 90.0
"""Further away a beep would only tire the ear."""
SLOWEST_S = 1.0
FASTEST_S = 0.10
"""Ten beeps a second are the most that an ear still counts as beeps."""
BEEP_S = 0.05
FAR_HZ = 660.0
THERE_HZ = 880.0
PAST_HZ = 220.0
LOUDNESS = 0.35
EDGE_S = 0.004
"""Rise and fall of a beep: shorter than this it clicks."""


@dataclass(frozen=True, slots=True)
class Tone:
    """A tone that comes on every ``every_s`` for ``on_s`` seconds; 0 Hz is silence."""

    pitch_hz: float
    every_s: float
    on_s: float

    @property
    def steady(self) -> bool:
        """True where the tone never stops."""
        return self.pitch_hz > 0 and self.on_s >= self.every_s


SILENCE = Tone(0.0, 1.0, 0.0)


def tone_for(guidance: Guidance) -> Tone:
    """Return what to play for what the guide says."""
    match guidance.phase:
        case "there":
            return Tone(THERE_HZ, 1.0, 1.0)
        case "go back" | "past":
            return Tone(PAST_HZ, 0.5, 0.25)
        case "turn on" | "slowly" | "go round":
            remaining = guidance.remaining_deg
            if remaining is None or remaining > AUDIBLE_FROM_DEG:
                return SILENCE
            share = max(remaining, 0.0) / AUDIBLE_FROM_DEG
            # The ear hears ratios: equal steps of angle near the target count for more.
            every = FASTEST_S * (SLOWEST_S / FASTEST_S) ** share
            return Tone(FAR_HZ, every, BEEP_S)
        case _:
            return SILENCE


class ToneStream:
    """Gives the next samples of the present tone, without a seam."""

    def __init__(self, sample_rate_hz: int = SAMPLE_RATE_HZ) -> None:
        self.tone = SILENCE
        self._rate = sample_rate_hz
        self._phase = 0.0
        self._since_beep_s = 0.0
        self._level = 0.0

    def samples(self, n: int) -> NDArray[np.int16]:
        """Return the next ``n`` samples, mono, 16 bit."""
        tone = self.tone
        step = 1.0 / self._rate
        since = self._since_beep_s + step * np.arange(1, n + 1)
        on = (since % tone.every_s) < tone.on_s if tone.pitch_hz > 0 else np.zeros(n, bool)
        level = self._smoothed(on.astype(float))
        phase = self._phase + 2 * np.pi * max(tone.pitch_hz, 1.0) * step * np.arange(1, n + 1)
        self._since_beep_s = float(since[-1] % tone.every_s) if n else self._since_beep_s
        self._phase = float(phase[-1] % (2 * np.pi)) if n else self._phase
        wave = np.sin(phase) * level * LOUDNESS * np.iinfo(np.int16).max
        return np.asarray(wave, np.int16)

    def _smoothed(self, wanted: NDArray[np.float64]) -> NDArray[np.float64]:
        """Let the level follow what is wanted, no faster than ``EDGE_S`` from nothing to full."""
        most = 1.0 / (EDGE_S * self._rate)
        out = np.empty_like(wanted)
        level = self._level
        for i, target in enumerate(wanted):
            level += min(max(target - level, -most), most)
            out[i] = level
        self._level = level
        return out
