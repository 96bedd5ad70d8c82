"""What may a person say to each step? The fields of its question, as a form shows them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from strokewise.analysis.errors import InputError
from strokewise.analysis.question import Saying
from strokewise.gui.pages.step import Label, Step
from strokewise.gui.typed import read

SEPARATOR = ";"
"""Between several values in one field: a value may hold commas itself."""
YES_NO = ("yes", "no")


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its name in the question, what it takes, and how it is asked for."""

    name: str
    takes: Saying
    label: Label

    @property
    def choices(self) -> tuple[str, ...]:
        """Of a choice; nothing said is always possible, too."""
        return YES_NO if self.takes.kind == "yes or no" else self.takes.choices


def fields_of(step: Step) -> tuple[Field, ...]:
    """Return the fields of a step's form, in the order of its labels, the most used first.

    What the window knows by itself is not asked.
    """
    takes = step.takes
    return tuple(
        Field(name, takes[name], label) for name, label in step.labels.items() if label.in_window
    )


def trouble_with(field: Field, text: str) -> str:
    """Return why a field cannot be so, empty where it can."""
    try:
        for part in parts_of(field, text):
            read(f"{field.label.short}:", part, field.takes)
    except InputError as error:
        return str(error)
    return ""


def parts_of(field: Field, text: str) -> list[str]:
    """Return what was said in a field, a text for each time it was said."""
    parts = text.split(SEPARATOR) if field.takes.many else [text]
    return [part.strip() for part in parts if part.strip()]


def typed_of(step: Step, said: Mapping[str, str]) -> dict[str, list[str]]:
    """Return what was typed in each field that is not empty."""
    typed = {field.name: parts_of(field, said.get(field.name, "")) for field in fields_of(step)}
    return {name: parts for name, parts in typed.items() if parts}
