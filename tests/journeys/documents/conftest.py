"""Every Markdown page of the project, read once, so that a page may be split or moved freely.

A test with the parameter ``page`` runs for each of them, one with ``current`` for each but the
changelog, which tells also what was.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from markdown_it import MarkdownIt
from markdown_it.token import Token

ROOT = Path(__file__).resolve().parents[3]
MADE = {"build", "dist", "node_modules"}
HISTORY = "CHANGELOG.md"
SHOWN = re.compile(r"<!-- (strokewise .*?)(?: \(exit code (\d)\))? -->")
A_COMMAND = re.compile(r"(?:\$ |[\w.\\/:-]*[\\/])?strokewise (?P<words>.+)")


@dataclass(frozen=True)
class Shown:
    """A command line, the exit code it ends with, and what it prints."""

    line: str
    exit_code: int
    text: str


@dataclass(frozen=True)
class Page:
    """A Markdown page: its blocks of code, the code within its text, and its links."""

    path: Path
    tokens: list[Token]

    @classmethod
    def of(cls, path: Path) -> Page:
        return cls(path, MarkdownIt("commonmark").enable("table").parse(path.read_text("utf-8")))

    @property
    def name(self) -> str:
        return self.path.relative_to(ROOT).as_posix()

    @property
    def text(self) -> str:
        """The page's words, each run of blanks one."""
        return " ".join(self.path.read_text("utf-8").split())

    @property
    def blocks(self) -> list[Token]:
        """Fenced and indented blocks of code."""
        return [token for token in self.tokens if token.type in ("fence", "code_block")]

    def blocks_of(self, language: str) -> list[str]:
        return [block.content for block in self.blocks if block.info == language]

    @property
    def shown(self) -> Iterator[Shown]:
        """What stands below ``<!-- strokewise … -->``; ``(exit code 3)`` may end the comment."""
        for before, block in zip(self.tokens, self.tokens[1:], strict=False):
            said = SHOWN.fullmatch(before.content.strip())
            if before.type == "html_block" and said:
                assert block.type == "fence", f"no block below {before.content}"
                yield Shown(said[1], int(said[2] or 0), block.content)

    @property
    def command_lines(self) -> list[str]:
        """The words after ``strokewise`` of every command line in a block of code."""
        printed = {shown.text for shown in self.shown}
        return [
            found["words"]
            for block in self.blocks
            if block.content not in printed
            for line in block.content.replace("\\\n", " ").splitlines()
            if (found := A_COMMAND.fullmatch(line.split(" # ")[0].strip()))
        ]

    @property
    def code(self) -> list[str]:
        """Everything in backticks within the text."""
        return [
            " ".join(child.content.split())
            for token in self.tokens
            for child in token.children or ()
            if child.type == "code_inline"
        ]

    @property
    def links(self) -> list[str]:
        return [
            str(child.attrs.get("href", child.attrs.get("src")))
            for token in self.tokens
            for child in token.children or ()
            if child.type in ("link_open", "image")
        ]


FOLDERS = sorted(
    path
    for path in ROOT.iterdir()
    if path.is_dir() and path.name not in MADE and not path.name.startswith(".")
)
PAGES = [
    Page.of(path)
    for path in sorted([*ROOT.glob("*.md"), *(p for top in FOLDERS for p in top.rglob("*.md"))])
]
CURRENT = [page for page in PAGES if page.name != HISTORY]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    for name, pages in (("page", PAGES), ("current", CURRENT)):
        if name in metafunc.fixturenames:
            metafunc.parametrize(name, pages, ids=[page.name for page in pages])


@pytest.fixture(scope="session")
def all_current() -> list[Page]:
    return CURRENT


@pytest.fixture(scope="session")
def root() -> Path:
    return ROOT


@pytest.fixture(scope="session")
def folders() -> list[Path]:
    """Return the project's own folders at its top."""
    return FOLDERS


@pytest.fixture
def reader(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand where a reader stands, with the shipped recordings and nothing that may be spoilt."""
    shutil.copytree(ROOT / "recordings", tmp_path / "recordings")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    return tmp_path
