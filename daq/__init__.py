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

from importlib import import_module
from typing import TYPE_CHECKING, Any

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

_HOMES = {
    "read_with_profile": "known_recording",
    "known_of": "known_recording",
    "read_recording": "recording.read",
    "DEFAULTS": "profile.known",
    "KnownEngine": "profile.known",
    "known_engine": "profile.known",
    "profile_to_toml": "profile.write",
    "write_profile": "profile.write",
}
"""Where each public name lives."""


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for: importing the room stays light."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__package__}.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
