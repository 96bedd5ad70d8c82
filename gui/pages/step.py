"""What is a step? A question, what answers it, and the page that says the answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from strokewise.analysis.profile import Profile
from strokewise.analysis.question import Saying, sayings
from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.page import Page

Figures = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Label:
    """How one field of a question is asked for.

    Attributes
    ----------
    short : str
        What the window calls it.
    help : str
        What the command line says of it.
    form : str
        What stands for its value on the command line, ``"DEG"``.
    example : str
        Shown in the window while it is empty.
    option : str
        Its name on the command line without dashes, where that is not the field's own.
    in_window : bool
        False for what the window knows by itself.
    offered : bool
        The window offers what the answer has to choose from; empty, it is as the example says.
    """

    short: str
    help: str = ""
    form: str | None = None
    example: str = ""
    option: str = ""
    in_window: bool = True
    offered: bool = False


def _no_offers(answer: Any) -> dict[str, tuple[str, ...]]:
    return {}


def _lacks_nothing(answer: Any) -> tuple[str, ...]:
    return ()


def _no_drawings(answer: Any) -> dict[str, str]:
    return {}


def _no_cautions(profile: Profile) -> tuple[Caution, ...]:
    return ()


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Attributes
    ----------
    question : type
        A frozen dataclass of :func:`~strokewise.analysis.question.saying` fields.
    answer : callable
        Of the question and what is asked about; see ``asks`` of its entry in the registry.
    page : callable
        The page of an answer.
    figures : callable
        The keys of its JSON beside those that every answer has.
    labels : mapping
        How each field is asked for.
    drawings : callable
        Pictures of an answer by name, as SVG.
    cautions : callable
        What can hurt at this step, before there is an answer.
    offers : callable
        What an answer has to choose from, for the fields that are offered.
    lacks : callable
        Keys of the profile without which an answer stays open; ``"marks"`` for a mark at all.
    """

    name: str
    question: type[Any]
    answer: Callable[[Any, Any], Any]
    page: Callable[[Any], Page]
    figures: Callable[[Any], Figures]
    labels: Mapping[str, Label] = field(default_factory=dict)
    drawings: Callable[[Any], dict[str, str]] = _no_drawings
    cautions: Callable[[Profile], tuple[Caution, ...]] = _no_cautions
    cautions_heading: str = "Before the next step"
    offers: Callable[[Any], dict[str, tuple[str, ...]]] = _no_offers
    lacks: Callable[[Any], tuple[str, ...]] = _lacks_nothing

    @property
    def has_drawings(self) -> bool:
        """Whether there are pictures of its answers at all."""
        return self.drawings is not _no_drawings

    @property
    def takes(self) -> Mapping[str, Saying]:
        """What each field takes."""
        return sayings(self.question)

    def option(self, field_name: str) -> str:
        """Return what the command line calls a field, ``"--cam-shift"``."""
        label = self.labels.get(field_name)
        said = (label.option if label else "") or field_name.replace("_", "-")
        return f"--{said}"

    @property
    def options(self) -> dict[str, str]:
        """Every field by its option."""
        return {name: self.option(name) for name in self.takes}

    @property
    def shorts(self) -> dict[str, str]:
        """Every field by what the window calls it."""
        return {name: f"“{self.labels[name].short}”" for name in self.takes}
