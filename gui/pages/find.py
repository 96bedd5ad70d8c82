"""How is TDC said, and which cylinder fires there? The page of ``find``."""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.analysis.compression.cylinder_compression import STANDARD_BAR
from strokewise.analysis.crank.strokes import EnginePhase
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere, Profile
from strokewise.analysis.remark import Notice, Remark, notice
from strokewise.analysis.tdc.diagnostics import STARTER_RPM, Diagnostics
from strokewise.analysis.verdict.find import FindAnswer, FindQuestion, find_answer
from strokewise.analysis.verdict.methods import BASELINES
from strokewise.analysis.verdict.verdict import (
    DECIDED_AT,
    AskedMethod,
    Candidate,
    Compression,
    Method,
    Tdc,
    Verdict,
)
from strokewise.gui.models.near import ROUGH_DEG, narrowing_sentence, near_words, within_words
from strokewise.gui.pages.answers import find_figures
from strokewise.gui.pages.cautions import after_finding
from strokewise.gui.pages.headline import (
    Claim,
    Ground,
    Rank,
    decimals_of,
    exactly,
    sided_apart,
    spread,
)
from strokewise.gui.pages.page import Facts, Page, Row, Text, page_of
from strokewise.gui.pages.sign import STROKE_SURE
from strokewise.gui.pages.step import Label, Step
from strokewise.gui.pages.text import columns_in_a_row
from strokewise.gui.pages.words import (
    FRAME_WORDS,
    counted,
    degrees,
    health_words,
    interval_words,
    percent,
    sentence,
)
from strokewise.gui.sayings import say, say_any

DECIDED = "DECIDED"

METHOD_WORDS: dict[Method, str] = {
    "fit": "joint fit of all compressions",
    "rocking": "rocking through compression",
    "stop": "piston stop, both sides",
    "peak": "peak pressure against speed",
    "fixed-loss": "peak pressure less a fixed loss angle",
    "chords": "midpoints of equal pressure",
    "polytropic": "straight polytropic lines",
    "heat-shape": "shape of the heat loss",
    "rough": "roughly, nothing is fitted",
}

METHODS: dict[AskedMethod, str] = {
    "fit": "joint fit of all compressions (the default)",
    "rocking": "middle of compressions met from both sides",
    "stop": "piston stop met from both sides, no sensor needed",
    "peak": "highest pressure as it stands",
    "fixed-loss": "highest pressure, moved on by 0.7 deg",
    "chords": "midpoints of equal pressures",
    "polytropic": "straight lines in log p over log V",
    "heat-shape": "constant heat loss near TDC",
}

LABELS = {
    "method": Label("Method", "; ".join(f"{name}: {meaning}" for name, meaning in METHODS.items()))
}


def find_page(answer: FindAnswer) -> Page:
    """Return the page of a verdict."""
    verdict, profile = answer.verdict, answer.profile
    method = verdict.tdc.method if verdict.tdc is not None else None
    rows: list[Row] = []
    if verdict.tdc is not None:
        rows += _tdc(verdict.tdc)
    decimals = 0 if verdict.tdc is None else decimals_of(verdict.tdc.angle_deg)
    if verdict.decided and verdict.firing_deg is not None:
        rows += _firing(verdict, profile, decimals)
    else:
        rows += _candidates(verdict.candidates, profile.cycle_deg, decimals)
    if verdict.compression is not None:
        rows.append(Row("Compression", compression_words(verdict.compression)))
        rows.append(Row("Air", air_words(profile.atmosphere)))
    if verdict.diagnostics is not None:
        rows += _told_beside(verdict.diagnostics)
    if answer.end is not None:
        by = "" if profile.cylinders == 1 else "; by the firing order as stated"
        rows.append(Row("Engine at the end", f"{position_words(answer.end)}{by}"))
    rows.append(Row("Recording", health_words(verdict.health, verdict.clipped)))
    return page_of(
        "find",
        (headline(verdict, profile),),
        decided=verdict.decided,
        reason=say(verdict.reason),
        parts=(Facts(tuple(rows)),),
        warnings=(*verdict.warnings, *_of_method(verdict)),
        cautions=after_finding(
            profile,
            decided=verdict.decided,
            method=method,
            warned=[each.code for each in verdict.warnings],
        ),
        foot=(Text(FRAME_WORDS),) if verdict.tdc is not None else (),
        sign=STROKE_SURE if _angle_open(verdict) else None,
        ground=Ground(
            say_any(verdict.earlier),
            cylinders=tuple(verdict.firing_deg) if verdict.firing_deg else None,
        ),
    )


