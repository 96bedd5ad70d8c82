"""How are compared compressions said? Their page, and how their question is asked."""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.analysis.compression.compare import (
    OIL_RAISES,
    Comparison,
    CompressionFinding,
    WetAndDry,
)
from strokewise.analysis.compression.compare_answer import (
    CompareAnswer,
    CompareQuestion,
    compare_answer,
)
from strokewise.analysis.compression.cylinder_compression import CylinderCompression
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile
from strokewise.gui.drawings.laid_svg import laid_svg
from strokewise.gui.pages.answers import Answer, interval_answer
from strokewise.gui.pages.cautions import (
    IGNITION_AND_FUEL,
    MANUAL_FIRST,
    PLUG_HOLE_PRESSURE,
    STARTER,
    Caution,
)
from strokewise.gui.pages.headline import Claim, Rank, Sides, sided_apart, spread
from strokewise.gui.pages.page import Facts, Page, Part, Row, Table, Text, page_of
from strokewise.gui.pages.sign import TO_CONFIRM
from strokewise.gui.pages.step import Figures, Label, Step
from strokewise.gui.pages.words import counted, percent, sentence

COMPARE_DECIMALS = 3
LAID_DRAWING = "two compressions"
PEAK_SIDES: Sides = ("above", "below")

LEAK_DOWN = Caution(
    "leak-down",
    "Oil in a cylinder, air into a cylinder",
    "A spoonful of oil and no more: liquid does not give way under a piston. Air let into a "
    "cylinder turns the engine: nothing and nobody near fan, belts or the spanner.",
)
NO_DIAGNOSIS = "What figures suggest is no diagnosis: confirm before anything is taken apart."

COMPARE_HEADS = (
    "Cylinder",
    "Measured, bar",
    "Made comparable, bar",
    "Below the best",
    "Passes to peak",
)
FINDING_HEADS = ("Cylinder", "Suggests", "Would confirm it")

WHY_COMPARE_OPEN = {
    "few": "two cylinders or more are needed, each with compressions in its recording",
    "slow": "turned too slowly to compare compressions: crank with the starter",
    "missing": "some recording has no compression in it: record that cylinder again",
}

LABELS = {
    "lay": Label(
        "Lay cylinder",
        "draw a compression of this cylinder (default: the lowest) …",
        "N",
        "the lowest",
        offered=True,
    ),
    "lay_pass": Label(
        "its compression",
        "which compression of its recording (default: one with the usual peak)",
        "N",
        "the usual one",
        offered=True,
    ),
    "over": Label(
        "over cylinder",
        "… over one of this cylinder (default: the best)",
        "N",
        "the best",
        offered=True,
    ),
    "over_pass": Label(
        "and its compression",
        "which compression of that one's recording (default: one with the usual peak)",
        "N",
        "the usual one",
        offered=True,
    ),
    "throttle_open": Label("Throttle open", "throttle open while cranking"),
    "plugs_out": Label("Plugs out", "plugs out while cranking"),
    "decompressor_off": Label("Decompressor off", "decompressor off while cranking"),
    "battery_good": Label("Battery good", "battery good while cranking"),
    "warm": Label("Engine warm", "warm while cranking"),
    "cylinders": Label(
        "Cylinder of each file",
        "which cylinder each file is of, in their order",
        "N,N,…",
        "as they say: 1,2,3,4",
    ),
    "wet": Label("Oiled files", "a cylinder again, oiled", "FILE", in_window=False),
    "wet_cylinders": Label(
        "Cylinder of each oiled file",
        "which cylinder each oiled file is of",
        "N,N,…",
        in_window=False,
    ),
    "speed_rpm": Label(
        "At a common rev/min",
        "the common speed (default: their median)",
        "RPM",
        "their median",
        "speed",
    ),
    "neighbours": Label(
        "Side by side",
        "cylinders that sit side by side, such as 1-2,2-3 (default: the next number)",
        "N-N,…",
        "1-2,2-3,3-4",
    ),
}


def compare_cautions(profile: Profile | None = None) -> tuple[Caution, ...]:
    """Return what can hurt while a cylinder is cranked, oiled or blown into."""
    return (LEAK_DOWN, IGNITION_AND_FUEL, PLUG_HOLE_PRESSURE, STARTER, MANUAL_FIRST)


def compare_page(answer: CompareAnswer) -> Page:
    """Return the page of an answer."""
    comparison, reason = answer.comparison, _reason(answer)
    found = comparison is not None and bool(comparison.findings)
    rank = Rank.WRONG if found else Rank.RIGHT
    claim = Claim(sentence(reason), rank)
    if not answer.decided:
        claim = Claim(f"NOT SURE. {sentence(reason)}", Rank.UNKNOWN)
    return page_of(
        "compare",
        (claim,),
        decided=answer.decided,
        reason=reason,
        sign=TO_CONFIRM if found else None,
        parts=(*_parts(answer), Text(NO_DIAGNOSIS)),
        warnings=answer.warnings,
        cautions=compare_cautions(),
        pictures=(LAID_DRAWING,) if answer.laid else (),
    )


