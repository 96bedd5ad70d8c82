"""How do the inner loops of the bench get their speed?

They are compiled by numba where it is installed and run as plain Python where it is not: the same
code, slower. Only the entry points are kept on disk between processes; a cached entry point would
not notice that a function in another file has changed, so each carries :data:`FINGERPRINT`.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar

try:
    import numba
except ImportError:  # slow but right: finding TDC must never need a compiler
    numba = None

_Function = TypeVar("_Function", bound=Callable[..., Any])

COMPILED: bool = numba is not None


#: Every module with a compiled function in it.
COMPILED_MODULES = (
    "compiled",
    "constants",
    "cylinder",
    "gas",
    "gas_step",
    "heat",
    "kernel",
    "slider",
    "valves",
)


def _fingerprint() -> int:
    digest = sha256()
    for name in COMPILED_MODULES:
        digest.update(Path(__file__).with_name(f"{name}.py").read_bytes())
    return int.from_bytes(digest.digest()[:4], "little")


FINGERPRINT: int = _fingerprint()


def compiled(function: _Function) -> _Function:
    """Compile ``function`` for callers that are themselves compiled."""
    return function if numba is None else numba.njit(error_model="numpy")(function)


def inlined(function: _Function) -> _Function:
    """Compile ``function`` into each of its callers: for the innermost, where passing an engine's
    many constants would cost as much as the physics."""
    if numba is None:
        return function
    return numba.njit(error_model="numpy", forceinline=True)(function)


def entry_point(function: _Function) -> _Function:
    """Compile ``function`` once and keep the result on disk.

    It runs beside other threads: a live bench computes its next run while the present one plays.
    """
    if numba is None:
        return function
    return numba.njit(cache=True, error_model="numpy", nogil=True)(function)
