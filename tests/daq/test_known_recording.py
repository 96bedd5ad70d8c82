"""One call from a path to a recording and its profile, with all that anyone said of the engine."""

from collections.abc import Callable
from pathlib import Path

import pytest

from strokewise.analysis.errors import ProfileError, RecordingError
from strokewise.daq import known_of, read_recording, read_with_profile
from strokewise.daq.recording.container import Chunk, encode_header, encode_item
from strokewise.daq.wire.encoder import FrameEncoder

RECORDINGS = Path(__file__).parents[2] / "recordings"
FOUR = {"cylinders": 4, "firing_order": [1, 3, 4, 2]}


@pytest.fixture
def heard(tmp_path: Path, board_run: Callable) -> Path:
    """A recording whose encoder is described by the board's hello alone."""
    encoder = FrameEncoder()
    stream = b"".join(encoder.encode(frame) for frame in board_run())
    header = encode_header({"format": 1, "engine": FOUR})
    path = tmp_path / "heard.swr"
    path.write_bytes(header + encode_item(Chunk(20_000, stream)))
    return path


def test_what_the_board_says_of_itself_counts(heard: Path):
    read = read_with_profile(heard)
    assert read.name == str(heard)
    assert read.profile.firing_order == (1, 3, 4, 2)
    assert read.profile.encoder.counts_per_rev == 2400
    assert read.recording.health == read_recording(heard).health


def test_the_profile_and_what_is_said_go_before_it(heard: Path, tmp_path: Path):
    engine = tmp_path / "bench.toml"
    engine.write_text("[encoder]\ncounts_per_rev = 1440\ndrive_ratio = 0.5\n")
    read = read_with_profile(heard, engine=engine, settings=["encoder.drive_ratio=2.0"])
    assert (read.profile.encoder.counts_per_rev, read.profile.encoder.drive_ratio) == (1440, 2.0)
    assert [notice.code for notice in read.notices] == ["counts-contradiction"]


def test_a_sensor_on_a_reading_that_is_not_there_is_refused(heard: Path):
    with pytest.raises(ProfileError, match=r"^sensor.channel = 3: .* end at channel 0; say"):
        known_of(read_recording(heard), settings=["sensor.channel=3"])


def test_what_is_no_recording_is_refused(tmp_path: Path):
    with pytest.raises(RecordingError):
        read_with_profile(tmp_path / "absent.swr")
