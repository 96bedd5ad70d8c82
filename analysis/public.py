"""How does a room offer its public names without loading them all?"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def loaded_when_used(
    package: str, homes: Mapping[str, tuple[str, ...]]
) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """Return a package's ``__getattr__`` and ``__dir__``: importing it stays light.

    Parameters
    ----------
    package : str
        Its ``__name__``.
    homes : mapping of str to tuple of str
        The public names of each module, named from the package on.
    """
    home_of = {name: module for module, names in homes.items() for name in names}

    def load(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"{package}.{home_of[name]}"), name)

    def names() -> list[str]:
        return sorted({*vars(import_module(package)), *home_of})

    return load, names
