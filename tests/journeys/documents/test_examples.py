"""Do the examples in docstrings run, and does every public name have one? In a reader's place."""

from __future__ import annotations

import ast
import doctest
import inspect
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
ROOMS = ("analysis", "daq", "gui")
PROMPT = ">>> "


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(["strokewise", *(part for part in parts if part != "__init__")])


WITH_EXAMPLES = sorted(
    module_name(path)
    for room in ROOMS
    for path in (ROOT / room).rglob("*.py")
    if PROMPT in path.read_text("utf-8")
)
PUBLIC = [(room, name) for room in ROOMS for name in import_module(f"strokewise.{room}").__all__]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_the_examples_run(name: str, reader: Path) -> None:
    tried = doctest.testmod(import_module(name), optionflags=doctest.NORMALIZE_WHITESPACE)
    assert tried.attempted
    assert tried.failed == 0


def test_an_example_that_fails_would_be_noticed() -> None:
    example = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", None, None)
    assert doctest.DocTestRunner(verbose=False).run(example, out=lambda text: None).failed == 1


@pytest.mark.parametrize(("room", "name"), PUBLIC)
def test_every_public_name_is_described(room: str, name: str) -> None:
    thing = getattr(import_module(f"strokewise.{room}"), name)
    if inspect.isfunction(thing) or inspect.isclass(thing):
        assert PROMPT in (thing.__doc__ or ""), f"{name} has no example"


@pytest.mark.parametrize("room", ROOMS)
def test_a_name_for_the_type_checker_is_one_that_loads(room: str) -> None:
    """The names stand three times in a room's package: for stars, for types and for loading."""
    package = import_module(f"strokewise.{room}")
    told = {
        alias.name: str(node.module)
        for node in ast.walk(ast.parse(Path(str(package.__file__)).read_text("utf-8")))
        if isinstance(node, ast.ImportFrom) and str(node.module).startswith(package.__name__)
        for alias in node.names
        if alias.name in package.__all__
    }
    assert sorted(told) == sorted(package.__all__)
    for name, home in told.items():
        assert getattr(package, name) is getattr(import_module(home), name)
    with pytest.raises(AttributeError, match="has no attribute 'nothing'"):
        package.nothing  # noqa: B018  asking is the test
    assert set(package.__all__) <= set(dir(package))


@pytest.mark.parametrize(
    "package", sorted({p.parent for room in ROOMS for p in (ROOT / room).rglob("__init__.py")})
)
def test_a_package_s_docstring_is_its_guide(package: Path) -> None:
    source = (package / "__init__.py").read_text("utf-8")
    assert source.startswith('"""')
    assert "\n\n" in source.partition('"""')[2].partition('"""')[0], "one line is no guide"


def test_importing_the_rooms_loads_nothing_heavy() -> None:
    program = (
        "import sys, strokewise.analysis, strokewise.daq, strokewise.gui\n"
        "print(sorted({name.split('.')[0] for name in sys.modules}"
        " & {'numpy', 'scipy', 'pint', 'serial', 'PySide6', 'jinja2'}))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
