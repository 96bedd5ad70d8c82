"""What is one finding about the rig made of?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

State = Literal["good", "odd", "missing"]


@dataclass(frozen=True, slots=True)
class RigFinding:
    """One thing that was tried.

    Attributes
    ----------
    check : str
        A stable word for programs: ``"line"``, ``"noise"``, ``"counts"``, …
    state : {"good", "odd", "missing"}
    text : str
        What was found, one line.
    remedy : str
        What to do; empty where it is good.
    figures : mapping
        The numbers behind it.
    """

    check: str
    state: State
    text: str
    remedy: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)


def good(check: str, text: str, *, figures: Mapping[str, float] | None = None) -> RigFinding:
    """Return a finding that needs nothing done."""
    return RigFinding(check, "good", text, "", figures or {})


def odd(
    check: str, text: str, remedy: str, figures: Mapping[str, float] | None = None
) -> RigFinding:
    """Return a finding that should be looked at."""
    return RigFinding(check, "odd", text, remedy, figures or {})


def missing(
    check: str, text: str, remedy: str, figures: Mapping[str, float] | None = None
) -> RigFinding:
    """Return a finding that something does not come at all."""
    return RigFinding(check, "missing", text, remedy, figures or {})
