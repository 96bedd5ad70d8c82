"""What did a recording tell of TDC and phase? What every command after find begins with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from strokewise.analysis.crank.angle import angle_of_count
from strokewise.analysis.crank.strokes import firing_offsets, nearest
from strokewise.analysis.estimate import Interval, Notice
from strokewise.analysis.marks.marks import MarkSeen, seen_in
from strokewise.analysis.profile import Mark, Profile
from strokewise.analysis.samples import Recording, Segment
from strokewise.analysis.verdict.find import closing_verdict
from strokewise.analysis.verdict.judge import Judgement
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.recording.read import read_recording
from strokewise.gui.options import known_from

if TYPE_CHECKING:
    import argparse


@dataclass(frozen=True, slots=True)
class Found:
    """A recording with its verdict.

    Attributes
    ----------
    verdict : Verdict
        With the notices about the profile in front.
    segment : Segment or None
        The start of the board that the verdict speaks of.
    angle_deg : float or None
        Where the crank stood at the last sample, unwrapped; None when the board has started again
        since, for then nothing ties the two frames together.
    judgement : Judgement or None
        What the verdict rests on; None when it is of an earlier start of the board.
    """

    file: Path
    recording: Recording
    profile: Profile
    verdict: Verdict
    segment: Segment | None
    angle_deg: float | None
    judgement: Judgement | None

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
        presses = () if self.segment is None else self.segment.presses
        return tuple(dict.fromkeys(press.name for press in presses))

    def seen_of(self, mark: Mark) -> MarkSeen:
        """Return every edge and press of one mark; empty when it was not met."""
        return seen_in(self.segment or Segment(), mark, self.profile)

    @property
    def why_no_angle(self) -> str:
        """Why it is not known where the crank stands."""
        if not self.verdict.decided:
            return self.verdict.reason
        why = self.verdict.earlier or "the board has started again since"
        return f"{why}: where the crank stands is not known"


def found_in(file: str | Path, args: argparse.Namespace) -> Found:
    """Read a recording and find its TDC, with what the options say of the engine.

    Raises
    ------
    StrokewiseError
        For a file or a profile that cannot be used.
    """
    recording = read_recording(Path(file))
    known = known_from(args, recording)
    tracker = Tracker(known.profile)
    for part in recording.segments:
        tracker.feed(part)
    verdict = closing_verdict(tracker, recording.health)
    verdict = replace(verdict, warnings=(*known.notices, *verdict.warnings))
    sampled = [segment for segment in recording.segments if len(segment.samples)]
    own = next((s for s in sampled if s.number == verdict.segment), None)
    angle, judgement = None, None
    if own is not None and sampled[-1] is own and not verdict.earlier:
        judgement = tracker.judgement
        angle = float(angle_of_count(float(own.samples.count[-1]), known.profile.encoder))
    return Found(Path(file), recording, known.profile, verdict, own, angle, judgement)


def engine_of(args: argparse.Namespace) -> tuple[Profile, tuple[Notice, ...]]:
    """Return the engine from the options alone, where no recording is asked about."""
    known = known_from(args)
    return known.profile, tuple(known.notices)
