"""How does a recording get into a spreadsheet or a notebook? Its samples and events as tables."""

from __future__ import annotations

import argparse
import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np

from strokewise.analysis.crank.angle import motion_of
from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import Recording, Segment
from strokewise.analysis.trace.trace import trace_of
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.daq.profile.write import profile_to_table
from strokewise.daq.recording.read import read_recording
from strokewise.gui.commands.export_events import EVENT_WORDS, event_table, events_said
from strokewise.gui.options import (
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_engine_options,
    known_from,
)
from strokewise.gui.pages.words import FRAME_WORDS, health_words
from strokewise.gui.safe_text import safe_cell, safe_line

Columns = dict[str, Any]  # name to a numpy array or a list, all of one length

ROWS_AT_ONCE = 50_000  # a few megabytes of text, whatever the recording's length


# Digits in CSV: the board's microseconds, a thousandth of what a fine encoder resolves, and a
# pressure finer than a step of any converter met here.
FORMATS = {"time_s": "%.6f", "crank_deg": "%.4f", "speed_rev_min": "%.3f"}
PRESSURE_FORMAT = "%.5f"

QUOTE = '"'
NEEDS_QUOTES = ',"\r\n'  # RFC 4180, section 2


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise export``."""
    parser = add_command(
        subparsers,
        "export",
        example="strokewise export bench.swr --csv bench.csv\n"
        "strokewise export bench.swr --parquet bench.parquet --engine bench.toml",
        after="Index pulses, mark edges and keys pressed go into a second table beside the first,\n"
        "OUT with .events before its ending: bench.events.csv. The provenance stands in comment\n"
        "lines (CSV) or in the metadata (Parquet).",
    )
    parser.add_argument("file", metavar="FILE", help="a recording")
    form = parser.add_mutually_exclusive_group(required=True)
    form.add_argument("--csv", metavar="OUT", help="comma-separated text, and OUT's .events.csv")
    form.add_argument("--parquet", metavar="OUT", help="needs pyarrow: pip install pyarrow")
    parser.add_argument("--force", action="store_true", help="write over existing files")
    add_engine_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the tables; exit code 3 when there is no sample to write."""
    out = Path(args.csv or args.parquet)
    beside = out.with_suffix(f".events{out.suffix}")
    for path in (out, beside):
        if path.exists() and not args.force:
            raise InputError(f"{path} is there already: choose another name, or say --force")
    recording = read_recording(args.file)
    known = known_from(args, recording)
    columns = table(recording, known.profile)
    events = event_table(recording, known.profile)
    said = provenance(args.file, recording, known.profile)
    write = write_csv if args.csv else write_parquet
    with replaced_when_whole(out) as part:
        write(part, columns, said)
    with replaced_when_whole(beside) as part:
        write(part, events, {**said, "events": EVENT_WORDS})
    rows = len(columns["time_s"])
    print(f"{rows:,} rows of {', '.join(columns)} in {out}")
    print(f"{events_said(events)} in {beside}")
    return EXIT_DECIDED if rows else EXIT_UNDECIDED


def table(recording: Recording, profile: Profile) -> Columns:
    """Return the columns of all runs of the board, one below the other.

    Times and angles of different runs have different zeros: ``segment`` tells them apart. The
    first sensor of the profile gives ``pressure_bar``, a further one ``pressure_chN_bar``; without
    known points they are called ``…_uncalibrated``, and are proportional at best. Where runs have
    different numbers of readings, those that all of them have are kept.
    """
    runs = [segment for segment in recording.segments if len(segment.samples)]
    channels = min((run.samples.readings.shape[1] for run in runs), default=0)
    parts = [_run_columns(run, profile, channels) for run in runs]
    if not parts:
        return {"segment": np.empty(0, np.int64), "time_s": np.empty(0)}
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _run_columns(run: Segment, profile: Profile, channels: int) -> Columns:

    samples = run.samples
    motion = motion_of(samples.time_us, samples.count, profile.encoder)
    columns: Columns = {
        "segment": np.full(len(samples), run.number),
        "time_s": samples.time_us * 1e-6,
        "crank_deg": motion.angle_deg,
        "speed_rev_min": motion.speed_deg_s / DEG_S_PER_RPM,
    }
    sensors = [sensor for sensor in profile.sensors or (Sensor(),) if sensor.channel < channels]
    for number, sensor in enumerate(sensors):
        trace = trace_of(run, profile, sensor)
        name = "pressure" if number == 0 else f"pressure_ch{sensor.channel}"
        columns[f"{name}_{'bar' if trace.calibrated else 'uncalibrated'}"] = trace.pressure_bar
    columns["count"] = samples.count
    for channel in range(channels):
        columns[f"reading_{channel}"] = samples.readings[:, channel].astype(np.int64)
    columns["after_gap"] = samples.after_gap.astype(np.int64)
    return columns


