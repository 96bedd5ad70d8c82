"""How late is the cam, and what puts it right? For what was found and said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.cam.cam import NO_SHIFT, CamShift, cam_shift, wanted_half_width_deg
from strokewise.analysis.cam.cam_correction import CamChoice, corrections
from strokewise.analysis.cam.valve_events import ValveEvent, throttled, valve_events
from strokewise.analysis.cam.valve_spans import overlap_fall_bar
from strokewise.analysis.errors import SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.half_turn import HalfTurn, half_turn_from
from strokewise.analysis.marks.marks_answer import places_of
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.question import saying
from strokewise.analysis.remark import Notice, Remark
from strokewise.analysis.verdict.found import Found

TEETH_SURE = 0.95
"""Whole teeth at least so probable are an answer."""

COARSE_BAR = 0.1
"""Steps of a converter above this hide the bend that a valve makes in the trace."""

Obstacle = Literal["", "two-stroke", "no sensor", "no points", "no tdc", "earlier start", "coarse"]
"""Why the valves cannot be looked for at all."""

Open = Literal[Obstacle, "no events", "no timing", "wide", "between teeth"]
"""Why the cam's shift is not known well enough to act on."""

Cam = Literal["cam", "intake", "exhaust"]
"""The one cam, or one of two separate ones."""


@dataclass(frozen=True, slots=True)
class CamQuestion:
    """What a person may say of the cam.

    Attributes
    ----------
    separate_cams : bool
        Inlet and exhaust have a cam each: their shifts say nothing of each other.
    clearances_set : bool
        The clearances have just been set to the profile's figures.
    keyway : int
        Which one the sprocket sits on now; 1 is the marked one.
    """

    separate_cams: bool = saying("tick", False)
    clearances_set: bool = saying("tick", False)
    keyway: int = saying("whole", 1)


@dataclass(frozen=True, slots=True)
class CamAnswer:
    """What is said about the cam.

    Attributes
    ----------
    open : str
        Why its shift is not known well enough to act on; empty where it is.
    why_no_tdc : Remark or None
        The verdict's reason, where TDC is what is missing.
    step_bar : float or None
        What the sensor resolves; None without a judgement.
    events : tuple of ValveEvent
        As measured, also where there is no timing to hold them against.
    corrections : mapping of name to tuple of CamChoice
        By the cam that is to be moved; empty without ``cam_drive``.
    overlap_fall_bar : float or None
        By how much the pressure falls across the overlap; None where no overlap was seen.
    """

    profile: Profile
    open: Open
    why_no_tdc: Remark | None
    step_bar: float | None
    shift: CamShift
    events: tuple[ValveEvent, ...]
    corrections: Mapping[Cam, tuple[CamChoice, ...]]
    half_turn: HalfTurn
    keyway: int
    overlap_fall_bar: float | None
    warnings: tuple[Notice, ...]

    @property
    def decided(self) -> bool:
        """Whether the shift is known well enough to act on."""
        return not self.open

    @property
    def shifts(self) -> Mapping[Cam, Interval]:
        """How late each cam is that was measured."""
        return shifts_of(self.shift)

    @property
    def wanted_half_width_deg(self) -> float:
        """Up to which a shift is an answer."""
        return wanted_half_width_deg(self.profile)

    @property
    def wide(self) -> Mapping[Cam, Interval]:
        """The shifts that are too uncertain to act on."""
        return _wide(self.shift, self.profile)

    @property
    def is_throttled(self) -> bool:
        """Whether the throttle stood too far shut for the inlet's closing to be read."""
        return throttled(self.overlap_fall_bar)


def cam_answer(question: CamQuestion, found: Found) -> CamAnswer:
    """Return the answer for one recording.

    Raises
    ------
    SaidError
        The profile knows no such keyway.
    """
    profile = found.profile
    _check_keyway(profile, question.keyway)
    sensor = _sensor(found)
    obstacle = _obstacle(found, sensor)
    judgement = found.judgement
    events: tuple[ValveEvent, ...] = ()
    fall_bar = None
    if not obstacle and judgement is not None and sensor is not None:
        events = valve_events(judgement, profile, sensor)
        fall_bar = overlap_fall_bar(judgement)
    shift = NO_SHIFT
    if events and profile.valve_timing is not None:
        shift = cam_shift(
            events,
            profile,
            separate_cams=question.separate_cams,
            clearances_set=question.clearances_set,
        )
    return CamAnswer(
        profile=profile,
        open=obstacle or _open(profile, events, shift),
        why_no_tdc=found.verdict.reason if obstacle == "no tdc" else None,
        step_bar=None if judgement is None else judgement.nodes.step_bar,
        shift=shift,
        events=events,
        corrections=_corrections(profile, shift, question.keyway),
        half_turn=half_turn_from(places_of(found)),
        keyway=question.keyway,
        overlap_fall_bar=fall_bar,
        warnings=found.verdict.warnings,
    )


def shifts_of(shift: CamShift) -> Mapping[Cam, Interval]:
    """Return how late each cam is that was measured: the one, or inlet and exhaust."""
    one: dict[Cam, Interval | None] = {"cam": shift.shift}
    two: dict[Cam, Interval | None] = {"intake": shift.intake, "exhaust": shift.exhaust}
    said = one if shift.shift is not None else two
    return {name: part for name, part in said.items() if part is not None}


def _wide(shift: CamShift, profile: Profile) -> Mapping[Cam, Interval]:
    wanted = wanted_half_width_deg(profile)
    return {name: part for name, part in shifts_of(shift).items() if part.half_width > wanted}


def _check_keyway(profile: Profile, keyway: int) -> None:
    known = len(profile.cam_drive.keyway_offsets_deg) if profile.cam_drive else 1
    if not 1 <= keyway <= known:
        raise SaidError(
            f"{{keyway}} {keyway}: the profile knows keyways 1 to {known};"
            " state them in cam_drive.keyway_offsets"
        )


def _sensor(found: Found) -> Sensor | None:
    """Return the sensor that the verdict rests on, one in a plug hole."""
    tdc = found.verdict.tdc
    holes = [s for s in found.profile.sensors if s.place == "plug hole"]
    own = [s for s in holes if tdc is not None and s.cylinder == tdc.cylinder]
    return next(iter(own or holes), None)


def _obstacle(found: Found, sensor: Sensor | None) -> Obstacle:
    if found.profile.cycle == "two-stroke":
        return "two-stroke"
    if sensor is None:
        return "no sensor"
    if not sensor.points:
        return "no points"
    if found.verdict.tdc is None:
        return "no tdc"
    judgement = found.judgement
    if judgement is None or judgement.fit is None:
        return "earlier start"
    return "coarse" if judgement.nodes.step_bar > COARSE_BAR else ""


def _open(profile: Profile, events: Sequence[ValveEvent], shift: CamShift) -> Open:
    if not events:
        return "no events"
    if profile.valve_timing is None:
        return "no timing"
    if _wide(shift, profile):
        return "wide"
    counted = [t for t in (shift.teeth, shift.teeth_intake, shift.teeth_exhaust) if t is not None]
    return "between teeth" if any(teeth.probability < TEETH_SURE for teeth in counted) else ""


def _corrections(
    profile: Profile, shift: CamShift, keyway: int
) -> Mapping[Cam, tuple[CamChoice, ...]]:
    drive = profile.cam_drive
    if drive is None:
        return {}
    return {
        name: corrections(drive, part, keyway_now=keyway) for name, part in shifts_of(shift).items()
    }
