"""What has been found by now, and where does the crank stand? What every step after TDC asks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from strokewise.analysis.crank.strokes import firing_offsets, nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Mark, Profile
from strokewise.analysis.remark import Notice, Remark, remark
from strokewise.analysis.samples import Segment
from strokewise.analysis.trace.marks_met import MarkSeen, MarksMet, MarksRecorded
from strokewise.analysis.verdict.judge import Judgement
from strokewise.analysis.verdict.verdict import Verdict

CLAMP_SLIP: Final = "clamp-slip"
"""Code of the warning that the compressions moved."""

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

    @property
    def held_since_s(self) -> float | None:
        """Since when, on the board's clock, the encoder sits as it did when TDC was found.

        None where the judgement is of an earlier start of the board, or there is none.
        """
        nodes = None if self.judgement is None else self.judgement.nodes
        return None if nodes is None or not len(nodes) else float(nodes.time_s[0])

    @property
    def clamp_slipped(self) -> bool:
        """Whether the compressions showed the encoder's clamp slip."""
        return any(notice.code == CLAMP_SLIP for notice in self.verdict.warnings)

    def seen_of(self, mark: Mark) -> MarkSeen:
        """Return the edges and presses of one mark that belong to TDC; empty when it was not met.

        Those met before the clamp slipped are in another frame and never count; those from before
        the compressions that are kept count where there are no others.
        """
        if self.marks is None:
            return MarkSeen(mark)
        seen, since_s = self.marks.seen(mark), self.held_since_s
        if since_s is None:
            return seen
        late = seen.since(since_s)
        return late if len(late) or self.clamp_slipped else seen

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
