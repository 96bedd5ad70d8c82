"""Where does every cylinder stand in its cycle? The stroke chart as numbers and words.

The axis starts at the firing TDC of cylinder 1 and runs over one cycle. While firing and overlap
have not been told apart, it runs over one turn, and every block names both strokes that it may be.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from strokewise.analysis.crank.strokes import (
    FOUR_STROKES,
    CylinderPhase,
    Stroke,
    firing_1_from,
    firing_offsets,
    firing_tdcs,
    phase_at,
    within,
)
from strokewise.analysis.profile import Profile
from strokewise.analysis.verdict.verdict import Verdict

TURN_DEG = 360.0
STROKE_DEG = 180.0

Kind = Literal[
    "compression", "power", "exhaust", "intake", "compression or exhaust", "power or intake"
]

WORDS: dict[str, str] = {
    "power": "firing",
    "compression or exhaust": "compression or exhaust?",
    "power or intake": "firing or intake?",
}
"""How a stroke is named on the chart: the trade says firing stroke."""
NO_STROKES = "the strokes are shown with the answer"
NOT_TOLD = "the strokes could not be told here"
"""Over rows without strokes: before an answer, and with one that leaves them open."""


@dataclass(frozen=True, slots=True)
class Block:
    """One stroke of one cylinder, from ``start_deg`` to ``end_deg`` on the axis."""

    start_deg: float
    end_deg: float
    kind: Kind

    @property
    def label(self) -> str:
        """The word that stands in the block."""
        return WORDS.get(self.kind, self.kind)


@dataclass(frozen=True, slots=True)
class Bar:
    """A span in which a valve is open."""

    start_deg: float
    end_deg: float
    valve: Literal["inlet", "exhaust"]


@dataclass(frozen=True, slots=True)
class Flag:
    """A TDC or a mark on the axis; ``firing`` is None for one that is not a TDC."""

    angle_deg: float
    label: str
    kind: Literal["firing", "overlap", "tdc", "mark", "target"]


@dataclass(frozen=True, slots=True)
class StrokeRow:
    """One cylinder.

    Attributes
    ----------
    sensed : bool
        The pressure sensor sits in it.
    doing : str
        What it does now, in a word or two; empty before the crank stands anywhere.
    firing_now : bool
        It is on its firing stroke.
    """

    cylinder: int
    sensed: bool
    blocks: tuple[Block, ...] = ()
    bars: tuple[Bar, ...] = ()
    flags: tuple[Flag, ...] = ()
    doing: str = ""
    firing_now: bool = False

    @property
    def label(self) -> str:
        """The large label in front."""
        return str(self.cylinder)


@dataclass(frozen=True, slots=True)
class Chart:
    """The whole chart.

    Attributes
    ----------
    zero_deg : float
        Crank angle in the encoder frame of the axis' 0.
    span_deg : float
        Length of the axis: a cycle, or one turn while undecided.
    ticks : tuple of (float, str)
        The axis' labels.
    marks : tuple of Flag
        Marks and the target, over all rows.
    note : str
        What the axis starts at.
    bare : str
        What stands over rows that hold no strokes.
    now_deg : float or None
        Where the now line stands on the axis.
    """

    rows: tuple[StrokeRow, ...]
    zero_deg: float
    span_deg: float
    ticks: tuple[tuple[float, str], ...]
    marks: tuple[Flag, ...] = ()
    note: str = ""
    bare: str = NO_STROKES
    decided: bool = False
    now_deg: float | None = None

    def on_axis(self, angle_deg: float) -> float:
        """Return where an encoder angle stands on the axis."""
        return within(angle_deg - self.zero_deg, self.span_deg)


def chart_for(
    profile: Profile,
    verdict: Verdict | None,
    angle_deg: float | None,
    target_deg: float | None = None,
    target_label: str = "",
) -> Chart:
    """Return the chart for one moment.

    Parameters
    ----------
    angle_deg : float or None
        Where the crank stands, unwrapped, in the encoder frame.
    target_deg : float or None
        Where the turn guide's target stands, any turn of it.
    """
    if verdict is not None and verdict.decided and verdict.firing_deg is not None:
        chart = _decided(profile, verdict.firing_deg[1])
    elif verdict is not None and verdict.tdc is not None:
        chart = _half_known(profile, verdict.tdc.cylinder, verdict.tdc.angle_deg.value)
    else:
        chart = _unknown(profile)
    if angle_deg is not None:
        chart = _with_crank(chart, profile, angle_deg)
    if target_deg is None:
        return chart
    flag = Flag(chart.on_axis(target_deg), target_label, "target")
    return replace(chart, marks=(*chart.marks, flag))


def rows_in_order(profile: Profile) -> tuple[int, ...]:
    """Return the cylinders in firing order, cylinder 1 first."""
    return tuple(firing_offsets(profile.firing_order, profile.firing_intervals_deg))


@lru_cache(maxsize=8)
def _decided(profile: Profile, firing_1: float) -> Chart:
    """Return a whole cycle, as it is wherever the crank stands."""
    cycle, sensed = profile.cycle_deg, _sensed(profile)
    rows = []
    for number, tdc in firing_tdcs(profile, firing_1).items():
        starts = within(tdc - firing_1, cycle)
        rows.append(
            StrokeRow(
                number,
                number in sensed,
                _blocks(starts, cycle, _strokes(cycle)),
                _valve_bars(profile, starts),
                _tdc_flags(starts, cycle),
            )
        )
    marks, note = _mark_flags(profile, cycle), "degrees after firing TDC of cylinder 1"
    return Chart(tuple(rows), firing_1, cycle, _ticks(cycle), marks, note, decided=True)


@lru_cache(maxsize=8)
def _half_known(profile: Profile, cylinder: int, tdc_deg: float) -> Chart:
    """Return one turn: the piston's way is known, the stroke is not."""
    zero = within(firing_1_from(profile, cylinder, tdc_deg), TURN_DEG)
    two_stroke = profile.cycle == "two-stroke"
    kinds: tuple[Kind, ...] = (
        ("power", "compression") if two_stroke else ("power or intake", "compression or exhaust")
    )
    sensed = _sensed(profile)
    rows = []
    for number, tdc in firing_tdcs(profile, zero).items():
        starts = within(tdc - zero, TURN_DEG)
        flag = Flag(starts, "TDC", "firing" if two_stroke else "tdc")
        rows.append(
            StrokeRow(number, number in sensed, _blocks(starts, TURN_DEG, kinds), (), (flag,))
        )
    note = "degrees after TDC of cylinder 1: firing or overlap is not known yet"
    return Chart(tuple(rows), zero, TURN_DEG, _ticks(TURN_DEG), note=note)


