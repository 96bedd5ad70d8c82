"""Is a recording sound? What is in it, what is missing, and whether the rig looks right."""

from __future__ import annotations

from dataclasses import dataclass

from strokewise.analysis.crank.angle import DEFAULT_COUNTS_PER_REV
from strokewise.analysis.estimate import Notice
from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Recording
from strokewise.analysis.trace.recorded import SegmentFacts, segment_facts
from strokewise.analysis.trade import INDEX_SLACK_COUNTS

CLIPPED_AT = 0.001
"""Share of clipped readings worth a warning: one in a thousand reaches into the peaks already."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A recording, not yet looked at, with what is known of its engine; ``name`` is its file's."""

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
        text = "the file's own header is missing: what was known of the engine is lost"
        notices.append(Notice("no-header", text))
    for segment in recording.segments:
        if segment.board is not None and segment.board.skipped:
            text = (
                f"the board saw {segment.board.skipped:,} skipped states of the encoder: counts "
                "are lost or made; look at the pull-ups and the screen of A and B"
            )
            notices.append(Notice("counts-skipped", text))
    counts = profile.encoder.counts_per_rev or DEFAULT_COUNTS_PER_REV
    for run in runs:
        where = "" if len(runs) == 1 else f"run {run.number + 1}: "
        if any(abs(between - counts) > INDEX_SLACK_COUNTS for between in run.index_counts):
            low, high = run.index_counts
            text = (
                f"{where}the index comes every {low} to {high} counts, not every {counts}: wrong "
                "counts_per_rev, or counts are lost or made by interference"
            )
            notices.append(Notice("index-counts", text))
        for channel, reading in enumerate(run.channels):
            if reading.clipped > CLIPPED_AT:
                text = (
                    f"{where}channel {channel}: {reading.clipped:.1%} of the readings stand at an "
                    "end of the converter, so peaks are cut off"
                )
                notices.append(Notice("clipped", text))
        if run.samples and run.turns_forward < run.turns_back:
            text = (
                f"{where}the crank turned back more than forward: direction in the profile may be "
                "the wrong way round"
            )
            notices.append(Notice("turned-back", text))
    return tuple(notices)


def _clipped(runs: tuple[SegmentFacts, ...]) -> float:
    weighed = [(run.samples, reading.clipped) for run in runs for reading in run.channels]
    total = sum(samples for samples, _ in weighed)
    return sum(samples * clipped for samples, clipped in weighed) / total if total else 0.0
