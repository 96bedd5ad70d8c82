"""What do the passes look like? The figures that explain a verdict.

Every figure is made from the tracker's passes alone, so that a live run, a replay and two
recordings over each other are drawn by the same lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from strokewise.analysis.crank.angle import short_way
from strokewise.analysis.crank.kinematics import crank_of, volume_ratio
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.gui.models.figures.figure import Axis, Curve, Dash, Figure, FloatArray, Line
from strokewise.gui.models.figures.units import (
    BAR,
    NOT_CALIBRATED,
    SENSOR_RANGE,
    PressureUnit,
    is_calibrated,
)
from strokewise.gui.pages.headline import decimals_of
from strokewise.gui.sayings.saying import capital

ASSUMED_ROD_RATIO = 3.3
"""Rod over crank radius of most road engines lies from 3 to 3.7 (from memory)."""
SLOPE_FROM_DEG, SLOPE_TO_DEG = -100.0, -25.0
"""Part of the compression that the exponent is taken from: valves shut, losses not yet ruling."""
SLOPE_LEAST_POINTS = 8
SPEED_UNIT = "rev/min"
OF_PASSES = ("angle", "volume", "loglog", "speed")
"""Views that draw the passes of one run: a piston stands beside them, a healthy trace behind."""
FADE = 0.72
"""Each older pass is drawn so much fainter."""
FAINTEST = 0.15
MARKS_WITHIN_DEG = 100.0
"""A mark further from TDC is off the picture of a compression."""


class PassLike(Protocol):
    """What a figure needs of a pass."""

    @property
    def time_s(self) -> FloatArray: ...  # noqa: D102
    @property
    def angle_deg(self) -> FloatArray: ...  # noqa: D102
    @property
    def pressure_bar(self) -> FloatArray: ...  # noqa: D102
    @property
    def peak_angle_deg(self) -> float: ...  # noqa: D102
    @property
    def forward(self) -> bool: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Subject:
    """What is drawn: passes about the TDC of the sensed cylinder.

    Attributes
    ----------
    tdc_deg : float or None
        TDC of the sensed cylinder in the encoder frame; None before it is found: then angles are
        counted from each pass's own peak.
    sensor_known : bool or None
        Whether the sensor behind the passes has known points; None: as the profile's first one.
    why_none : str
        Why there are no passes, where there are none.
    one_zero : bool
        Without a TDC all passes are counted from the peak of the first: a class sees whether they
        stand beside each other.
    marks : tuple
        Name and encoder angle of marks that met their pointer.
    evenly : bool
        It was turned at a held speed: what its speed did tells nothing.
    """

    profile: Profile
    passes: Sequence[PassLike]
    tdc_deg: float | None
    name: str = ""
    sensor_known: bool | None = None
    why_none: str = ""
    one_zero: bool = False
    marks: tuple[tuple[str, float], ...] = ()
    evenly: bool = False

    def unit(self, chosen: PressureUnit) -> PressureUnit:
        """Return the unit that its passes can be shown in."""
        known = is_calibrated(self.profile) if self.sensor_known is None else self.sensor_known
        return chosen if known else SENSOR_RANGE


def after_tdc(subject: Subject, item: PassLike) -> FloatArray:
    """Return a pass's crank angles after the TDC that it runs through."""
    zero_deg = subject.tdc_deg
    if zero_deg is None:
        zero_deg = (subject.passes[0] if subject.one_zero else item).peak_angle_deg
    # The peak stands tens of degrees from TDC at the most, so it names the turn.
    turn = round((item.peak_angle_deg - zero_deg) / 360.0)
    return item.angle_deg - zero_deg - 360.0 * turn


def weights(count: int) -> list[float]:
    """Return how strongly each of so many passes is drawn, oldest first."""
    return [max(FAINTEST, FADE ** (count - 1 - i)) for i in range(count)]


def angle_axis(subject: Subject) -> Axis:
    """Return the axis of crank angle, which says where its zero is."""
    peak = "the first peak" if subject.one_zero and len(subject.passes) > 1 else "peak pressure"
    zero = "TDC" if subject.tdc_deg is not None else peak
    return Axis(f"crank angle after {zero}", "°", decimals=1)


def pressure_axis(unit: PressureUnit, *, log: bool = False) -> Axis:
    """Return the axis of absolute pressure, or of what a sensor without known points shows."""
    return Axis(unit.quantity, unit.name, log=log, decimals=unit.decimals)


def _names(subject: Subject) -> list[str]:
    count = len(subject.passes)
    prefix = f"{subject.name} " if subject.name else ""
    way = ["" if item.forward else " (turned back)" for item in subject.passes]
    return [f"{prefix}pass {i + 1} of {count}{way[i]}" for i in range(count)]


