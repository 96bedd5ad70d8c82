"""How is a file written so that a crash leaves the old one or the new one, never half of it?"""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path


def write_atomically(path: Path, content: bytes, *, replace: bool = True) -> None:
    """Write a whole file: temporary file beside it, flushed to the disk, then put in its place.

    Parameters
    ----------
    path : Path
        The folder must exist.
    replace : bool
        False refuses to touch a file that is already there, also when another program puts it
        there at the same moment.

    Raises
    ------
    FileExistsError
        The file is already there and ``replace`` is False.
    OSError
        Whatever the file system refuses; the old file is then untouched.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    except OSError as error:  # named by the file that was asked for, not by the one beside it
        raise type(error)(error.errno, error.strerror, str(path)) from None
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(_plain_mode())
        if replace:
            part.replace(path)
        else:
            _place_new(part, path)
        flush_folder(path.parent)
    finally:
        part.unlink(missing_ok=True)


def free_name(folder: Path, stem: str, suffix: str) -> Path:
    """Return a name that is not taken: nothing is ever written over."""
    number = 1
    while (path := folder / f"{stem}-{number}{suffix}").exists():
        number += 1
    return path


def _place_new(part: Path, path: Path) -> None:
    """Give the finished file its name, only if nobody has taken that name."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a FAT stick knows no links: take the name first, then put the file over it
        path.touch(exist_ok=False)
        part.replace(path)


def _plain_mode() -> int:
    """Return the mode of an ordinary new file; mkstemp's own lets nobody else read it."""
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def flush_folder(folder: Path) -> None:
    """Let the new name survive a power cut, where the system lets a folder be flushed."""
    with contextlib.suppress(OSError):  # Windows opens no folders
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
