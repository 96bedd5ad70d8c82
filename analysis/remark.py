"""What is to be said of an answer, before it has words: a code and the facts that belong to it.

Reasons, warnings and instructions leave this room as remarks. Their sentences stand in
``strokewise.gui.sayings``, one for each code, so that every surface says the same in its own way
and no program has to read prose.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from strokewise.analysis.notices import Code

Plain: TypeAlias = str | int | float | None
Fact: TypeAlias = "Plain | Remark | tuple[Fact, ...]"
"""A figure in the unit that its name ends in, a name, or another remark that this one takes up."""


@dataclass(frozen=True, slots=True, repr=False)
class Remark:
    """One thing to be said: its code, and its facts by name.

    Examples
    --------
    >>> from strokewise.analysis.remark import remark
    >>> flat = remark("turned-too-little", turned_deg=95.0)
    >>> flat, flat["turned_deg"]
    (turned-too-little(turned_deg=95.0), 95.0)
    """

    code: str
    facts: tuple[tuple[str, Fact], ...] = ()

    def __getitem__(self, name: str) -> Fact:
        return dict(self.facts)[name]

    def figure(self, name: str) -> float:
        """Return a fact that is a figure, in the unit that its name ends in.

        Raises
        ------
        TypeError
            For one that is a name, unknown, or another remark.

        Examples
        --------
        >>> from strokewise.analysis.remark import remark
        >>> remark("frames-lost", lost=3).figure("lost")
        3.0
        """
        value = self[name]
        if isinstance(value, int | float):
            return float(value)
        raise TypeError(f"{self.code}: {name} is no figure: {value!r}")

    def __repr__(self) -> str:
        facts = ", ".join(f"{name}={fact!r}" for name, fact in self.facts)
        return f"{self.code}({facts})" if facts else self.code


def remark(code: str, /, **facts: Fact) -> Remark:
    """Return a remark; figures are named with their unit, ``turned_deg=95.0``."""
    return Remark(code, tuple(facts.items()))


@dataclass(frozen=True, slots=True)
class Notice:
    """Something a person must know beside the answer.

    Attributes
    ----------
    code : str
        A stable word for programs, listed in :mod:`strokewise.analysis.notices`.
    remark : Remark
        What is said of it; one code may have several.

    Examples
    --------
    >>> from strokewise.analysis.remark import notice
    >>> lost = notice("frames-lost", lost=3, whole=1013, bad=1)
    >>> lost.code, lost.remark["lost"]
    ('frames-lost', 3)
    """

    code: Code
    remark: Remark


def notice(code: Code, /, **facts: Fact) -> Notice:
    """Return a notice whose remark is known by the same code, as most are."""
    return Notice(code, remark(code, **facts))
