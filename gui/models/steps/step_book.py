"""Which step is open, what does it say now, and is that still so?"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.setup.lacking import as_in_form, lacking_facts, lacking_words
from strokewise.gui.models.steps.asking import Answered, Asking, Unanswered
from strokewise.gui.models.steps.compressions_read import CompressionsRead
from strokewise.gui.models.steps.found_now import found_now, is_hidden
from strokewise.gui.models.steps.step_fields import Field, fields_of, trouble_with, typed_of
from strokewise.gui.models.steps.step_tables import LiveTable, marks_table
from strokewise.gui.models.steps.step_words import (
    look_first,
    named_as_here,
    of_the_profile,
    own_warnings,
    part_as_here,
)
from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.page import Page, Part, Text
from strokewise.gui.pages.sign import HIDDEN, NONE, Sign
from strokewise.gui.pages.step import Step
from strokewise.gui.pages.text import page_text
from strokewise.gui.pages.words import sentence
from strokewise.gui.registry import StepEntry, window_steps
from strokewise.gui.sayings.saying import capital
from strokewise.gui.steps import Said, ask
from strokewise.gui.typed import Typed

ANGLE_STEP_DEG = {"valves": 1.0, "drive": 0.1, "static": 0.1}
"""A step that says where to turn is asked again when the crank has moved so far: what it prints."""
BY_PRESSURE = ("cam", "marks")
"""Steps that look at the compressions themselves: another judgement is another answer."""
LONG_S = 0.5
"""An answer that takes longer is said to be in work; a shorter one would only flicker."""
NO_FILES = Unanswered(
    "Choose the recordings to compare: one for each cylinder, cranked with the starter."
)
LAYS = ("lay", "lay_pass", "over", "over_pass")
"""Fields that say which compressions are laid over each other."""
DO_NEXT = {
    "compare": "Crank every cylinder alike: throttle wide open, all plugs out, decompressor off,"
    " battery good, engine warm. Say on the left what was so, and choose the recordings there."
}
ENTER_IT = "Enter it in the profile (F2, set up), or in a field on the left where there is one."
"""What is missing is named by the key of the profile, or the field on the left."""


@dataclass(frozen=True, slots=True)
class StepView:
    """All that the steps page draws.

    Attributes
    ----------
    headline : str
        The one sentence that a person came for; empty while there is none.
    sign : Sign
        How sure it is.
    table : LiveTable or None
        Marks with their counts, as they are met.
    warnings : tuple of (str, str)
        Whose word it is, empty for the answer's own, and the word.
    drawing : str
        As SVG; empty where there is none.
    crank : str
        Where the crank stands; empty for a step that does not ask.
    working : str
        What is being worked on; empty when nothing is.
    words : str
        The whole answer in the words of the command line.
    lacks : tuple of str
        Keys of the profile to be filled in first; ``"marks"`` for a mark at all.
    """

    about: StepEntry
    headline: str
    sign: Sign
    table: LiveTable | None
    parts: tuple[Part, ...]
    warnings: tuple[tuple[str, str], ...]
    cautions: tuple[Caution, ...]
    cautions_heading: str
    drawing: str
    crank: str
    working: str
    words: str
    lacks: tuple[str, ...] = ()


class StepBook:
    """The steps after TDC, followed as a run goes on."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.chosen = window_steps()[0].name
        self.files: tuple[Path, ...] = ()
        self.oiled: tuple[Path, ...] = ()
        self._steps: dict[str, Step] = {}
        self._said: dict[str, dict[str, str]] = {entry.name: {} for entry in window_steps()}
        # One for each: a step that takes long must not hold up the one turned to meanwhile.
        self._asking = {entry.name: Asking("step", clock) for entry in window_steps()}
        self._asked: dict[str, Basis] = {}
        self._answers: dict[str, Answered] = {}
        self._compressions = CompressionsRead()
        self._engine: tuple[object, ...] = ()
        self._good: tuple[str, ...] = ()
        self.behind = False
        """The answer is of an earlier moment than the one last looked at."""
        self._last_drawn: tuple[Answered, str, str] | None = None

    @property
    def about(self) -> StepEntry:
        """The step that is open."""
        return next(entry for entry in window_steps() if entry.name == self.chosen)

    @property
    def step(self) -> Step:
        """The open step itself, loaded when it is first opened."""
        if self.chosen not in self._steps:
            self._steps[self.chosen] = self.about.load()
        return self._steps[self.chosen]

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields of the open step."""
        return fields_of(self.step)

    @property
    def busy(self) -> bool:
        """True while an answer is being worked on."""
        return any(asking.busy for asking in self._asking.values())

    def said(self, field: str) -> str:
        """Return what was said to the open step."""
        return self._said[self.chosen].get(field, "")

    @property
    def typed(self) -> Typed:
        """All that was said to the open step."""
        return typed_of(self.step, self._said[self.chosen])

    @property
    def answered(self) -> Said | None:
        """The open step's answer; None while there is none."""
        answered = self._answers.get(self.chosen)
        return answered if isinstance(answered, Said) else None

    def turn(self, by: int) -> None:
        """Open the next step, or the one before."""
        names = [entry.name for entry in window_steps()]
        self.chosen = names[(names.index(self.chosen) + by) % len(names)]

    def say(self, field: str, text: str) -> str:
        """Say something to the open step; returns why it cannot be, empty where it can."""
        asked = next(each for each in self.fields if each.name == field)
        trouble = trouble_with(asked, text) if text.strip() else ""
        if not trouble:
            self._said[self.chosen][field] = text
        return trouble

    def compare(self, files: tuple[Path, ...], *, oiled: bool = False) -> None:
        """Compare other recordings; what was chosen of those before is forgotten."""
        if oiled:
            self.oiled = files
        else:
            self.files = files
            for field in LAYS:
                self._said["compare"].pop(field, None)

    @property
    def offers(self) -> Mapping[str, tuple[str, ...]]:
        """What the answer has to choose from, by field."""
        answered = self.answered
        return {} if answered is None else self.step.offers(answered.answer)

    def look(self, snapshot: Snapshot) -> None:
        """Take an answer that is there, and ask anew where what it rests on has changed."""
        self._forget(snapshot)
        for name, asking in self._asking.items():
            answer = asking.answer()
            if answer is not None and name in self._asked:
                self._answers[name] = answer
                if name == "valves":
                    self._good = valves_good(answer, self._good)
        name, typed = self.chosen, typed_of(self.step, self._said[self.chosen])
        if name == "valves" and self._good:
            typed["done"] = [*typed.get("done", ()), ",".join(self._good)]
        if name == "compare" and not self.files:
            self._asked.pop(name, None)
            self._answers[name] = NO_FILES
            self.behind = False
            return
        if self._answers.get(name) is NO_FILES:
            del self._answers[name]
        basis, before = self._basis(snapshot, typed), self._asked.get(name)
        asking = self._asking[name]
        self.behind = basis != before or asking.busy
        if basis == before:
            return
        if name == "compare":
            question = partial(_compare, self._compressions, self.files, self.oiled, typed)
        else:
            question = partial(_ask, name, snapshot, typed)
        waited_for = before is None or basis.typed != before.typed
        if asking.ask(question, at_once=waited_for):
            self._asked[name] = basis

    def _forget(self, snapshot: Snapshot) -> None:
        """Forget what was said of another engine or run, and what is hidden from the class."""
        engine = (snapshot.profile, snapshot.link.name, is_hidden(snapshot))
        if engine != self._engine:
            self._engine, self._good = engine, ()
            for name in [name for name in self._asked if name != "compare"]:
                del self._asked[name]
                self._answers.pop(name, None)

    def _basis(self, snapshot: Snapshot, typed: Typed) -> Basis:
        name = self.chosen
        said = tuple((field, *texts) for field, texts in typed.items())
        if name == "compare":
            return Basis((*said, self.files, self.oiled))
        judgement = snapshot.judgement if name in BY_PRESSURE else None
        return Basis(said, _found(name, snapshot), judgement)

    def view(self, snapshot: Snapshot) -> StepView:
        """Return what the page shows now."""
        answered = self._answers.get(self.chosen)
        said = answered if isinstance(answered, Said) else None
        page = None if said is None else said.page
        words, drawing = self._drawn(answered)
        headline, parts = self._head_and_parts(answered)
        warnings = tuple(
            ("", sentence(named_as_here(n.text, self.step)))
            for n in own_warnings(page, snapshot.notices)
        )
        table = None
        if self.chosen == "marks":
            table = marks_table(snapshot, () if said is None else said.answer.places)
        return StepView(
            about=self.about,
            headline=capital(headline),
            sign=sign_of(page, hidden=self.chosen != "compare" and is_hidden(snapshot)),
            table=table if table is not None and table.rows else None,
            parts=parts,
            warnings=(*of_the_profile(snapshot.notices), *warnings),
            cautions=self.step.cautions(snapshot.profile) if page is None else page.cautions,
            cautions_heading=self.step.cautions_heading if page is None else page.cautions_heading,
            drawing=drawing,
            crank="" if self.chosen == "compare" else crank_words(snapshot),
            working=self._working(),
            words=words,
            lacks=self._lacks(answered),
        )

    def _head_and_parts(self, answered: Answered | None) -> tuple[str, tuple[Part, ...]]:
        if answered is None:
            return "", ()
        if isinstance(answered, Unanswered):
            if answered.lacks:
                line = lacking_words(answered.lacks, answered.instead)
                return line, (lacking_facts(answered.lacks),)
            words = as_in_form(answered.words)
            return words, (Text(DO_NEXT.get(self.chosen, ENTER_IT)),)
        page = answered.page
        headline, parts = look_first(page)
        here = tuple(part_as_here(part, self.step) for part in (*parts, *page.foot))
        return named_as_here(headline, self.step), here

    def _lacks(self, answered: Answered | None) -> tuple[str, ...]:
        if answered is None or isinstance(answered, Unanswered):
            return () if answered is None else answered.lacks
        return self.step.lacks(answered.answer)

    def _drawn(self, answered: Answered | None) -> tuple[str, str]:
        """Return an answer's words and its drawing, worked out once for each answer."""
        if answered is None:
            return "", ""
        if isinstance(answered, Unanswered):
            return answered.words, ""
        if self._last_drawn is None or self._last_drawn[0] is not answered:
            drawings = self.step.drawings(answered.answer)
            words = page_text(answered.page)
            self._last_drawn = (answered, words, next(iter(drawings.values()), ""))
        return self._last_drawn[1:]

    def _working(self) -> str:
        asking, waits = self._asking[self.chosen], self.chosen not in self._answers
        if waits or (asking.busy and asking.took_s > LONG_S):
            return "working …"
        follows = self.chosen in ANGLE_STEP_DEG
        return "catching up with the crank …" if self.behind and follows else ""

    def close(self) -> None:
        """End what is still being worked on."""
        for asking in self._asking.values():
            asking.close()


