"""Which causes are true of a drawn engine, can its figures tell them, and do two answers agree?

Figures tell a story when no other with as few faults comes within three sigma of them all: decided
from what is true, with how well the cam's shift was measured. A sensor counted from the wrong end
looks like a cam half a turn out; a pointer of another engine like a ring that slipped long ago.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from math import hypot, inf
from typing import Any

from timing_draws import DOT, Case

from strokewise.analysis.crank.strokes import firing_offsets, nearest
from strokewise.analysis.marks.cam_evidence import DOT_SIGMA_DEG, FITTED_SIGMA_DEG, cam_cause
from strokewise.analysis.marks.mark_evidence import (
    AS_STATED,
    CLAMP,
    CLAMP_HELD,
    CRANK_MARK_SIGMA_DEG,
    FOREIGN,
    HALF,
    HELD_SINCE,
    MARK_RIGHT,
    POINTER,
    REORDERED,
    RING,
    elsewhere_words,
)

SIGMAS_APART = 3.0
SLIP_SEEN_DEG = 6.0
"""Compressions at starter speed that move by more have moved, by any scatter; by hand a slip of
this size is hidden in how the peaks wander."""

MOST_TEETH_TOLD = 4


@dataclass(frozen=True)
class Story:
    """What is wrong, as far as the marks' places and the cam's shift tell it."""

    teeth: int
    dot: str
    pulley: str
    cylinder: int

    @property
    def faults(self) -> int:
        """How many things are wrong."""
        return sum(
            (
                self.teeth != 0,
                self.dot != MARK_RIGHT,
                self.pulley != MARK_RIGHT,
                self.cylinder != 0,
            )
        )


def true_story(case: Case) -> Story:
    """Return what is true of an engine."""
    dot = FOREIGN if "foreign dot" in case.faults else MARK_RIGHT
    dot = HALF if "half turn" in case.faults else dot
    pulley = POINTER if case.faults & {"ring", "pointer"} else MARK_RIGHT
    at = case.bench.rig.sensors[0].cylinder
    return Story(case.teeth, dot, pulley, 0 if at == 1 else at)


def true_causes(case: Case) -> dict[str, tuple[str, ...]]:
    """Return the causes that are right to come first, by part."""
    story = true_story(case)
    pulley: tuple[str, ...] = (MARK_RIGHT,)
    if "pointer" in case.faults:
        pulley = (POINTER, RING)
    elif "ring" in case.faults:
        pulley = (RING,)
    sensor = (elsewhere_words(story.cylinder, 1) if story.cylinder else AS_STATED,)
    if "order" in case.faults:
        sensor = (*sensor, REORDERED)
    return {
        "cam": (cam_cause(case.teeth),),
        "cam sprocket": (story.dot,),
        "pulley": pulley,
        "sensor": sensor,
        "encoder": (HELD_SINCE, CLAMP) if "slip" in case.faults else (CLAMP_HELD,),
    }


def figures_tell(case: Case, shift_sigma_deg: float | None) -> bool:
    """Return whether no other story with as few faults fits.

    Parameters
    ----------
    shift_sigma_deg : float or None
        How well pressure showed the cam; None where it did not.
    """
    if "backwards" in case.faults or ("order" in case.faults and "cylinder" in case.faults):
        return False  # the teeth's other sides are read; another cylinder's place is not known
    if "slip" in case.faults:
        by = max(abs(slip.by_deg) for slip in case.bench.rig.encoder.slips)
        if case.by_hand or by < SLIP_SEEN_DEG:
            return False
    truth = true_story(case)
    return not any(
        _fits(case, story, shift_sigma_deg)
        for story in _stories(case)
        if story != truth and story.faults <= truth.faults
    )


def _stories(case: Case) -> Iterator[Story]:
    cylinders = (0, *(n for n in case.profile.firing_order if n != 1))
    teeth = range(-MOST_TEETH_TOLD, MOST_TEETH_TOLD + 1)
    dots, pulleys = (MARK_RIGHT, HALF, FOREIGN), (MARK_RIGHT, POINTER)
    for each in product(teeth, dots, pulleys, cylinders):
        yield Story(*each)


def _fits(case: Case, story: Story, shift_sigma_deg: float | None) -> bool:
    offsets = firing_offsets(case.profile.firing_order, case.profile.firing_intervals_deg)
    moved = nearest(-offsets[story.cylinder], 720.0) if story.cylinder else 0.0
    notch, dot = (each + case.seen_from_deg - moved for each in (case.notch_deg, case.dot_deg))
    if story.pulley == MARK_RIGHT and not _near(notch, CRANK_MARK_SIGMA_DEG, 360.0):
        return False
    drive = case.profile.cam_drive
    assert drive is not None
    on_tooth = story.teeth * 720.0 / drive.cam_teeth
    sigma = inf if shift_sigma_deg is None else shift_sigma_deg
    if sigma < inf and not _near(case.shift_deg - on_tooth, hypot(sigma, FITTED_SIGMA_DEG), 720.0):
        return False
    if story.dot == FOREIGN:
        return True
    turn = 360.0 if story.dot == HALF else 0.0
    with_cam = _near(dot - turn - case.shift_deg, hypot(sigma, DOT_SIGMA_DEG), 720.0)
    with_tooth = _near(dot - turn - on_tooth, hypot(FITTED_SIGMA_DEG, DOT_SIGMA_DEG), 720.0)
    return with_cam and with_tooth


def _near(away_deg: float, sigma_deg: float, period_deg: float) -> bool:
    return abs(nearest(away_deg, period_deg)) <= SIGMAS_APART * sigma_deg


def contradiction(marks: Mapping[str, Any], cam: Mapping[str, Any]) -> str:
    """Return in what two answers of one recording contradict each other; empty where they agree.

    ``marks`` and ``cam`` are the JSON of the two steps with the ``headline`` of their pages.
    """
    first: dict[str, dict[str, Any]] = {}
    for finding in marks["findings"]:
        first.setdefault(finding["part"], finding)
    teeth, dot, of_cam = cam["teeth"], first.get("cam sprocket"), first.get("cam")
    if teeth and of_cam and of_cam["probability"] > 0.5:
        named = [cam_cause(n) for n in range(-MOST_TEETH_TOLD, MOST_TEETH_TOLD + 1)]
        if of_cam["cause"] in named and of_cam["cause"] != cam_cause(teeth["value"]):
            return f"teeth: {of_cam['cause']} and {teeth['value']}"
    half = cam["half_turn"]["value"]
    says_half = dot is not None and dot["cause"] == HALF and dot["probability"] > 0.5
    if says_half != (half is True):
        return f"half turn: {dot and dot['cause']} and {half}"
    for words in ("half a turn of the cam", "sensor in cylinder", "does not go with the cam"):
        if (words in marks["headline"].lower()) != (words in cam["headline"].lower()):
            return f"headlines: {words!r} on one page alone"
    if half is not None and cam["half_turn"]["from"] != DOT:
        return f"half turn from {cam['half_turn']['from']}"
    return ""
