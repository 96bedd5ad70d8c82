"""How does it sound? Plays the tone of the turn guide, or says why there is silence."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

from strokewise.gui.models.turn.tone import SAMPLE_RATE_HZ, SILENCE, Tone, ToneStream

BUFFER_MS = 40
"""Two beeps at the fastest are 100 ms apart: shorter than that, or the ear steers too late."""


class Speaker:
    """Off until :meth:`switch_on`; what cannot sound stays silent and says so.

    Parameters
    ----------
    backends : list, optional
        Of miniaudio, for tests: its null device plays to nobody.
    """

    def __init__(self, backends: list[Any] | None = None) -> None:
        self._stream = ToneStream()
        self._backends = backends
        self._device: Any = None
        self.why_silent = ""

    @property
    def on(self) -> bool:
        """True while tones are heard."""
        return self._device is not None

    def play(self, tone: Tone) -> None:
        """Let this tone sound from now on."""
        self._stream.tone = tone

    def switch_on(self) -> bool:
        """Open the sound device; False when there is none, and ``why_silent`` says why."""
        if self.on:
            return True
        try:
            import miniaudio
        except ImportError:
            self.why_silent = "no sound: the package miniaudio is not installed"
            return False
        try:
            device = miniaudio.PlaybackDevice(
                output_format=miniaudio.SampleFormat.SIGNED16,
                nchannels=1,
                sample_rate=SAMPLE_RATE_HZ,
                buffersize_msec=BUFFER_MS,
                backends=self._backends,
            )
            playing = self._samples()
            next(playing)
            device.start(playing)
        except miniaudio.MiniaudioError:
            self.why_silent = "no sound: this computer has no sound device that can be opened"
            return False
        self._device, self.why_silent = device, ""
        return True

    def switch_off(self) -> None:
        """Let go of the sound device."""
        if self._device is not None:
            device, self._device = self._device, None
            device.close()
        self._stream.tone = SILENCE

    def _samples(self) -> Generator[bytes, int, None]:
        wanted = yield b""
        while True:
            wanted = yield self._stream.samples(wanted).tobytes()