@lru_cache(maxsize=8)
def _unknown(profile: Profile) -> Chart:
    """Return rows without strokes."""
    sensed, cycle = _sensed(profile), profile.cycle_deg
    rows = tuple(StrokeRow(number, number in sensed) for number in rows_in_order(profile))
    return Chart(rows, 0.0, cycle, _ticks(cycle), note="degrees of the encoder")


def _with_crank(chart: Chart, profile: Profile, angle_deg: float) -> Chart:
    """Return the chart with the crank standing at an angle."""
    now = chart.on_axis(angle_deg)
    if chart.decided:
        phase = phase_at(profile, chart.zero_deg, angle_deg)
        rows = tuple(_doing_stroke(row, phase.cylinder(row.cylinder)) for row in chart.rows)
    else:
        rows = tuple(_going(row, now) for row in chart.rows)
    return replace(chart, rows=rows, now_deg=now)


def _doing_stroke(row: StrokeRow, phase: CylinderPhase) -> StrokeRow:
    doing = "valves rock" if phase.rocking else WORDS.get(phase.stroke, phase.stroke)
    return replace(row, doing=doing, firing_now=phase.stroke == "power")


def _going(row: StrokeRow, now_deg: float) -> StrokeRow:
    """Say which way the piston goes; nothing where its TDC is not known."""
    if not row.flags:
        return row
    down = within(now_deg - row.flags[0].angle_deg, TURN_DEG) < STROKE_DEG
    return replace(row, doing="going down" if down else "going up")


