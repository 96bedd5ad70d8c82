"""Which tests run a line, and how long do they take? Found by one run of all tests on the copy.

Kept from run to run by file of tests: those that are new or changed are run again, one that only
moved is not. Where the product changed since, the lines are followed to where they stand now: so a
run after a small change does not begin with half an hour of all tests. What that gets wrong can
only make the share noticed smaller: a test that does not run a line notices none of its faults.
`--afresh` runs all of them.
"""

from __future__ import annotations

import ast
import hashlib
import json
import subprocess
import sys
import tempfile
from collections import defaultdict
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cached_property
from pathlib import Path
from typing import Any

from coverage import CoverageData
from workshop import PYTEST, ROOMS, environment

Lines = dict[str, list[int]]

LEFT_OUT = "left out, as they fail with nothing changed: {}"

ELSEWHERE = (
    "tests/firmware/",
    "tests/daq/bench/",
    "tests/mutation/",
    "tests/test_packaging.py",
    "tests/analysis/tdc/test_tdc_spread.py",
    "tests/reference/reactor/test_stated_distribution.py",
)
"""Tests of the board, of the simulated engine and of this very count: their lines are not faulty
here, and they take a third of the time. The last two count over many engines: longer than a fault
is tried."""

TIMES, FAILED = "strokewise/durations", "cache/lastfailed"


@dataclass(frozen=True)
class Covering:
    """What each test runs.

    Attributes
    ----------
    seconds : dict
        How long each test took, by its node id, in its file's order.
    lines : dict
        The lines that each test runs, by product file.
    """

    seconds: dict[str, float]
    lines: dict[str, Lines]

    @cached_property
    def by_line(self) -> dict[tuple[str, int], set[str]]:
        """The tests that run a line of a file."""
        found: dict[tuple[str, int], set[str]] = defaultdict(set)
        for test, files in self.lines.items():
            for file, numbers in files.items():
                for number in numbers:
                    found[file, number].add(test)
        return found

    def tests_of(self, file: str, numbers: set[int]) -> set[str]:
        """Return the tests that run any of the lines."""
        return set().union(*(self.by_line.get((file, number), set()) for number in numbers))


def cover(folder: Path, kept: Path, jobs: int, *, afresh: bool = False) -> Covering:
    """Run the tests that were not run as they are now, and return what all of them run.

    Parameters
    ----------
    folder : Path
        The copy of the tree.
    kept : Path
        A file that holds what an earlier run found.
    jobs : int
        Processes at a time.
    afresh : bool
        Run all tests, whatever was kept.

    A test that fails with nothing changed notices nothing: it is left out, and named.
    """
    now = {
        str(file.relative_to(folder)): _hash(file)
        for file in sorted(folder.glob("tests/**/test_*.py"))
        if "window" not in file.parts and not str(file.relative_to(folder)).startswith(ELSEWHERE)
    }
    sources = {
        str(file.relative_to(folder)): file.read_text(encoding="utf-8")
        for room in ROOMS
        for file in sorted(folder.glob(f"{room}/**/*.py"))
    }
    old: dict[str, Any] = {} if afresh or not kept.exists() else json.loads(kept.read_text())
    files = _followed(old.get("files", {}), now, old.get("sources", {}), sources)
    missing = [name for name in now if name not in files]
    if missing:
        seconds, lines = _run(folder, missing, jobs)
        for name in missing:
            tests = [test for test in seconds if test.split("::")[0] == name]
            files[name] = {
                "hash": now[name],
                "seconds": {test: seconds[test] for test in tests},
                "lines": {test: lines.get(test, {}) for test in tests},
            }
    if missing or sources != old.get("sources"):
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps({"sources": sources, "files": files}))
    return Covering(
        {test: s for name in sorted(files) for test, s in files[name]["seconds"].items()},
        {test: lines for entry in files.values() for test, lines in entry["lines"].items()},
    )