def provenance(file: str, recording: Recording, profile: Profile) -> dict[str, str]:
    """Return where the table comes from and how its angles are to be read."""
    return {
        "source": Path(file).name,
        "sha256": hashlib.sha256(Path(file).read_bytes()).hexdigest(),
        "started": str(recording.header.get("started", "not known")),
        "recorded_with": str(recording.header.get("software", "not known")),
        "exported_with": f"strokewise {metadata.version('strokewise')}",
        "health": health_words(recording.health, 0.0),
        "engine": json.dumps(profile_to_table(profile), ensure_ascii=False),
        "angles": FRAME_WORDS,
        "notes": " / ".join(" ".join(note.split()) for note in recording.notes) or "none",
    }


def write_csv(path: Path, columns: Columns, said: dict[str, str]) -> None:
    """Write comment lines (``# key: value``), a line of names, then the rows."""
    row = ",".join(_format(name, column) for name, column in columns.items()) + "\n"
    length = len(columns["time_s"])
    with path.open("w", encoding="utf-8", newline="\n") as out:
        out.writelines(f"# {key}: {safe_line(value)}\n" for key, value in said.items())
        out.write(",".join(columns) + "\n")
        for start in range(0, length, ROWS_AT_ONCE):
            block = [
                _plain(name, column[start : start + ROWS_AT_ONCE])
                for name, column in columns.items()
            ]
            out.writelines(row % values for values in zip(*block, strict=True))


def write_parquet(path: Path, columns: Columns, said: dict[str, str]) -> None:
    """Write the columns with the provenance as the schema's metadata."""
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        raise InputError("Parquet needs pyarrow: pip install pyarrow, or use --csv") from None

    rows = pa.table(columns).replace_schema_metadata(
        {f"strokewise.{key}": value for key, value in said.items()}
    )
    pq.write_table(rows, path)


@contextmanager
def replaced_when_whole(out: Path) -> Iterator[Path]:
    """Lend a name beside ``out`` to write to; ``out`` is replaced only by a whole file."""
    part = out.with_name(f".{out.name}.part")
    try:
        yield part
        part.replace(out)
    except OSError as error:
        raise InputError(f"{out} cannot be written: {error.strerror}") from None
    finally:
        part.unlink(missing_ok=True)


def _format(name: str, column: np.ndarray | list[Any]) -> str:
    if isinstance(column, list):
        return "%s"
    if column.dtype.kind in "iu":
        return "%d"
    return FORMATS.get(name, PRESSURE_FORMAT)


def _plain(name: str, column: np.ndarray | list[Any]) -> list[Any]:
    if isinstance(column, list):
        return [_cell(name, value) for value in column]
    return list(column.tolist())


def _cell(name: str, value: float | str | None) -> str:
    """Return a value of a list as CSV has it: nothing where it is not known."""
    if value is None:
        return ""
    if isinstance(value, float):
        return FORMATS[name] % value
    text = safe_cell(str(value))
    return f'"{text.replace(QUOTE, 2 * QUOTE)}"' if set(text) & set(NEEDS_QUOTES) else text
