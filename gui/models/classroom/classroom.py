"""What does the trainer choose, ask and keep? Scenarios of the bench engine, faults, questions."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Protocol

import numpy as np

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Sensor
from strokewise.analysis.trace.trace import end_bar_of
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.live import BenchSource
from strokewise.daq.bench.parameters import BenchParameter
from strokewise.daq.bench.scenarios.scenarios import SCENARIOS, Scenario, scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.sources import Source
from strokewise.gui.models.classroom.causes import (
    Ailment,
    causes_of,
    family_of,
    marks_words,
    reference_of,
    why_no_fault,
)
from strokewise.gui.models.classroom.questions import (
    Question,
    QuestionKind,
    fault_question,
    firing_question,
    with_earlier,
)
from strokewise.gui.models.classroom.reference import bench_like, what_it_is
from strokewise.gui.models.classroom.worksheet import Worksheet
from strokewise.gui.models.figures.trail import Trail
from strokewise.gui.models.figures.units import PressureUnit, unit_for
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.run.sources import live_of, profile_maker
from strokewise.gui.sayings.saying import capital

BARE_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)")
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
class ClassAnswer:
    """A question with what the class said."""

    when: datetime
    scenario: str
    words: str
    answer: str
    truths: tuple[str, ...]

    @property
    def truth(self) -> str:
        """What was so, in one line."""
        return " and ".join(self.truths)

    @property
    def right(self) -> bool:
        """Whether the class was right."""
        return self.answer in self.truths


def bench_name(scenario_name: str) -> str:
    """Return what a live run of a scenario is called."""
    return f"bench: {scenario_name}"


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
        self._traces_before: list[tuple[Worksheet, ...]] = []

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
            bench_name(name), open_source, profile_maker(header={"engine": table}), table=table
        )
        run.simulated = True
        return run

    def change(self, key: str, text: str) -> None:
        """Change a fault while the engine runs on; a bare number is in the unit of the list.

        Raises
        ------
        InputError
            For a value that is not allowed; the engine runs on as it was.
        """
        unit = next((fault.unit for fault in self.faults if fault.key == key), "")
        if unit and BARE_NUMBER.fullmatch(text.strip()):
            text = f"{text.strip()} {unit}"
        settings = {**self._settings, key: text}
        bench = self._scenario.build(settings)
        self._settings = settings
        if self._source is not None:
            self._source.change(bench)

    def ask(self, kind: QuestionKind, moment: Snapshot) -> Question:
        """Put the present moment before the class.

        Raises
        ------
        InputError
            While nobody knows the answer, or no class could.
        """
        self.question = None
        make = self._fault_question if kind == "fault" else self._firing_question
        self.question = make(moment)
        return self.question

    def answer(self, text: str) -> ClassAnswer | None:
        """Keep what the class said and let the verdict be seen."""
        question, self.question = self.question, None
        if question is None:
            return None
        answered = ClassAnswer(
            self._now(), question.scenario, question.words, text, question.truths
        )
        self.answers = (*self.answers, answered)
        return answered

    def keep_trace(
        self, moment: Snapshot, name: str, unit: PressureUnit, so: str = ""
    ) -> Worksheet:
        """Put the trace of a moment on the worksheet.

        Parameters
        ----------
        so : str
            What is so with its engine, where that is known otherwise than by the scenario chosen.

        Raises
        ------
        InputError
            When the engine has not been turned yet, so that there is no trace.
        """
        sheet = self._sheet(moment, name, unit, so)
        if len(sheet.trail.angle_deg) < LEAST_POINTS:
            raise InputError("no trace yet: turn the engine, then put it on the worksheet")
        self._put((*self.traces, sheet))
        return sheet

    def empty_worksheet(self) -> None:
        """Take everything off the worksheet."""
        self._put(())

    def undo_worksheet(self) -> bool:
        """Put the worksheet back to what it was before its last change; False where none was."""
        if not self._traces_before:
            return False
        self.traces = self._traces_before.pop()
        return True

    def _put(self, traces: tuple[Worksheet, ...]) -> None:
        self._traces_before.append(self.traces)
        self.traces = traces

    def worksheet(
        self, moment: Snapshot, name: str, unit: PressureUnit, so: str = "", *, gauge: bool = False
    ) -> tuple[Worksheet, ...]:
        """Return what is printed: the traces put on it, or the present one where none was.

        Parameters
        ----------
        gauge : bool
            Pressure is counted from the air outside.
        """
        sheets = self.traces or (self._sheet(moment, name, unit, so),)
        return tuple(replace(sheet, gauge=gauge) for sheet in sheets)

    def _sheet(self, moment: Snapshot, name: str, unit: PressureUnit, so: str) -> Worksheet:
        """Return the last two cycles with what a teacher reads on the page of answers."""
        title, wrong = name, so
        if self._runs(moment):
            title, wrong = self._what_runs()
        sentence, profile, verdict = moment.sentence(), moment.profile, moment.verdict
        sensor = profile.sensors[0] if profile.sensors else Sensor()
        tdc = None if verdict is None else verdict.tdc
        known = tdc is not None and tdc.cylinder == (sensor.cylinder or 1)
        firing = verdict.firing_deg if verdict is not None and verdict.decided else None
        return Worksheet(
            title,
            last_cycles(moment.trail, profile.cycle_deg),
            f"{sentence.text}. {sentence.detail}",
            moment.link.simulated,
            unit_for(profile, unit),
            profile.cycle_deg,
            tdc.angle_deg if tdc is not None and known else None,
            firing[sensor.cylinder or 1] if firing and sensor.place == "plug hole" else None,
            sensor.place == "plug hole",
            wrong,
            profile.cylinders,
            atmosphere=profile.atmosphere,
            reads_to_bar=end_bar_of(sensor, profile),
        )

    def _what_runs(self) -> tuple[str, str]:
        """Return what runs in a line, and what is wrong with it and why, in a class's words."""
        causes, about = self._causes(), self._scenario.about
        if not causes:
            return about, about
        found = capital(" and ".join(each.words for each in causes))
        shows = ". ".join(each.why for each in causes)
        return found if self._settings else about, f"{found}. {shows}"

    def _causes(self) -> tuple[Ailment, ...]:
        bench = self._scenario.build(self._settings)
        return causes_of(bench, reference_of(self._scenario), self._scenario)

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

    def _firing_question(self, moment: Snapshot) -> Question:
        true = getattr(self._source, "firing_deg", None) if self._runs(moment) else None
        known = None if true is None else true()
        return firing_question(moment, known, self._asked_of(moment))

    def _fault_question(self, moment: Snapshot) -> Question:
        if not self._runs(moment):
            raise InputError(
                "what is wrong can be asked of a scenario: nobody has said it of this recording"
            )
        if refused := why_no_fault(self._scenario):
            raise InputError(refused[:1].lower() + refused[1:])
        bench, true = self._scenario.build(self._settings), self._causes()
        family = family_of(self._scenario, true)
        moment = with_earlier(moment, moment.passes_before)
        return fault_question(moment, true, family, marks_words(bench), self._asked_of(moment))

    def healthy(self, moment: Snapshot, asked_of: str = "") -> tuple[Bench, str]:
        """Return the bench whose trace is laid behind a moment's, and words on what is assumed.

        Of a scenario it is the same bench without what is wrong with it; of anything else a bench
        of the profile's engine.

        Parameters
        ----------
        asked_of : str
            What a prepared question of this moment was asked of.

        Raises
        ------
        InputError
            Where there is nothing to compare.
        """
        if self._runs(moment):
            return reference_of(self._scenario), ""
        if asked_of in SCENARIOS:
            return reference_of(scenario(asked_of)), ""
        return bench_like(moment), what_it_is(moment)

    def _runs(self, moment: Snapshot) -> bool:
        """Tell whether a moment is of the scenario that was chosen."""
        return moment.link.name == bench_name(self._scenario.name)

    def _asked_of(self, moment: Snapshot) -> str:
        return self._scenario.name if self._runs(moment) else moment.link.name


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
