"""Does the README tell the truth? Its commands parse, its profile reads, its output is ours."""

import re
import shlex
import tomllib
from pathlib import Path

import pytest

from strokewise.daq.profile.keys import TABLES, TOP
from strokewise.daq.profile.known import check_table, defaults_text
from strokewise.gui import cli

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w*)\n(.*?)```", README, re.DOTALL)
COMMAND_LINES = re.findall(r"^ {4}(strokewise .*)$", README, re.MULTILINE)
SHOWN = re.findall(r"<!-- (strokewise .*?) -->\n```\n(.*?)```", README, re.DOTALL)


def block(language: str) -> str:
    """Return the first code block of a language."""
    return next(text for name, text in BLOCKS if name == language)


def masked(text: str) -> str:
    """Return text without its figures and its wrapping: those move with every better estimate."""
    return " ".join(re.sub(r"\d+", "0", text).split())


@pytest.mark.parametrize("line", COMMAND_LINES)
def test_every_command_line_is_one_that_strokewise_takes(line: str) -> None:
    args = cli.build_parser().parse_args(shlex.split(line)[1:])
    assert callable(args.run)


def test_every_command_is_named() -> None:
    table = README.split("## Commands")[1].split("###")[0]
    missing = [name for name in cli.COMMANDS if not re.search(rf"`{name}\b", table)]
    assert not missing


@pytest.mark.parametrize(("line", "shown"), SHOWN)
def test_what_is_shown_is_what_is_printed(
    line: str, shown: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    assert cli.main(shlex.split(line)[1:]) == 0
    assert masked(capsys.readouterr().out) == masked(shown)


def test_the_profile_shown_is_whole_and_reads() -> None:
    table = tomllib.loads(block("toml"))
    assert check_table(table).profile.cylinders == 4
    assert [key.name for key in TOP.keys if key.name not in table] == []
    missing = [
        f"{name}.{key.name}"
        for name, spec in TABLES.items()
        for key in spec.keys
        if key.name not in (table[name][0] if isinstance(table[name], list) else table[name])
    ]
    assert missing == []


def test_the_defaults_shown_are_the_defaults() -> None:
    assert defaults_text() in [text.rstrip("\n") for _, text in BLOCKS]


def test_the_python_shown_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    exec(compile(block("python"), "README.md", "exec"), {})
    assert "Interval(value=" in capsys.readouterr().out


@pytest.mark.parametrize(
    "link", re.findall(r"\]\((?!https?:)([^)#]+)\)", README + (ROOT / "DEVELOPERS.md").read_text())
)
def test_every_link_leads_somewhere(link: str) -> None:
    assert (ROOT / link).exists()
