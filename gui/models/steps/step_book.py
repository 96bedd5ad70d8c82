"""Which step is open, what does it say now, and is that still so?"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from strokewise.analysis.estimate import Notice
from strokewise.gui import steps
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.steps.asking import Asking
from strokewise.gui.models.steps.found_now import found_now, is_hidden
from strokewise.gui.models.steps.sections import Section, sections_of
from strokewise.gui.models.steps.step_cautions import cautions_before
from strokewise.gui.models.steps.step_fields import (
    STEPS_ABOUT,
    StepAbout,
    about,
    options_of,
    trouble_with,
)
from strokewise.gui.models.steps.step_sign import StepSign, sign_of
from strokewise.gui.models.steps.step_tables import Table, marks_table
from strokewise.gui.pages.drive_svg import drive_svg
from strokewise.gui.pages.words import sentence
from strokewise.gui.steps import Step

LOOK = "What would tell"
PROFILE = "Profile (F2):"
ANGLE_STEP_DEG = {"valves": 1.0, "drive": 0.1, "static": 0.1}
"""A step that says where to turn is asked again when the crank has moved so far: what it prints."""
LONG_S = 0.5
"""An answer that takes longer is said to be in work; a shorter one would only flicker."""
NO_FILES = Step(
    "compare",
    "Choose the recordings to compare: one for each cylinder, cranked with the starter.",
    None,
)
DO_NEXT = {
    "compare": "Crank every cylinder alike: throttle wide open, all plugs out, decompressor off,"
    " battery good, engine warm. Say on the left what was so, and choose the recordings there."
}
ENTER_IT = "Enter it in the profile (F2, set up), or in a field on the left where there is one."
"""What is missing is named by the key of the profile, or the field on the left."""


@dataclass(frozen=True, slots=True)
class StepView:
    """All that a page draws.

    Attributes
    ----------
    headline : str
        The one sentence that a person came for; empty while there is none.
    crank : str
        Where the crank stands; empty for a step that does not ask.
    sign : StepSign
        How sure it is.
    cautions : Section
        Those of the step.
    drawing : str
        As SVG; empty where there is none.
    working : str
        What is being worked on; empty when nothing is.
    """

    about: StepAbout
    headline: str
    sign: StepSign
    table: Table | None
    sections: tuple[Section, ...]
    cautions: Section
    drawing: str
    crank: str
    working: str
    words: str


class StepBook:
    """The steps after TDC, followed as a run goes on."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.chosen = STEPS_ABOUT[0].name
        self.files: tuple[Path, ...] = ()
        self.oiled: tuple[Path, ...] = ()
        self._said: dict[str, dict[str, str]] = {step.name: {} for step in STEPS_ABOUT}
        # One for each: a step that takes long must not hold up the one turned to meanwhile.
        self._asking = {step.name: Asking(clock) for step in STEPS_ABOUT}
        self._asked: dict[str, Basis] = {}
        self._answers: dict[str, Step] = {}
        self._engine: tuple[object, ...] = ()
        self.behind = False
        """The answer is of an earlier moment than the one last looked at."""
        self._last_read: tuple[Step, tuple[Section, ...], str] | None = None

    @property
    def about(self) -> StepAbout:
        """The step that is open."""
        return about(self.chosen)

    @property
    def busy(self) -> bool:
        """True while an answer is being worked on."""
        return any(asking.busy for asking in self._asking.values())

    def said(self, option: str) -> str:
        """Return what was said to the open step."""
        return self._said[self.chosen].get(option, "")

    def turn(self, by: int) -> None:
        """Open the next step, or the one before."""
        names = [step.name for step in STEPS_ABOUT]
        self.chosen = names[(names.index(self.chosen) + by) % len(names)]

    def say(self, option: str, text: str) -> str:
        """Say something to the open step; returns why it cannot be, empty where it can."""
        field = next(field for field in self.about.fields if field.option == option)
        trouble = trouble_with(field, text) if text.strip() else ""
        if not trouble:
            self._said[self.chosen][option] = text
        return trouble

    def look(self, snapshot: Snapshot) -> None:
        """Take an answer that is there, and ask anew where what it rests on has changed."""
        self._forget(snapshot)
        for name, asking in self._asking.items():
            answer = asking.collect()
            if answer is not None and name in self._asked:
                self._answers[name] = answer
        name, options = self.chosen, options_of(self.about, self._said[self.chosen])
        if name == "compare" and not self.files:
            self._asked.pop(name, None)
            self._answers[name] = NO_FILES
            self.behind = False
            return
        if self._answers.get(name) is NO_FILES:
            del self._answers[name]
        basis, before = self._basis(snapshot, options), self._asked.get(name)
        asking = self._asking[name]
        self.behind = basis != before or asking.busy
        if basis == before:
            return
        question = partial(_ask, name, snapshot, self.files, self.oiled, options)
        waited_for = before is None or basis.typed != before.typed
        if asking.ask(name, question, at_once=waited_for):
            self._asked[name] = basis

    def _forget(self, snapshot: Snapshot) -> None:
        """Forget what was said of another engine or run, and what is hidden from the class."""
        engine = (snapshot.profile, snapshot.link.name, is_hidden(snapshot))
        if engine != self._engine:
            self._engine = engine
            for name in [name for name in self._asked if name != "compare"]:
                del self._asked[name]
                self._answers.pop(name, None)

    def _basis(self, snapshot: Snapshot, options: tuple[str, ...]) -> Basis:
        name = self.chosen
        typed = (*options, *map(str, self.files), "oiled", *map(str, self.oiled))
        if name == "compare":
            return Basis(typed)
        return Basis(options, _found(name, snapshot), snapshot.judgement if name == "cam" else None)

    def view(self, snapshot: Snapshot) -> StepView:
        """Return what the page shows now."""
        step = self._answers.get(self.chosen)
        sections, drawing = self._read(step)
        headline = sections[0].rows[0][1] if sections else ""
        cautions = next((s for s in sections if s.kind == "cautions"), None)
        sections = tuple(s for s in sections[1:] if s is not cautions)
        answer = None if step is None else step.answer
        if step is not None and answer is None:
            headline = named_as_here(headline, self.about)
            sections = (Section("text", "", (("", DO_NEXT.get(self.chosen, ENTER_IT)),)),)
        headline, sections = look_first(headline, sections, answer)
        sections = noticed(sections, snapshot.notices)
        table = None
        if self.chosen == "marks":
            table = marks_table(snapshot, answer)
        return StepView(
            about=self.about,
            headline=_opened(headline),
            sign=sign_of(step, hidden=is_hidden(snapshot)),
            table=table if table is not None and table.rows else None,
            sections=sections,
            cautions=cautions or cautions_before(self.chosen, snapshot.profile),
            drawing=drawing,
            crank="" if self.chosen == "compare" else crank_words(snapshot),
            working=self._working(),
            words="" if step is None else step.words,
        )

    def _read(self, step: Step | None) -> tuple[tuple[Section, ...], str]:
        """Return an answer's sections and its drawing, worked out once for each answer."""
        if step is None:
            return (), ""
        if self._last_read is None or self._last_read[0] is not step:
            drawing = drive_svg(step.answer) if step.name == "drive" and step.answer else None
            self._last_read = (step, sections_of(step.words), drawing or "")
        return self._last_read[1:]

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

    typed: tuple[str, ...]
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


