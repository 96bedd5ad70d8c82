"""What is a sentence made of? A pattern that facts are put into, or a function of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from string import Formatter
from typing import Any, TypeAlias

Saying: TypeAlias = str | Callable[..., str]
"""``str.format`` pattern with the remark's facts by name, or a function that takes them so."""

Sayings: TypeAlias = Mapping[str, Saying]
"""Sentences by the code of the remark."""


def capital(text: str) -> str:
    """Return a text with its first letter large."""
    return text[:1].upper() + text[1:]


def signed(figures: str) -> str:
    """Return a number as it is set in type: with a minus, which a hyphen is not."""
    return figures.replace("-", "−")


class InType(Formatter):
    """Puts facts into a pattern, numbers as they are set in type."""

    def format_field(self, value: Any, format_spec: str) -> str:
        """Return one fact in words."""
        words = str(super().format_field(value, format_spec))
        return signed(words) if isinstance(value, int | float) else words


def times(count: int) -> str:
    """Return how often, ``"once"``."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