def pressure_over_angle(subject: Subject, unit: PressureUnit = BAR) -> Figure:
    """Return pressure over crank angle, all passes over each other."""
    unit = subject.unit(unit)
    curves = tuple(
        Curve(
            name,
            after_tdc(subject, item),
            item.pressure_bar * unit.per_bar,
            weight,
            forward=item.forward,
        )
        for name, item, weight in _drawn(subject)
    )
    facts = []
    if subject.passes and subject.tdc_deg is not None:
        last = subject.passes[-1]
        before = -float(after_tdc(subject, last)[np.argmax(last.pressure_bar)])
        side = "before" if before >= 0 else "after"
        facts.append(f"peak of the last pass {abs(before):.1f}° {side} TDC")
    if subject.passes and unit.calibrated:
        facts.append(f"peak {unit.text(float(subject.passes[-1].pressure_bar.max()))} absolute")
    facts += _calibration(unit)
    return Figure(
        "Pressure over crank angle",
        angle_axis(subject),
        pressure_axis(unit),
        curves,
        (*_tdc_line(subject), *_mark_lines(subject)),
        tuple(facts),
        _why_empty(subject),
    )


def speed_over_angle(subject: Subject) -> Figure:
    """Return turning speed over crank angle: it dips where the charge is squeezed."""
    curves = tuple(
        Curve(
            name,
            after_tdc(subject, item),
            _speed_rpm(item),
            weight,
            colour=1,
            forward=item.forward,
        )
        for name, item, weight in _drawn(subject)
    )
    return Figure(
        "Speed over crank angle",
        angle_axis(subject),
        Axis("speed", SPEED_UNIT, decimals=0),
        curves,
        _tdc_line(subject),
        (),
        _why_empty(subject),
    )


def pressure_over_volume(
    subject: Subject, unit: PressureUnit = BAR, *, log: bool = False
) -> Figure:
    """Return pressure over cylinder volume, plain or in decades with the polytropic slope.

    Volume is in clearance volumes: 1 at TDC, the compression ratio at BDC. Without compression
    ratio or TDC there is nothing to draw; a rod ratio that nobody stated is assumed and said.
    """
    title = "log p over log V" if log else "Pressure over volume"
    unit = subject.unit(unit)
    x_axis = Axis("volume over clearance volume", "", log=log, decimals=2)
    y_axis = pressure_axis(unit, log=log)
    ratio = subject.profile.compression_ratio
    empty = _why_empty(subject)
    if not empty and ratio is None:
        empty = "Volume needs the compression ratio: put it into the engine profile"
    if not empty and subject.tdc_deg is None:
        empty = "Volume needs TDC: turn on until it is found"
    if empty or ratio is None:
        return Figure(title, x_axis, y_axis, empty=empty)
    crank = crank_of(subject.profile)
    rod = ASSUMED_ROD_RATIO if crank is None else crank.rod_ratio
    pin = 0.0 if crank is None else crank.pin_offset_ratio
    facts = [f"compression ratio {ratio:g}, as the profile says"]
    if crank is None:
        facts.append(f"rod ratio {ASSUMED_ROD_RATIO:g} assumed: stroke or rod not stated")
    curves = []
    for name, item, weight in _drawn(subject):
        angle = after_tdc(subject, item)
        volume = volume_ratio(angle, ratio, rod_ratio=rod, pin_offset_ratio=pin)
        pressure = item.pressure_bar * unit.per_bar
        if log:
            pressure = np.where(pressure > 0, pressure, np.nan)
        curves.append(Curve(name, volume, pressure, weight, 0, at_deg=angle, forward=item.forward))
    facts += _calibration(unit)
    if log and not unit.calibrated:
        facts.append("no exponent: it needs a pressure with a known zero")
    elif log:
        angle = after_tdc(subject, subject.passes[-1])
        fitted, words = _slope(angle, curves[-1], subject.passes[-1].forward)
        facts += words
        curves += fitted
    return Figure(title, x_axis, y_axis, tuple(curves), (), tuple(facts))


def _slope(angle_deg: FloatArray, curve: Curve, forward: bool) -> tuple[list[Curve], list[str]]:
    """Fit the straight part of the compression: n in p·Vⁿ = constant."""
    low, high = (SLOPE_FROM_DEG, SLOPE_TO_DEG) if forward else (-SLOPE_TO_DEG, -SLOPE_FROM_DEG)
    use = (angle_deg >= low) & (angle_deg <= high) & np.isfinite(curve.y) & (curve.y > 0)
    if np.count_nonzero(use) < SLOPE_LEAST_POINTS:
        return [], ["too few points for the slope: the pass begins too late"]
    x, y = np.log(curve.x[use]), np.log(curve.y[use])
    from scipy.stats import linregress  # half a second to load: not before the first picture

    line = linregress(x, y)
    # On to both ends, past what it was fitted to: under the curve nobody would see it.
    ends = np.array([np.nanmin(curve.x), np.nanmax(curve.x)])
    fitted = Curve(
        "polytropic line",
        ends,
        np.exp(line.intercept + line.slope * np.log(ends)),
        1.0,
        1,
        "dashes",
    )
    slope = Interval.from_sigma(-float(line.slope), float(line.stderr))
    decimals = decimals_of(slope, most=3)
    exponent = f"{slope.value:.{decimals}f} ± {slope.half_width:.{decimals}f}"
    return [fitted], [
        f"polytropic exponent {exponent} from {-low:.0f}° to {-high:.0f}° BTDC"
        if forward
        else f"polytropic exponent {exponent}, turned back",
        "dashes: that slope; where the curve leaves it, heat or gas is lost",
    ]


