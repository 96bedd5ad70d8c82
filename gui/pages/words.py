"""How is a verdict said to a person? Plain text that fits 80 columns and survives a pipe."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from strokewise.analysis.compression.cylinder_compression import STANDARD_BAR
from strokewise.analysis.crank.strokes import EnginePhase
from strokewise.analysis.estimate import Interval, Notice
from strokewise.analysis.profile import Atmosphere, Profile
from strokewise.analysis.samples import Health
from strokewise.analysis.tdc.diagnostics import STARTER_RPM, Diagnostics
from strokewise.analysis.verdict.verdict import (
    DECIDED_AT,
    Candidate,
    Compression,
    Method,
    Tdc,
    Verdict,
)
from strokewise.gui.pages.cautions import Caution

WIDTH = 79  # a column less than the usual 80: some consoles break a full line
LABEL_WIDTH = 21
COLUMN_WIDTH = 9  # "  663.41°"

METHOD_WORDS: dict[Method, str] = {
    "fit": "joint fit of all compressions",
    "rocking": "rocking through compression",
    "stop": "piston stop, both sides",
    "peak": "peak pressure against speed",
    "fixed-loss": "peak pressure less a fixed loss angle",
    "chords": "midpoints of equal pressure",
    "polytropic": "straight polytropic lines",
    "heat-shape": "shape of the heat loss",
}

FRAME_WORDS = (
    "Angles are crank degrees from the encoder's zero, later in the engine's own direction of "
    "turning is larger. They hold until the board restarts or the clamp is moved."
)


def find_words(
    verdict: Verdict,
    profile: Profile,
    *,
    end: EnginePhase | None = None,
    cautions: Sequence[Caution] = (),
) -> str:
    """Return the whole answer of ``find``, several paragraphs, without a newline at the end.

    Parameters
    ----------
    end : EnginePhase, optional
        Where every cylinder stood when the recording ended; known only once decided.
    """
    facts: list[str] = []
    if verdict.tdc is not None:
        facts += _tdc(verdict.tdc)
    if verdict.decided and verdict.firing_deg is not None:
        facts += _firing(verdict.firing_deg, profile.cycle_deg)
    else:
        facts += _candidates(verdict.candidates, profile.cycle_deg)
    if verdict.compression is not None:
        facts += fact("Compression", compression_words(verdict.compression))
        facts += fact("Air", air_words(profile.atmosphere))
    if verdict.diagnostics is not None:
        facts += _told_beside(verdict.diagnostics)
    if end is not None:
        facts += fact("Engine at the end", position_words(end))
    facts += fact("Recording", health_words(verdict.health, verdict.clipped))
    parts = [
        paragraph(headline(verdict)),
        "\n".join(facts),
        warning_words(verdict.warnings),
        paragraph(FRAME_WORDS) if verdict.tdc is not None else "",
        caution_words(cautions),
    ]
    return "\n\n".join(part for part in parts if part)


def sentence(text: str) -> str:
    """Return a reason or a warning with a capital and a full stop."""
    text = text.strip()
    ended = text if text.endswith((".", "!", "?")) else f"{text}."
    return ended[:1].upper() + ended[1:]


def headline(verdict: Verdict) -> str:
    """Return the one sentence that a person came for."""
    reason = sentence(verdict.reason)
    if verdict.decided and verdict.firing_deg:
        first = min(verdict.firing_deg)
        angle_deg = verdict.firing_deg[first]
        return f"DECIDED: cylinder {first} fires at {degrees(angle_deg)}. {reason}"
    if verdict.decided:
        return f"DECIDED. {reason}"
    if verdict.tdc is not None:
        return f"NOT SURE WHICH TDC: the piston's top is found, the stroke is not. {reason}"
    if verdict.probability >= DECIDED_AT:
        return f"STROKE FOUND, TDC NOT. {reason}"
    return f"NOT SURE: no TDC found. {reason}"


def degrees(angle_deg: float, decimals: int = 2) -> str:
    """Return an angle with its sign for degrees, ``"123.41°"``."""
    return f"{angle_deg:.{decimals}f}°"


def percent(share: float) -> str:
    """Return a share of 1 in per cent; never 100 or 0 unless it is exactly that."""
    text = f"{share:.1%}"
    if text == "100.0%" and share < 1:
        return "over 99.9 %"
    if text == "0.0%" and share > 0:
        return "under 0.1 %"
    return text.replace("%", " %")


def interval_words(interval: Interval) -> str:
    """Return a value in degrees with its interval in words."""
    decimals = 2 if interval.half_width < 1.0 else 1
    value, low, high = (
        degrees(angle_deg, decimals) for angle_deg in (interval.value, interval.low, interval.high)
    )
    return f"{value}, 95 % sure to lie from {low} to {high}"


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


def health_words(health: Health, clipped: float) -> str:
    """Return how well the bytes came through, and how much is missing."""
    came = f"{counted(health.samples, 'sample')} in {counted(health.frames, 'frame')}"
    faults = [
        counted(number, noun, after)
        for number, noun, after in (
            (health.lost_frames, "frame", " lost"),
            (health.bad_frames, "frame", " damaged"),
            (health.unchecked_lines, "line", " without a checksum"),
            (health.missing_bytes, "byte", " missing"),
        )
        if number
    ]
    if clipped > 0:
        faults.append(f"{percent(clipped)} of the readings clipped")
    if health.segments > 1:
        faults.append(f"{health.segments} separate runs of the board")
    return f"{came}; " + (", ".join(faults) if faults else "nothing lost")


def warning_words(warnings: Iterable[Notice]) -> str:
    """Return the warnings, one below the other; empty when there are none."""
    lines = [paragraph(sentence(notice.text), first="  ! ", rest="    ") for notice in warnings]
    return "\n".join(["Warnings", *lines]) if lines else ""


def caution_words(cautions: Iterable[Caution], heading: str = "Before the next step") -> str:
    """Return the cautions, one below the other; empty when there are none."""
    lines = [
        paragraph(f"{caution.heading}: {caution.text}", first="  - ", rest="    ")
        for caution in cautions
    ]
    return "\n".join([heading, *lines]) if lines else ""


def fact(label: str, text: str) -> list[str]:
    """Return one labelled fact, wrapped in its column; a label too long for it stays apart.

    Two blanks or more always part the label from the text: ``models/sections.py`` goes by them.
    """
    first = f"  {label:<{LABEL_WIDTH}}" if len(label) < LABEL_WIDTH - 1 else f"  {label}  "
    return [paragraph(text, first=first, rest=" " * (LABEL_WIDTH + 2))]


def paragraph(text: str, *, first: str = "", rest: str = "") -> str:
    """Return one paragraph wrapped to the width; long words stay whole."""
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def counted(number: int, noun: str, after: str = "") -> str:
    """Return a number with its noun, ``"1,013 frames"``; ``after`` is what follows the noun."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}{after}"


