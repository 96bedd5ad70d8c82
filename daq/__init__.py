"""Bytes to samples: wire format, recordings, sources, the engine profile, the bench engine.

What a notebook needs stands here by name and is loaded when first used. :func:`read_with_profile`
is the way in: from a path to a recording and to all that is known of its engine, the same that the
command line works with. Below it, each sub-package's docstring is its guide:

================  =================================================================================
``wire``          bytes of a board to frames and samples, and back
``recording``     the container that keeps the very bytes of a port, and what a person noted
``profile``       what is known of engine and rig: TOML with units, in layers, checked
``bench``         a simulated engine and rig with known truth, which everything is held against
================  =================================================================================

Examples
--------
>>> from strokewise.daq import read_with_profile
>>> bench = read_with_profile("recordings/rocked.swr", settings=["turning_back=allowed"])
>>> bench.recording.health.samples == sum(len(s.samples) for s in bench.recording.segments)
True
>>> bench.profile.sensors[0].cylinder
1
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.public import loaded_when_used

if TYPE_CHECKING:
    from strokewise.daq.known_recording import known_of, read_with_profile
    from strokewise.daq.profile.known import DEFAULTS, KnownEngine, known_engine
    from strokewise.daq.profile.write import profile_to_toml, write_profile
    from strokewise.daq.recording.read import read_recording

__all__ = [
    "DEFAULTS",
    "KnownEngine",
    "known_engine",
    "known_of",
    "profile_to_toml",
    "read_recording",
    "read_with_profile",
    "write_profile",
]

__getattr__, __dir__ = loaded_when_used(
    __name__,
    {
        "known_recording": (
            "read_with_profile",
            "known_of",
        ),
        "recording.read": ("read_recording",),
        "profile.known": (
            "DEFAULTS",
            "KnownEngine",
            "known_engine",
        ),
        "profile.write": (
            "profile_to_toml",
            "write_profile",
        ),
    },
)