def point_now(
    subject: Subject, unit: PressureUnit, angle_deg: float | None, pressure_bar: float | None
) -> tuple[float, float] | None:
    """Return where the engine stands now in a figure of pressure over volume; None if unknown."""
    ratio, tdc = subject.profile.compression_ratio, subject.tdc_deg
    if ratio is None or tdc is None or angle_deg is None or pressure_bar is None:
        return None
    crank = crank_of(subject.profile)
    volume = volume_ratio(
        np.array([(angle_deg - tdc + 180.0) % 360.0 - 180.0]),
        ratio,
        rod_ratio=ASSUMED_ROD_RATIO if crank is None else crank.rod_ratio,
        pin_offset_ratio=0.0 if crank is None else crank.pin_offset_ratio,
    )
    return float(volume[0]), pressure_bar * subject.unit(unit).per_bar


def overlay(subjects: Sequence[Subject], unit: PressureUnit = BAR) -> Figure:
    """Return the passes of two to six recordings over each other, each named on the picture.

    Of more than two the last pass alone is drawn: older ones would bury the others.
    """
    one = subjects[0]
    chosen, unit = unit, one.unit(unit)
    curves, legend = [], []
    for colour, subject in enumerate(subjects):
        drawn = _drawn(subject)
        these = [
            Curve(
                name,
                after_tdc(subject, item),
                item.pressure_bar * unit.per_bar,
                weight,
                colour,
                OVERLAY_DASHES[colour % len(OVERLAY_DASHES)],
                forward=item.forward,
            )
            for name, item, weight in (drawn if len(subjects) < 3 else drawn[-1:])
        ]
        curves += these
        legend += [replace(each, name=subject.name) for each in these[-1:]]
    facts = [
        f"{subject.name} ({_dash_words(colour)}): median peak "
        + unit.text(float(np.median([item.pressure_bar.max() for item in subject.passes])))
        for colour, subject in enumerate(subjects)
        if subject.passes
    ]
    seen = [subject for subject in subjects if subject.passes]
    missing = [subject.name for subject in subjects if not subject.passes]
    none_in = f"no compression in {' and in '.join(missing)}" if missing else ""
    empty = capital(none_in) if not one.passes or len(seen) < 2 else ""
    if none_in:
        facts.append(none_in)
    unlike = [each for each in seen if each.unit(chosen) != unit]
    if unlike and not empty:
        bare = unlike[0] if unit.calibrated else one
        empty = (
            f"The sensor of {bare.name} has no known points: its pressure cannot be laid over"
            " another's. Give two in its profile"
        )
    two = " and ".join(subject.name for subject in subjects[:2])
    return Figure(
        two if len(subjects) == 2 else f"{len(seen)} recordings over each other",
        angle_axis(one),
        pressure_axis(unit),
        tuple(curves) if not empty else (),
        _tdc_line(one),
        (*facts, *_calibration(unit)) if not empty else (),
        empty,
        legend=tuple(legend) if not empty else (),
    )


OVERLAY_DASHES: tuple[Dash, ...] = ("line", "dashes", "dots")


def _dash_words(colour: int) -> str:
    return {"line": "full line", "dashes": "dashes", "dots": "dots"}[
        OVERLAY_DASHES[colour % len(OVERLAY_DASHES)]
    ]


def _drawn(subject: Subject) -> list[tuple[str, PassLike, float]]:
    return list(zip(_names(subject), subject.passes, weights(len(subject.passes)), strict=True))


def _speed_rpm(item: PassLike) -> FloatArray:
    if len(item.time_s) < 2:
        return np.zeros(len(item.time_s))
    return np.asarray(np.gradient(item.angle_deg, item.time_s) / DEG_S_PER_RPM)


def _calibration(unit: PressureUnit) -> list[str]:
    return [] if unit.calibrated else [NOT_CALIBRATED]


def _tdc_line(subject: Subject) -> tuple[Line, ...]:
    return (Line(0.0, "TDC"),) if subject.tdc_deg is not None and subject.passes else ()


def _mark_lines(subject: Subject) -> tuple[Line, ...]:
    """Return where marks met their pointers, as far as that is on a picture of compressions."""
    if subject.tdc_deg is None or not subject.passes:
        return ()
    after = [(name, float(short_way(at - subject.tdc_deg, 360.0))) for name, at in subject.marks]
    return tuple(Line(at, name) for name, at in after if abs(at) < MARKS_WITHIN_DEG)


def _why_empty(subject: Subject) -> str:
    if subject.passes:
        return ""
    return subject.why_none or "No compression yet: turn the engine through one"
