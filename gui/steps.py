"""What does each step say about what was found? Question in, answer and page out.

The commands, the window, the job and Python all come through here; what was found once is asked
about as often as wanted::

    found = found_in("bench.swr", SaidOfEngine(settings=["static_timing.advance=6 deg BTDC"]))
    said = ask("cam", found, {"clearances_set": "yes"})
    print(said, said.json["shift"])
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import InputError, NotStatedError, SaidError
from strokewise.analysis.verdict.find import FindQuestion
from strokewise.analysis.verdict.found import Found, standing_of
from strokewise.gui import found, registry
from strokewise.gui.options import EngineSaid
from strokewise.gui.pages.answers import Answer, answer_json
from strokewise.gui.pages.page import Page
from strokewise.gui.pages.step import Step
from strokewise.gui.registry import step_entry
from strokewise.gui.typed import Typed, called_as, question_from


@dataclass(frozen=True, slots=True)
class Said:
    """What a step says.

    Attributes
    ----------
    page : Page
        What a person reads.
    answer : object
        The step's own answer.
    json : dict
        What a program reads.

    Examples
    --------
    >>> from strokewise.gui import ask, found_in
    >>> said = ask("find", found_in("recordings/cranked.swr"))
    >>> said.decided, sorted(said.json)[:3], "<h" in said._repr_html_()
    (True, ['compression', 'decided', 'diagnostics'], True)
    """

    page: Page
    answer: Any
    json: Answer

    @property
    def decided(self) -> bool:
        """Whether there is an answer to act on."""
        return self.page.decided

    def __str__(self) -> str:
        return self.page.headline

    def _repr_html_(self) -> str:
        """Return the page, for a notebook."""
        from strokewise.gui.pages.html import page_html

        return page_html(self.page)


def step_named(name: str) -> Step:
    """Return a step.

    Raises
    ------
    InputError
        There is none of that name.
    """
    entry = step_entry(name)
    if entry is None:
        raise InputError(
            f'"{name}" is no step; there are {", ".join(e.name for e in registry.STEPS)}'
        )
    return entry.load()


def answered(step: Step, question: Any, about: Any) -> Said:
    """Return what a step says to a question about what was found."""
    answer = step.answer(question, about)
    page = step.page(answer)
    return Said(page, answer, answer_json(page, step.figures(answer)))


def ask(name: str, about: Any, typed: Typed | None = None, *, in_window: bool = False) -> Said:
    """Ask a step with what a person typed in its fields.

    Parameters
    ----------
    about : Found or Standing or other
        What was found; a step that asks where the crank stands takes either.
    in_window : bool
        Errors call the fields as the window does, not as the command line.
    going : callable
        Told how far the reading of a recording has come, 0 to 1.

    Raises
    ------
    InputError
        What was typed cannot be used, or the profile lacks what the step needs.

    Examples
    --------
    >>> from strokewise.gui import ask, found_in
    >>> found = found_in("recordings/cranked.swr")
    >>> print(ask("valves", found, {"after_tdc_deg": "540"}))
    SET NOW: 2E, 4I, 1E, 2I.
    """
    step = step_named(name)
    names = step.shorts if in_window else step.options
    try:
        return answered(step, question_from(step.question, typed or {}, names), _about(name, about))
    except NotStatedError as error:
        instead = names.get(error.instead, "")
        raise NotStatedError(error.called(names), error.keys, instead) from None
    except InputError as error:
        raise InputError(called_as(error, names)) from None


def _about(name: str, about: Any) -> Any:
    entry = step_entry(name)
    crank = entry is not None and entry.asks == "crank"
    return standing_of(about) if crank and isinstance(about, Found) else about


def about_files(
    name: str,
    files: Sequence[str | Path],
    typed: Typed,
    said: EngineSaid,
    *,
    in_window: bool = False,
    going: found.Going = found.unwatched,
) -> Any:
    """Read what a step asks about: one recording, several, or none where the crank is said.

    Parameters
    ----------
    in_window : bool
        Errors call the fields as the window does, not as the command line.

    Raises
    ------
    StrokewiseError
        For a file or a profile that cannot be used.
    """
    entry = step_entry(name)
    asks = entry.asks if entry is not None else "recording"
    if asks == "recordings":
        from strokewise.gui.compressions import recordings_measured

        step = step_named(name)
        names = step.shorts if in_window else step.options
        try:
            return recordings_measured(files, question_from(step.question, typed, names), said)
        except SaidError as error:
            raise InputError(error.called(names)) from None
    if asks == "crank" and not files:
        return found.engine_alone(said)
    if asks == "samples":
        return found.recorded_in(files[0], said)
    if typed.get("method"):  # the way TDC is found is said before a recording is read
        question = question_from(FindQuestion, {"method": typed["method"]}, {"method": "--method"})
        return found.found_in(files[0], said, method=question.method, going=going)
    return found.found_in(files[0], said, going=going)


def typed_from_words(step: Step, words: Sequence[str]) -> dict[str, list[str]]:
    """Return the fields behind options in the form of the command line: ``--strobe 700=13``.

    Raises
    ------
    InputError
        An option that the step does not have, or one without its value.
    """
    fields = {option: name for name, option in step.options.items()}
    typed: dict[str, list[str]] = {}
    rest = list(words)
    while rest:
        option, equals, text = rest.pop(0).partition("=")
        name = fields.get(option)
        if name is None:
            listed = ", ".join(fields) or "none"
            raise InputError(f"{step.name}: no option {option}; there are {listed}")
        if step.takes[name].kind == "tick":
            text = "yes"
        elif not equals:
            if not rest:
                raise InputError(f"{step.name} {option}: its value is missing")
            text = rest.pop(0)
        typed.setdefault(name, []).append(text)
    return typed


def words_from_typed(step: Step, typed: Typed) -> tuple[str, ...]:
    """Return what was typed in the form of the command line."""
    words: list[str] = []
    for name, takes in step.takes.items():
        said = typed.get(name) or ()
        for text in (said,) if isinstance(said, str) else said:
            option = step.option(name)
            words += [option] if takes.kind == "tick" else [f"{option}={text}"]
    return tuple(words)
