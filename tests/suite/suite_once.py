"""What did it come to with just this? Looked up where it was made before in a run of the tests.

A window that a test opens as a program of its own looks there, too: so nothing of pytest is here.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

FOLDER = "STROKEWISE_FITS_OF_THIS_RUN"
"""Environment variable: where fits are kept; the processes of a run inherit it."""


def once(make: Callable[..., Any], folder: Path) -> Callable[..., Any]:
    """Return what makes something, looked up where it was made before: each time another copy."""

    def made(*given: Any, **named: Any) -> Any:
        asked = hashlib.sha256(pickle.dumps((given, sorted(named.items())))).hexdigest()
        kept = folder / asked
        if not kept.exists():
            part = kept.with_suffix(f".{os.getpid()}-{threading.get_ident()}")
            part.write_bytes(pickle.dumps(make(*given, **named)))
            part.replace(kept)  # whole or not at all, for another one may look
        return pickle.loads(kept.read_bytes())

    return made
