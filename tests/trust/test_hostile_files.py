"""Bounded memory and time whatever is in a profile, a job or a recording; one line says why not."""

import json
import time
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from suite_damage import sent, verdict_on

from strokewise.analysis.errors import ProfileError
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.wire.decoder import Decoder
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, SampleBlock
from strokewise.gui import cli
from strokewise.gui.job.job import read_job

FOUR = "cylinders = 4\nfiring_order = [1, 3, 4, 2]\n"
MOST_S = 30.0  # to trace memory takes some ten times as long; untraced each takes a second or two
MOST_BYTES = 100e6


@contextmanager
def bounded(most_s: float = MOST_S, most_bytes: float = MOST_BYTES) -> Iterator[None]:
    """Hold what is done within to a time of the processor and to a memory."""
    tracemalloc.start()
    began = time.process_time()
    try:
        yield
        took, most = time.process_time() - began, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert took < most_s
    assert most < most_bytes


PROFILES = {
    "a long array under an unknown key": "what = [\n" + "1,\n" * 4_000 + "]\n",
    "long arrays of arrays": "what = [\n" + "[1],\n" * 4_000 + "]\n",
    "a key a thousand levels deep": ".".join("a" * 1_000) + " = 1\n",
    "a table a thousand levels deep": "[" + ".".join("a" * 1_000) + "]\nb = 1\n",
    "brackets without end": "what = " + "[" * 3_000 + "]" * 3_000 + "\n",
    "inline tables without end": "what = " + "{a = " * 300 + "1" + "}" * 300 + "\n",
    "four thousand unknown keys": "".join(f"key{n} = 1\n" for n in range(4_000)),
    "a long number": "bore = " + "9" * 5_000 + "\n",
    "a long quantity": f'bore = "{"9" * 5_000} mm"\n',
    "towers of powers": 'bore = "9**9**9 mm"\n',
}


@pytest.mark.parametrize("name", PROFILES)
def test_a_hostile_profile_is_refused_in_one_line_and_soon(name: str, tmp_path: Path) -> None:
    file = tmp_path / "hostile.toml"
    file.write_text(FOUR + PROFILES[name])
    with bounded(), pytest.raises(ProfileError) as said:
        known_engine(engine=file)
    assert len(str(said.value).splitlines()) == 1
    assert len(str(said.value)) < 1_000


def test_a_hostile_setting_is_refused_in_one_line() -> None:
    with bounded(), pytest.raises(ProfileError, match="is not key=value"):
        known_engine(overrides=[".".join("a" * 1_000) + "=1"])


DAMAGES: dict[str, Callable[[], str]] = {
    "004-note.toml": lambda: "a." * 900 + "a = 1\n",
    "005-tick.toml": lambda: "a = " + "[" * 5_000 + "]" * 5_000,
    "006-find.json": lambda: "[" * 100_000 + "]" * 100_000,
    "007-answer-find.json": lambda: "[" * 100_000 + "]" * 100_000,
    "008-answer-marks.json": lambda: json.dumps(
        {"asked": ["marks"], "made": "2026-01-01T00:00:00+00:00", "version": "1", "recordings": [],
         "profile": "", "answer": {"deep": json.loads("[" * 500 + "]" * 500)}}
    ),
}  # fmt: skip


def test_deep_files_in_a_job_leave_the_rest_of_it_readable(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job"
    cli.main(["job", "new", str(job), "--name", "bench four"])
    cli.main(["job", "add", str(job), "--note", "the good note"])
    for name, text in DAMAGES.items():
        (job / name).write_text(text())
    (job / "009-note-link.toml").symlink_to("/etc/hostname")
    with bounded():
        found = read_job(job)
        for command in (["job", "show", str(job)], ["job", "show", str(job), "--json"]):
            assert cli.main(command) in (0, 3)
    assert [note.text for note in found.notes] == ["the good note"]
    assert len(found.unreadable) == 4
    assert "link" not in " ".join(found.unreadable)


@pytest.mark.parametrize("name", ["manifold", "cranked"])
def test_memory_does_not_follow_the_span_of_the_count(name: str) -> None:
    """A few kilobytes whose count leaps as far as it can, in steps that a shaft might just do."""
    hello = next(f for f in Decoder().feed(sent(name)[1]) if isinstance(f, Hello))
    encoder, data, count = FrameEncoder(), [], 0
    rng = np.random.default_rng(1)
    for number in range(300):
        data += [encoder.encode(Hello(hello.board))] if number % 50 == 0 else []
        count += int(rng.integers(0, 60 * 500 * 2400)) if number % 2 else 2_000_000_000
        counts = count + np.arange(16) * 20
        readings = 2_000 + 500 * np.sin(np.arange(16) + number)
        block = SampleBlock.pack(number * 59_000_000, 500, counts, readings.astype(int))
        data.append(encoder.encode(block))
    with bounded():
        verdict, _ = verdict_on(name, b"".join(data))
    assert not verdict.decided


@pytest.mark.parametrize("rate", ["12345678901234", "0", "-5", "fast"])
@pytest.mark.parametrize("command", [["record", "/dev/nothing", "out.swr"], ["watch", "/dev/x"]])
def test_a_baud_rate_that_cannot_be_is_one_line(
    rate: str, command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        cli.main([*command, "--baud", rate])
    assert left.value.code == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_container_of_empty_frames_and_one_of_a_million_notes_are_read(tmp_path: Path) -> None:
    zeros = tmp_path / "zeros.swr"
    with RecordingWriter(zeros, {}):
        pass
    zeros.write_bytes(zeros.read_bytes() + bytes(2_000_000))
    with bounded(most_bytes=300e6):
        assert read_recording(zeros).health.samples == 0
