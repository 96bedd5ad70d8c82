"""What can go wrong, as a tree.

::

    StrokewiseError
    ├── InputError (ValueError)      a file, a profile or a request that cannot be used
    │   ├── ProfileError             a key or value of the engine profile
    │   ├── SaidError                what was said to a step
    │   │   └── NotStatedError       what the engine profile does not say, and a step needs
    │   └── RecordingError           a file that is not a recording
    └── PortError (OSError)          a port that cannot be opened or went away

Each carries one line for a person: what is wrong, where, and what to do.
"""

from __future__ import annotations

import re
from collections.abc import Mapping


class StrokewiseError(Exception):
    """Root of every error that a person can cause or mend.

    Examples
    --------
    >>> from strokewise.analysis import StrokewiseError
    >>> from strokewise.daq import read_recording
    >>> try:
    ...     read_recording("nowhere.swr")
    ... except StrokewiseError as error:
    ...     print(error)
    nowhere.swr: no such file; check the name and the folder
    """


class InputError(StrokewiseError, ValueError):
    """Input that cannot be used as it stands.

    Examples
    --------
    >>> from strokewise.analysis import InputError, Profile, phase_at
    >>> try:
    ...     phase_at(Profile(2, (1, 2), (360.0,)), 0.0, 0.0)
    ... except InputError as error:
    ...     print(error)
    a firing order of 2 needs 2 firing intervals, not 1
    """


class ProfileError(InputError):
    """A key or a value of the engine profile is wrong."""


class SaidError(InputError):
    """What a person said to a step cannot be used.

    Parameters
    ----------
    text : str
        One line in which ``{lead_1}`` names a field of the question, as each surface calls it.

    Examples
    --------
    >>> error = SaidError("{keyway} 3: there are two")
    >>> print(error)
    keyway 3: there are two
    >>> error.called({"keyway": "--keyway"})
    '--keyway 3: there are two'
    """

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text

    def called(self, names: Mapping[str, str]) -> str:
        """Return the line with every field called as a surface calls it."""
        return re.sub(r"\{(\w+)\}", lambda m: names.get(m[1], m[1].replace("_", " ")), self.text)

    def __str__(self) -> str:
        return self.called({})


class NotStatedError(SaidError):
    """The engine profile does not say what a step needs.

    Parameters
    ----------
    text : str
        As of :class:`SaidError`.
    keys : tuple of str
        The keys of the profile that are missing.
    instead : str
        The field of the question that may be said instead; empty where there is none.

    Examples
    --------
    >>> error = NotStatedError("pulley.radius is missing", ("pulley.radius",))
    >>> error.keys
    ('pulley.radius',)
    """

    def __init__(self, text: str, keys: tuple[str, ...], instead: str = "") -> None:
        super().__init__(text)
        self.keys, self.instead = keys, instead


class RecordingError(InputError):
    """A file is not a recording, or holds nothing that can be read."""


class PortError(StrokewiseError, OSError):
    """A port cannot be opened, or went away while it was read."""
