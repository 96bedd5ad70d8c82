"""What can be wrong with an engine on the bench, in a class's words, and what shows it?

A cause is told apart from the others by what the traces show. Where two faults leave the same
trace they are one answer here, and the reason says what else would part them. Which causes hold is
read from the bench's own parameters, never from a verdict.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from strokewise.analysis.crank.angle import short_way
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.parameters import Value
from strokewise.daq.bench.scenarios.scenario_faults import TOOTH_DEG, cam_teeth
from strokewise.daq.bench.scenarios.scenario_marks import MARK_NAME, pressed_mark
from strokewise.daq.bench.scenarios.scenarios import PARAMETERS, Scenario
from strokewise.daq.bench.truth import compression_deg
from strokewise.gui.models.figures.chart import TURN_DEG

Family = Literal["cam and marks", "engine", "rig"]

ALL_WELL = "all well"
WHY_WELL = (
    "Nothing on the bench was changed: the compressions lie over each other, their peaks are "
    "equally high, and every mark meets its pointer where it should"
)


@dataclass(frozen=True, slots=True)
class Ailment:
    """One answer to what is wrong.

    Attributes
    ----------
    key : str
        Names it in files.
    words : str
        The answer as a class gives it, with its direction.
    why : str
        What shows it.
    view : str
        The view that shows it, a name of ``keys.VIEWS``.
    family : str
        With which others it is offered.
    """

    key: str
    words: str
    why: str
    view: str
    family: Family


WELL = Ailment("well", ALL_WELL, WHY_WELL, "angle", "engine")

_CAUSES = (
    Ailment("cam-late", "cam one tooth late",
          "The inlet valve shuts later after BDC, so that the compression begins later and its "
          "peak is lower; the mark on the cam sprocket came late with it, the pulley's did not",
          "angle", "cam and marks"),
    Ailment("cam-early", "cam one tooth early",
          "The inlet valve shuts earlier after BDC, so that the compression begins earlier; the "
          "mark on the cam sprocket came early with it, the pulley's did not",
          "angle", "cam and marks"),
    Ailment("cam-overlap", "cam mark stands at overlap, not at firing",
          "The compression came a full turn of the crank away from the cam mark. The trace alone "
          "does not tell whether the cam is half a turn out or the mark is made so: the maker's "
          "manual, the distributor or the pump does", "chart", "cam and marks"),
    Ailment("pulley-late", "pulley mark shows TDC too late",
          "TDC from the pressure stood before the place where the notch met its pointer: the ring "
          "has slipped, or pulley or pointer is another engine's", "angle", "cam and marks"),
    Ailment("pulley-early", "pulley mark shows TDC too early",
          "TDC from the pressure stood after the place where the notch met its pointer: the ring "
          "has slipped, or pulley or pointer is another engine's", "angle", "cam and marks"),
    Ailment("order", "the firing order in the profile is wrong",
          "Two sensors saw their compressions as far apart as the stated order cannot have them",
          "chart", "cam and marks"),
    Ailment("cam-two-late", "cam two teeth late",
          "As with one tooth, and twice as far: the compression begins later still",
          "angle", "cam and marks"),
    Ailment("valve", "a valve of cylinder 1 leaks",
          "The compressions of cylinder 1 are low and fall away faster after TDC than they rose, "
          "while the others still brake the crank as they should. Burnt, or held open for want of "
          "clearance: the trace does not tell which; measure the clearance, then a leak-down test",
          "loglog", "engine"),
    Ailment("rings", "rings worn in every cylinder",
          "All compressions are low, and lower the slower it turns; the speed dips evenly, no "
          "cylinder is weaker than another", "speed", "engine"),
    Ailment("dead", "no compression at all in cylinder 1",
          "The trace of cylinder 1 hardly rises at TDC, and there the crank is not braked",
          "angle", "engine"),
    Ailment("throttle", "the throttle is shut",
          "Little air comes in: the pressure lies far below the atmosphere before the compression "
          "begins, and the peak is low in every cylinder alike", "loglog", "engine"),
    Ailment("battery", "the starter turns it slowly: a weak battery",
          "The speed is low and falls on; each compression nearly stops the crank and its peak is "
          "lower, with the same shape", "speed", "engine"),
    Ailment("liquid", "liquid stands in cylinder 1",
          "The pressure rises far too steeply before TDC and its peak is far too high: part of the "
          "space above the piston is full", "angle", "engine"),
    Ailment("hose", "a non-return valve was left in the hose",
          "The trace rises with the first compressions and never falls again",
          "chart", "rig"),
    Ailment("slip", "the encoder's clamp slips",
          "The later compressions stand beside the earlier ones on the angle, of one shape and "
          "height", "angle", "rig"),
    Ailment("eccentric", "the encoder's clamp runs off centre",
          "The speed swings once a turn more than the compressions explain", "speed", "rig"),
    Ailment("counts", "counts of the encoder are lost",
          "Every compression stands a little beside the one before, and always to the same side",
          "angle", "rig"),
    Ailment("zero", "the sensor's zero wanders",
          "Foot and peak of the compressions move up or down together, by the same pressure",
          "angle", "rig"),
    Ailment("hum", "mains hum or noise on the sensor's wire",
          "A ripple stands all along the trace, also where no compression is", "angle", "rig"),
    Ailment("bytes", "bytes are lost between board and computer",
          "Stretches of the trace are missing, or the board began anew, while the engine turned on "
          "as before", "chart", "rig"),
)  # fmt: skip

CAUSES: Mapping[str, Ailment] = {cause.key: cause for cause in (WELL, *_CAUSES)}
"""Every cause by its key, in the order in which answers are offered."""

_ABOVE: dict[str, str] = {
    "cam_teeth": "cam-late", "pulley_mark": "pulley-late", "mark_late": "pulley-late",
    "burnt_valve": "valve", "leaking_intake": "valve", "ring_leak": "rings", "liquid": "liquid",
    "slip": "slip", "eccentric": "eccentric", "lost_counts": "counts", "stray_counts": "counts",
    "hum": "hum", "noise": "hum", "wander": "zero", "shock": "zero", "drift": "zero",
    "zero": "zero", "lost_frames": "bytes", "damaged_bytes": "bytes", "garbage": "bytes",
    "restart_at": "bytes", "sag": "battery",
}  # fmt: skip
_BELOW: dict[str, str] = {
    "cam_teeth": "cam-early", "pulley_mark": "pulley-early", "mark_late": "pulley-early",
    "exhaust_clearance": "valve", "intake_clearance": "valve", "throttle": "throttle",
    "battery": "battery", "slip": "slip", "drift": "zero", "zero": "zero", "shock": "zero",
}  # fmt: skip
_WORDED: dict[str, str] = {
    "cam_half_turn": "cam-overlap", "dead": "dead", "stated_order": "order", "hose_valve": "hose",
}  # fmt: skip
AT_OVERLAP_DEG = 270.0
"""A cam mark so far out is nearer overlap than firing, and by more than any tooth."""
NEVER_SHUTS_MM = 0.0
"""Below this clearance a valve is held open; above, the valve is merely early or late."""


def reference_of(scenario: Scenario) -> Bench:
    """Return the bench that counts as well: a healthy scenario's own, else what it was made from.

    The vacuum sensor of a healthy scenario is no fault, nor is its throttle.
    """
    healthy = scenario.group in ("healthy", "running")
    return scenario.build() if healthy else scenario.base


def causes_of(bench: Bench, reference: Bench, scenario: Scenario) -> tuple[Ailment, ...]:
    """Return what is wrong with a bench, compared with one that is well; empty where nothing is."""
    found = {}
    for parameter in scenario.faults:
        now, well = parameter.read(bench), parameter.read(reference)
        if parameter.key == "cam_mark" and isinstance(now, float):
            now -= cam_teeth(bench) * TOOTH_DEG  # it goes with the sprocket: no fault of its own
        if now != well:
            cause = _cause(parameter.key, now, well)
            found[cause.key] = of_cylinder(cause, bench.faulty_cylinder)
    return tuple(found.values())


def of_cylinder(cause: Ailment, cylinder: int) -> Ailment:
    """Return a cause said of another cylinder than the first."""
    if cylinder == 1:
        return cause
    one, other = "cylinder 1", f"cylinder {cylinder}"
    words, why = cause.words.replace(one, other), cause.why.replace(one, other)
    return replace(cause, words=words, why=why)


def _cause(key: str, now: Value, well: Value) -> Ailment:
    if key in _WORDED:
        return CAUSES[_WORDED[key]]
    if isinstance(now, int | float) and isinstance(well, int | float):
        if key == "cam_mark" and abs(now - well) > AT_OVERLAP_DEG:
            return CAUSES["cam-overlap"]
        if key == "cam_teeth" and abs(now) > 1:
            return _teeth(round(now))
        known = (_ABOVE if now > well else _BELOW).get(key)
        if known == "valve" and key.endswith("clearance") and now >= NEVER_SHUTS_MM:
            known = None
        if known is not None:
            return CAUSES[known]
    return _unlisted(key, now, well)


def _teeth(teeth: int) -> Ailment:
    if teeth == 2:
        return CAUSES["cam-two-late"]
    side = "late" if teeth > 0 else "early"
    words = f"cam {abs(teeth)} teeth {side}"
    why = CAUSES["cam-late" if teeth > 0 else "cam-early"].why
    return Ailment(f"cam-{abs(teeth)}-{side}", words, why, "angle", "cam and marks")


def _unlisted(key: str, now: Value, well: Value) -> Ailment:
    """Return a fault that has no answer of its own, in the words of the bench's list."""
    about = next(parameter.about for parameter in PARAMETERS if parameter.key == key)
    more = ""
    if isinstance(now, float | int) and isinstance(well, float | int) and math.isfinite(now):
        more = ": too much" if now > well else ": too little"
    return Ailment(key, f"{about}{more}", "It was set so on the bench", "angle", "rig")


