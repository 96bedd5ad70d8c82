"""A trap of the trade: the mark on the cam sprocket that lines up at overlap of cylinder 1."""

from pathlib import Path

import pytest

from strokewise.gui import cli


def test_a_cam_mark_at_overlap_names_overlap_companion_and_half_a_turn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recording = tmp_path / "trap.swr"
    made = [
        "simulate",
        str(recording),
        "--scenario",
        "cam-mark-at-overlap",
        "--set",
        "seconds=2.5s",
    ]
    assert cli.main(made) == 0
    capsys.readouterr()
    cli.main(["marks", str(recording)])
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "here cylinder 1 is at overlap and cylinder 4 is at firing TDC: a drive gear (ignition or"
        " injection) set here for cylinder 1 would be half a turn out"
    ) in said
