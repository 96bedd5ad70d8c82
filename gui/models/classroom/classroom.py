"""What does the trainer choose, ask and keep? Scenarios of the bench engine, faults, questions."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal, Protocol

import numpy as np

from strokewise.analysis.crank.strokes import phase_at
from strokewise.analysis.errors import InputError
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.live import BenchSource
from strokewise.daq.bench.parameters import BenchParameter
from strokewise.daq.bench.scenarios.scenarios import SCENARIOS, Scenario, scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.sources import Source
from strokewise.gui.models.classroom.worksheet import Worksheet, worksheet_html
from strokewise.gui.models.figures.trail import Trail
from strokewise.gui.models.figures.units import PressureUnit, unit_for
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.snapshot import ANSWER_HIDDEN, Snapshot
from strokewise.gui.models.run.sources import live_of, profile_maker

QuestionKind = Literal["firing", "fault"]
ALL_WELL = "all well"
LEAST_POINTS = 20
"""Fewer are no trace that a class could write on."""


class ChangeableSource(Source, Protocol):
    """A source whose bench can be changed while it runs."""

    def change(self, bench: Bench) -> None:
        """Go on with another bench."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that can go wrong, as the class-room lists it."""

    key: str
    about: str
    unit: str
    value: str
    changed: bool


@dataclass(frozen=True, slots=True)
class Question:
    """A moment put before the class.

    Attributes
    ----------
    choices : tuple of str
    truth : str
        The right one of them.
    moment : Snapshot
        What was frozen; shown without its verdict until it is answered.
    """

    kind: QuestionKind
    words: str
    choices: tuple[str, ...]
    truth: str
    moment: Snapshot


@dataclass(frozen=True, slots=True)
class ClassAnswer:
    """A question with what the class said."""

    when: datetime
    scenario: str
    words: str
    answer: str
    truth: str

    @property
    def right(self) -> bool:
        """Whether the class was right."""
        return self.answer == self.truth


