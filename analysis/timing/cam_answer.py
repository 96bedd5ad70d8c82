"""How late is the cam, and what puts it right? For what was found and said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from strokewise.analysis.cam.cam import CamShift, Teeth, wanted_half_width_deg
from strokewise.analysis.cam.cam_correction import CamChoice, corrections
from strokewise.analysis.cam.cam_seen import Obstacle
from strokewise.analysis.cam.valve_events import ValveEvent, throttled
from strokewise.analysis.errors import SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.half_turn import HalfTurn
from strokewise.analysis.profile import Profile
from strokewise.analysis.question import saying
from strokewise.analysis.remark import Notice, Remark
from strokewise.analysis.timing.timing import Timing, timing_of
from strokewise.analysis.verdict.found import Found

TEETH_SURE = 0.95
"""Whole teeth at least so probable are an answer."""

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
    timing : Timing
        What marks and cam are both said from.
    shift : CamShift
        From pressure; its teeth by marks and pressure together.
    corrections : mapping of name to tuple of CamChoice
        By the cam that is to be moved; empty without ``cam_drive``.
    """

    profile: Profile
    open: Open
    why_no_tdc: Remark | None
    timing: Timing
    shift: CamShift
    corrections: Mapping[Cam, tuple[CamChoice, ...]]
    keyway: int
    warnings: tuple[Notice, ...]

    @property
    def events(self) -> tuple[ValveEvent, ...]:
        """Valve events as measured, also where there is no timing to hold them against."""
        return self.timing.cam.events

    @property
    def half_turn(self) -> HalfTurn:
        """Whether the cam is half a turn out, by the marks that tell."""
        return self.timing.half_turn

    @property
    def overlap_fall_bar(self) -> float | None:
        """By how much the pressure falls across the overlap; None where no overlap was seen."""
        return self.timing.cam.overlap_fall_bar

    @property
    def step_bar(self) -> float | None:
        """What the sensor resolves; None without a judgement."""
        return self.timing.cam.step_bar

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
    timing = timing_of(
        found,
        separate_cams=question.separate_cams,
        clearances_set=question.clearances_set,
    )
    seen = timing.cam
    shift = seen.shift if seen.shift.shift is None else replace(seen.shift, teeth=_teeth(timing))
    return CamAnswer(
        profile=profile,
        open=seen.obstacle or _open(profile, seen.events, shift),
        why_no_tdc=found.verdict.reason if seen.obstacle == "no tdc" else None,
        timing=timing,
        shift=shift,
        corrections=_corrections(profile, shift, question.keyway),
        keyway=question.keyway,
        warnings=found.verdict.warnings,
    )


def _teeth(timing: Timing) -> Teeth | None:
    """Return the teeth by marks and pressure together, where pressure told of any."""
    return None if timing.cam.shift.teeth is None else timing.teeth


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
