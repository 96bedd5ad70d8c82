"""What does a recording hold, and what is known of its engine? One call from a path to both.

What a person says goes before the profile inside the recording, and that before what the board says
of itself in its hello; the command line, the job, the sheet and a notebook all come through here.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from strokewise.analysis.errors import ProfileError
from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Recording
from strokewise.analysis.trace.check import Recorded
from strokewise.daq.profile.known import KnownEngine, known_engine
from strokewise.daq.profile.layers import Layer
from strokewise.daq.recording.read import read_recording


def read_with_profile(
    path: str | os.PathLike[str],
    *,
    engine: Path | str | Layer | None = None,
    settings: Iterable[str] = (),
) -> Recorded:
    """Read a recording with all that is known of its engine and rig.

    Parameters
    ----------
    path : path
        A recording (``.swr``), or the bare bytes of a port saved by another program.
    engine : path or Layer, optional
        An engine profile (TOML), which goes before the recording's own.
    settings : iterable of str, optional
        ``KEY=VALUE`` with units as in a profile, before every other source.

    Returns
    -------
    Recorded
        ``recording`` holds raw integers, in a segment for each start of the board; ``profile`` is
        checked and complete, in mm, degrees, bar and seconds as its names say; ``notices`` tell
        where sources disagree and what nobody said.

    Raises
    ------
    RecordingError
        The file cannot be read, is empty, or is no recording.
    ProfileError
        One line that names source, line, key and value, what is wrong and the right form.

    Examples
    --------
    >>> from strokewise.daq import read_with_profile
    >>> bench = read_with_profile("recordings/cranked.swr", settings=["sensor.cylinder=3"])
    >>> bench.profile.firing_order, bench.profile.encoder.counts_per_rev
    ((1, 3, 4, 2), 2400)
    >>> len(bench.recording.segments[0].samples)
    4001
    >>> [notice.code for notice in bench.notices]
    []
    """
    recording = read_recording(path)
    known = known_of(recording, engine=engine, settings=settings)
    return Recorded(str(path), recording, known.profile, known.notices)


def known_of(
    recording: Recording,
    *,
    engine: Path | str | Layer | None = None,
    settings: Iterable[str] = (),
) -> KnownEngine:
    """Return what a person, a recording and the board in it say of the engine and the rig.

    Parameters are those of :func:`read_with_profile`. Of several starts of the board the last one
    that said anything of itself counts.

    Raises
    ------
    ProfileError
        As :func:`read_with_profile`; also where a sensor is on a reading that no sample has.

    Examples
    --------
    >>> from strokewise.daq import known_of, read_recording
    >>> rocked = read_recording("recordings/rocked.swr")
    >>> known_of(rocked, settings=["bore=3 1/4 in"]).profile.bore_mm
    82.55
    """
    boards = [segment.board for segment in recording.segments if segment.board is not None]
    known = known_engine(
        overrides=settings,
        engine=engine,
        header=recording.header,
        board=boards[-1] if boards else None,
    )
    _refuse_absent_channels(known.profile, recording)
    return known


def _refuse_absent_channels(profile: Profile, recording: Recording) -> None:
    """A sensor on a reading that no sample has would be answered as if nothing was measured."""
    held = [s.samples.readings.shape[1] for s in recording.segments if len(s.samples)]
    for sensor in profile.sensors:
        if held and sensor.channel >= max(held):
            last = max(held) - 1
            raise ProfileError(
                f"sensor.channel = {sensor.channel}: the samples of this recording end at channel "
                f"{last}; say --set sensor.channel={last}, or name the sensor's own channel"
            )
