"""A recording as a table: the columns' meaning, the provenance, and what is not written over."""

import csv
import json
import sys
from pathlib import Path
from types import SimpleNamespace

import pyarrow.parquet as pq
import pytest

from strokewise.daq.recording.container import Jotting
from strokewise.daq.wire.frames import Event
from strokewise.gui import cli

Said = pytest.CaptureFixture[str]


def read_csv(path: Path) -> tuple[dict[str, str], list[dict[str, str]]]:
    """Return the comment lines as a dict, and the rows."""
    lines = path.read_text(encoding="utf-8").splitlines()
    said = dict(line[2:].split(": ", 1) for line in lines if line.startswith("# "))
    return said, list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_csv_has_named_units_and_right_values(
    toy_file: Path, toy: SimpleNamespace, tmp_path: Path, capsys: Said
) -> None:
    out = tmp_path / "toy.csv"
    assert cli.main(["export", str(toy_file), "--csv", str(out)]) == 0
    said, rows = read_csv(out)
    assert list(rows[0]) == [
        *("segment", "time_s", "crank_deg", "speed_rev_min", "pressure_bar"),
        *("count", "reading_0", "after_gap"),
    ]
    assert len(rows) == 7200
    row = rows[2000]  # one second at 1,200 degrees a second
    assert float(row["time_s"]) == 1.0
    assert float(row["crank_deg"]) == pytest.approx(1200, abs=0.1)
    assert float(row["speed_rev_min"]) == pytest.approx(200, abs=1)
    assert float(row["pressure_bar"]) == pytest.approx(
        (int(row["reading_0"]) - 100) / 200, abs=1e-4
    )
    assert said["source"] == "toy.swr"
    assert json.loads(said["engine"])["name"] == toy.engine["name"]
    assert "7,200 rows" in capsys.readouterr().out


def test_events_stand_in_a_table_beside(tmp_path: Path, toy: SimpleNamespace, capsys: Said) -> None:
    marks = [{"name": 'notch, "front"', "input": 2, "stated": "0 deg ATDC"}]
    frames = [*toy.frames(), Event(1_000_000, 8000, 2), Event(1_500_000, 12000, 3)]
    jottings = (Jotting(0, note="cold engine"), Jotting(10**9, mark="valves rock 4"))
    file = toy.write(
        tmp_path / "toy.swr",
        toy.sent(frames),
        engine={**toy.engine, "marks": marks},
        items=jottings,
    )
    assert cli.main(["export", str(file), "--csv", str(tmp_path / "toy.csv")]) == 0
    said, rows = read_csv(tmp_path / "toy.events.csv")
    assert list(rows[0]) == [
        *("segment", "time_s", "crank_deg", "kind", "name", "input", "count"),
    ]
    [notch] = [row for row in rows if row["name"] == 'notch, "front"']
    assert (notch["kind"], notch["input"], notch["count"]) == ("mark", "2", "8000")
    assert float(notch["time_s"]) == 1.0
    assert float(notch["crank_deg"]) == pytest.approx(8000.5 * 360 / 2400, abs=1e-3)
    [unnamed] = [row for row in rows if row["input"] == "3"]
    assert (unnamed["kind"], unnamed["name"]) == ("mark", "")
    assert [row["kind"] for row in rows].count("index") >= 10
    [key] = [row for row in rows if row["kind"] == "key"]
    assert (key["name"], key["input"], key["count"]) == ("valves rock 4", "", "")
    assert said["notes"] == "cold engine"
    assert "2 mark edges, 1 key pressed in " in capsys.readouterr().out
    assert cli.main(["export", str(file), "--parquet", str(tmp_path / "toy.parquet")]) == 0
    table = pq.read_table(tmp_path / "toy.events.parquet")
    assert table["name"].to_pylist() == [row["name"] for row in rows]
    assert table["count"].to_pylist() == [
        int(row["count"]) if row["count"] else None for row in rows
    ]


