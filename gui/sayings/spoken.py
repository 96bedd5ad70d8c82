"""How is a remark said? By the one sentence of its code, with its facts in their places."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from types import MappingProxyType

from strokewise.analysis.remark import Fact, Notice, Remark, remark
from strokewise.gui.sayings.by_hand import BY_HAND_SAYINGS
from strokewise.gui.sayings.engine import ENGINE_SAYINGS
from strokewise.gui.sayings.ignition import IGNITION_SAYINGS
from strokewise.gui.sayings.rig import RIG_SAYINGS
from strokewise.gui.sayings.saying import InType, Sayings
from strokewise.gui.sayings.steps import STEP_SAYINGS
from strokewise.gui.sayings.tdc import TDC_SAYINGS
from strokewise.gui.sayings.trace import TRACE_SAYINGS
from strokewise.gui.sayings.verdict import VERDICT_SAYINGS

SUBJECTS = (
    ENGINE_SAYINGS,
    RIG_SAYINGS,
    TRACE_SAYINGS,
    TDC_SAYINGS,
    BY_HAND_SAYINGS,
    VERDICT_SAYINGS,
    STEP_SAYINGS,
    IGNITION_SAYINGS,
)

SAYINGS: Sayings = MappingProxyType({code: s for each in SUBJECTS for code, s in each.items()})
"""Every sentence; no code stands under two subjects."""


@dataclass(frozen=True, slots=True)
class Told:
    """A warning as it stands on a page: its code for programs, its sentence for people."""

    code: str
    text: str


def say(remark: Remark) -> str:
    """Return the sentence of a remark, without a capital or a full stop of its own.

    Parameters
    ----------
    remark : Remark
        A reason of a verdict, say; figures in it are in the unit that their name ends in.

    Examples
    --------
    >>> from strokewise.analysis import Profile, Tracker
    >>> from strokewise.gui import say
    >>> verdict = Tracker(Profile(4, (1, 3, 4, 2), firing_intervals_deg=(180.0,) * 4)).verdict()
    >>> say(verdict.reason)
    'no samples yet: start the board and turn the crank'
    """
    saying = SAYINGS[remark.code]
    facts = {name: _said(fact) for name, fact in remark.facts}
    return InType().format(saying, **facts) if isinstance(saying, str) else saying(**facts)


def as_said(text: str) -> Remark:
    """Return what was worded elsewhere, as in an answer that was kept, as a remark."""
    return remark("as-said", text=text)


def say_any(remark: Remark | None) -> str:
    """Return the sentence of a remark, or nothing where there is none."""
    return "" if remark is None else say(remark)


def told(notices: Iterable[Notice]) -> tuple[Told, ...]:
    """Return notices with their sentences.

    Examples
    --------
    >>> from strokewise.analysis.remark import notice
    >>> from strokewise.gui import told
    >>> told([notice("clipped", share=0.12)])[0].text
    "12 % of the readings stand at the end of the sensor's range"
    """
    return tuple(Told(notice.code, say(notice.remark)) for notice in notices)


def _said(fact: Fact) -> Fact:
    """Return a fact, with another remark within it said."""
    return say(fact) if isinstance(fact, Remark) else fact
