"""What does one recording say of marks, cam, half turn and rig? One inference, asked by both steps.

Each mark is placed from true TDC, with only those edges that were met while the encoder sat as it
did when TDC was found; pressure shows the cam by its valves; and the causes of every part are
weighed together. Angles are crank degrees, late positive.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from strokewise.analysis.cam.cam import Teeth
from strokewise.analysis.cam.cam_seen import CamSeen, cam_seen
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.cam_evidence import ShiftChance, chance_of
from strokewise.analysis.marks.half_turn import HalfTurn, half_turn_from
from strokewise.analysis.marks.mark_causes import MarkCauses, weigh_causes
from strokewise.analysis.marks.marks import (
    MarkPlace,
    place_mark,
    shared_jump_deg,
    shared_step_deg,
)
from strokewise.analysis.marks.rig_states import Clamp, Sensed
from strokewise.analysis.profile import Mark
from strokewise.analysis.trace.marks_met import MarkPress
from strokewise.analysis.verdict.found import Found

STEADY_PASSES = 4
"""So many compressions with one TDC between them, and no slip seen: the clamp held."""


@dataclass(frozen=True, slots=True)
class Timing:
    """All that marks and pressure say of the engine's timing.

    Attributes
    ----------
    cam : CamSeen
        What pressure shows of the cam, marks left aside.
    cam_shift : Interval or None
        The cam's shift that was weighed with the marks: the measured one, or the one stated.
    clamp : str
        What the recording says of the encoder's clamp.
    slipped_deg : float or None
        How far marks on different parts jumped together, which only the clamp can do.
    sensed : Sensed or None
        The cylinder that TDC was taken for; None where the sensor is in no cylinder.
    """

    places: tuple[MarkPlace, ...]
    cam: CamSeen
    cam_shift: Interval | None
    causes: MarkCauses
    half_turn: HalfTurn
    clamp: Clamp
    slipped_deg: float | None = None
    sensed: Sensed | None = None

    @property
    def teeth(self) -> Teeth | None:
        """Whole teeth that the cam is out, by marks and pressure; None where nothing tells."""
        return None if self.causes.teeth is None else Teeth(*self.causes.teeth)


def timing_of(
    found: Found,
    *,
    stated: Sequence[tuple[str, float]] = (),
    earlier: Mapping[str, Interval] | None = None,
    cam_shift: Interval | None = None,
    separate_cams: bool = False,
    clearances_set: bool = False,
) -> Timing:
    """Return what a recording says of marks and cam.

    Parameters
    ----------
    stated : sequence of (str, float)
        Crank angle in the encoder frame at which a mark met its pointer, as read off.
    earlier : mapping of name to Interval, optional
        How late a mark was at an earlier time, with the same parts.
    cam_shift : Interval, optional
        How late the cam is, from pressure, where that is known better than from this recording.
    separate_cams, clearances_set : bool
        As :func:`~strokewise.analysis.cam.cam_seen.cam_seen` takes them.
    """
    places = places_of(found, stated)
    slipped_deg = _slipped_deg(found, places)
    if slipped_deg is not None:  # a jump of all marks is not a ring that moves
        places = tuple(replace(place, drift=None) for place in places)
    clamp: Clamp = "slipped" if slipped_deg is not None else clamp_of(found)
    cam = cam_seen(found, separate_cams=separate_cams, clearances_set=clearances_set)
    seen: ShiftChance | None = cam.shift.chance if cam_shift is None else chance_of(cam_shift)
    sensed = sensed_in(found)
    causes = weigh_causes(
        places,
        found.profile,
        seen=seen,
        earlier_late=earlier,
        clamp=clamp,
        sensed=sensed,
    )
    return Timing(
        places=places,
        cam=cam,
        cam_shift=cam_shift or cam.shift.shift,
        causes=causes,
        half_turn=half_turn_from(places, causes),
        clamp=clamp,
        slipped_deg=slipped_deg,
        sensed=sensed,
    )


COUNTS_DOUBTED = frozenset({"tdc-drifts", "lost-counts", "index-mismatch", "counts-skipped"})
"""Codes under which marks move alike because counts are lost, not because a clamp slips."""


def _slipped_deg(found: Found, places: Sequence[MarkPlace]) -> float | None:
    """Return how far marks on different parts moved alike; None where they did not."""
    step_deg = shared_step_deg(places)
    if step_deg is not None:
        return step_deg
    if any(notice.code in COUNTS_DOUBTED for notice in found.verdict.warnings):
        return None
    return shared_jump_deg([found.seen_of(place.mark) for place in places])


def places_of(found: Found, stated: Sequence[tuple[str, float]] = ()) -> tuple[MarkPlace, ...]:
    """Return where every mark stands; nothing while TDC itself is not found."""
    if found.marks is None or found.tdc_1 is None:
        return ()
    marks = {mark.name: mark for mark in found.profile.marks}
    for name in (*found.pressed_names, *(name for name, _ in stated)):
        marks.setdefault(name, Mark(name))
    places = []
    for mark in marks.values():
        seen = found.seen_of(mark)
        read = tuple(MarkPress(angle_deg) for name, angle_deg in stated if name == mark.name)
        seen = replace(seen, presses=(*seen.presses, *read))
        places.append(place_mark(seen, found.profile, found.tdc_1, found.firing_1_deg))
    return tuple(places)


def clamp_of(found: Found) -> Clamp:
    """Return what the recording says of the encoder's clamp."""
    tdc = found.verdict.tdc
    steady = tdc is not None and tdc.passes >= STEADY_PASSES
    if found.clamp_slipped:
        # Marks are counted from the slip on, where it is known when that was.
        return "slipped" if found.held_since_s is None else "held since"
    return "steady" if steady else "unknown"


def sensed_in(found: Found) -> Sensed | None:
    """Return the cylinder that TDC was taken for, and who said that the sensor sits in it."""
    tdc = found.verdict.tdc
    if tdc is None or not any(s.place == "plug hole" for s in found.profile.sensors):
        return None
    codes = {notice.code for notice in found.verdict.warnings}
    if "second-agrees" in codes:
        return Sensed(tdc.cylinder, "agreed")
    assumed = codes & {"cylinder-assumed", "cylinder-contradiction"}
    return Sensed(tdc.cylinder, "assumed" if assumed else "stated")
