"""What has been found by now, and where does the crank stand? What every step after TDC asks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from strokewise.analysis.crank.strokes import firing_offsets, nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Mark, Profile
from strokewise.analysis.remark import Notice, Remark, remark
from strokewise.analysis.samples import Segment
from strokewise.analysis.trace.marks_met import MarkSeen, MarksMet, MarksRecorded
from strokewise.analysis.verdict.judge import Judgement
from strokewise.analysis.verdict.verdict import Verdict

RESTARTED = remark("started-again-since")


@dataclass(frozen=True, slots=True)
class Found:
    """A verdict, with what it rests on.

    Attributes
    ----------
    verdict : Verdict
        With the notices about the profile in front.
    angle_deg : float or None
        Where the crank stood at the last sample, unwrapped; None when the board has started again
        since, for then nothing ties the two frames together.
    judgement : Judgement or None
        What the verdict rests on; None when it is of an earlier start of the board.
    marks : MarksMet or None
        The marks met in the start of the board that the verdict speaks of; None without one.
    header : mapping
        What the recording says of itself; empty for a run that is followed live.
    """

    profile: Profile
    verdict: Verdict
    angle_deg: float | None = None
    judgement: Judgement | None = None
    marks: MarksMet | None = None
    header: Mapping[str, Any] = field(default_factory=dict)

    @property
    def firing_1_deg(self) -> float | None:
        """Firing TDC of cylinder 1, None while undecided."""
        firing = self.verdict.firing_deg
        return firing.get(1) if self.verdict.decided and firing else None

    @property
    def tdc_1(self) -> Interval | None:
        """One of the two TDCs of cylinder 1, from that of the sensed cylinder."""
        tdc = self.verdict.tdc
        if tdc is None:
            return None
        offsets = firing_offsets(self.profile.firing_order, self.profile.firing_intervals_deg)
        return tdc.angle_deg.shifted(-nearest(offsets.get(tdc.cylinder, 0.0), 360))

    @property
    def after_firing_1_deg(self) -> float | None:
        """Where the crank stood at the end, after cylinder 1's firing TDC; None when not known."""
        if self.firing_1_deg is None or self.angle_deg is None:
            return None
        return self.angle_deg - self.firing_1_deg

    @property
    def pressed_names(self) -> tuple[str, ...]:
        """Names of the marks that were pressed, each once."""
        return () if self.marks is None else self.marks.names

    def seen_of(self, mark: Mark) -> MarkSeen:
        """Return every edge and press of one mark; empty when it was not met."""
        return MarkSeen(mark) if self.marks is None else self.marks.seen(mark)

    @property
    def why_no_angle(self) -> Remark:
        """Why it is not known where the crank stands."""
        if not self.verdict.decided:
            return self.verdict.reason
        return remark("crank-not-known", why=self.verdict.earlier or RESTARTED)


@dataclass(frozen=True, slots=True)
class Standing:
    """The engine, and where its crank stands.

    Attributes
    ----------
    after_deg : float or None
        After cylinder 1's firing TDC; None when a recording could not tell.
    why_not : Remark or None
        Why it is not known; None where it is.
    measured : bool
        A recording or a run tells where the crank stands; False where it is only said to be.
    within_deg : float
        How near TDC is known, and so where the crank stands; 0 where it is only said.
    """

    profile: Profile
    after_deg: float | None
    why_not: Remark | None = None
    warnings: tuple[Notice, ...] = ()
    measured: bool = True
    within_deg: float = 0.0

    def at(self, after_deg: float | None) -> Standing:
        """Return the same engine with its crank where it is said to stand; None says nothing."""
        if after_deg is None:
            return self
        return replace(self, after_deg=after_deg, why_not=None, within_deg=0.0)


def standing_of(found: Found) -> Standing:
    """Return where the crank stood at the end of what was seen."""
    after_deg = found.after_firing_1_deg
    why_not = found.why_no_angle if after_deg is None else None
    tdc = found.verdict.tdc
    within_deg = 0.0 if tdc is None or after_deg is None else tdc.angle_deg.half_width
    return Standing(
        found.profile, after_deg, why_not, found.verdict.warnings, within_deg=within_deg
    )


def marks_recorded(segment: Segment | None, profile: Profile) -> MarksMet | None:
    """Return the marks met in a recorded start of the board; None where there is none."""
    return None if segment is None else MarksRecorded(segment, profile)
