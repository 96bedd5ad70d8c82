"""What does the sheet say first? The engine: its TDC and strokes, its marks, its cam, what was set.

An angle of the encoder means nothing to whoever reads the sheet; it stands below, in the findings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from strokewise.analysis.profile import Profile
from strokewise.analysis.valves.clearances import GapCheck, check_gap
from strokewise.analysis.verdict.methods import BASELINES
from strokewise.analysis.verdict.verdict import DECIDED_AT
from strokewise.gui.job.job import Job
from strokewise.gui.job.kept import Answered
from strokewise.gui.models.near import ROUGH_DEG, near_words, within_words
from strokewise.gui.pages.words import sentence
from strokewise.gui.registry import step_entry
from strokewise.gui.sheet.findings import latest, leading

ALSO = ("marks", "cam", "drive", "static", "compare")
"""Steps whose headline speaks of the engine as it was found, in their order."""


@dataclass(frozen=True, slots=True)
class Summary:
    """What stands in the box at the top.

    Attributes
    ----------
    word : str
        How sure it is.
    sure : bool
        TDC and the firing strokes are found, near enough to set something by.
    lines : tuple of str
        What was found and set, a sentence or two each.
    """

    word: str
    sure: bool
    lines: tuple[str, ...]


def summary(job: Job, profile: Profile) -> Summary:
    """Return the box at the top of a job's sheet."""
    found = leading(job)
    others = (_other(kept) for name in ALSO for kept in latest(job) if kept.command == name)
    more = (*filter(None, others), *_clearances(job, profile))
    if not found:
        return Summary("TDC HAS NOT BEEN MEASURED IN THIS JOB", False, more)
    word, sure, line = _tdc(found[0])
    return Summary(word, sure, (line, *more))


TDC_KEYS = {"low", "high", "cylinder", "method"}
"""What is needed of a TDC to speak of it; an answer of another version may lack some."""


def _tdc(kept: Answered) -> tuple[str, bool, str]:
    """Return how sure the answer that leads is, and what it says of the engine."""
    answer, tdc = kept.answer, kept.answer.get("tdc")
    reason = sentence(str(answer.get("reason") or "no reason given"))
    decided = answer.get("decided") is True
    if not decided or not isinstance(tdc, Mapping) or not set(tdc) >= TDC_KEYS:
        return "DECIDED" if decided else "NOT DECIDED", decided, reason
    half = (float(tdc["high"]) - float(tdc["low"])) / 2
    told = f"TDC of cylinder {tdc['cylinder']} is found to {within_words(half)} of the crank"
    if answer.get("firing"):
        told += f", and its firing stroke told from overlap, at least {100 * DECIDED_AT:g} % sure"
    line = f"{told}. {reason}"
    if kept.page is not None and kept.page.headline.startswith(BEFORE):
        return "DECIDED, BUT FROM BEFORE", False, line
    if tdc["method"] in BASELINES:
        only = "this way of finding TDC is for comparing only, and can be some degrees off"
        return "STROKE SURE, ANGLE NOT", False, f"{line} The angle: {only}."
    if half > ROUGH_DEG:
        return f"STROKE SURE, {near_words(half)}", False, line
    return f"DECIDED, {near_words(half)}", True, line


BEFORE = ("DECIDED, BUT FROM BEFORE", "ONLY IF NOTHING MOVED")
"""How the headline of an answer begins that may no longer hold at the engine."""


def _other(kept: Answered) -> str:
    """Return the headline of another step; nothing where it only says how something is done."""
    if not _is_found(kept.command, kept.answer):
        return ""
    entry = step_entry(kept.command)
    title = kept.command if entry is None else entry.heading
    page = kept.page
    said = str(kept.answer.get("reason", "")) if page is None else page.headline
    if page is not None and page.next_look:
        said = said.removesuffix(sentence(page.next_look)).strip()
    return f"{title}: {sentence(said)}"


def _is_found(command: str, answer: Mapping[str, Any]) -> bool:
    """Return whether an answer speaks of the engine as found, and not of how to set it."""
    if command == "drive":
        return answer.get("found") is not None
    return command != "static" or answer.get("strobe") is not None


def _clearances(job: Job, profile: Profile) -> tuple[str, ...]:
    """Return how many gaps are right, by the last stage at which any was measured."""
    if not job.stages:
        return ()
    stage = job.stages[-1]
    adjust = profile.valves.adjust if profile.valves is not None else "screw"
    checks = [check_gap(gap, adjust=adjust) for gap in job.gaps(stage)]
    right = sum(check.status == "good" for check in checks)
    off = [check.gap.valve for check in checks if check.status != "good"]
    rest = f"; not right yet: {', '.join(off)}" if off else ""
    when = f", {stage}" if stage else ""
    return (f"Valve clearances{when}: {right} of the {_measured(checks)} are right{rest}.",)


def _measured(checks: list[GapCheck]) -> str:
    return f"{len(checks)} that were measured"