class Classroom:
    """The bench engine in the trainer's hands.

    Parameters
    ----------
    make_source : callable
        Makes a source of a bench.
    now : callable
        Gives the date and time that answers are kept with.
    """

    def __init__(
        self,
        make_source: Callable[[Bench], ChangeableSource] = BenchSource,
        now: Callable[[], datetime] = datetime.now,
    ) -> None:
        self._make_source = make_source
        self._now = now
        self._scenario: Scenario = next(iter(SCENARIOS.values()))
        self._settings: dict[str, str] = {}
        self._source: ChangeableSource | None = None
        self.question: Question | None = None
        self.answers: tuple[ClassAnswer, ...] = ()
        self.traces: tuple[Worksheet, ...] = ()
        """What has been put on the worksheet."""

    @property
    def scenarios(self) -> tuple[Scenario, ...]:
        """Everything that can be chosen."""
        return tuple(SCENARIOS.values())

    @property
    def chosen(self) -> Scenario:
        """The scenario that is running, or would."""
        return self._scenario

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What can go wrong in the chosen scenario, with its present values."""
        bench = self._scenario.build(self._settings)
        healthy = self._scenario.base
        return tuple(
            Fault(
                parameter.key,
                parameter.about,
                parameter.unit,
                _shown(parameter, bench),
                parameter.read(bench) != parameter.read(healthy),
            )
            for parameter in self._scenario.faults
        )

    def choose(self, name: str) -> LiveRun:
        """Return a live run of a scenario, as if of a port; not yet started.

        Raises
        ------
        InputError
            For a name that is none.
        """
        self._scenario, self._settings = scenario(name), {}
        bench = self._scenario.build()
        table = stated_profile(bench)

        def open_source() -> Source:
            self._source = self._make_source(self._scenario.build(self._settings))
            return self._source

        run = live_of(
            f"bench: {name}", open_source, profile_maker(header={"engine": table}), table=table
        )
        run.simulated = True
        return run

    def change(self, key: str, text: str) -> None:
        """Change a fault while the engine runs on.

        Raises
        ------
        InputError
            For a value that is not allowed; the engine runs on as it was.
        """
        settings = {**self._settings, key: text}
        bench = self._scenario.build(settings)
        self._settings = settings
        if self._source is not None:
            self._source.change(bench)

    def ask(self, kind: QuestionKind, moment: Snapshot) -> Question | None:
        """Put the present moment before the class; None while nobody knows the answer."""
        if kind == "fault":
            self.question = self._fault_question(moment)
        else:
            self.question = _firing_question(moment)
        return self.question

    def answer(self, text: str) -> ClassAnswer | None:
        """Keep what the class said and let the verdict be seen."""
        question, self.question = self.question, None
        if question is None:
            return None
        answered = ClassAnswer(
            self._now(), self._scenario.name, question.words, text, question.truth
        )
        self.answers = (*self.answers, answered)
        return answered

    def keep_trace(self, moment: Snapshot, name: str, unit: PressureUnit) -> Worksheet:
        """Put the trace of a moment on the worksheet.

        Raises
        ------
        InputError
            When the engine has not been turned yet, so that there is no trace.
        """
        sheet = self._sheet(moment, name, unit)
        if len(sheet.trail.angle_deg) < LEAST_POINTS:
            raise InputError("no trace yet: turn the engine, then put it on the worksheet")
        self.traces = (*self.traces, sheet)
        return sheet

    def worksheet(self, moment: Snapshot, name: str, unit: PressureUnit) -> str:
        """Return the page to print: the traces put on it, or the present one where none was."""
        return worksheet_html(self.traces or (self._sheet(moment, name, unit),))

    def _sheet(self, moment: Snapshot, name: str, unit: PressureUnit) -> Worksheet:
        """Return the last two cycles with what a teacher reads on the page of answers."""
        title = name
        if moment.link.simulated:
            wrong = [fault.about for fault in self.faults if fault.changed]
            title = ". ".join([self._scenario.about, *wrong])
        sentence = moment.sentence()
        return Worksheet(
            title,
            last_cycles(moment.trail, moment.profile.cycle_deg),
            f"{sentence.text}. {sentence.detail}",
            moment.link.simulated,
            unit_for(moment.profile, unit),
        )

    def answers_csv(self) -> str:
        """Return all answers as a table."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["when", "scenario", "question", "answer", "right answer", "right"])
        writer.writerows(
            [
                given.when.isoformat(timespec="seconds"),
                given.scenario,
                given.words,
                given.answer,
                given.truth,
                "yes" if given.right else "no",
            ]
            for given in self.answers
        )
        return out.getvalue()

    def _fault_question(self, moment: Snapshot) -> Question:
        wrong = [fault.about for fault in self.faults if fault.changed]
        truth = wrong[0] if wrong else ALL_WELL
        choices = tuple(dict.fromkeys([ALL_WELL, *(fault.about for fault in self.faults)]))
        return Question("fault", "What is wrong with this engine?", choices, truth, moment)


def _firing_question(moment: Snapshot) -> Question | None:
    verdict, angle = moment.verdict, moment.angle_deg
    if verdict is None or not verdict.decided or verdict.firing_deg is None or angle is None:
        return None
    phase = phase_at(moment.profile, verdict.firing_deg[1], angle)
    names = tuple(str(one.cylinder) for one in phase.cylinders)
    truth = str(phase.on_firing_stroke[0]) if phase.on_firing_stroke else "none"
    choices = names if phase.on_firing_stroke else (*names, "none")
    words = "Which cylinder is on its firing stroke?"
    if len(phase.on_firing_stroke) > 1:
        words = "Which cylinder began its firing stroke last?"
    return Question("firing", words, choices, truth, moment)


def masked(moment: Snapshot) -> Snapshot:
    """Return a moment that gives nothing away: the trace, and no verdict."""
    return replace(
        moment,
        verdict=Verdict(decided=False, reason=ANSWER_HIDDEN),
        was_decided=False,
        position=None,
        guidance=None,
        rocking=None,
        target=None,
        judgement=None,
    )


def last_cycles(trail: Trail, cycle_deg: float, cycles: float = 2.0) -> Trail:
    """Return the end of a trail, for a worksheet."""
    if len(trail.angle_deg) == 0:
        return trail
    near = np.flatnonzero(trail.angle_deg >= trail.angle_deg[-1] - cycles * cycle_deg)
    start = int(near[0])
    return Trail(trail.angle_deg[start:], trail.pressure_bar[start:])


def _shown(parameter: BenchParameter, bench: Bench) -> str:
    value = parameter.read(bench)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return f"{value[0]:g}..{value[1]:g}"
    return f"{value:g}" if isinstance(value, float) else str(value)
