"""Would rocking make TDC surer here, and what is the next swing? How far, how fast, when enough.

What to say comes from :mod:`strokewise.analysis.tdc.rocking_guide`; here is decided when it is
worth saying: TDC wide, turned by hand, and the profile does not forbid turning back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.profile import Profile
from strokewise.analysis.tdc.rocking_guide import ENOUGH_HALF_DEG, RockingGuidance, guide
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.models.near import within_words
from strokewise.gui.models.turn.guide import BY_HAND_DEG_S
from strokewise.gui.sayings import capital, say, told

BY_HAND_RPM = BY_HAND_DEG_S / DEG_S_PER_RPM
BEFORE_TURNING_BACK = (
    "Before turning back: ignition off, battery off, out of gear; crank bolt tight; a ratchet "
    "tensioner or a belt can jump a tooth"
)
"""The cautions in one sentence, beside the offer; in full they come with the first swing."""
LATELY = 4
"""So many of the last passes tell whether it is being turned by hand, and rocked."""


@dataclass(frozen=True, slots=True)
class Rocking:
    """Where the rocking stands.

    Attributes
    ----------
    guidance : Guidance
        Next swing, reach, speeds, cautions.
    helps : bool
        TDC is wide and was met by hand: rocking, or what goes instead of it, is worth offering.
    under_way : bool
        The last compressions were met from both sides: it is being rocked right now.
    why : str
        Why it is offered, in a few words; empty where it is not.
    """

    guidance: RockingGuidance
    helps: bool = False
    under_way: bool = False
    why: str = ""
    tdc_deg: float | None = None

    @property
    def wanted(self) -> bool:
        """True where the next swing should be shown without being asked for."""
        return self.under_way and not self.guidance.refused and not self.guidance.enough

    @property
    def offer(self) -> str:
        """One sentence that offers it; empty where there is nothing to offer."""
        if not self.helps or self.under_way:
            return ""
        if self.guidance.refused:
            return f"{self.why}: {say(self.guidance.instruction)}"
        if self.unstated:
            return f"{self.why}. Where its manual allows turning back, rocking would narrow that"
        return f"{self.why}: rocking would narrow that"

    @property
    def short(self) -> str:
        """How far the rocking is, in so few letters that it fits into the largest type."""
        return f"rocked on {self.guidance.forward}×, back {self.guidance.backward}× so far"

    @property
    def unstated(self) -> bool:
        """True where nobody said whether the engine may be turned back."""
        return any(notice.code == "turning-back-unknown" for notice in self.guidance.cautions)

    @property
    def instruction(self) -> str:
        """The next swing, as a sentence."""
        return capital(say(self.guidance.instruction))

    @property
    def cautions(self) -> tuple[str, ...]:
        """What can hurt engine or person while it is rocked, a sentence each."""
        return tuple(capital(each.text) for each in told(self.guidance.cautions))

    def after_tdc_deg(self, angle_deg: float) -> float | None:
        """Return where the crank stands about the TDC that is rocked through; None without one."""
        return None if self.tdc_deg is None else nearest(angle_deg - self.tdc_deg, 360.0)


def rocking_for(profile: Profile, verdict: Verdict | None, judgement: Any) -> Rocking:
    """Return where the rocking stands after a judgement.

    Parameters
    ----------
    judgement : object or None
        The tracker's, with its passes; without any the guide begins at its first step.
    """
    passes = tuple(p for p in getattr(judgement, "passes", ()) if isinstance(p, Pass))
    guidance = guide(passes, profile)
    tdc = None if verdict is None else verdict.tdc
    if tdc is None or not passes:
        return Rocking(guidance)
    last = passes[-LATELY:]
    by_hand = float(np.median([p.speed_rpm for p in last])) <= BY_HAND_RPM
    both = {p.forward for p in passes[-2:]} == {True, False}
    under_way = by_hand and both and passes[-1].turn == passes[-2].turn
    half = tdc.angle_deg.half_width
    helps = by_hand and half > ENOUGH_HALF_DEG
    one_way = len({p.forward for p in passes}) == 1
    by = " by the fit" if tdc.method == "fit" else ""
    why = f"TDC only {within_words(half)}{by}" + (", turned one way by hand" if one_way else "")
    return Rocking(guidance, helps, under_way, why if helps else "", tdc.angle_deg.value)