def _reason(answer: CompareAnswer) -> str:
    comparison = answer.comparison
    if answer.open or comparison is None:
        return WHY_COMPARE_OPEN[answer.open]
    if comparison.findings:
        finding = comparison.findings[0]
        numbers = " and ".join(map(str, finding.cylinders))
        return f"cylinder {numbers}: {suggests(finding)}"
    return f"the cylinders agree within {percent(comparison.spread.high)}"


def _parts(answer: CompareAnswer) -> tuple[Part, ...]:
    comparison = answer.comparison
    if comparison is None:
        return ()
    findings = (*comparison.findings, *(pair.finding for pair in answer.oiled))
    return (
        _cylinders(answer.measured, comparison),
        Facts(tuple(_overall(comparison))),
        _suggested(findings),
    )


def _cylinders(measured: Sequence[CylinderCompression], comparison: Comparison) -> Table:
    cells, rows = [], []
    for one, corrected in zip(measured, comparison.cylinders, strict=True):
        peak, below = corrected.peak, percent(corrected.below_best)
        text = (
            f"{spread(peak, ' bar', most=1)} absolute,"
            f" {below} below the best; measured {one.peak.value:.1f}"
            f" bar at {one.speed_rpm:.0f} rev/min, {counted(one.passes, 'compression')}"
        )
        if one.passes_to_peak:
            text += f", reached after {one.passes_to_peak}"
        if one.leak_mm2 is not None:
            text += f"; leaks like a hole of {_span(one.leak_mm2)} mm²"
        rows.append(Row(f"Cylinder {one.cylinder}", text))
        needed = "" if one.passes_to_peak is None else str(one.passes_to_peak)
        cells.append((str(one.cylinder), _bar(one.peak), _bar(peak), below, needed))
    at = f"{comparison.speed_rpm:.0f} rev/min, {comparison.atmosphere_bar:g} bar"
    title = f"Absolute peaks, made comparable at {at}"
    return Table(title, COMPARE_HEADS, tuple(cells), narrow=Facts(tuple(rows)))


def _bar(pressure: Interval) -> str:
    return spread(pressure, most=1)


def _span(interval: Interval) -> str:
    return f"{interval.value:.2g} ({interval.low:.2g} to {interval.high:.2g})"


def _overall(comparison: Comparison) -> list[Row]:
    odd = comparison.odd
    text = percent_words(comparison.spread)
    rows = [Row("Spread", f"{text}; under 10 % is usually called good")]
    if odd is not None:
        share = odd.share
        verdict = "stands out" if odd.stands_out else "does not stand out"
        text = (
            f"cylinder {odd.cylinder}, "
            f"{share_words(share, PEAK_SIDES, ' the mean of the others')}: {verdict}"
        )
        rows.append(Row("Most different", text))
    at = f"{comparison.speed_rpm:.0f} rev/min and {comparison.atmosphere_bar:.3f} bar"
    return [*rows, Row("Compared at", at)]


def share_words(share: Interval, sides: Sides, what: str = "") -> str:
    """Return a share in per cent with its side: ``"12.0 % below the others (10.4 to 13.6)"``."""
    value, ends = sided_apart(share.scaled(100.0), sides, " %", most=1)
    return f"{value}{what} ({ends})"


def percent_words(share: Interval) -> str:
    """Return a share in per cent with its interval: ``"0.3 % (0.1 to 1.5)"``."""
    return spread(share.scaled(100.0), " %", most=1)


def _suggested(findings: Sequence[CompressionFinding]) -> Table:
    cells, rows = [], []
    for finding in findings:
        suggested, confirms = suggests(finding), CONFIRM_WORDS[finding.code]
        numbers = finding.cylinders
        cells.append((", ".join(map(str, numbers)), sentence(suggested), sentence(confirms)))
        label = f"Cylinder{'s' if len(numbers) > 1 else ''} {' and '.join(map(str, numbers))}"
        rows.append(Row(label, f"{suggested}. To confirm: {confirms}"))
    return Table("", FINDING_HEADS, tuple(cells), narrow=Facts(tuple(rows)))


CONFIRM_WORDS = {
    "neighbours-low": "a leak-down test: listen for air in the neighbour's plug hole",
    "one-low": (
        "valve clearance first, then the same cylinder again with a spoonful of oil, then a"
        " leak-down test"
    ),
    "one-high": "the same sensor in another cylinder; then look into the chamber",
    "slow-to-build": "the same cylinder again with a spoonful of oil, then a leak-down test",
    "oil-raises": "a leak-down test: listen for air at the oil filler",
    "oil-changes-little": (
        "a leak-down test: listen at intake, exhaust, neighbours' plug holes and radiator"
    ),
    "oil-unclear": "a leak-down test, or the pair measured again",
}