@dataclass(frozen=True, slots=True, eq=False)
class Basis:
    """What an answer rests on; where it is the same, the answer is."""

    typed: tuple[Any, ...]
    found: tuple[Any, ...] = ()
    judgement: Any = None

    def __eq__(self, other: object) -> bool:
        """Tell whether nothing has changed; a judgement holds arrays, so another is a change."""
        return (
            isinstance(other, Basis)
            and self.typed == other.typed
            and self.found == other.found
            and self.judgement is other.judgement
        )

    __hash__ = None  # type: ignore[assignment]


def valves_good(answered: Answered, before: tuple[str, ...]) -> tuple[str, ...]:
    """Return the valves whose gap was good where it was measured: done, wherever it is turned."""
    if isinstance(answered, Unanswered):
        return before
    checks = {check.gap.valve: check.status for check in answered.answer.setting.gaps}
    good = [valve for valve, status in checks.items() if status == "good"]
    return tuple(dict.fromkeys((*(v for v in before if v not in checks), *good)))


def sign_of(page: Page | None, *, hidden: bool = False) -> Sign:
    """Return the sign of a page; ``hidden`` while the class is to answer first."""
    if page is None:
        return NONE
    return HIDDEN if hidden and not page.decided else page.sign


def _found(name: str, snapshot: Snapshot) -> tuple[Any, ...]:
    """Return of a moment what a step rests on, as plain values."""
    verdict = snapshot.verdict
    said = None
    if verdict is not None:
        firing = None if not verdict.firing_deg else tuple(verdict.firing_deg.items())
        warned = (*snapshot.notices, *verdict.warnings)
        said = (verdict.decided, verdict.reason, verdict.tdc, firing, warned)
    place: tuple[Any, ...] = (snapshot.now is None, snapshot.why_no_passes())
    if name in ANGLE_STEP_DEG:
        angle = snapshot.angle_deg
        place = (None if angle is None else round(angle / ANGLE_STEP_DEG[name]), place)
    else:
        place = (0 if snapshot.met is None else snapshot.met.count, place)
    return (snapshot.profile, said, place)


def _ask(name: str, snapshot: Snapshot, typed: Typed) -> Said:
    return ask(name, found_now(snapshot), typed, in_window=True)


def _compare(
    compressions: CompressionsRead,
    files: tuple[Path, ...],
    oiled: tuple[Path, ...],
    typed: Typed,
) -> Said:
    typed = {**typed, "wet": [str(file) for file in oiled]}
    measured = compressions.measured(files, oiled, typed)
    return ask("compare", measured, typed, in_window=True)


def crank_words(snapshot: Snapshot) -> str:
    """Return where the crank stands at this moment."""
    angle, verdict = snapshot.angle_deg, snapshot.verdict
    if angle is None:
        return "crank: no samples yet"
    firing = None if verdict is None or not verdict.decided else verdict.firing_deg
    if not firing:
        return "crank: not known yet which stroke it is on"
    first = min(firing)
    after = (angle - firing[first]) % snapshot.profile.cycle_deg
    return f"crank {after:.0f}° after firing TDC of cylinder {first}"
