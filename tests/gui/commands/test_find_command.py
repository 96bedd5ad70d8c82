"""The main job as a person asks for it: a recording in, an answer or one clear line out."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any, get_args

import pytest

from strokewise.analysis.verdict.verdict import AskedMethod
from strokewise.gui import cli
from strokewise.gui.pages.find import METHODS

PNG = bytes.fromhex("89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c489")
# How sharp the answer is, is for tests/analysis: gas without losses is no engine that it expects.
CLOSE_DEG = 4
NOBODY = 65534  # a user that owns nothing, on every Linux
Run = pytest.CaptureFixture[str]


def answer_of(out: str) -> dict[str, Any]:
    """Return the one JSON object that standard output holds."""
    [line] = out.splitlines()
    return json.loads(line)


def test_json_is_one_object_with_the_right_answer(
    toy_file: Path, toy: SimpleNamespace, capsys: Run
) -> None:
    assert cli.main(["find", str(toy_file), "--json"]) == 0
    answer = answer_of(capsys.readouterr().out)
    assert list(answer) == [
        *("decided", "reason", "warnings", "version"),
        *("tdc", "firing", "phase", "compression", "diagnostics", "health"),
    ]
    assert answer["tdc"]["cylinder"] == toy.cylinder
    assert answer["tdc"]["angle"] == pytest.approx(toy.firing_1_deg + 180, abs=CLOSE_DEG)
    assert answer["firing"]["1"] == pytest.approx(toy.firing_1_deg, abs=CLOSE_DEG)
    assert answer["firing"]["2"] == pytest.approx(toy.firing_1_deg + 540, abs=CLOSE_DEG)
    assert answer["health"]["lost_frames"] == 0


def test_words_name_the_cylinder_on_its_firing_stroke(toy_file: Path, capsys: Run) -> None:
    assert cli.main(["find", str(toy_file)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert re.match(r"DECIDED, TDC ± [\d.]+°: cylinder 1 fires at ", said)
    # Twelve turns end at 0 degrees of a cycle: 80 past 640, where cylinder 2 fires.
    assert re.search(r"cylinder 2 on its firing stroke, (7[6-9]|8[0-4])° past firing TDC", said)
    assert "two full turns by hand" in said
    assert "nothing lost" in said


def test_the_command_line_goes_before_the_recording(
    toy_file: Path, toy: SimpleNamespace, capsys: Run
) -> None:
    assert cli.main(["find", str(toy_file), "--json", "--set", "sensor.cylinder=1"]) == 0
    answer = answer_of(capsys.readouterr().out)
    assert answer["tdc"]["cylinder"] == 1
    assert answer["firing"]["1"] == pytest.approx(toy.firing_1_deg + 180, abs=CLOSE_DEG)


def test_a_contradiction_is_a_warning_on_both_channels(toy_file: Path, capsys: Run) -> None:
    cli.main(["find", str(toy_file), "--json", "--set", "encoder.counts_per_rev=2000"])
    said = capsys.readouterr()
    codes = [warning["code"] for warning in answer_of(said.out)["warnings"]]
    assert "counts-contradiction" in codes
    assert "2400" in said.err


def test_an_unknown_engine_is_answered_and_said_so(
    toy: SimpleNamespace, tmp_path: Path, capsys: Run
) -> None:
    file = toy.write(tmp_path / "unknown.swr", toy.sent(toy.frames()), engine=None)
    assert cli.main(["find", str(file), "--json"]) in (0, 3)
    answer = answer_of(capsys.readouterr().out)
    assert answer["warnings"][0]["code"] == "engine-unknown"
    assert answer["tdc"]["angle"] == pytest.approx(toy.firing_1_deg + 180, abs=CLOSE_DEG)


def test_a_folder_is_one_object_a_line_with_its_file(
    toy: SimpleNamespace, tmp_path: Path, capsys: Run
) -> None:
    for name in ("b.swr", "a.swr"):
        toy.write(tmp_path / name, toy.sent(toy.frames()))
    (tmp_path / "notes.txt").write_text("not a recording")
    assert cli.main(["find", str(tmp_path), "--json"]) == 0
    said = capsys.readouterr()
    files = [json.loads(line)["file"] for line in said.out.splitlines()]
    assert files == [str(tmp_path / "a.swr"), str(tmp_path / "b.swr")]
    assert said.err.splitlines()[0] == f"1 of 2: {tmp_path / 'a.swr'}"


def test_a_bad_file_in_a_folder_hides_no_answer(
    toy: SimpleNamespace, tmp_path: Path, capsys: Run
) -> None:
    (tmp_path / "a.swr").write_bytes(PNG)
    toy.write(tmp_path / "b.swr", toy.sent(toy.frames()))
    assert cli.main(["find", str(tmp_path), "--json"]) == 2
    said = capsys.readouterr()
    assert answer_of(said.out)["decided"] is True
    assert "a.swr is not a recording" in said.err


def test_too_little_to_decide_is_code_3_and_says_what_to_do(
    toy: SimpleNamespace, tmp_path: Path, capsys: Run
) -> None:
    file = toy.write(tmp_path / "short.swr", toy.sent(toy.frames(turns=0.5)))
    assert cli.main(["find", str(file), "--json"]) == 3
    answer = answer_of(capsys.readouterr().out)
    assert (answer["decided"], answer["firing"]) == (False, None)
    assert len(answer["reason"]) > 20


class TestCut:
    """A recording cut anywhere is answered from what is there."""

    def test_every_cut_is_0_or_3_and_says_how_much_is_missing(
        self, toy: SimpleNamespace, tmp_path: Path, capsys: Run
    ) -> None:
        whole = toy.write(tmp_path / "whole.swr", toy.sent(toy.frames(turns=4))).read_bytes()
        cut = tmp_path / "cut.swr"
        ends = [1, 2, 50, len(whole) // 4, len(whole) // 2 + 3, len(whole) - 2]
        for end in ends:
            cut.write_bytes(whole[:end])
            assert cli.main(["find", str(cut), "--json"]) in (0, 3), f"cut at {end}"
            answer = answer_of(capsys.readouterr().out)
            missing = [w["text"] for w in answer["warnings"] if w["code"] == "cut"]
            behind_last_frame = end - (whole.rfind(b"\0", 0, end) + 1)
            assert str(behind_last_frame) in missing[0], f"cut at {end}"


class TestBadInput:
    """One clear line, exit code 2, nothing on standard output."""

    def refused(self, capsys: Run, *argv: str) -> str:
        assert cli.main(["find", *argv]) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.count("\n") == 1
        assert said.err.startswith("strokewise: ")
        return said.err

    def test_a_missing_file(self, tmp_path: Path, capsys: Run) -> None:
        assert "no such file" in self.refused(capsys, str(tmp_path / "none.swr"))

    def test_an_empty_file(self, tmp_path: Path, capsys: Run) -> None:
        (tmp_path / "empty.swr").touch()
        assert "is empty" in self.refused(capsys, str(tmp_path / "empty.swr"))

    def test_a_picture(self, tmp_path: Path, capsys: Run) -> None:
        (tmp_path / "picture.swr").write_bytes(PNG)
        assert "is not a recording" in self.refused(capsys, str(tmp_path / "picture.swr"))

    def test_a_folder_without_recordings(self, tmp_path: Path, capsys: Run) -> None:
        assert "no recording (.swr)" in self.refused(capsys, str(tmp_path))

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ('bore = "82 kg"', "line 3: bore"),
            ("bore = 82", "needs a unit"),
            ('boar = "82 mm"', "did you mean bore?"),
            ("firing_order = [1, 3, 3, 2]", "cylinder 3"),
            ("cylinders = ", "not valid TOML"),
        ],
    )
    def test_a_wrong_profile(
        self, toy_file: Path, tmp_path: Path, text: str, said: str, capsys: Run
    ) -> None:
        lines = ["cylinders = 4", "firing_order = [1, 3, 4, 2]", text]
        if text.startswith("firing_order"):
            lines.pop(1)
        profile = tmp_path / "engine.toml"
        profile.write_text("\n".join(lines))
        line = self.refused(capsys, str(toy_file), "--engine", str(profile))
        assert said in line
        assert str(profile) in line

    def test_a_sensor_on_a_channel_that_no_sample_has(self, toy_file: Path, capsys: Run) -> None:
        line = self.refused(capsys, str(toy_file), "--set", "sensor.channel=2")
        assert "sensor.channel = 2" in line
        assert "end at channel 0" in line

    def test_a_missing_profile(self, toy_file: Path, capsys: Run) -> None:
        assert "none.toml" in self.refused(capsys, str(toy_file), "--engine", "none.toml")

    def test_a_file_that_may_not_be_read(
        self, toy_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: Run
    ) -> None:
        def refuse(self: Path) -> bytes:  # root may read everything, so the system is played here
            raise PermissionError(13, "Permission denied", str(self))

        monkeypatch.setattr(Path, "read_bytes", refuse)
        assert "no permission" in self.refused(capsys, str(toy_file))


def test_the_methods_offered_are_those_of_the_analysis() -> None:
    assert set(METHODS) == set(get_args(AskedMethod))


def test_a_method_without_losses_says_what_its_interval_leaves_out(
    toy_file: Path, capsys: Run
) -> None:
    cli.main(["find", str(toy_file), "--json", "--method", "peak"])
    answer = answer_of(capsys.readouterr().out)
    assert answer["tdc"]["method"] == "peak"
    assert "losses-not-fitted" in [warning["code"] for warning in answer["warnings"]]


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="only where files have owners")
def test_no_permission_for_real_where_one_is_not_root(toy_file: Path) -> None:
    toy_file.chmod(0o000)
    program = (
        "import os, sys\n"
        "from strokewise.gui.cli import build_parser, main\n"
        "build_parser('find')\n"
        "import strokewise.analysis.verdict.find, strokewise.daq.recording.read\n"
        "import strokewise.gui.recordings\n"
        f"os.geteuid() or os.seteuid({NOBODY})\n"
        f"sys.exit(main(['find', {str(toy_file)!r}]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1


def test_find_loads_no_qt(toy_file: Path) -> None:
    program = (
        "import sys\n"
        "from strokewise.gui.cli import main\n"
        f"code = main(['find', {str(toy_file)!r}])\n"
        "print([name for name in sys.modules if name.startswith(('PySide6', 'pyqtgraph'))])\n"
        "sys.exit(code)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[-1] == "[]"
