"""How is a job kept in its folder? One running number over all files, none ever written over.

The folder is meant to be read and copied by people: TOML and JSON beside the recordings. A number
is given out under a lock, and a file takes its name only when it is whole on the disk, so two
programs and a power cut leave every earlier file as it was.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from strokewise.analysis.errors import InputError
from strokewise.daq.recording.atomic import write_atomically

HEAD_FILE = "job.toml"
"""The file that makes a folder a job; written first and never changed."""

LOCK = ".lock"
LOCK_WAIT_S = 10.0  # a file is added in milliseconds; longer means a program that hangs

LONGEST_SLUG = 40  # characters of a name that a person can still take in

_NUMBERED = re.compile(r"(?P<number>\d{3,9})-(?P<kind>[a-z]+)(-(?P<slug>[a-z0-9-]+))?\.[a-z]+")


@dataclass(frozen=True, slots=True)
class Kept:
    """One numbered file of a job: ``003-find-bench.json``."""

    number: int
    kind: str
    path: Path


def kept_files(folder: Path) -> tuple[Kept, ...]:
    """Return the numbered files in order; whatever else lies in the folder is left alone.

    Links too: a job that was handed on must not read what lies outside its folder.
    """
    found = []
    for path in folder.iterdir():
        name = _NUMBERED.fullmatch(path.name)
        if name is not None and path.is_file() and not path.is_symlink():
            found.append(Kept(int(name["number"]), name["kind"], path))
    return tuple(sorted(found, key=lambda kept: (kept.number, kept.path.name)))


def make_folder(folder: Path, head: bytes) -> None:
    """Make a new job's folder with its head file.

    An empty folder is taken as it is, one with anything in it is refused.

    Raises
    ------
    InputError
        The folder is not empty, or cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(path.name != LOCK for path in folder.iterdir()):
            raise InputError(f"{folder}: there is something in this folder already; name a new one")
        write_atomically(folder / HEAD_FILE, head, replace=False)
    except FileExistsError:
        raise InputError(f"{folder}: is there already; name a new folder") from None
    except OSError as error:
        raise InputError(f"{folder}: cannot make the job: {error.strerror}") from None


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the job against other programs while something is added.

    Raises
    ------
    InputError
        There is no job in the folder, or another program does not let go of it.
    """
    from filelock import FileLock, Timeout  # a twentieth of a second to load: seldom needed

    if not (folder / HEAD_FILE).is_file():
        raise InputError(f"{folder}: no job in this folder ({HEAD_FILE} is missing); see job new")
    try:
        with FileLock(folder / LOCK, timeout=LOCK_WAIT_S):
            yield
    except Timeout:
        raise InputError(
            f"{folder}: another program has held this job for {LOCK_WAIT_S:g} s; close it first"
        ) from None


def keep(folder: Path, kind: str, name: str, suffix: str, content: bytes) -> Path:
    """Add one file under the next number; call it inside :func:`locked`.

    Parameters
    ----------
    kind : str
        Small letters: what the file is.
    name : str
        Anything; what can stand in a file name is kept of it.

    Returns
    -------
    Path
        Of the new file, whole on the disk.

    Raises
    ------
    InputError
        The disk refuses.
    """
    number = max((kept.number for kept in kept_files(folder)), default=0) + 1
    called = "-".join(part for part in (f"{number:03}", kind, slug(name)) if part)
    path = folder / f"{called}{suffix}"
    try:
        write_atomically(path, content, replace=False)
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {error.strerror}") from None
    return path


def slug(name: str) -> str:
    """Return what of a name can stand in any file system: small letters, digits, dashes."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower())[:LONGEST_SLUG]
    return plain.strip("-")