def _of_method(verdict: Verdict) -> tuple[Notice, ...]:
    """Say what the interval of a published method leaves out: it is the scatter between passes."""
    if verdict.tdc is None or verdict.tdc.method not in BASELINES:
        return ()
    return (notice("losses-not-fitted", method=verdict.tdc.method),)


def _half_deg(verdict: Verdict) -> float:
    return 0.0 if verdict.tdc is None else verdict.tdc.angle_deg.half_width


def headline(verdict: Verdict, profile: Profile) -> Claim:
    """Return what a person came for: which stroke, and how near the angle is, each by itself."""
    reason = sentence(say(verdict.reason))
    if verdict.decided and verdict.firing_deg:
        first = min(verdict.firing_deg)
        fires, about = _fires(first, verdict)
        if verdict.earlier is not None:
            before = f"DECIDED, BUT FROM BEFORE: {say(verdict.earlier)}."
            answer = verdict.reason["answer"]
            then = sentence(say(answer)) if isinstance(answer, Remark) else ""
            text = f"{before} Then {fires}. {then}"
            return Claim(text, Rank.UNKNOWN, about, first, earlier=True)
        narrow = narrowing_sentence(_half_deg(verdict), profile.turning_back)
        said = (f"{_word(verdict)}: {fires}.", narrow, reason)
        return Claim(" ".join(each for each in said if each), Rank.RIGHT, about, first)
    if verdict.decided:
        return Claim(f"DECIDED. {reason}")
    if verdict.tdc is not None:
        near = within_words(_half_deg(verdict))
        return Claim(
            f"NOT SURE WHICH TDC: the piston's top is found to {near}, the stroke is not. {reason}",
            Rank.UNKNOWN,
        )
    if verdict.probability >= DECIDED_AT:
        return Claim(f"STROKE FOUND, TDC NOT. {reason}", Rank.UNKNOWN)
    return Claim(f"NOT SURE: no TDC found. {reason}", Rank.UNKNOWN)


def _word(verdict: Verdict) -> str:
    """Return how sure the stroke is, and how near TDC."""
    word = STROKE_SURE.word if _angle_open(verdict) else DECIDED
    if verdict.tdc is None:
        return word
    half = verdict.tdc.angle_deg.half_width
    if verdict.tdc.method in BASELINES:
        return f"{word}, angle to compare only (scatter {within_words(half)})"
    return f"{word}, {near_words(half)}"


def _angle_open(verdict: Verdict) -> bool:
    """Return whether the stroke alone is sure: TDC is rough, or by a way known to be off."""
    tdc = verdict.tdc
    return tdc is not None and (tdc.method in BASELINES or tdc.angle_deg.half_width > ROUGH_DEG)


def _fires(cylinder: int, verdict: Verdict) -> tuple[str, tuple[Interval, ...]]:
    """Return where a cylinder fires, and the interval behind it."""
    assert verdict.firing_deg is not None
    if verdict.tdc is None:
        return f"cylinder {cylinder} fires at {degrees(verdict.firing_deg[cylinder], 0)}", ()
    tdc = verdict.tdc.angle_deg
    at = tdc.shifted(verdict.firing_deg[cylinder] - tdc.value)
    return f"cylinder {cylinder} fires at {exactly(at, '°')}", (at,)


def compression_words(compression: Compression) -> str:
    """Return the peak pressure, absolute and gauge."""
    of = counted(compression.passes, "compression")
    return (
        f"{compression.peak_bar:.1f} bar absolute, {compression.peak_gauge_bar:.1f} bar gauge, "
        f"median of {of}"
    )


def air_words(atmosphere: Atmosphere) -> str:
    """Return the air that the pressures were taken against, and whether anybody stated it."""
    said = "as stated" if atmosphere.stated else "assumed, as nobody stated it"
    return f"{atmosphere.pressure_bar:.3f} bar, {atmosphere.temperature_c:.0f} °C, {said}"


def position_words(phase: EnginePhase) -> str:
    """Return which cylinder is on its firing stroke, and which is the next to fire."""
    following = (
        f"next to fire: {_cylinders(phase.next_to_fire)}, "
        f"{degrees(phase.to_next_firing_deg, 0)} further on"
    )
    if not phase.on_firing_stroke:
        return f"no cylinder on its firing stroke; {following}"
    powered = ", ".join(
        f"cylinder {number} on its firing stroke, "
        f"{degrees(phase.cylinder(number).after_firing_deg, 0)} past firing TDC"
        for number in phase.on_firing_stroke
    )
    return f"{powered}; {following}"


