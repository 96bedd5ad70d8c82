"""How is a simulated recording kept? With its engine profile and its truth beside it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import RecordingError
from strokewise.daq.bench.bench import Bench, Take
from strokewise.daq.bench.stated_profile import stated_profile, toml_text
from strokewise.daq.bench.truth import truth
from strokewise.daq.recording.atomic import write_atomically
from strokewise.daq.recording.container import RECORDING_SUFFIX
from strokewise.daq.recording.record import recording_header
from strokewise.daq.recording.writer import RecordingWriter

STARTED = datetime(2000, 1, 1, tzinfo=UTC)
"""A simulated recording was never made at any time; one fixed moment keeps its bytes the same."""

INVENTED = "Engine profile of a simulated engine: invented, of no maker."


@dataclass(frozen=True, slots=True)
class Files:
    """Where the three parts lie."""

    recording: Path
    profile: Path
    truth: Path

    @classmethod
    def beside(cls, out: Path) -> Files:
        """Return the three names for one; the suffix of a recording is added when missing."""
        recording = (
            out if out.suffix == RECORDING_SUFFIX else out.with_name(out.name + RECORDING_SUFFIX)
        )
        return cls(recording, recording.with_suffix(".toml"), recording.with_suffix(".truth.json"))

    def must_be_new(self) -> None:
        """Refuse to write over anything.

        Raises
        ------
        RecordingError
            When one of the three is there, or the folder is not.
        """
        if not self.recording.parent.is_dir():
            raise RecordingError(f"{self.recording.parent}: no such folder; make it first")
        for path in (self.recording, self.profile, self.truth):
            if path.exists():
                raise RecordingError(
                    f"{path} is there already and is not written over; choose another name"
                )


def simulated_header(take: Take, *, scenario: str, made_by: str) -> dict[str, Any]:
    """Return a recording's first frame that says what it is."""
    header = recording_header(engine=stated_profile(take.bench), now=STARTED)
    return {
        **header,
        "simulated": True,
        "scenario": scenario,
        "operator_note": f"Simulated, an invented engine. Made by: {made_by}",
    }


def keep(take: Take, files: Files, *, scenario: str, made_by: str) -> None:
    """Write the profile, the truth and last the recording.

    Parameters
    ----------
    scenario : str
        Its name.
    made_by : str
        The command that makes the same again.

    Raises
    ------
    RecordingError
        When a file is there already or cannot be written.
    """
    files.must_be_new()
    true = truth(take)
    true["truth"] = {"scenario": scenario, "made_by": made_by, **true["truth"]}
    write_profile(take.bench, files.profile, f"Made by: {made_by}")
    _write_new(files.truth, json.dumps(true, indent=1) + "\n")
    header = simulated_header(take, scenario=scenario, made_by=made_by)
    with RecordingWriter(files.recording, header) as writer:
        for item in take.items:
            writer.append(item)


def write_profile(bench: Bench, path: Path, comment: str = "") -> None:
    """Write the engine profile of a bench as a new TOML file.

    Raises
    ------
    RecordingError
        When the file is there already or cannot be written.
    """
    _write_new(path, toml_text(stated_profile(bench), f"{INVENTED}\n{comment}".rstrip()))


def _write_new(path: Path, text: str) -> None:
    try:
        write_atomically(path, text.encode(), replace=False)
    except FileExistsError:
        raise RecordingError(
            f"{path} is there already and is not written over; choose another name"
        ) from None
    except OSError as error:
        raise RecordingError(f"{path} cannot be written: {error.strerror}") from None
