"""Is there whatever the documents name? Commands, options, paths, links, targets, keys, counts."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from typing import Any

import pytest

from strokewise.analysis.verdict.methods import BASELINES
from strokewise.analysis.verdict.verdict import DECIDED_AT
from strokewise.gui import cli
from strokewise.gui.models.keys import KEYS
from strokewise.gui.registry import COMMANDS

A_PATH = re.compile(r"\.?[a-zA-Z_*][\w.*-]*(?:/[\w.*-]+)*/?")
A_PLACEHOLDER = re.compile(r"[A-Z]{4,}")
BENCHMARKS = "tests/benchmarks/"
MOST_MODULES = 30
"""What a newcomer reads from bytes to verdict."""
COUNTS = {"two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8}


def parsers() -> dict[str, argparse.ArgumentParser]:
    """Return the parser of every command by its words, such as ``job add``."""

    def within(parser: argparse.ArgumentParser, words: str) -> Iterator[tuple[str, Any]]:
        yield words, parser
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                for name, inner in action.choices.items():
                    yield from within(inner, f"{words} {name}".strip())

    return dict(within(cli.build_parser(), ""))


@pytest.fixture(scope="module")
def options() -> dict[str, set[str]]:
    """Return the options of every command, under ``""`` those that any of them has."""
    found = {
        words: {option for action in parser._actions for option in action.option_strings}
        for words, parser in parsers().items()
    }
    return {**found, "": set().union(*found.values())}


def command_of(code: str, commands: set[str]) -> str | None:
    """Return the command that a piece of code is about; ``""`` where it is an option alone."""
    words = code.removeprefix("strokewise ").split(" ")
    if words[0].startswith("--"):
        return ""
    return next((c for c in (" ".join(words[:2]), words[0]) if c in commands and c), None)


def test_every_command_has_its_row_in_a_table(all_current) -> None:
    rows = [line for page in all_current for line in page.path.read_text("utf-8").splitlines()]
    cells = [row.split("|")[1] for row in rows if row.startswith("| `")]
    named = {code.split(" ")[0] for cell in cells for code in re.findall(r"`([^`]+)`", cell)}
    assert {each.name for each in COMMANDS} - named == set()


def test_every_command_named_exists(page) -> None:
    named = {code.split(" ")[1] for code in page.code if re.match(r"strokewise [a-z]", code)}
    assert named - {each.name for each in COMMANDS} == set()


def test_every_option_named_exists(current, options, root) -> None:
    ours = re.findall(r'addoption\("(--[\w-]+)"', (root / "tests" / "conftest.py").read_text())
    unknown = []
    for code in current.code:
        named = {word.split("=")[0] for word in code.split(" ") if re.match(r"--[a-z]", word)}
        script = code.removeprefix("python ").split(" ")[0]
        command = command_of(code, set(options))
        if script.startswith(BENCHMARKS):
            text = (root / script).read_text("utf-8")
            unknown += [(code, option) for option in named if f'"{option}"' not in text]
        elif command is not None:
            there = options[command] | (set() if command else set(ours))
            unknown += [(code, option) for option in named - there]
    assert unknown == []


def test_an_option_that_is_not_there_would_be_noticed(options) -> None:
    assert command_of("find --methods", set(options)) == "find"
    assert "--methods" not in options["find"]
    assert command_of("strokewise job add head-on --asks", set(options)) == "job add"
    assert "--asks" not in options["job add"]
    assert command_of("python -m pytest --no-qt", set(options)) is None


def paths_named(page, tops: set[str]) -> Iterator[str]:
    """Return every word in backticks that is a path of the project.

    A page shows a reader's own files too, such as ``bench.swr``: recordings, profiles and tables
    without a folder. Programs and pages are the project's, wherever they lie. In a block of code
    only what begins with a folder of the project is one of its paths.
    """
    for word in (word for code in page.code for word in code.split(" ")):
        ours = "/" in word or word.endswith((".py", ".md"))
        made = word.startswith((".venv", "build/", "/", "http"))
        if ours and not made and A_PATH.fullmatch(word):
            yield word
    for word in (w for b in page.blocks for w in b.content.replace("\\", "/").split()):
        if word.split("/")[0] in tops and "/" in word and A_PATH.fullmatch(word):
            yield word


def test_every_path_named_exists(current, folders, root) -> None:
    everywhere = [root, *folders, *(place for top in folders for place in top.glob("**/"))]
    missing = []
    for named in set(paths_named(current, {path.name for path in folders})):
        pattern = A_PLACEHOLDER.sub("*", named).rstrip("/")
        places = [current.path.parent, root] if "/" in named else everywhere
        if not any(any(place.glob(pattern)) for place in places):
            missing.append(named)
    assert missing == []


def test_one_recording_s_way_is_short(root) -> None:
    page = (root / "DEVELOPERS.md").read_text("utf-8")
    way = page.partition("## One recording's way")[2].partition("\n## ")[0]
    assert 20 <= len(set(re.findall(r"`([\w/]+\.py)`", way))) <= MOST_MODULES


def test_every_link_leads_somewhere(page) -> None:
    dead = []
    for link in (link for link in page.links if "://" not in link):
        path, _, place = link.partition("#")
        target = page.path.parent / path if path else page.path
        if not target.exists() or (place and place not in anchors(target.read_text("utf-8"))):
            dead.append(link)
    assert dead == []


def anchors(text: str) -> set[str]:
    """Return what a link may name of a page's headings, as common readers of Markdown make it."""
    headings = re.findall(r"^#+ (.*)$", text, re.MULTILINE)
    return {re.sub(r"[^\w -]", "", heading).lower().replace(" ", "-") for heading in headings}


def test_every_make_target_named_exists(current, root) -> None:
    code = [*current.code, *(block.content for block in current.blocks)]
    named = {t for text in code for t in re.findall(r"^ *make ([a-z][\w-]*)", text, re.MULTILINE)}
    files = [folder / "Makefile" for folder in {root, current.path.parent}]
    rules = "".join(file.read_text("utf-8") for file in files if file.exists())
    assert {t for t in named if not re.search(rf"^{t}:", rules, re.MULTILINE)} == set()


def test_every_key_named_does_something(current) -> None:
    chords = re.findall(r"`(F\d+|(?:Shift|Ctrl)\+\w+)`", current.text)
    letters = re.findall(r"\b(?:[Kk]ey|[Pp]ress) `([A-Z])`", current.text)
    assert {*chords, *letters} <= {name for known in KEYS for name in known.keys}


def test_the_probability_said_is_the_one_that_decides(all_current) -> None:
    said = {figure for page in all_current for figure in re.findall(r"\b0\.999\d*", page.text)}
    assert said == {str(DECIDED_AT)}


def test_the_published_methods_are_those_and_so_many(all_current) -> None:
    listed = re.compile(r"(\w+) published methods \(([^)]*)\)")
    said = [found for page in all_current for found in listed.findall(page.text)]
    assert said
    for count, names in said:
        assert re.findall(r"`([\w-]+)`", names) == list(BASELINES)
        assert COUNTS[count] == len(BASELINES)


def test_the_recordings_listed_are_those_shipped(root) -> None:
    page = (root / "recordings" / "README.md").read_text("utf-8")
    listed = re.findall(r"^\| `([\w-]+)` \|", page, re.MULTILINE)
    assert sorted(listed) == sorted(path.stem for path in (root / "recordings").glob("*.swr"))
