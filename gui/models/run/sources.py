"""Which run belongs to what a person named? A port or a file, to one kind of run."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from strokewise.analysis.samples import Board
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.profile.known import KnownEngine, known_engine
from strokewise.daq.profile.layers import table_said
from strokewise.daq.recording.read import open_recording
from strokewise.daq.same_port import SamePort
from strokewise.daq.sources import BAUD, Source
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.run import MakeProfile

LARGE_BYTES = 4_000_000
"""A file this large takes longer to read than a person waits without a sign."""


def size_of(path: str | os.PathLike[str]) -> int:
    """Return how large a file is; 0 where nobody can tell: reading it will say why."""
    try:
        return os.path.getsize(path)
    except OSError:
        return 0


def is_recording(name: str) -> bool:
    """Tell a recording from a port by what is there under the name."""
    return Path(name).is_file()


def profile_maker(
    *, engine: str | None = None, settings: Iterable[str] = (), header: dict[str, Any] | None = None
) -> MakeProfile:
    """Return what gives the profile that counts, once the board has been heard or before.

    Raises
    ------
    ProfileError
        When what is known already cannot be used: said now, not when the engine turns.
    """
    said = tuple(settings)

    def make(board: Board | None) -> KnownEngine:
        return known_engine(overrides=said, engine=engine, header=header, board=board)

    make(None)
    return make


def reading_words(path: str | os.PathLike[str]) -> str:
    """Return what is said while a large recording is read."""
    return f"Reading {Path(path).name}, {size_of(path) / 1e6:.0f} MB"


def open_replay(
    path: str | os.PathLike[str],
    *,
    engine: str | None = None,
    settings: Iterable[str] = (),
    playing: bool = True,
    going: Callable[[float], object] | None = None,
) -> ReplayRun:
    """Return a replay of a recording, not yet started.

    Parameters
    ----------
    going : callable, optional
        Told the share of the file that has been taken apart, 0 to 1; whoever raises in it stops.

    Raises
    ------
    RecordingError, ProfileError
    """
    run = ReplayRun(open_deck(path, engine=engine, settings=settings, going=going), playing=playing)
    run.file = Path(path)
    return run


def open_deck(
    path: str | os.PathLike[str],
    *,
    engine: str | None = None,
    settings: Iterable[str] = (),
    going: Callable[[float], object] | None = None,
) -> Deck:
    """Return the deck of a recording.

    Raises
    ------
    RecordingError, ProfileError
    """
    contents = open_recording(path, going)
    make_profile = profile_maker(engine=engine, settings=settings, header=contents.header)
    simulated = bool(contents.header.get("simulated"))
    name = Path(path).name
    return Deck(contents.items, make_profile, Tracker, name=name, simulated=simulated)


def open_live(
    port: str,
    *,
    baud: int = BAUD,
    engine: str | None = None,
    settings: Iterable[str] = (),
    suspect: bool = False,
    at_once: bool = False,
) -> LiveRun:
    """Return a live run of a port, not yet started; a port that is not there is waited for.

    Parameters
    ----------
    at_once : bool
        Do not wait for the port, but open it here.

    Raises
    ------
    ProfileError
    PortError
        Only with ``at_once``.
    """
    said = tuple(settings)
    open_port = SamePort(port, baud)
    opened = [open_port()] if at_once else []
    return live_of(
        port,
        lambda: opened.pop() if opened else open_port(),
        profile_maker(engine=engine, settings=said),
        table=table_said(engine, said),
        suspect=suspect,
    )


def live_of(
    name: str,
    open_source: Callable[[], Source],
    make_profile: MakeProfile,
    *,
    table: dict[str, Any] | None = None,
    suspect: bool = False,
) -> LiveRun:
    """Return a live run of any source."""
    return LiveRun(
        name,
        open_source,
        make_profile,
        Tracker,
        engine=None if table is None else lambda profile: table,
        suspect=suspect,
    )