def _tdc(tdc: Tdc) -> list[Row]:
    basis = "stop contact" if tdc.method == "stop" else "compression"
    text = (
        f"{interval_words(tdc.angle_deg)}; {METHOD_WORDS[tdc.method]}, {counted(tdc.passes, basis)}"
    )
    rows = [Row(f"TDC of cylinder {tdc.cylinder}", text)]
    if tdc.after_index_deg is not None:
        after = degrees(tdc.after_index_deg, decimals_of(tdc.angle_deg))
        rows.append(Row("after the index", after))
    return rows


def _told_beside(told: Diagnostics) -> list[Row]:
    """Return what the fit tells of the engine beside TDC, each with its interval."""
    rows: list[Row] = []
    if told.peak_bar is not None:
        peak = spread(told.peak_bar, " bar", most=1)
        text = f"{peak} absolute, brought to {STARTER_RPM:.0f} rev/min"
        rows.append(Row("Peak compared", f"{text} and {STANDARD_BAR:.3f} bar outside"))
    if told.compression_ratio is not None:
        text = f"{spread(told.compression_ratio)}, sensor's adaptor and hose in it"
        rows.append(Row("Compression ratio", text))
    if told.leak_hole_mm is not None:
        rows.append(Row("Leaks like", f"a hole of {spread(told.leak_hole_mm, ' mm')}"))
    if told.loss_angle_deg is not None:
        peaks, ends = sided_apart(told.loss_angle_deg, ("before", "after"))
        rows.append(Row("Loss angle", f"pressure peaks {peaks} TDC ({ends})"))
    return rows


def measured_words(verdict: Verdict, profile: Profile) -> str:
    """Return which firing TDCs were measured; empty for an engine of one cylinder.

    A firing order that is wrong in the profile shows in no sensor of one cylinder.
    """
    if profile.cylinders == 1 or verdict.tdc is None:
        return ""
    agrees = [each.remark["cylinder"] for each in verdict.warnings if each.code == "second-agrees"]
    if profile.sensors and all(sensor.place == "manifold" for sensor in profile.sensors):
        return "; every cylinder is as the firing order stated has it"
    also = "".join(f" and {number}" for number in agrees)
    return (
        f"; only cylinder{'s' if also else ''} {verdict.tdc.cylinder}{also}"
        f" {'were' if also else 'was'} measured, the rest is as the firing order stated has it"
    )


def _firing(verdict: Verdict, profile: Profile, decimals: int) -> list[Row]:
    turns = "two turns" if profile.cycle_deg == 720 else "one turn"
    pairs = list((verdict.firing_deg or {}).items())
    columns: list[tuple[str, ...]] = []
    for start in range(0, len(pairs), columns_in_a_row()):
        part = pairs[start : start + columns_in_a_row()]
        columns.append(tuple(f"cyl {cylinder}" for cylinder, _ in part))
        columns.append(tuple(degrees(angle_deg, decimals) for _, angle_deg in part))
    text = f"in firing order, over {turns} of the crank{measured_words(verdict, profile)}"
    return [Row("Firing TDCs", text, columns=tuple(columns))]


def _candidates(candidates: Sequence[Candidate], cycle_deg: float, decimals: int) -> list[Row]:
    return [
        Row(
            "or" if number else "Could be",
            f"cylinder 1 fires at {_place(candidate, cycle_deg, decimals)}:"
            f" {percent(candidate.probability)}",
            known=False,
        )
        for number, candidate in enumerate(candidates)
    ]


def _place(candidate: Candidate, cycle_deg: float, decimals: int) -> str:
    """Return where a candidate lies; a rough one says how far off it may be."""
    angle_deg = candidate.firing_1_deg % cycle_deg
    if candidate.within_deg is None:
        return degrees(angle_deg, decimals)
    return f"about {degrees(angle_deg, 0)} (give or take {degrees(candidate.within_deg, 0)})"


def _cylinders(numbers: Sequence[int]) -> str:
    named = " and ".join(str(number) for number in numbers)
    return f"cylinder{'s' if len(numbers) > 1 else ''} {named}"


STEP = Step("find", FindQuestion, find_answer, find_page, find_figures, LABELS)
