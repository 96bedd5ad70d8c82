"""Is a recording sound? What is in it, what is missing, and whether the rig looks right."""

from __future__ import annotations

from dataclasses import dataclass

from strokewise.analysis.crank.angle import DEFAULT_COUNTS_PER_REV
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, notice, remark
from strokewise.analysis.samples import Recording
from strokewise.analysis.trace.recorded import SegmentFacts, segment_facts
from strokewise.analysis.trade import INDEX_SLACK_COUNTS

CLIPPED_AT = 0.001
"""Share of clipped readings worth a warning: one in a thousand reaches into the peaks already."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A recording, not yet looked at, with what is known of its engine; ``name`` is its file's.

    Examples
    --------
    >>> from strokewise.daq import read_with_profile
    >>> bench = read_with_profile("recordings/cranked.swr")
    >>> bench.name, bench.profile.cylinders, len(bench.recording.segments)
    ('recordings/cranked.swr', 4, 1)
    """

    name: str
    recording: Recording
    profile: Profile
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True)
class CheckQuestion:
    """Nothing has to be said to have a recording checked."""


@dataclass(frozen=True, slots=True)
class CheckAnswer:
    """How sound a recording is.

    Attributes
    ----------
    runs : tuple of SegmentFacts
        The figures of each start of the board.
    clipped : float
        Share of clipped readings over all runs and channels.
    """

    recorded: Recorded
    runs: tuple[SegmentFacts, ...]
    clipped: float
    warnings: tuple[Notice, ...]

    @property
    def decided(self) -> bool:
        """Whether there is something to work with."""
        return self.recorded.recording.health.samples > 0


def check_answer(question: CheckQuestion, recorded: Recorded) -> CheckAnswer:
    """Return the figures of a recording, and what to look at before it is trusted."""
    recording, profile = recorded.recording, recorded.profile
    runs = tuple(segment_facts(segment, profile.encoder) for segment in recording.segments)
    warnings = (*recorded.notices, *odd(runs, recording, profile))
    return CheckAnswer(recorded, runs, _clipped(runs), warnings)


def odd(
    runs: tuple[SegmentFacts, ...], recording: Recording, profile: Profile
) -> tuple[Notice, ...]:
    """Return what a person should look at before trusting the recording."""
    notices = []
    if not recording.header:
        notices.append(notice("no-header"))
    for segment in recording.segments:
        if segment.board is not None and segment.board.skipped:
            notices.append(notice("counts-skipped", states=segment.board.skipped))
    counts = profile.encoder.counts_per_rev or DEFAULT_COUNTS_PER_REV
    for run in runs:
        where = None if len(runs) == 1 else run.number + 1
        if any(abs(between - counts) > INDEX_SLACK_COUNTS for between in run.index_counts):
            low, high = run.index_counts
            notices.append(notice("index-counts", run=where, low=low, high=high, stated=counts))
        for channel, reading in enumerate(run.channels):
            if reading.clipped > CLIPPED_AT:
                share = reading.clipped
                clipped = remark("clipped-channel", run=where, channel=channel, share=share)
                notices.append(Notice("clipped", clipped))
        if run.samples and run.turns_forward < run.turns_back:
            notices.append(Notice("turned-back", remark("turned-back-more", run=where)))
    return tuple(notices)


def _clipped(runs: tuple[SegmentFacts, ...]) -> float:
    weighed = [(run.samples, reading.clipped) for run in runs for reading in run.channels]
    total = sum(samples for samples, _ in weighed)
    return sum(samples * clipped for samples, clipped in weighed) / total if total else 0.0
