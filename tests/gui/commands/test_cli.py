"""How every command is asked for, and how it ends when something is wrong."""

import argparse
import codecs
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import strokewise.gui
from strokewise.analysis.errors import InputError
from strokewise.daq import ports
from strokewise.gui import cli
from strokewise.gui.commands import ports as ports_command
from strokewise.gui.registry import COMMANDS
from strokewise.gui.safe_text import plain_where_lacking

FOLDER = Path(strokewise.gui.__path__[0]) / "commands"


def failing_with(error: BaseException) -> Callable[[argparse.Namespace], int]:
    def run(args: argparse.Namespace) -> int:
        raise error

    return run


def test_every_command_module_is_registered_once() -> None:
    modules = sorted(
        path.stem
        for path in FOLDER.glob("*.py")
        if "def add_parser(" in path.read_text(encoding="utf-8")
    )
    assert sorted(command.module or command.name for command in COMMANDS) == modules


@pytest.mark.parametrize("name", [command.name for command in COMMANDS])
def test_every_help_says_what_it_answers_and_shows_an_example(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main([name, "--help"])
    said = capsys.readouterr().out
    assert ended.value.code == 0
    assert f"strokewise {name}" in said.split("example:")[1]
    beside_usage = said.split("\n\n", 1)[1]  # argparse itself sets the usage lines
    assert max(map(len, beside_usage.splitlines())) < 100


@pytest.mark.parametrize("argv", [[], ["no-such-command"], ["ports", "--no-such-option"], ["find"]])
def test_a_wrong_command_line_is_one_line_and_code_2(
    argv: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(argv)
    said = capsys.readouterr()
    assert (ended.value.code, said.out) == (2, "")
    assert said.err.count("\n") == 1
    assert "--help" in said.err


@pytest.mark.parametrize(
    "words",
    [
        "job add JOB --set a=1 F1 F2",
        "job add --set a=1 JOB F1 F2",
        "job add JOB F1 --set a=1 F2",
        "job add JOB F1 F2 --set a=1",
        "compare F1 --set a=1 F2",
        "find --set a=1 F1 F2",
        "find F1 F2 --set a=1",
        "find F1 --set a=1 F2",
    ],
)
def test_files_and_options_come_in_any_order(words: str) -> None:
    args = cli.build_parser().parse_args(words.split())
    assert args.settings == ["a=1"]
    assert args.files == ["F1", "F2"]
    if "job" in words:
        assert args.folder == "JOB"


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ("job add", "strokewise job add: the following arguments are required: JOB (see"),
        ("cam F1 F2", "strokewise cam: not understood: F2 (see strokewise cam --help)"),
        ("find F1 --nope", "strokewise find: not understood: --nope"),
        ("job add JOB --set", "strokewise job add: argument --set: expected one argument"),
    ],
)
def test_a_line_that_is_not_understood_names_its_command(
    words: str, line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        cli.main(words.split())
    said = capsys.readouterr().err
    assert said.startswith(line)
    assert said.count("\n") == 1


@pytest.mark.parametrize(
    ("error", "line"),
    [
        (InputError("a.toml, line 3:\n bore wants a unit"), "a.toml, line 3: bore wants a unit"),
        (PermissionError(13, "Permission denied", "a.swr"), "a.swr: Permission denied"),
        (OSError("the disk is full"), "the disk is full"),
    ],
)
def test_a_persons_error_is_one_line_and_code_2(
    error: Exception,
    line: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(ports_command, "run", failing_with(error))
    assert cli.main(["ports"]) == 2
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", f"strokewise: {line}\n")


def test_a_mistake_of_ours_is_not_dressed_up_as_the_persons(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(ports_command, "run", failing_with(ZeroDivisionError("ours")))
    with pytest.raises(ZeroDivisionError, match="ours"):
        cli.main(["ports"])


def test_ctrl_c_ends_without_a_word(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(ports_command, "run", failing_with(KeyboardInterrupt()))
    assert cli.main(["ports"]) == 130
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("argv", [["ports"], ["ports", "--help"]])
def test_a_reader_that_has_gone_brings_no_traceback(argv: list[str]) -> None:
    read_end, write_end = os.pipe()
    os.close(read_end)
    done = subprocess.run(
        [sys.executable, "-m", "strokewise.gui", *argv],
        stdout=write_end,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(write_end)
    assert (done.returncode, done.stderr) == (0, "")


def test_help_and_analysis_load_neither_qt_nor_the_heavy_libraries() -> None:
    program = (
        "import sys\n"
        "import strokewise.analysis, strokewise.gui.cli\n"
        "strokewise.gui.cli.build_parser(wanted='')\n"
        "print(sorted({name.split('.')[0] for name in sys.modules}"
        " & {'PySide6', 'pyqtgraph', 'scipy', 'pint', 'pyarrow', 'serial'}))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


class TestPorts:
    """The list of serial ports."""

    @pytest.fixture
    def one_board(self, monkeypatch: pytest.MonkeyPatch) -> None:
        found = [ports.Port("/dev/ttyACM7", "A board"), ports.Port("/dev/ttyS0", "")]
        monkeypatch.setattr(ports, "ports", lambda: found)

    @pytest.mark.usefixtures("one_board")
    def test_ports_are_listed_with_their_descriptions(
        self, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert cli.main(["ports"]) == 0
        assert capsys.readouterr().out == "/dev/ttyACM7     A board\n/dev/ttyS0\n"

    @pytest.mark.usefixtures("one_board")
    def test_ports_as_json(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert cli.main(["ports", "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["ports"] == [
            {"port": "/dev/ttyACM7", "description": "A board"},
            {"port": "/dev/ttyS0", "description": None},
        ]

    def test_no_port_is_said_in_words(
        self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        monkeypatch.setattr(ports, "ports", list)
        assert cli.main(["ports"]) == 3
        assert capsys.readouterr().out.startswith("No serial port found: plug the board in")
        assert cli.main(["ports", "--json"]) == 3
        assert json.loads(capsys.readouterr().out)["ports"] == []


@pytest.mark.parametrize(("before", "after"), [(None, "1"), ("4", "4")])
def test_small_matrices_get_one_thread_unless_someone_says_otherwise(
    before: str | None, after: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", before or "")
    if before is None:
        monkeypatch.delenv("OPENBLAS_NUM_THREADS")
    with pytest.raises(SystemExit):
        cli.main(["--version"])
    assert os.environ["OPENBLAS_NUM_THREADS"] == after


def test_a_console_that_lacks_a_sign_shows_a_plain_one_and_never_loses_a_minus() -> None:
    codecs.register_error("plain", plain_where_lacking)
    assert "−0.010 mm … ☑".encode("latin-1", "plain") == b"-0.010 mm ... ?"
    assert "−5° “x”".encode("ascii", "plain") == b'-5? "x"'
    with pytest.raises(UnicodeDecodeError):
        b"\xff".decode("ascii", "plain")


def test_a_plain_console_is_served_by_the_command(capfdbinary) -> None:
    asked = ("valves", "--after-tdc", "0", "--engine", "recordings/cranked.toml")
    code = "import sys; from strokewise.gui.cli import main; sys.exit(main(sys.argv[1:]))"
    done = subprocess.run(
        (sys.executable, "-c", code, *asked, "--gap", "1E=0.40 mm, 0.36 mm, 0.35 mm"),
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
        cwd=FOLDER.parents[1],
        capture_output=True,
        check=True,
    )
    assert b"the locknut moved it by -0.010" in b" ".join(done.stdout.split())
