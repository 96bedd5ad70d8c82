"""What can go wrong, as a tree.

::

    StrokewiseError
    ├── InputError (ValueError)      a file, a profile or a request that cannot be used
    │   ├── ProfileError             a key or value of the engine profile
    │   └── RecordingError           a file that is not a recording
    └── PortError (OSError)          a port that cannot be opened or went away

Each carries one line for a person: what is wrong, where, and what to do.
"""


class StrokewiseError(Exception):
    """Root of every error that a person can cause or mend."""


class InputError(StrokewiseError, ValueError):
    """Input that cannot be used as it stands."""


class ProfileError(InputError):
    """A key or a value of the engine profile is wrong."""


class RecordingError(InputError):
    """A file is not a recording, or holds nothing that can be read."""


class PortError(StrokewiseError, OSError):
    """A port cannot be opened, or went away while it was read."""
