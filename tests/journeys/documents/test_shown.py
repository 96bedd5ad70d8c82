"""Does what the documents show happen? Output, command lines, profiles, Python, exit codes."""

from __future__ import annotations

import json
import re
import shlex
import tomllib

import pytest

from strokewise.daq.profile.keys import TABLES, TOP_TABLE
from strokewise.daq.profile.known import check_table, defaults_text
from strokewise.gui import cli, options
from strokewise.gui.registry import COMMANDS

NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")


def close_enough(printed: str, shown: str) -> bool:
    """Return whether two texts are the same but for the last digit of figures with a point.

    Words, wrapping and whole numbers have to be the same. A figure with a point comes from a fit
    that stops at a finite step, with sums that another processor or another numpy adds in another
    order: where it lies on the edge between two last digits it may fall to either side.
    """
    if NUMBER.sub("#", printed) != NUMBER.sub("#", shown):
        return False
    figures = zip(NUMBER.findall(printed), NUMBER.findall(shown), strict=True)
    return all(one == other or steps_apart(one, other) <= 1 for one, other in figures)


def steps_apart(one: str, other: str) -> float:
    """Return by how many of their last digit two figures with as many places differ."""
    places = {len(text.partition(".")[2]) for text in (one, other)}
    if len(places) > 1 or places == {0}:
        return float("inf")
    first, second = (int(re.sub("[,.]", "", text)) for text in (one, other))
    return abs(first - second)


def test_what_is_shown_is_what_is_printed(current, reader, capsys) -> None:
    for shown in current.shown:
        assert cli.main(shlex.split(shown.line)[1:]) == shown.exit_code
        printed = as_far_as(shown.text, capsys.readouterr().out)
        if not close_enough(printed, shown.text):
            assert printed == shown.text


def as_far_as(shown: str, printed: str) -> str:
    """Return what was printed, as far as it is shown where the last line shown is ``…``."""
    lines = shown.splitlines(keepends=True)
    if lines[-1:] != ["…\n"]:
        return printed
    return "".join([*printed.splitlines(keepends=True)[: len(lines) - 1], lines[-1]])


def test_output_may_be_shown_in_part() -> None:
    assert as_far_as("one\n…\n", "one\ntwo\n") == "one\n…\n"
    assert as_far_as("two\n…\n", "one\ntwo\n") == "one\n…\n"
    assert as_far_as("one\n", "one\ntwo\n") == "one\ntwo\n"


def test_the_demo_is_shown(all_current, root) -> None:
    """So that the test above is not about nothing."""
    makefile = (root / "Makefile").read_text("utf-8")
    demo = re.search(r"^DEMO_RECORDING = (\S+)$", makefile, re.MULTILINE)
    assert demo is not None
    lines = [shown.line for page in all_current for shown in page.shown]
    assert f"strokewise find {demo[1]}" in lines


def test_the_truth_said_of_the_demo_is_its_truth(current, root) -> None:
    truth = json.loads((root / "recordings" / "cranked.truth.json").read_text("utf-8"))
    for said in re.findall(r"known truth \(firing TDC of cylinder 1 at ([\d.]+)°\)", current.text):
        places = len(said.partition(".")[2])
        assert said == f"{truth['firing']['1']:.{places}f}"


@pytest.mark.parametrize(
    ("printed", "shown", "same"),
    [
        ("fires at 81.55°, 8 times", "fires at 81.55°, 8 times", True),
        ("fires at 81.55°, 8 times", "fires at 81.56°, 8 times", True),
        ("fires at 81.55°, 8 times", "fires at 81.57°, 8 times", False),
        ("fires at 81.99°", "fires at 82.00°", True),
        ("fires at 81.55°", "fires at 81.5°", False),
        ("fires at 81.55°, 8 times", "fires at 81.55°, 9 times", False),
        ("4,001 samples", "4,002 samples", False),
        ("early by 1.2°", "late by 1.2°", False),
        ("two\nlines", "two lines", False),
    ],
)
def test_figures_are_compared_by_their_digits(printed: str, shown: str, same: bool) -> None:
    assert close_enough(printed, shown) is same


def test_every_command_line_is_one_that_strokewise_takes(page) -> None:
    for words in page.command_lines:
        args = cli.build_parser().parse_args(shlex.split(words.replace("\\", "/")))
        assert callable(args.run)


def test_there_are_command_lines_to_be_read(all_current) -> None:
    assert sum(len(page.command_lines) for page in all_current) >= len(COMMANDS)


def test_every_profile_shown_reads(current) -> None:
    for text in current.blocks_of("toml"):
        assert check_table(tomllib.loads(text)).profile.cylinders


def test_one_profile_shown_is_whole(all_current) -> None:
    missing = []
    for text in (text for page in all_current for text in page.blocks_of("toml")):
        table = tomllib.loads(text)
        lacks = {key.name for key in TOP_TABLE.keys} - set(table)
        for name, spec in TABLES.items():
            inner = table.get(name, {})
            inner = inner[0] if isinstance(inner, list) else inner
            lacks |= {f"{name}.{key.name}" for key in spec.keys if key.name not in inner}
        missing.append(lacks)
    assert min(missing, key=len) == set()


def test_the_defaults_shown_are_the_defaults(all_current) -> None:
    shown = [block.content.rstrip("\n") for page in all_current for block in page.blocks]
    assert defaults_text() in shown


def test_the_python_shown_runs(current, reader, capsys) -> None:
    for text in current.blocks_of("python"):
        exec(compile(text, current.name, "exec"), {})
        assert capsys.readouterr().out.strip()


def test_python_is_shown(all_current) -> None:
    assert any(page.blocks_of("python") for page in all_current)


def test_the_exit_codes_are_as_said(all_current, reader, capsys) -> None:
    """Found by running into each of them, on recordings that are shipped."""
    said = re.compile(r"Exit codes: 0 decided, 3 [^.]*?, 2 ")
    assert any(said.search(page.text) for page in all_current)
    assert cli.main(["find", "recordings/cranked.swr"]) == options.EXIT_DECIDED == 0
    assert cli.main(["find", "recordings/manifold.swr"]) == options.EXIT_UNDECIDED == 3
    capsys.readouterr()
    assert cli.main(["find", "recordings/absent.swr"]) == options.EXIT_BAD_INPUT == 2
    printed = capsys.readouterr()
    assert (printed.out, printed.err.count("\n")) == ("", 1)


def test_no_other_exit_code_is_named(current) -> None:
    known = {options.EXIT_DECIDED, options.EXIT_BAD_INPUT, options.EXIT_UNDECIDED}
    named = re.findall(r"exit(?:s with| codes?:?) (\d+)", current.text, re.IGNORECASE)
    assert {int(code) for code in named} <= known | {cli.EXIT_INTERRUPTED}
