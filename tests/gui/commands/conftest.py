"""Made-up verdicts and profiles for the tests of what a person and a program are told."""

import pytest

from strokewise.analysis.estimate import Interval, Notice
from strokewise.analysis.profile import Profile, even_intervals_deg
from strokewise.analysis.samples import Health
from strokewise.analysis.strokes import firing_tdcs
from strokewise.analysis.verdict import Candidate, Compression, Tdc, Verdict

FOUR_STROKE_DEG = 720.0


@pytest.fixture
def four() -> Profile:
    """Four cylinders, 1-3-4-2, nothing else known."""
    return Profile(4, (1, 3, 4, 2), even_intervals_deg(4, FOUR_STROKE_DEG))


@pytest.fixture
def decided(four: Profile) -> Verdict:
    """Cylinder 1 fires at 123.41 degrees, nine compressions."""
    return Verdict(
        decided=True,
        reason="Nine compressions on one turn, none on the other.",
        warnings=(Notice("rod-assumed", "The rod length is not stated."),),
        tdc=Tdc(Interval(123.41, 123.3, 123.52), 1, "fit", 9, after_index_deg=87.9),
        firing_deg=firing_tdcs(four, 123.41),
        probability=0.99999,
        candidates=(Candidate(123.41, 0.99999), Candidate(483.41, 0.00001)),
        compression=Compression(12.4, 11.387, 9),
        health=Health(samples=24310, frames=1013, segments=1),
        segment=0,
    )


@pytest.fixture
def undecided() -> Verdict:
    """TDC is found, the stroke is not, and the recording was cut."""
    return Verdict(
        decided=False,
        reason="Only two compressions: turn the engine two more turns.",
        tdc=Tdc(Interval(123.41, 121.3, 125.52), 1, "fit", 2),
        probability=0.93,
        candidates=(Candidate(123.41, 0.93), Candidate(483.41, 0.07)),
        health=Health(samples=500, frames=21, lost_frames=3, missing_bytes=1234, segments=1),
    )