MOST_ANSWERS = 8
"""More answers are not read by a class."""


def answers_for(family: Family, true: tuple[Ailment, ...] = ()) -> tuple[Ailment, ...]:
    """Return the answers offered together, always in one order: the place gives nothing away."""
    offered = [cause for cause in _CAUSES if cause.family == family]
    for cause in true:
        if cause.key != WELL.key and cause not in offered:
            offered = [*offered[: MOST_ANSWERS - 2], cause]
    return (WELL, *offered[: MOST_ANSWERS - 1])


FAMILY_OF_GROUP: dict[str, Family] = {"marks and cam": "cam and marks", "rig fault": "rig"}
"""What is offered where all is well: as if it were one of its group."""


def family_of(scenario: Scenario, true: tuple[Ailment, ...]) -> Family:
    """Return which answers are offered together for a scenario."""
    return true[0].family if true else FAMILY_OF_GROUP.get(scenario.group, "engine")


NO_LIST = {
    "running": "What this scenario shows is fire, not a fault: ask who fires",
    "turned-backwards": "This engine is turned the wrong way: that is no fault of its own",
}


def why_no_fault(scenario: Scenario) -> str:
    """Return why a scenario is not asked for what is wrong with it; empty where it may be."""
    return NO_LIST.get(scenario.name) or NO_LIST.get(scenario.group, "")


def marks_met(bench: Bench) -> tuple[tuple[str, float, float], ...]:
    """Return each mark that met its pointer: name, degrees after firing TDC of cylinder 1, and
    after how many it comes again."""
    tdc = compression_deg(bench.engine, 1)
    met = [(mark.name, mark.at_deg, mark.period_deg) for mark in bench.rig.marks]
    if not met and pressed_mark(bench):
        met = [(MARK_NAME, bench.rig.presses[0].at_deg, TURN_DEG)]
    return tuple((name, float(short_way(at - tdc, period)), period) for name, at, period in met)


def marks_words(bench: Bench) -> str:
    """Return where the marks met their pointers, as a person would have written it down."""
    said = []
    for name, after_deg, period_deg in marks_met(bench):
        after = round(after_deg)
        tdc_words = "TDC" if period_deg == TURN_DEG else "firing TDC"
        side = "after" if after > 0 else "before"
        place = f"{abs(after)}° {side} {tdc_words}" if after else f"at {tdc_words}"
        said.append(f"{name} {place} of cylinder 1")
    return f"Measured by the pointers: {'; '.join(said)}" if said else ""