def _tdc(tdc: Tdc) -> list[str]:
    basis = "stop contact" if tdc.method == "stop" else "compression"
    text = (
        f"{interval_words(tdc.angle_deg)}; {METHOD_WORDS[tdc.method]}, {counted(tdc.passes, basis)}"
    )
    facts = fact(f"TDC of cylinder {tdc.cylinder}", text)
    if tdc.after_index_deg is not None:
        facts += fact("after the index", degrees(tdc.after_index_deg))
    return facts


def _told_beside(told: Diagnostics) -> list[str]:
    """Return what the fit tells of the engine beside TDC, each with its interval."""
    lines: list[str] = []
    if told.peak_bar is not None:
        text = f"{_span(told.peak_bar, 1, ' bar')} absolute, brought to {STARTER_RPM:.0f} rev/min"
        lines += fact("Peak compared", f"{text} and {STANDARD_BAR:.3f} bar outside")
    if told.compression_ratio is not None:
        text = f"{_span(told.compression_ratio, 1)}, sensor's adaptor and hose in it"
        lines += fact("Compression ratio", text)
    if told.leak_hole_mm is not None:
        lines += fact("Leaks like", f"a hole of {_span(told.leak_hole_mm, 2, ' mm')}")
    if told.loss_angle_deg is not None:
        early = _span(told.loss_angle_deg, 2, "°")
        lines += fact("Loss angle", f"pressure peaks {early} before TDC")
    return lines


def _span(interval: Interval, decimals: int, unit: str = "") -> str:
    value, low, high = (f"{x:.{decimals}f}" for x in (interval.value, interval.low, interval.high))
    return f"{value}{unit} ({low} to {high})"


def _firing(firing_deg: dict[int, float], cycle_deg: float) -> list[str]:
    turns = "two turns" if cycle_deg == 720 else "one turn"
    lines = fact("Firing TDCs", f"in firing order, over {turns} of the crank")
    pairs = list(firing_deg.items())
    indent = " " * (LABEL_WIDTH + 2)
    per_row = (WIDTH - len(indent)) // COLUMN_WIDTH
    for start in range(0, len(pairs), per_row):
        row = pairs[start : start + per_row]
        lines.append((indent + "".join(f"{f'cyl {c}':<{COLUMN_WIDTH}}" for c, _ in row)).rstrip())
        lines.append((indent + "".join(f"{degrees(a):<{COLUMN_WIDTH}}" for _, a in row)).rstrip())
    return lines


def _candidates(candidates: Sequence[Candidate], cycle_deg: float) -> list[str]:
    if not candidates:
        return []
    lines = [
        f"cylinder 1 fires at {_place(candidate, cycle_deg)}: {percent(candidate.probability)}"
        for candidate in candidates
    ]
    return [
        line
        for number, text in enumerate(lines)
        for line in fact("Could be" if number == 0 else "or", text)
    ]


def _place(candidate: Candidate, cycle_deg: float) -> str:
    """Return where a candidate lies; a rough one says how far off it may be."""
    angle_deg = candidate.firing_1_deg % cycle_deg
    if candidate.within_deg is None:
        return degrees(angle_deg)
    return f"about {degrees(angle_deg, 0)} (give or take {degrees(candidate.within_deg, 0)})"


def _cylinders(numbers: Sequence[int]) -> str:
    named = " and ".join(str(number) for number in numbers)
    return f"cylinder{'s' if len(numbers) > 1 else ''} {named}"
