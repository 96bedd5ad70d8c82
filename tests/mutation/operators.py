"""Faults that hurt here and that cosmic-ray's own operators do not make: words and lost steps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import parso.python.tree
from cosmic_ray.operators.operator import Example, Operator

Position = tuple[tuple[int, int], tuple[int, int]]

MARK = "XX"


class ChangeText(Operator):
    """Another text than the one that is said, written or looked up."""

    def mutation_positions(self, node: Any) -> Iterator[Position]:
        """Yield where text stands; whether it is a docstring is for the draw to see."""
        if node.type in ("string", "fstring_string") and node.value.strip():
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        """Put a mark before the text."""
        at = 0
        if node.type == "string":
            quote = min(node.value.find(q) for q in "'\"" if q in node.value)
            at = quote + (3 if node.value[quote : quote + 3] in ('"""', "'''") else 1)
        node.value = node.value[:at] + MARK + node.value[at:]
        return node

    @classmethod
    def examples(cls) -> Iterable[Example]:
        """Return a text, and it changed."""
        return (Example('x = "a"', 'x = "XXa"'), Example('x = f"{a} b"', 'x = f"{a}XX b"'))


class DropStep(Operator):
    """A step that is left out: a call for its effect, a yield, a raise, an addition in place."""

    def mutation_positions(self, node: Any) -> Iterator[Position]:
        """Yield where a statement does something without binding a name."""
        if node.type == "simple_stmt" and _acts(node.children[0]):
            yield node.children[0].start_pos, node.children[0].end_pos

    def mutate(self, node: Any, index: int) -> Any:
        """Put `pass` in its place."""
        first = node.children[0].get_first_leaf()
        node.children[0] = parso.python.tree.Keyword("pass", first.start_pos, first.prefix)
        return node

    @classmethod
    def examples(cls) -> Iterable[Example]:
        """Return a call, and what is left without it."""
        return (
            Example("f(x)\n", "pass\n"),
            Example("if x:\n    f()\n", "if x:\n    pass\n"),
        )


def _acts(statement: Any) -> bool:
    """Return whether a statement acts by itself."""
    if statement.type in ("atom_expr", "power"):
        last = statement.children[-1]
        return last.type == "trailer" and last.children[0].value == "("
    if statement.type == "expr_stmt":
        changed = statement.children[1]
        return changed.type == "operator" and changed.value != "=" and len(changed.value) > 1
    return statement.type in ("raise_stmt", "yield_expr")
