"""How many tries, and what came of them: few in ``make test``, many in ``make trust``."""

import json
import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

SHARE = float(os.environ.get("STROKEWISE_TRUST", "0"))
"""Share of the long run's tries that are made; 0 is the short run."""

UNTIL_S = time.monotonic() + 60.0 * float(os.environ.get("STROKEWISE_TRUST_MINUTES", "inf"))
"""Inputs that go all the way to a verdict are tried no longer; how many were reached is noted."""

TABLE = os.environ.get("STROKEWISE_TRUST_TABLE")


@pytest.fixture(scope="session")
def tries() -> Callable[..., int]:
    """Return how many tries are made: the first of two numbers, or a share of the second.

    Cheap ones are made in full in every long run.
    """

    def number(short: int, long: int, *, cheap: bool = False) -> int:
        return max(short, round((1.0 if cheap and SHARE else SHARE) * long))

    return number


@pytest.fixture(scope="session")
def time_left() -> Callable[[], bool]:
    """Return whether another input may go all the way to a verdict."""
    return lambda: time.monotonic() < UNTIL_S


@pytest.fixture(scope="session")
def counted() -> Callable[..., None]:
    """Note what a kind of tries came to, for the table of ``make trust``."""

    def note(kind: str, **figures: float) -> None:
        if TABLE:
            with Path(TABLE).open("a", encoding="utf-8") as out:
                out.write(json.dumps({"kind": kind, **figures}) + "\n")

    return note
