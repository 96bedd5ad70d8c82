"""How is it said whether a recording is sound? The page of ``check``."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Recording
from strokewise.analysis.trace.check import CheckAnswer, CheckQuestion, check_answer
from strokewise.analysis.trace.recorded import SegmentFacts
from strokewise.gui.pages.answers import health_answer
from strokewise.gui.pages.headline import Claim, Rank
from strokewise.gui.pages.page import Facts, Page, Row, page_of
from strokewise.gui.pages.step import Figures, Step
from strokewise.gui.pages.words import counted, health_words, sentence

FIGURES_DECIMALS = 3


def check_page(answer: CheckAnswer) -> Page:
    """Return the page of an answer."""
    recorded = answer.recorded
    recording = recorded.recording
    rows = [
        Row("Came through", health_words(recording.health, answer.clipped)),
        Row("Started", str(recording.header.get("started", "not known"))),
        Row("Engine", engine_words(recorded.profile)),
    ]
    for run in answer.runs:
        label = "Run" if len(answer.runs) == 1 else f"Run {run.number + 1}"
        rows.append(Row(label, run_words(run)))
        for channel, reading in enumerate(run.channels):
            text = f"readings {reading.low} to {reading.high} of {run.full_scale}"
            rows.append(Row(f"  channel {channel}", text))
    rows += [Row("Note", note) for note in recording.notes]
    said = reason(recording)
    rank = Rank.RIGHT if answer.decided else Rank.UNKNOWN
    return page_of(
        "check",
        (Claim(f"{recorded.name}: {sentence(said)}", rank),),
        decided=answer.decided,
        reason=said,
        parts=(Facts(tuple(rows)),),
        warnings=answer.warnings,
    )


def reason(recording: Recording) -> str:
    """Return in one line whether there is something to work with."""
    health = recording.health
    if not health.samples:
        return "no samples in it: nothing can be found from this recording"
    gone = health.lost_frames + health.bad_frames
    if not gone and not health.missing_bytes:
        return f"{counted(health.samples, 'sample')}, and nothing is missing"
    return (
        f"{counted(health.samples, 'sample')}; missing: {counted(gone, 'frame')}, "
        f"{counted(health.missing_bytes, 'byte')} of the file"
    )


def check_figures(answer: CheckAnswer) -> Figures:
    """Return the keys of ``strokewise check --json`` beside those of every answer."""
    recording = answer.recorded.recording
    health = recording.health
    return {
        "health": {
            **health_answer(health, answer.clipped),
            "unchecked_lines": health.unchecked_lines,
            "missing_bytes": health.missing_bytes,
        },
        "started": recording.header.get("started"),
        "runs": [_rounded(asdict(run)) for run in answer.runs],
        "notes": list(recording.notes),
    }


def _rounded(figures: dict[str, Any]) -> dict[str, Any]:
    return {
        key: round(figure, FIGURES_DECIMALS) if isinstance(figure, float) else figure
        for key, figure in figures.items()
    }


def engine_words(profile: Profile) -> str:
    """Return the engine and the sensed cylinder in a few words."""
    order = "-".join(str(cylinder) for cylinder in profile.firing_order)
    size = "1 cylinder" if profile.cylinders == 1 else f"{profile.cylinders} cylinders, {order}"
    sensed = [
        f"sensor in cylinder {sensor.cylinder}"
        if sensor.cylinder is not None and sensor.place == "plug hole"
        else f"sensor in the {sensor.place}"
        for sensor in profile.sensors
    ]
    named = [f'"{profile.name}"'] if profile.name else []
    return ", ".join([*named, profile.cycle, size, *sensed])


def run_words(facts: SegmentFacts) -> str:
    """Return one run of the board in a few words."""
    parts = [
        f"{facts.seconds:.1f} s at {facts.rate_hz:,.0f} samples a second",
        f"crank {facts.turns_forward:.1f} turns forward and {facts.turns_back:.1f} back",
    ]
    if facts.gaps:
        parts.append(f"{counted(facts.gaps, 'gap')} in the samples")
    if facts.index_edges:
        parts.append(counted(facts.index_edges, "index pulse"))
    parts += [
        f"{counted(edges, 'pulse')} of mark input {number}"
        for number, edges in facts.mark_edges.items()
    ]
    if facts.presses:
        parts.append(f"{counted(facts.presses, 'mark')} pressed on the screen")
    return "; ".join(parts)


STEP = Step("check", CheckQuestion, check_answer, check_page, check_figures)
