"""What is one finding about the rig made of?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from strokewise.analysis.remark import Remark

State = Literal["good", "odd", "missing"]


@dataclass(frozen=True, slots=True)
class RigFinding:
    """One thing that was tried.

    Attributes
    ----------
    check : str
        A stable word for programs: ``"line"``, ``"noise"``, ``"counts"``, …
    state : {"good", "odd", "missing"}
    said : Remark
        What was found.
    remedy : Remark or None
        What to do; None where it is good.
    figures : mapping
        The numbers behind it.
    """

    check: str
    state: State
    said: Remark
    remedy: Remark | None = None
    figures: Mapping[str, float] = field(default_factory=dict)


def good(check: str, said: Remark, *, figures: Mapping[str, float] | None = None) -> RigFinding:
    """Return a finding that needs nothing done."""
    return RigFinding(check, "good", said, None, figures or {})


def odd(
    check: str, said: Remark, remedy: Remark, figures: Mapping[str, float] | None = None
) -> RigFinding:
    """Return a finding that should be looked at."""
    return RigFinding(check, "odd", said, remedy, figures or {})


def missing(
    check: str, said: Remark, remedy: Remark, figures: Mapping[str, float] | None = None
) -> RigFinding:
    """Return a finding that something does not come at all."""
    return RigFinding(check, "missing", said, remedy, figures or {})
