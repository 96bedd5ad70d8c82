"""What did a recording tell of TDC and phase? Read and found once, for every step that asks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from strokewise.analysis.crank.angle import angle_of_count
from strokewise.analysis.errors import InputError
from strokewise.analysis.trace.check import Recorded
from strokewise.analysis.verdict.find import closing_verdict
from strokewise.analysis.verdict.found import Found, Standing, marks_recorded
from strokewise.analysis.verdict.tracker import Tracker, slabs
from strokewise.analysis.verdict.verdict import AskedMethod
from strokewise.daq.known_recording import read_with_profile
from strokewise.gui.options import EngineSaid, SaidOfEngine, known_from

NOTHING_SAID = SaidOfEngine()
Going = Callable[[float], object]
"""Told how far something has come, from 0 to 1."""


def unwatched(share: float) -> None:
    """Take note of nothing: nobody watches."""


def found_in(
    file: str | Path,
    said: EngineSaid = NOTHING_SAID,
    *,
    method: AskedMethod = "fit",
    going: Going = unwatched,
) -> Found:
    """Read a recording and find its TDC, with what was said of the engine.

    Parameters
    ----------
    said : EngineSaid, optional
        Profile and settings, as :class:`~strokewise.gui.options.SaidOfEngine` has them.
    method : str, optional
        How TDC is found, as ``strokewise find --method`` names it.
    going : callable, optional
        Called again and again with the share of the samples that were looked at, 0 to 1; whoever
        raises in it stops.

    Raises
    ------
    StrokewiseError
        For a file or a profile that cannot be used.

    Examples
    --------
    >>> from strokewise.gui import found_in
    >>> found = found_in("recordings/cranked.swr")
    >>> found.verdict.decided, sorted(found.verdict.firing_deg)
    (True, [1, 2, 3, 4])
    """
    return found_of(recorded_in(file, said), method=method, going=going)


def found_of(recorded: Recorded, *, method: AskedMethod = "fit", going: Going = unwatched) -> Found:
    """Find TDC in a recording that was read with its profile.

    Examples
    --------
    >>> from strokewise.daq import read_with_profile
    >>> from strokewise.gui import found_of
    >>> found_of(read_with_profile("recordings/rocked.swr")).verdict.decided
    True
    """
    recording, profile = recorded.recording, recorded.profile
    tracker = Tracker(profile, method=method)
    count = sum(len(part.samples) for part in recording.segments)
    done = 0
    for part in recording.segments:
        # In the slabs in which the tracker takes them in any case: the answer is the same.
        for slab in slabs(part):
            tracker.feed(slab)
            done += len(slab.samples)
            going(done / count if count else 1.0)
    verdict = closing_verdict(tracker, recording.health)
    verdict = replace(verdict, warnings=(*recorded.notices, *verdict.warnings))
    sampled = [segment for segment in recording.segments if len(segment.samples)]
    own = next((s for s in sampled if s.number == verdict.segment), None)
    angle, judgement = None, None
    if own is not None and sampled[-1] is own and not verdict.earlier:
        judgement = tracker.judgement
        angle = float(angle_of_count(float(own.samples.count[-1]), profile.encoder))
    return Found(profile, verdict, angle, judgement, marks_recorded(own, profile), recording.header)


def recorded_in(file: str | Path, said: EngineSaid) -> Recorded:
    """Read a recording, with what was said of the engine, and look no further."""
    return read_with_profile(file, engine=said.engine, settings=said.settings)


def engine_alone(said: EngineSaid) -> Standing:
    """Return the engine from what was said alone, its crank at the firing TDC of cylinder 1.

    Raises
    ------
    InputError
        Nobody stated an engine: what is done to one that is made up may be done to the wrong one.
    """
    known = known_from(said)
    if not known.stated:
        raise InputError(
            "no engine is stated, and none is made up: give a recording, --engine PROFILE, or"
            " --set cylinders=4 --set firing_order=1-3-4-2"
        )
    return Standing(known.profile, 0.0, warnings=tuple(known.notices), measured=False)
