"""How do the inner loops of the bench get their speed?

They are compiled by numba where it is installed and run as plain Python where it is not: the same
code, slower. Only the entry points are kept on disk between processes; a cached entry point would
not notice that a function in another file has changed, so each carries :data:`FINGERPRINT`.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar, cast

_Function = TypeVar("_Function", bound=Callable[..., Any])


def _compiler() -> Any:
    try:
        return import_module("numba")
    except ImportError:  # slow but right: finding TDC must never need a compiler
        return None


_NUMBA = _compiler()

COMPILED: bool = _NUMBA is not None


#: Every module with a compiled function in it.
COMPILED_MODULES = (
    "burn",
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
    if _NUMBA is None:
        return function
    return cast(_Function, _NUMBA.njit(error_model="numpy")(function))


def inlined(function: _Function) -> _Function:
    """Compile ``function`` into each of its callers: for the innermost, where passing an engine's
    many constants would cost as much as the physics."""
    if _NUMBA is None:
        return function
    return cast(_Function, _NUMBA.njit(error_model="numpy", forceinline=True)(function))


def entry_point(function: _Function) -> _Function:
    """Compile ``function`` once and keep the result on disk, where there is a place to write.

    It runs beside other threads: a live bench computes its next run while the present one plays.
    """
    if _NUMBA is None:
        return function
    options = {"error_model": "numpy", "nogil": True}
    try:
        return cast(_Function, _NUMBA.njit(cache=True, **options)(function))
    except RuntimeError:  # nowhere to write: compile in every process
        return cast(_Function, _NUMBA.njit(**options)(function))