def test_an_existing_table_of_events_is_kept(toy_file: Path, tmp_path: Path, capsys: Said) -> None:
    (tmp_path / "toy.events.csv").write_text("precious")
    assert cli.main(["export", str(toy_file), "--csv", str(tmp_path / "toy.csv")]) == 2
    assert "toy.events.csv is there already" in capsys.readouterr().err
    assert not (tmp_path / "toy.csv").exists()


def test_parquet_holds_the_same_with_its_provenance(toy_file: Path, tmp_path: Path) -> None:
    csv_out, out = tmp_path / "toy.csv", tmp_path / "toy.parquet"
    assert cli.main(["export", str(toy_file), "--csv", str(csv_out)]) == 0
    assert cli.main(["export", str(toy_file), "--parquet", str(out)]) == 0
    said, rows = read_csv(csv_out)
    table = pq.read_table(out)
    assert table.column_names == list(rows[0])
    assert table["reading_0"].to_pylist() == [int(row["reading_0"]) for row in rows]
    assert table["crank_deg"].to_pylist() == pytest.approx(
        [float(row["crank_deg"]) for row in rows], abs=1e-4
    )
    metadata = {key.decode(): value.decode() for key, value in table.schema.metadata.items()}
    assert metadata["strokewise.sha256"] == said["sha256"]


def test_two_runs_of_the_board_are_told_apart(toy: SimpleNamespace, tmp_path: Path) -> None:
    sent = toy.sent(toy.frames(turns=1)) + toy.sent(toy.frames(turns=2))  # its clock starts over
    file = toy.write(tmp_path / "two.swr", sent)
    out = tmp_path / "two.csv"
    assert cli.main(["export", str(file), "--csv", str(out)]) == 0
    _, rows = read_csv(out)
    assert [row["segment"] for row in rows].count("0") == 600
    assert [row["segment"] for row in rows].count("1") == 1200


def test_pressure_without_known_points_is_not_called_bar(
    toy: SimpleNamespace, tmp_path: Path
) -> None:
    file = toy.write(tmp_path / "raw.swr", toy.sent(toy.frames(turns=1)), engine=None)
    assert cli.main(["export", str(file), "--csv", str(tmp_path / "raw.csv")]) == 0
    _, rows = read_csv(tmp_path / "raw.csv")
    assert "pressure_uncalibrated" in rows[0]
    assert "pressure_bar" not in rows[0]


def test_an_existing_file_is_kept_unless_forced(
    toy_file: Path, tmp_path: Path, capsys: Said
) -> None:
    out = tmp_path / "toy.csv"
    out.write_text("precious")
    assert cli.main(["export", str(toy_file), "--csv", str(out)]) == 2
    said = capsys.readouterr().err
    assert "--force" in said
    assert said.count("\n") == 1
    assert out.read_text() == "precious"
    assert cli.main(["export", str(toy_file), "--csv", str(out), "--force"]) == 0
    assert out.read_text().startswith("# source")


def test_a_failed_write_leaves_nothing_behind(toy_file: Path, tmp_path: Path, capsys: Said) -> None:
    out = tmp_path / "no-such-folder" / "toy.csv"
    assert cli.main(["export", str(toy_file), "--csv", str(out)]) == 2
    assert f"{out} cannot be written: No such file or directory" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["toy.swr"]


def test_nothing_to_write_is_code_3(toy: SimpleNamespace, tmp_path: Path) -> None:
    file = toy.write(tmp_path / "empty.swr", b"")
    assert cli.main(["export", str(file), "--csv", str(tmp_path / "empty.csv")]) == 3
    said, rows = read_csv(tmp_path / "empty.csv")
    assert (said["source"], rows) == ("empty.swr", [])


def test_parquet_without_its_library_says_what_to_install(
    toy_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Said
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert cli.main(["export", str(toy_file), "--parquet", str(tmp_path / "a.parquet")]) == 2
    assert "pip install pyarrow" in capsys.readouterr().err
