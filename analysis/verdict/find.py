"""Where is TDC and which cylinder fires there? The batch answer over a whole recording."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import get_args

from strokewise.analysis.crank.strokes import EnginePhase, phase_at
from strokewise.analysis.profile import Profile
from strokewise.analysis.question import saying
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.samples import Health, Recording
from strokewise.analysis.verdict.found import Found
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import AskedMethod, Verdict


@dataclass(frozen=True, slots=True)
class FindQuestion:
    """What a person may say of how TDC is to be found."""

    method: AskedMethod = saying("choice", "fit", choices=get_args(AskedMethod))


@dataclass(frozen=True, slots=True)
class FindAnswer:
    """A verdict, and where every cylinder stood when the recording ended; None if not known."""

    verdict: Verdict
    profile: Profile
    end: EnginePhase | None = None


def find_answer(question: FindQuestion, found: Found) -> FindAnswer:
    """Return what was found, in the way that was asked for when the recording was followed.

    Where every cylinder stood is left open while the verdict is undecided, or speaks of an earlier
    start of the board than the last: nothing then tells how the two zeros lie to each other.
    """
    firing, angle_deg = found.verdict.firing_deg, found.angle_deg
    end = None
    if firing and 1 in firing and angle_deg is not None:
        end = phase_at(found.profile, firing[1], angle_deg)
    return FindAnswer(found.verdict, found.profile, end)


def find(recording: Recording, profile: Profile, *, method: AskedMethod = "fit") -> Verdict:
    """Return the verdict of a recording: that of its last segment that decides.

    Never raises for what a recording holds; thin or damaged data give an undecided verdict with a
    reason.

    Parameters
    ----------
    recording : Recording
        Raw integers, as :func:`strokewise.daq.read_with_profile` reads them.
    profile : Profile
        What is known of the engine and the rig.
    method : str, optional
        How TDC is found, as ``strokewise find --method`` names it.

    Returns
    -------
    Verdict
        Angles in crank degrees of the encoder's frame, pressures in bar.

    Examples
    --------
    >>> from strokewise.analysis import find
    >>> from strokewise.daq import read_with_profile
    >>> bench = read_with_profile("recordings/rocked.swr")
    >>> verdict = find(bench.recording, bench.profile)
    >>> verdict.decided, verdict.tdc.angle_deg.half_width < 0.2
    (True, True)
    """
    tracker = Tracker(profile, method=method)
    for segment in recording.segments:
        tracker.feed(segment)
    return closing_verdict(tracker, recording.health)


def closing_verdict(tracker: Tracker, health: Health) -> Verdict:
    """Return the verdict of a tracker fed a whole recording, with how well that came through."""
    verdict = tracker.last_verdict()
    return replace(verdict, health=health, warnings=(*verdict.warnings, *_link_notices(health)))


def _link_notices(health: Health) -> tuple[Notice, ...]:
    notices = []
    if health.missing_bytes:
        notices.append(notice("cut", bytes=health.missing_bytes))
    if health.lost_frames or health.bad_frames:
        whole = health.frames + health.lost_frames
        about = "about " if health.lost_about else ""
        lost = health.lost_frames
        notices.append(
            notice("frames-lost", lost=lost, whole=whole, bad=health.bad_frames, about=about)
        )
    if health.left_out:
        notices.append(notice("left-out", samples=health.left_out))
    if health.unchecked_lines:
        notices.append(notice("unchecked-lines", lines=health.unchecked_lines))
    return tuple(notices)
