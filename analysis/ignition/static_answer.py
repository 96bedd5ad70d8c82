"""Where must the crank stand for the static timing, and does a strobe agree with it?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.errors import NotStatedError, SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.ignition.static_timing import (
    Move,
    TimingPoint,
    approach,
    btdc_from_arc,
    btdc_from_chord,
    btdc_from_teeth,
    btdc_from_travel,
    static_target,
    timing_point,
)
from strokewise.analysis.ignition.strobe import StrobeCheck, StrobeReading, check_strobe
from strokewise.analysis.profile import Profile
from strokewise.analysis.question import saying
from strokewise.analysis.remark import Notice, Remark
from strokewise.analysis.verdict.found import Standing

Open = Literal["", "crank", "strobe"]
"""What cannot honestly be said: where the crank stands, or what the strobe readings mean."""

_ADVANCE = "advance"


@dataclass(frozen=True, slots=True)
class StaticQuestion:
    """What a person may say of the static timing.

    Attributes
    ----------
    advance_btdc_deg, rim_mm, chord_mm, teeth, travel_mm : float or None
        The advance, said in one way at most; before TDC is positive.
    strobe : tuple of (float, float)
        Crank speed in rev/min, and degrees before TDC as the mark shows them.
    curve : tuple of (float, float) or None
        What is added to the static figure, by crank speed.
    mark_late : Interval or None
        How late the mark itself is, in degrees.
    """

    cylinder: int = saying("whole", 1)
    advance_btdc_deg: float | None = saying("advance", group=_ADVANCE)
    rim_mm: float | None = saying("length", group=_ADVANCE)
    chord_mm: float | None = saying("length", group=_ADVANCE)
    teeth: float | None = saying("number", group=_ADVANCE)
    travel_mm: float | None = saying("length", group=_ADVANCE)
    strobe: tuple[tuple[float, float], ...] = saying("speed and angle", many=True)
    curve: tuple[tuple[float, float], ...] | None = saying("curve")
    mark_late: Interval | None = saying("interval")


@dataclass(frozen=True, slots=True)
class StaticAnswer:
    """What is said about the static timing.

    Attributes
    ----------
    open : str
        What cannot honestly be said; empty where all can.
    why_not : Remark or None
        Why it is not known where the crank stands; None where it is.
    point : TimingPoint
        The advance in everything that can be measured.
    target_deg : float
        Crank angle after cylinder 1's firing TDC to turn to, in the cycle.
    after_firing_1_deg : float or None
        Where the crank stands; None where nothing measured tells.
    moves : tuple of Move or None
        How to get there from where the crank stands; None where that is not known.
    strobe : StrobeCheck or None
        Only where readings were given.
    """

    profile: Profile
    cylinder: int
    open: Open
    why_not: Remark | None
    point: TimingPoint
    target_deg: float
    after_firing_1_deg: float | None
    moves: tuple[Move, ...] | None
    strobe: StrobeCheck | None
    readings: tuple[StrobeReading, ...]
    warnings: tuple[Notice, ...]
    within_deg: float = 0.0
    """How near TDC is known, and so where the crank stands; 0 where it is only said."""

    @property
    def decided(self) -> bool:
        """Whether all that was asked can honestly be said."""
        return not self.open


def static_answer(question: StaticQuestion, standing: Standing) -> StaticAnswer:
    """Return the answer for the advance asked about.

    Where nothing measured tells where the crank stands there is no way to turn it.

    Raises
    ------
    InputError
        No advance is known, the profile lacks what it is said in, or there is no such cylinder.
    """
    profile = standing.profile
    after_deg = standing.after_deg if standing.measured else None
    btdc_deg = _advance(question, profile)
    target_deg = static_target(profile, 0.0, question.cylinder, btdc_deg)
    moves = None
    if after_deg is not None:
        moves = approach(
            after_deg,
            target_deg,
            cycle_deg=profile.cycle_deg,
            turning_back=profile.turning_back,
        )
    check, readings = _strobe(question, btdc_deg)
    unclear = check is not None and check.culprits == ("unknown",)
    return StaticAnswer(
        profile=profile,
        cylinder=question.cylinder,
        open="crank" if standing.why_not else "strobe" if unclear else "",
        why_not=standing.why_not,
        point=timing_point(profile, btdc_deg),
        target_deg=target_deg,
        after_firing_1_deg=after_deg,
        moves=moves,
        strobe=check,
        readings=readings,
        warnings=standing.warnings,
        within_deg=standing.within_deg,
    )


def _advance(question: StaticQuestion, profile: Profile) -> float:
    """Degrees before TDC, from whatever was said."""
    if question.rim_mm is not None:
        return btdc_from_arc(profile, question.rim_mm)
    if question.chord_mm is not None:
        return btdc_from_chord(profile, question.chord_mm)
    if question.teeth is not None:
        return btdc_from_teeth(profile, question.teeth)
    if question.travel_mm is not None:
        return btdc_from_travel(profile, question.travel_mm)
    if question.advance_btdc_deg is not None:
        return question.advance_btdc_deg
    if profile.static_advance_btdc_deg is None:
        raise NotStatedError(
            'no static timing known: give {advance_btdc_deg} "6 deg BTDC", or static_timing.advance'
            " in the profile",
            ("static_timing.advance",),
            "advance_btdc_deg",
        )
    return profile.static_advance_btdc_deg


def _strobe(
    question: StaticQuestion, btdc_deg: float
) -> tuple[StrobeCheck | None, tuple[StrobeReading, ...]]:
    if not question.strobe:
        if question.curve or question.mark_late:
            raise SaidError("{curve} and {mark_late} go with {strobe} RPM=DEG")
        return None, ()
    readings = tuple(StrobeReading(*reading) for reading in question.strobe)
    check = check_strobe(readings, btdc_deg, question.curve or (), mark_late=question.mark_late)
    return check, readings
