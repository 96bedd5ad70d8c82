"""What does the pressure of one cylinder show of the cam, or what is in the way?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.cam.cam import NO_SHIFT, CamShift, cam_shift
from strokewise.analysis.cam.valve_events import ValveEvent, valve_events
from strokewise.analysis.cam.valve_spans import overlap_fall_bar
from strokewise.analysis.profile import Sensor
from strokewise.analysis.verdict.found import Found

COARSE_BAR = 0.1
"""Steps of a converter above this hide the bend that a valve makes in the trace."""

Obstacle = Literal["", "two-stroke", "no sensor", "no points", "no tdc", "earlier start", "coarse"]
"""Why the valves cannot be looked for at all."""


@dataclass(frozen=True, slots=True)
class CamSeen:
    """What pressure shows of the cam, marks left aside.

    Attributes
    ----------
    obstacle : str
        Why the valves cannot be looked for; empty where they were.
    events : tuple of ValveEvent
        As measured, also where there is no timing to hold them against.
    overlap_fall_bar : float or None
        By how much the pressure falls across the overlap; None where no overlap was seen.
    step_bar : float or None
        What the sensor resolves; None without a judgement.
    """

    obstacle: Obstacle = ""
    events: tuple[ValveEvent, ...] = ()
    shift: CamShift = NO_SHIFT
    overlap_fall_bar: float | None = None
    step_bar: float | None = None


def cam_seen(found: Found, *, separate_cams: bool = False, clearances_set: bool = False) -> CamSeen:
    """Return what the compressions that a verdict rests on show of the cam.

    Parameters
    ----------
    separate_cams : bool
        Inlet and exhaust have a cam each: their shifts say nothing of each other.
    clearances_set : bool
        The clearances have just been set to the profile's figures.
    """
    profile, judgement = found.profile, found.judgement
    step_bar = None if judgement is None else judgement.nodes.step_bar
    sensor = sensor_of(found)
    obstacle = _obstacle(found, sensor)
    if obstacle or judgement is None or sensor is None:
        return CamSeen(obstacle, step_bar=step_bar)
    events = valve_events(judgement, profile, sensor)
    shift = NO_SHIFT
    if events and profile.valve_timing is not None:
        shift = cam_shift(
            events, profile, separate_cams=separate_cams, clearances_set=clearances_set
        )
    return CamSeen("", events, shift, overlap_fall_bar(judgement), step_bar)


def sensor_of(found: Found) -> Sensor | None:
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