def _blocks(starts_deg: float, span_deg: float, kinds: tuple[Kind, ...]) -> tuple[Block, ...]:
    """Lay strokes end to end from ``starts_deg``; one that runs over the axis' end is cut."""
    blocks: list[Block] = []
    for i, kind in enumerate(kinds):
        begin = within(starts_deg + i * STROKE_DEG, span_deg)
        blocks += [Block(a, b, kind) for a, b in _cut(begin, begin + STROKE_DEG, span_deg)]
    return tuple(sorted(blocks, key=lambda block: block.start_deg))


def _cut(begin_deg: float, end_deg: float, span_deg: float) -> tuple[tuple[float, float], ...]:
    """Return a span as it lies on an axis that wraps; ``begin_deg`` may be anywhere."""
    length = end_deg - begin_deg
    begin = within(begin_deg, span_deg)
    if begin + length <= span_deg + 1e-9:
        return ((begin, min(begin + length, span_deg)),)
    return ((0.0, begin + length - span_deg), (begin, span_deg))


def _strokes(cycle_deg: float) -> tuple[Stroke, ...]:
    return FOUR_STROKES if cycle_deg > TURN_DEG else ("power", "compression")


def _valve_bars(profile: Profile, starts_deg: float) -> tuple[Bar, ...]:
    timing = profile.valve_timing
    if timing is None or profile.cycle == "two-stroke":
        return ()
    exhaust = (
        STROKE_DEG - timing.exhaust_opens_bbdc_deg,
        2 * STROKE_DEG + timing.exhaust_closes_atdc_deg,
    )
    inlet = (
        2 * STROKE_DEG - timing.intake_opens_btdc_deg,
        3 * STROKE_DEG + timing.intake_closes_abdc_deg,
    )
    spans: tuple[tuple[Literal["inlet", "exhaust"], tuple[float, float]], ...] = (
        ("exhaust", exhaust),
        ("inlet", inlet),
    )
    return tuple(
        Bar(a, b, valve)
        for valve, (opens, closes) in spans
        for a, b in _cut(starts_deg + opens, starts_deg + closes, profile.cycle_deg)
    )


def _tdc_flags(starts_deg: float, cycle_deg: float) -> tuple[Flag, ...]:
    firing = Flag(starts_deg, "firing TDC", "firing")
    if cycle_deg <= TURN_DEG:
        return (firing,)
    return (firing, Flag(within(starts_deg + TURN_DEG, cycle_deg), "overlap TDC", "overlap"))


def _mark_flags(profile: Profile, cycle_deg: float) -> tuple[Flag, ...]:
    flags = []
    for mark in profile.marks:
        if mark.stated_atdc_deg is None:
            continue
        turns = {"both": (0.0, TURN_DEG), "firing": (0.0,), "overlap": (TURN_DEG,)}[mark.turn]
        angles = {within(mark.stated_atdc_deg + turn, cycle_deg) for turn in turns}
        flags += [Flag(angle, mark.name, "mark") for angle in sorted(angles)]
    return tuple(flags)


def _ticks(span_deg: float) -> tuple[tuple[float, str], ...]:
    step = 90.0
    return tuple((i * step, f"{i * step:g}") for i in range(round(span_deg / step) + 1))


def _sensed(profile: Profile) -> set[int]:
    return {sensor.cylinder or 1 for sensor in profile.sensors if sensor.place == "plug hole"} or {
        1
    }
