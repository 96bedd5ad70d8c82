"""Which simulated boards wait on a port right now? Each says so in a file while it runs.

The system lists ports of devices only; a pseudo-terminal or a network port of this computer it
does not. A file of a process that is gone tells nothing and is taken away.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

SUFFIX = ".port.json"
CAN_TELL = sys.platform != "win32"
"""Whether it can be asked without harm if a process still runs; elsewhere nothing is announced."""


def announcing_folder() -> Path:
    """Return where the files stand: gone after the next start of the machine."""
    own = os.environ.get("XDG_RUNTIME_DIR")
    if own:
        return Path(own) / "strokewise"
    return Path(tempfile.gettempdir()) / f"strokewise-{os.getuid()}"


@contextmanager
def announced(port: str, about: str, folder: Path | None = None) -> Iterator[None]:
    """Announce a simulated board for as long as it waits; a folder that cannot be written is none.

    Parameters
    ----------
    about : str
        What is behind the port, in words.
    """
    if not CAN_TELL:
        yield
        return
    folder = folder or announcing_folder()
    file = folder / f"{os.getpid()}{SUFFIX}"
    with suppress(OSError):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        file.write_text(json.dumps({"port": port, "about": about}), encoding="utf-8")
    try:
        yield
    finally:
        with suppress(OSError):
            file.unlink()


def announced_ports(folder: Path | None = None) -> list[tuple[str, str]]:
    """Return port and words of every simulated board that waits, in order of the ports."""
    found = []
    for file in (folder or announcing_folder()).glob(f"*{SUFFIX}") if CAN_TELL else ():
        pid = file.name.removesuffix(SUFFIX)
        if not pid.isdecimal() or not _runs(int(pid)):
            with suppress(OSError):
                file.unlink()
            continue
        with suppress(OSError, ValueError, TypeError, KeyError):
            said = json.loads(file.read_text(encoding="utf-8"))
            found.append((str(said["port"]), str(said["about"])))
    return sorted(found)


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True  # somebody else's
    return True