def suggests(finding: CompressionFinding) -> str:
    """Return what figures suggest; no diagnosis."""
    match finding.code:
        case "neighbours-low":
            ask = "" if finding.neighbours_said else ", if they sit side by side"
            return f"two neighbours are low: suggests the head gasket between them{ask}"
        case "one-low":
            gap = "suggests a valve held open or leaking, rings, or the gasket"
            return f"{_apart(finding)}: {gap}"
        case "one-high":
            full = "suggests carbon or oil in the chamber, or another piston or sensor fit"
            return f"{_apart(finding)}: {full}"
        case "slow-to-build":
            return (
                f"took {finding.passes} passes to its peak, the others {finding.usual_passes:g}:"
                " suggests a leak it outruns"
            )
        case "oil-raises":
            return f"{_oil_changed(finding)}: suggests that it leaks past the rings"
        case "oil-changes-little":
            return (
                f"{_oil_changed(finding)}: does not point to the rings; if it is low, look at"
                " valves and head gasket"
            )
        case "oil-unclear":
            return (
                f"{_oil_changed(finding)}: too near to what the oil's own room does"
                f" ({100 * OIL_RAISES:.0f} %) to say"
            )


def _apart(finding: CompressionFinding) -> str:
    assert finding.share is not None
    return share_words(finding.share, PEAK_SIDES, " the others")


def _oil_changed(finding: CompressionFinding) -> str:
    assert finding.share is not None
    return f"with oil it stood {share_words(finding.share, ('higher', 'lower'))}"


def compare_figures(answer: CompareAnswer) -> Figures:
    """Return the keys of ``strokewise compare --json`` beside those of every answer."""
    figures: Figures = {"cylinders": [], "spread": None, "odd": None, "at": None, "findings": []}
    if answer.comparison is not None:
        figures |= _comparison_figures(answer.measured, answer.comparison)
    return figures | {"oiled": [_oiled(pair) for pair in answer.oiled]}


def _comparison_figures(measured: Sequence[CylinderCompression], comparison: Comparison) -> Figures:
    odd = comparison.odd
    return {
        "cylinders": [
            {
                "cylinder": one.cylinder,
                "measured_bar": interval_answer(one.peak, COMPARE_DECIMALS),
                "corrected_bar": interval_answer(corrected.peak, COMPARE_DECIMALS),
                "below_best": round(corrected.below_best, 4),
                "speed_rpm": round(one.speed_rpm, 1),
                "passes": one.passes,
                "passes_to_peak": one.passes_to_peak,
                "leak_mm2": interval_answer(one.leak_mm2, COMPARE_DECIMALS),
            }
            for one, corrected in zip(measured, comparison.cylinders, strict=True)
        ],
        "spread": interval_answer(comparison.spread),
        "odd": None
        if odd is None
        else {
            "cylinder": odd.cylinder,
            "share": interval_answer(odd.share),
            "stands_out": odd.stands_out,
        },
        "at": {
            "speed_rpm": round(comparison.speed_rpm, 1),
            "atmosphere": f"{comparison.atmosphere_bar:g} bar",
        },
        "findings": [_finding(finding) for finding in comparison.findings],
    }


def _finding(finding: CompressionFinding) -> Answer:
    return {
        "code": finding.code,
        "cylinders": list(finding.cylinders),
        "suggests": suggests(finding),
        "confirm": CONFIRM_WORDS[finding.code],
    }


def _oiled(pair: WetAndDry) -> Answer:
    return {
        "cylinder": pair.cylinder,
        "gain": interval_answer(pair.gain),
        "finding": _finding(pair.finding),
    }


def _drawings(answer: CompareAnswer) -> dict[str, str]:
    drawn = laid_svg(answer.laid)
    return {} if drawn is None else {LAID_DRAWING: drawn}


def compare_offers(answer: CompareAnswer) -> dict[str, tuple[str, ...]]:
    """Return which cylinders and compressions there are to be laid over each other."""
    counts = {one.cylinder: len(one.curves) for one in answer.measured if one.curves}
    cylinders = tuple(map(str, sorted(counts)))
    offers = {"lay": cylinders, "over": cylinders}
    for field, one in zip(("lay_pass", "over_pass"), answer.laid, strict=False):
        offers[field] = tuple(str(number + 1) for number in range(counts[one.cylinder]))
    return offers


STEP = Step(
    "compare",
    CompareQuestion,
    compare_answer,
    compare_page,
    compare_figures,
    LABELS,
    drawings=_drawings,
    cautions=compare_cautions,
    offers=compare_offers,
)
