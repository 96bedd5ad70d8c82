"""How are compared compressions said, to a person and to a program?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.compression.compare import Comparison, Finding, WetAndDry
from strokewise.analysis.estimate import Interval
from strokewise.gui.pages.answers import Answer, base_answer, interval_answer
from strokewise.gui.pages.cautions import (
    IGNITION_AND_FUEL,
    MANUAL_FIRST,
    PLUG_HOLE_PRESSURE,
    STARTER,
    Caution,
)
from strokewise.gui.pages.words import (
    caution_words,
    counted,
    fact,
    paragraph,
    percent,
    sentence,
    warning_words,
)

if TYPE_CHECKING:
    from strokewise.gui.commands.compare import CompareAnswer

DECIMALS = 3

LEAK_DOWN = Caution(
    "leak-down",
    "Oil in a cylinder, air into a cylinder",
    "A spoonful of oil and no more: liquid does not give way under a piston. Air let into a "
    "cylinder turns the engine: nothing and nobody near fan, belts or the spanner.",
)


def compare_words(answer: CompareAnswer) -> str:
    """Return the whole answer for a person."""
    facts: list[str] = []
    if answer.comparison is not None:
        facts += _cylinders(answer, answer.comparison)
        facts += _overall(answer.comparison)
    findings = [*(answer.comparison.findings if answer.comparison else ())]
    findings += [pair.finding for pair in answer.oiled]
    for finding in findings:
        facts += fact(_label(finding), f"{finding.suggests}. To confirm: {finding.confirm}")
    cautions = (LEAK_DOWN, IGNITION_AND_FUEL, PLUG_HOLE_PRESSURE, STARTER, MANUAL_FIRST)
    parts = [
        paragraph(headline(answer)),
        "\n".join(facts),
        paragraph("What figures suggest is no diagnosis: confirm before anything is taken apart."),
        warning_words(answer.warnings),
        caution_words(cautions),
    ]
    return "\n\n".join(part for part in parts if part)


def headline(answer: CompareAnswer) -> str:
    """Return the one sentence that a person came for."""
    if not answer.decided:
        return f"NOT SURE. {sentence(answer.reason)}"
    return sentence(answer.reason)


def _label(finding: Finding) -> str:
    numbers = " and ".join(map(str, finding.cylinders))
    return f"Cylinder{'s' if len(finding.cylinders) > 1 else ''} {numbers}"


def _cylinders(answer: CompareAnswer, comparison: Comparison) -> list[str]:
    lines = []
    for measured, corrected in zip(answer.measured, comparison.cylinders, strict=True):
        peak = corrected.peak
        text = (
            f"{peak.value:.1f} bar absolute ({peak.low:.1f} to {peak.high:.1f}),"
            f" {percent(corrected.below_best)} below the best; measured {measured.peak.value:.1f}"
            f" bar at {measured.speed_rpm:.0f} rev/min, {counted(measured.passes, 'compression')}"
        )
        if measured.passes_to_peak:
            text += f", reached after {measured.passes_to_peak}"
        if measured.leak_mm2 is not None:
            text += f"; leaks like a hole of {_span(measured.leak_mm2)} mm²"
        lines += fact(f"Cylinder {measured.cylinder}", text)
    return lines


def _span(interval: Interval) -> str:
    return f"{interval.value:.2g} ({interval.low:.2g} to {interval.high:.2g})"


def _signed(share: float) -> str:
    """Return a share in per cent with its sign, nought without a minus."""
    return f"{round(100 * share, 1) + 0.0:+.1f} %"


def _overall(comparison: Comparison) -> list[str]:
    spread = comparison.spread
    text = f"{percent(spread.value)} ({percent(spread.low)} to {percent(spread.high)})"
    lines = fact("Spread", f"{text}; under 10 % is usually called good")
    if comparison.odd is not None:
        odd = comparison.odd
        share = odd.share
        verdict = "stands out" if odd.stands_out else "does not stand out"
        text = (
            f"cylinder {odd.cylinder}, {_signed(share.value)} against the others"
            f" ({_signed(share.low)} to {_signed(share.high)}): {verdict}"
        )
        lines += fact("Most different", text)
    at = f"{comparison.speed_rpm:.0f} rev/min and {comparison.atmosphere_bar:.3f} bar"
    return lines + fact("Compared at", at)


def compare_answer(answer: CompareAnswer) -> Answer:
    """Return the whole answer for a program."""
    said = base_answer(answer.decided, answer.reason, answer.warnings)
    comparison = answer.comparison
    said["cylinders"] = []
    said["spread"] = said["odd"] = said["at"] = None
    said["findings"] = []
    if comparison is not None:
        said["cylinders"] = _cylinders_answer(answer, comparison)
        said["spread"] = interval_answer(comparison.spread)
        odd = comparison.odd
        if odd is not None:
            said["odd"] = {
                "cylinder": odd.cylinder,
                "share": interval_answer(odd.share),
                "stands_out": odd.stands_out,
            }
        said["at"] = {
            "speed_rpm": round(comparison.speed_rpm, 1),
            "atmosphere": f"{comparison.atmosphere_bar:g} bar",
        }
        said["findings"] = [_finding(finding) for finding in comparison.findings]
    said["oiled"] = [_oiled(pair) for pair in answer.oiled]
    return said


def _cylinders_answer(answer: CompareAnswer, comparison: Comparison) -> list[Answer]:
    return [
        {
            "cylinder": measured.cylinder,
            "measured_bar": interval_answer(measured.peak, DECIMALS),
            "corrected_bar": interval_answer(corrected.peak, DECIMALS),
            "below_best": round(corrected.below_best, 4),
            "speed_rpm": round(measured.speed_rpm, 1),
            "passes": measured.passes,
            "passes_to_peak": measured.passes_to_peak,
            "leak_mm2": interval_answer(measured.leak_mm2, DECIMALS),
        }
        for measured, corrected in zip(answer.measured, comparison.cylinders, strict=True)
    ]


def _finding(finding: Finding) -> Answer:
    return {
        "code": finding.code,
        "cylinders": list(finding.cylinders),
        "suggests": finding.suggests,
        "confirm": finding.confirm,
    }


def _oiled(pair: WetAndDry) -> Answer:
    return {
        "cylinder": pair.cylinder,
        "gain": interval_answer(pair.gain),
        "finding": _finding(pair.finding),
    }
