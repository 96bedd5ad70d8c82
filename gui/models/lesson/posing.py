"""How does a prepared question come before the class? As an engine that has run, and a moment.

Of a scenario the truth is the bench's own: where its cylinders fired, what was changed on it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from strokewise.analysis.errors import InputError
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.bench.truth import truth
from strokewise.gui.models.classroom.causes import (
    CAUSES,
    WELL,
    causes_of,
    family_of,
    marks_met,
    marks_words,
    reference_of,
)
from strokewise.gui.models.classroom.questions import (
    Question,
    fault_question,
    firing_question,
    slipped_s,
    with_earlier,
)
from strokewise.gui.models.lesson.lesson import LessonItem
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.run.sources import open_deck, profile_maker

EARLIEST, LATEST = 0.5, 0.97
"""Where a moment is looked for, in shares of the recording: before it there is little to go by."""
MOMENTS_TRIED = 40


@dataclass(frozen=True, slots=True)
class Posed:
    """A question with the run that it stands in, paused at its moment."""

    run: ReplayRun
    question: Question


def pose(item: LessonItem, number: int, seed: int, folder: Path) -> Posed:
    """Make a question's engine run and look for its moment; takes seconds, so do it aside.

    Parameters
    ----------
    number : int
        Of the question, from 1: what the run is called, as its own name would give it away.
    seed : int
        As :meth:`~strokewise.gui.models.lesson.session.Session.seed_of` has it.

    Raises
    ------
    StrokewiseError
    """
    name = f"question {number}"
    made = _of_recording if item.recording else _of_scenario
    deck, question = made(item, name, seed, folder)
    if item.why:
        question = replace(question, why=f"{item.why.rstrip('.')}. {question.why}")
    return Posed(ReplayRun(deck, playing=False), question)


def _of_scenario(item: LessonItem, name: str, seed: int, folder: Path) -> tuple[Deck, Question]:
    named = scenario(item.scenario)
    bench = named.build(item.settings, seed=seed)
    taken = take(bench)
    header = {"engine": stated_profile(bench)}

    def opened() -> Deck:
        return Deck(taken.items, profile_maker(header=header), Tracker, name=name, simulated=True)

    deck = opened()
    deck.scan_all()
    if item.kind == "fault":
        true = causes_of(bench, reference_of(named), named)
        family = family_of(named, true)
        moment = _at_its_end(deck, item, opened)
        if family == "cam and marks":
            firing_deg = float(truth(taken)["firing"]["1"])
            met = ((name, firing_deg + after) for name, after, _ in marks_met(bench))
            moment = replace(moment, marks_met=tuple(met))
        return deck, fault_question(moment, true, family, marks_words(bench), item.scenario)
    firing = {int(number): angle for number, angle in truth(taken)["firing"].items()}
    return deck, _firing(deck, item, firing, seed)


def _of_recording(item: LessonItem, name: str, seed: int, folder: Path) -> tuple[Deck, Question]:
    path = folder / item.recording
    deck = open_deck(path)
    deck.name = name
    deck.scan_all()
    if item.kind == "fault":
        cause = CAUSES[item.answer]
        true = () if cause == WELL else (cause,)
        moment = _at_its_end(deck, item, lambda: open_deck(path))
        return deck, fault_question(moment, true, cause.family, "", item.recording)
    question = _firing(deck, item, _truth_beside(path), seed)
    if item.answer:
        question = stated(question, item.answer)
    return deck, question


def _at_its_end(deck: Deck, item: LessonItem, again: Callable[[], Deck]) -> Snapshot:
    """Return the moment that is asked about; ``again`` opens the same run once more.

    A run follows the compressions since the clamp slipped; a class is to see those before, too.
    """
    deck.seek(deck.length_s if item.at_s is None else item.at_s)
    deck.follower.judge()
    moment = deck.snapshot()
    at_s = slipped_s(moment)
    if at_s is None:
        return moment
    other = again()
    other.seek(at_s)
    other.follower.judge()
    return with_earlier(moment, other.snapshot().passes)


def stated(question: Question, answer: str) -> Question:
    """Return a question with the answer that the trainer states.

    Raises
    ------
    InputError
        It is not among those that can be given, or contradicts what is known for certain.
    """
    if answer not in question.choices:
        known = ", ".join(question.choices)
        raise InputError(f'answer = "{answer}" is none of {known}')
    if answer not in question.truths:
        raise InputError(
            f'answer = "{answer}", but the recording says for certain {question.truth}; '
            "correct it, or leave it out"
        )
    return question


def _truth_beside(path: Path) -> Mapping[int, float] | None:
    """Return where the cylinders truly fire, of a simulated recording with its truth beside it."""
    beside = path.with_suffix(".truth.json")
    try:
        firing = json.loads(beside.read_text(encoding="utf-8"))["firing"]
        return {int(number): float(angle) for number, angle in firing.items()}
    except (OSError, ValueError, KeyError, AttributeError):
        return None


def _firing(
    deck: Deck, item: LessonItem, firing: Mapping[int, float] | None, seed: int
) -> Question:
    """Look for a moment at which a class can tell, in an order that the seed shuffles."""
    shares = np.random.default_rng((seed, 0x61736B)).uniform(EARLIEST, LATEST, MOMENTS_TRIED)
    places = (shares * deck.length_s).tolist() if item.at_s is None else [item.at_s]
    why = "there is no fair moment in it"
    for place_s in places:
        deck.seek(place_s)
        if firing is None or item.at_s is not None:
            deck.follower.judge()
        try:
            firing_question(deck.snapshot(), firing)
        except InputError as error:
            why = str(error)
            continue
        deck.follower.judge()
        return firing_question(deck.snapshot(), firing, item.asked_of)
    raise InputError(f"{item.asked_of}: {why}")