def _hash(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


def _followed(
    files: dict[str, Any], now: dict[str, str], before: dict[str, str], sources: dict[str, str]
) -> dict[str, Any]:
    """Return what was kept of the files of tests that are as they were, for the product of now."""
    places = {file: _places(text, sources.get(file, "")) for file, text in before.items()}
    by_hash = {entry["hash"]: (name, entry) for name, entry in files.items()}
    found = {}
    for name, own in now.items():
        old_name, entry = by_hash.get(own, ("", None))
        if entry is None:
            continue

        def renamed(test: str, was: str = old_name, name: str = name) -> str:
            return name + test.removeprefix(was)

        found[name] = {
            "hash": own,
            "seconds": {renamed(test): s for test, s in entry["seconds"].items()},
            "lines": {
                renamed(test): {
                    file: sorted({to for line in run for to in places[file].get(line, ())})
                    for file, run in lines.items()
                    if file in sources
                }
                for test, lines in entry["lines"].items()
            },
        }
    return found


def _places(before: str, now: str) -> dict[int, range]:
    """Return where each line of a file stands now; of a changed part, anywhere in it."""
    old, new = before.splitlines(), now.splitlines()
    found = {}
    for kind, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        for line in range(a, b):
            same = kind == "equal"
            found[line + 1] = (
                range(c + line - a + 1, c + line - a + 2) if same else range(c + 1, d + 1)
            )
    return found


def _run(folder: Path, names: list[str], jobs: int) -> tuple[dict[str, float], dict[str, Lines]]:
    """Run test files once with coverage by test."""
    with tempfile.TemporaryDirectory() as scratch:
        data = Path(scratch) / "coverage"
        settings = Path(scratch) / "settings"
        settings.write_text(f"[run]\ndata_file = {data}\nomit = {folder}/daq/bench/*\n")
        command = [sys.executable, "-m", "pytest", *PYTEST, "-n", str(jobs if jobs > 1 else 0)]
        command += [f"--cov={folder / room}" for room in ROOMS]
        command += ["--cov-context=test", "--cov-report=", f"--cov-config={settings}", *names]
        subprocess.run(command, cwd=folder, env=environment(folder), check=False)
        failed = _kept(folder, FAILED)
        if failed:
            print(LEFT_OUT.format(", ".join(failed)))
        seconds = {test: s for test, s in _kept(folder, TIMES).items() if test not in failed}
        return seconds, _lines_by_test(data, folder, set(seconds))


def _kept(folder: Path, name: str) -> dict[str, Any]:
    """Return what pytest's cache keeps under a name."""
    file = folder / ".pytest_cache" / "v" / name
    found: dict[str, Any] = json.loads(file.read_text()) if file.exists() else {}
    return found


def _lines_by_test(data: Path, folder: Path, tests: set[str]) -> dict[str, Lines]:
    """Read which lines each test ran.

    What was run to set a test up belongs to every test of its file: what is set up may be shared.
    So does what a test that keeps results for the others ran (`functools.cache`).
    """
    taken = CoverageData(str(data))
    taken.read()
    in_file: dict[str, list[str]] = defaultdict(list)
    for test in sorted(tests):
        in_file[test.split("::")[0]].append(test)
    shares = {name for name in in_file if "@cache\n" in (folder / name).read_text()}
    found: dict[str, dict[str, set[int]]] = defaultdict(lambda: defaultdict(set))
    for measured in taken.measured_files():
        file = str(Path(measured).relative_to(folder))
        for number, contexts in taken.contexts_by_lineno(measured).items():
            for context in contexts:
                test, _, phase = context.rpartition("|")
                name = test.split("::")[0]
                shared = phase != "run" or name in shares
                for each in in_file.get(name, ()) if shared else [test]:
                    found[each][file].add(number)
    return {
        test: {file: sorted(numbers) for file, numbers in files.items()}
        for test, files in found.items()
    }


class Where:
    """The lines of a file that have to run for a change in one of them to show.

    A line inside a function shows when the statement runs that it is part of. What stands outside,
    a constant, a field's default or a function's head, runs once, whoever imports it first: it
    shows where a function names what it binds, or calls the function. So does what a function
    that keeps its results runs, which only the first who asks sees.
    """

    def __init__(self, folder: Path, files: list[str]) -> None:
        self.folder = folder
        self.inside: dict[str, dict[int, set[int]]] = {}
        self.outside: dict[str, dict[int, set[str]]] = {}
        self.uses: dict[str, set[tuple[str, int]]] = defaultdict(set)
        self.keeping: dict[str, dict[int, str]] = defaultdict(dict)
        for file in files:
            self._read(file, ast.parse((folder / file).read_text()))

    def _read(self, file: str, tree: ast.Module) -> None:
        inside, outside = self.inside.setdefault(file, {}), self.outside.setdefault(file, {})
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
                body = node.body if isinstance(node.body, list) else [node.body]
                for line in range(body[0].lineno, (body[-1].end_lineno or 0) + 1):
                    inside.setdefault(line, {line})
                    if any("cache" in ast.unparse(d) for d in getattr(node, "decorator_list", ())):
                        self.keeping[file][line] = getattr(node, "name", "")
        for node in ast.walk(tree):
            if isinstance(node, ast.Name | ast.Attribute | ast.keyword):
                name = getattr(node, "id", None) or getattr(node, "attr", None) or node.arg
                line = node.value.lineno if isinstance(node, ast.keyword) else node.lineno
                if name:
                    self.uses[name].add((file, line))
            if isinstance(node, ast.stmt) and node.lineno in inside:
                for line in _own_lines(node):  # what is deeper comes later
                    inside[line] = _own_lines(node)
            elif isinstance(node, ast.stmt):
                first = min([node.lineno, *(d.lineno for d in getattr(node, "decorator_list", []))])
                names = set(_bound(node))
                for line in range(first, (node.end_lineno or 0) + 1):
                    if line not in inside and names:
                        outside.setdefault(line, set()).clear()
                        outside[line].update(names)

    def lines(self, file: str, line: int) -> dict[str, set[int]]:
        """Return the lines inside functions to be run, by file."""
        found: dict[str, set[int]] = defaultdict(set)
        if line in self.inside[file]:
            found[file] |= self.inside[file][line]
            if line not in self.keeping[file]:
                return found
        kept = self.keeping[file].get(line)
        names, todo = set(), {kept} if kept else set(self.outside[file].get(line, set()))
        while todo:
            name = todo.pop()
            names.add(name)
            for where, number in self.uses[name]:
                if number in self.inside[where]:
                    found[where].add(number)
                else:
                    todo |= self.outside[where].get(number, set()) - names
        if not found:
            found[file] |= set(self.inside[file])
        return found

    def near(self, file: str) -> set[str]:
        """Return the files of tests that import a file of the product themselves."""
        name = "strokewise." + file.removesuffix(".py").replace("/", ".")
        package, _, last = name.rpartition(".")
        imports = (f"from {name} import", f"from {package} import {last}", f"import {name}")
        return {test for test, said in self.tests.items() if any(each in said for each in imports)}

    @cached_property
    def tests(self) -> dict[str, str]:
        """What stands in the files of tests."""
        files = self.folder.glob("tests/**/test_*.py")
        return {str(file.relative_to(self.folder)): file.read_text() for file in files}


def _own_lines(node: ast.stmt) -> set[int]:
    """Return the lines of a statement without those of the statements in it."""
    body = [each for field in ("body", "handlers", "cases") for each in getattr(node, field, [])]
    inner = min((each.lineno for each in body if hasattr(each, "lineno")), default=None)
    last = (node.end_lineno or node.lineno) + 1 if inner is None else max(inner, node.lineno + 1)
    return set(range(node.lineno, last))


def _bound(node: ast.stmt) -> list[str]:
    """Return the names that a statement outside any function binds."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return [node.name]
    targets: list[ast.expr] = []
    if isinstance(node, ast.Assign):
        targets = node.targets
    elif isinstance(node, ast.AnnAssign | ast.AugAssign):
        targets = [node.target]
    return [
        each.id for target in targets for each in ast.walk(target) if isinstance(each, ast.Name)
    ]
