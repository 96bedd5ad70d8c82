"""Which small faults can be put into the modules whose faults hurt, and which are drawn?

Every place where a fault fits weighs the same, whatever the number of faults that fit there: plus
could become twelve other operators, and most of those cannot pass any test.
"""

from __future__ import annotations

import ast
import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators import (
    binary_operator_replacement,
    boolean_replacer,
    break_continue,
    comparison_operator_replacement,
    exception_replacer,
    number_replacer,
    remove_decorator,
    unary_operator_replacement,
    zero_iteration_for_loop,
)
from cosmic_ray.operators.operator import Operator
from operators import ChangeText, DropStep

MODULES = (
    "analysis/tdc/*.py",
    "analysis/stroke/*.py",
    "analysis/crank/*.py",
    "analysis/verdict/*.py",
    "analysis/marks/*.py",
    "analysis/cam/*.py",
    "analysis/valves/*.py",
    "analysis/ignition/*.py",
    "gui/pages/*.py",
    "gui/drawings/*.py",
    "gui/sayings/*.py",
    "daq/wire/framing.py",
    "daq/wire/decoder.py",
    "daq/recording/container.py",
)
"""Modules whose faults hurt someone: TDC, stroke, marks, cam, valves, drive gear, static timing,
words and cautions, and what bytes become samples."""

BITS = ("RShift", "LShift", "BitOr", "BitAnd", "BitXor")
"""Arithmetic turned into these, or these into arithmetic, fails on its types at once: such a fault
would only flatter."""

IDENTITY = ("Is", "IsNot")

OPERATORS: tuple[type[Operator], ...] = (
    *binary_operator_replacement.operators(),
    *comparison_operator_replacement.operators(),
    *unary_operator_replacement.operators(),
    boolean_replacer.ReplaceTrueWithFalse,
    boolean_replacer.ReplaceFalseWithTrue,
    boolean_replacer.ReplaceAndWithOr,
    boolean_replacer.ReplaceOrWithAnd,
    boolean_replacer.AddNot,
    break_continue.ReplaceBreakWithContinue,
    break_continue.ReplaceContinueWithBreak,
    exception_replacer.ExceptionReplacer,
    number_replacer.NumberReplacer,
    remove_decorator.RemoveDecorator,
    zero_iteration_for_loop.ZeroIterationForLoop,
    ChangeText,
    DropStep,
)


@dataclass(frozen=True, order=True)
class Mutant:
    """One small fault.

    Attributes
    ----------
    file : str
        From the root of the tree.
    line : int
        The first line that differs, from 1.
    operator : str
    occurrence : int
        Which of the places in the file where the operator fits, from 0.
    before, after : str
        The lines that differ, without their indent.
    """

    file: str
    line: int
    operator: str
    occurrence: int
    before: str
    after: str

    @property
    def module(self) -> str:
        """The part of the product that the fault is in."""
        return str(Path(self.file).parent)


def draw(folder: Path, number: int, seed: int, only: str = "") -> list[Mutant]:
    """Draw faults at random, each in another place, and the same ones from the same seed.

    ``only`` draws from the files whose names begin so.
    """
    chance = random.Random(seed)
    places = [
        (file, place, options)
        for pattern in MODULES
        for file in sorted(str(path.relative_to(folder)) for path in folder.glob(pattern))
        if file.startswith(only)
        for place, options in sorted(_places((folder / file).read_text()).items())
    ]
    chance.shuffle(places)
    drawn: list[Mutant] = []
    for file, _, options in places:
        if len(drawn) == number:
            break
        operator, occurrence = chance.choice(sorted(options))
        mutant = _mutant(folder, file, operator, occurrence)
        if mutant is not None:
            drawn.append(mutant)
    return drawn


def mutated(source: str, operator: str, occurrence: int) -> str | None:
    """Return the source with the fault in it."""
    made = {each.__name__: each for each in OPERATORS}[operator]()
    return mutate_code(source, made, occurrence)


def _places(source: str) -> dict[tuple[int, int, str], list[tuple[str, int]]]:
    """Return the places of a source where a fault fits, each with the faults that do."""
    tree = ast.parse(source)
    nodes = list(ast_nodes(get_ast(source)))
    left_out = set(_left_out(tree))
    places: dict[tuple[int, int, str], list[tuple[str, int]]] = defaultdict(list)
    for operator in (each for each in OPERATORS if _fits(each.__name__)):
        made = operator()
        found = (position for node in nodes for position in made.mutation_positions(node))
        for occurrence, ((line, column), _) in enumerate(found):
            if not any(first <= (line, column) < last for first, last in left_out):
                kind = operator.__name__.split("_")[0]
                places[line, column, kind].append((operator.__name__, occurrence))
    return places


def _fits(operator: str) -> bool:
    """Return whether an operator's fault is not one that fails on its types alone."""
    name, _, change = operator.partition("_")
    if name == "ReplaceBinaryOperator":
        return len({each in BITS for each in change.split("_")}) == 1
    if name == "ReplaceComparisonOperator":
        return len({each in IDENTITY for each in change.split("_")}) == 1
    return True


def _left_out(tree: ast.Module) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    """Yield the spans in which nothing can go wrong when run: types, docstrings, imports."""
    for node in ast.walk(tree):
        parts: list[ast.AST | None] = []
        if isinstance(node, ast.arg | ast.AnnAssign):
            parts.append(node.annotation)
        elif isinstance(node, ast.FunctionDef):
            parts.append(node.returns)
        elif isinstance(node, ast.Call) and ast.unparse(node.func) in ("cast", "TypeVar"):
            parts.append(node.args[0])
        elif _is_no_code(node):
            parts.append(node)
        for part in parts:
            if part is not None:
                yield (part.lineno, part.col_offset), (part.end_lineno, part.end_col_offset)


def _is_no_code(node: ast.AST) -> bool:
    """Return whether a node imports, documents, or is there for the type checker."""
    if isinstance(node, ast.If):
        return "TYPE_CHECKING" in ast.unparse(node.test)
    if isinstance(node, ast.Expr):
        return isinstance(node.value, ast.Constant)
    if isinstance(node, ast.Assign):
        return _names_a_type(node)
    return isinstance(node, ast.Import | ast.ImportFrom)


def _names_a_type(node: ast.Assign) -> bool:
    """Return whether an assignment only gives a type another name."""
    said = ast.unparse(node.value)
    return said.startswith(("Callable[", "Literal[", "npt.", "tuple[", "dict[", "list["))


def _mutant(folder: Path, file: str, operator: str, occurrence: int) -> Mutant | None:
    """Return the fault, or None when the source with it does not compile."""
    source = (folder / file).read_text()
    changed = mutated(source, operator, occurrence)
    if changed is None or not _compiles(changed):
        return None
    old, new = source.splitlines(), changed.splitlines()
    first = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), None)
    if first is None:
        return None
    tail = 0
    while old[-1 - tail] == new[-1 - tail] and len(old) - tail > first + 1:
        tail += 1
    before = " ".join(each.strip() for each in old[first : len(old) - tail])
    after = " ".join(each.strip() for each in new[first : len(new) - tail])
    return Mutant(file, first + 1, operator, occurrence, before, after)


def _compiles(source: str) -> bool:
    try:
        compile(source, "mutant", "exec")
    except (SyntaxError, ValueError):
        return False
    return True
