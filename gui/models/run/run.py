"""What do live runs and replays share? The profile that counts, and the newest snapshot."""

from __future__ import annotations

import threading
from collections.abc import Callable

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Board
from strokewise.daq.profile.known import KnownEngine
from strokewise.gui.models.run.snapshot import Snapshot

MakeProfile = Callable[[Board | None], Profile | KnownEngine]
"""Gives the profile that counts once a board has said what it is; None before it has. A bare
profile has nothing that a person must know about how it came about."""


def known(made: Profile | KnownEngine) -> KnownEngine:
    """Return a profile with its notices."""
    return made if isinstance(made, KnownEngine) else KnownEngine(made)


class Newest:
    """Holds the newest snapshot, and calls whoever wants to know once for each that was looked at.

    A view that is slow to look is not called a second time: it then sees the newest anyway.
    """

    def __init__(self, first: Snapshot) -> None:
        self._lock = threading.Lock()
        self._snapshot = first
        self._told = False
        self.on_news: Callable[[], None] | None = None

    def put(self, snapshot: Snapshot) -> None:
        """Replace the snapshot; from the run's thread."""
        with self._lock:
            self._snapshot = snapshot
            tell = not self._told
            self._told = True
        if tell and self.on_news is not None:
            self.on_news()

    def look(self) -> Snapshot:
        """Return the newest, and be called again for the next one."""
        with self._lock:
            self._told = False
            return self._snapshot

    @property
    def peek(self) -> Snapshot:
        """The newest, without being called again for the next."""
        with self._lock:
            return self._snapshot