def _opened(headline: str) -> str:
    """Return a headline with a capital, but for a key of the profile, which is spelled as it is."""
    key = "_" in headline.partition(" ")[0]
    return headline if key else headline[:1].upper() + headline[1:]


def named_as_here(words: str, step: StepAbout) -> str:
    """Return words in which an option of the command line is called as its field is."""
    for field in sorted(step.fields, key=lambda field: -len(field.option)):
        words = words.replace(field.option, f"“{field.label}”")
    return words


def look_first(
    headline: str, sections: tuple[Section, ...], answer: dict[str, Any] | None
) -> tuple[str, tuple[Section, ...]]:
    """Return a headline without the next look, and sections that begin with it.

    To be read from afar, a headline must be short; the look has room below it.
    """
    look = sentence((answer or {}).get("next_look") or "")
    if look == "." or not headline.endswith(look):
        return headline, sections
    rest = (s for s in sections if s.kind != "text" or not s.rows[0][1].endswith(look))
    return headline.removesuffix(look).strip(), (Section("text", LOOK, (("", look),)), *rest)


def noticed(sections: tuple[Section, ...], notices: tuple[Notice, ...]) -> tuple[Section, ...]:
    """Return sections with the profile's notices in front of all else, each once and short."""
    if not notices:
        return sections
    whole = {("", sentence(notice.text)) for notice in notices}
    rest = tuple(
        replace(section, rows=tuple(row for row in section.rows if row not in whole))
        if section.kind == "warnings"
        else section
        for section in sections
    )
    # What to type on a command line follows a semicolon; here the profile is a key away.
    short = tuple((PROFILE, sentence(notice.text.partition(";")[0])) for notice in notices)
    told = Section("warnings", "", short)
    return (told, *(section for section in rest if section.rows))


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


def _ask(
    name: str,
    snapshot: Snapshot,
    files: tuple[Path, ...],
    oiled: tuple[Path, ...],
    options: tuple[str, ...],
) -> Step:
    if name == "compare":
        return steps.compared(files, (*(f"--wet={file}" for file in oiled), *options))
    return steps.step(name, found_now(snapshot), options)


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
