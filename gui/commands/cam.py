"""How late is the cam, how many teeth, and which tooth and keyway put it right?"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strokewise.gui.options import (
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    say,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strokewise.analysis.cam.cam import CamShift
    from strokewise.analysis.cam.cam_correction import CamChoice
    from strokewise.analysis.cam.valve_events import ValveEvent
    from strokewise.analysis.estimate import Interval, Notice
    from strokewise.analysis.marks.half_turn import HalfTurn
    from strokewise.analysis.profile import Profile, Sensor
    from strokewise.gui.found import Found

EXAMPLE = """\
strokewise cam bench.swr --engine bench.toml
strokewise cam bench.swr --clearances-set --json
strokewise cam bench.swr --separate-cams --keyway 2"""

SURE = 0.95
"""Whole teeth at least so probable are an answer."""

COARSE_BAR = 0.1
"""Steps of a converter above this hide the bend that a valve makes in the trace."""


@dataclass(frozen=True, slots=True)
class CamAnswer:
    """What is said about the cam.

    Attributes
    ----------
    decided : bool
        The shift is known well enough to act on.
    events : tuple of ValveEvent
        As measured, also where there is no timing to hold them against.
    corrections : dict of str to tuple of CamChoice
        By what is to be moved: ``"cam"``, or ``"intake"`` and ``"exhaust"`` with separate cams.
    overlap_fall_bar : float or None
        By how much the pressure falls across the overlap; None where no overlap was seen.
    """

    decided: bool
    reason: str
    shift: CamShift
    events: tuple[ValveEvent, ...]
    corrections: dict[str, tuple[CamChoice, ...]]
    half_turn: HalfTurn
    keyway: int
    found: Found
    warnings: tuple[Notice, ...]
    overlap_fall_bar: float | None = None


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise cam``."""
    parser = add_command(
        subparsers,
        "cam",
        example=EXAMPLE,
        after="Needs valve_timing in the profile, and best a recording made with the starter, the\n"
        "throttle open. Inlet closing and exhaust opening are measured. Exhaust closing and\n"
        "inlet opening are not: about the overlap a degree of either valve moves the pressure by\n"
        "less than a sensor for compressions resolves. A dial gauge on the valve shows them.",
    )
    parser.add_argument("file", metavar="FILE", help="a recording")
    parser.add_argument(
        "--separate-cams",
        action="store_true",
        help="inlet and exhaust have a cam each: their shifts say nothing of each other",
    )
    parser.add_argument(
        "--clearances-set",
        action="store_true",
        help="the valve clearances have just been set to the profile's figures",
    )
    parser.add_argument(
        "--keyway",
        type=int,
        default=1,
        metavar="N",
        help="keyway that the cam sprocket sits on now; 1 is the marked one (default)",
    )
    add_engine_options(parser)
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer for one recording."""
    from strokewise.gui.found import found_in
    from strokewise.gui.pages.cam_words import cam_answer, cam_words

    answer = answer_for(found_in(args.file, args), args)
    return say(args, answer, cam_answer, cam_words, decided=answer.decided)


def answer_for(found: Found, args: argparse.Namespace) -> CamAnswer:
    """Return the answer for what was found, with the options of a command line."""
    from strokewise.analysis.cam.cam import NO_SHIFT, cam_shift
    from strokewise.analysis.cam.valve_events import throttled, valve_events
    from strokewise.analysis.cam.valve_spans import overlap_fall_bar
    from strokewise.analysis.marks.half_turn import half_turn_from
    from strokewise.gui.commands.marks import place_all

    profile = found.profile
    _check_keyway(profile, args.keyway)
    sensor = _sensor(found)
    obstacle = _obstacle(found, sensor)
    events: tuple[ValveEvent, ...] = ()
    fall_bar, notices = None, ()
    if not obstacle and found.judgement is not None and sensor is not None:
        events = valve_events(found.judgement, profile, sensor)
        fall_bar = overlap_fall_bar(found.judgement)
        notices = _throttle_notices(fall_bar) if throttled(fall_bar) else ()
    shift = NO_SHIFT
    if events and profile.valve_timing is not None:
        shift = cam_shift(
            events,
            profile,
            separate_cams=args.separate_cams,
            clearances_set=args.clearances_set,
        )
    decided, reason = (False, obstacle) if obstacle else decide(found, events, shift)
    return CamAnswer(
        decided=decided,
        reason=reason,
        shift=shift,
        events=events,
        corrections=_corrections(profile, shift, args.keyway),
        half_turn=half_turn_from(place_all(found, {})),
        keyway=args.keyway,
        found=found,
        warnings=(*found.verdict.warnings, *notices, *shift.notices),
        overlap_fall_bar=fall_bar,
    )


def _throttle_notices(fall_bar: float | None) -> tuple[Notice, ...]:
    from strokewise.analysis.estimate import Notice

    text = (
        f"the pressure falls by {fall_bar or 0.0:.2f} bar across the overlap: the throttle is shut,"
        " or nearly, and the manifold moves while the inlet shuts, so its closing is not given;"
        " record again with the throttle wide open"
    )
    return (Notice("inlet-not-read", text),)


def _check_keyway(profile: Profile, keyway: int) -> None:
    from strokewise.analysis.errors import InputError

    known = len(profile.cam_drive.keyway_offsets_deg) if profile.cam_drive else 1
    if not 1 <= keyway <= known:
        raise InputError(
            f"--keyway {keyway}: the profile knows keyways 1 to {known};"
            " state them in cam_drive.keyway_offsets"
        )


def _sensor(found: Found) -> Sensor | None:
    """Return the sensor that the verdict rests on, one in a plug hole."""
    tdc = found.verdict.tdc
    holes = [s for s in found.profile.sensors if s.place == "plug hole"]
    own = [s for s in holes if tdc is not None and s.cylinder == tdc.cylinder]
    return next(iter(own or holes), None)


def _obstacle(found: Found, sensor: Sensor | None) -> str:
    """Return why the valves cannot be looked for at all; empty when they can."""
    if found.profile.cycle == "two-stroke":
        return "a two-stroke has ports that the piston times; there is no cam to measure"
    if sensor is None:
        return "no sensor in a plug hole: valve events show in a cylinder's own pressure only"
    if not sensor.points:
        return (
            "the sensor has no known points, so its bar are only proportional; give two or more"
            " (reading, pressure) pairs as sensor.points in the profile"
        )
    if found.verdict.tdc is None:
        return f"TDC is not found: {found.verdict.reason}"
    judgement = found.judgement
    if judgement is None or judgement.fit is None:
        return "the compressions that TDC rests on are not those of the last start; record again"
    if judgement.nodes.step_bar > COARSE_BAR:
        return (
            f"the sensor resolves {judgement.nodes.step_bar:.2f} bar, too coarse for valve events:"
            f" use one that resolves {COARSE_BAR:g} bar, best 0.02 bar"
        )
    return ""


def decide(found: Found, events: Sequence[ValveEvent], shift: CamShift) -> tuple[bool, str]:
    """Return whether the cam's shift is known well enough to act on, and the reason."""
    from strokewise.analysis.cam.cam import wanted_half_width_deg

    if not events:
        return False, (
            "no valve event seen: turn the engine its own way through several whole cycles, best"
            " with the starter"
        )
    if found.profile.valve_timing is None:
        return False, (
            "the profile states no valve timing to hold the events against; enter"
            " valve_timing from the engine maker's manual"
        )
    wanted = wanted_half_width_deg(found.profile)
    measured = [(name, part) for name, part in _parts(shift) if part is not None]
    wide = [(name, part) for name, part in measured if part.half_width > wanted]
    if wide:
        name, part = wide[0]
        return False, (
            f"{name} shift is {part.value:+.1f}° but only within ±{part.half_width:.1f}°, wider"
            f" than ±{wanted:.1f}°: set the clearances and say --clearances-set, crank longer"
        )
    counted = [t for t in (shift.teeth, shift.teeth_intake, shift.teeth_exhaust) if t is not None]
    if any(teeth.probability < SURE for teeth in counted):
        return False, "the shift lies between two teeth: set the clearances, crank longer"
    return True, "; ".join(f"{name} {_late_words(part)}" for name, part in measured)


def _parts(shift: CamShift) -> tuple[tuple[str, Interval | None], ...]:
    if shift.shift is not None:
        return (("cam", shift.shift),)
    return (("intake cam", shift.intake), ("exhaust cam", shift.exhaust))


def _late_words(shift: Interval) -> str:
    return f"{abs(shift.value):.1f}° {'late' if shift.value >= 0 else 'early'}"


def _corrections(
    profile: Profile, shift: CamShift, keyway: int
) -> dict[str, tuple[CamChoice, ...]]:
    from strokewise.analysis.cam.cam_correction import corrections

    if profile.cam_drive is None:
        return {}
    parts: dict[str, Interval | None] = {"cam": shift.shift}
    if shift.shift is None:
        parts = {"intake": shift.intake, "exhaust": shift.exhaust}
    return {
        name: corrections(profile.cam_drive, part, keyway_now=keyway)
        for name, part in parts.items()
        if part is not None
    }
