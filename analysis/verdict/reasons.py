"""Why is it decided, or why not, and what should be done next? One line for a person."""

from __future__ import annotations

import numpy as np

from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile
from strokewise.analysis.stroke.passages import CLIPPED_SHARE
from strokewise.analysis.stroke.phase import Phase, clearly_squeezed
from strokewise.analysis.stroke.plateaus import PLATEAU_SHARE, PLATEAU_STEPS
from strokewise.analysis.verdict.judge import Judgement
from strokewise.analysis.verdict.verdict import DECIDED_AT

TURNED_ENOUGH_DEG = 720.0
"""Two turns of the crank bring every cylinder through its compression once."""

STOOD_CELLS, STOOD_DEG = 5.0, 20.0
"""An encoder that moved by less than both stood still: it trembled on a line."""

ROSE_NOISES, ROSE_NOISE_LEAST_BAR = 4.0, 0.05
"""A visit of so many times the noise, and that taken as no less, was a compression."""

FLAT_STEPS = 6.0
"""A trace that moves by fewer converter steps than this is flat."""

CLIPPED_MOST = 0.5
"""A sensor that stands at its end for so much of the time shows nothing of use."""


def why(
    judgement: Judgement, profile: Profile, cylinder: int, decided: bool, *, calibrated: bool
) -> str:
    """Return the reason where a TDC is known, roughly at least.

    Without a calibrated sensor no pressure is named in it.
    """
    phase = judgement.phase
    if decided:
        return _why_decided(phase, profile, cylinder, calibrated)
    undecided = 1.0 - DECIDED_AT
    if profile.cycle == "two-stroke":
        return _why_no_two_stroke(phase)
    if phase.changed and phase.visits and any(clearly_squeezed(v) for v in phase.visits):
        return _why_changed(phase, cylinder)
    both_passed = len({v.turn % 2 for v in phase.visits}) == 2
    if both_passed and phase.every > undecided and phase.every >= phase.none:
        return (
            "pressure rises at every turn: a two-stroke, valves that do not open (rockers or"
            " pushrods off), or an encoder on the camshaft with the profile's encoder.drive_ratio"
            " left at 1; look at the valves and the profile, then turn two full turns by hand"
        )
    if not phase.visits:
        return (
            "the crank has not been turned right through a TDC yet: turn two full turns the"
            " engine's own way without a pause near the top"
        )
    rise = max(v.rise_bar for v in phase.visits)
    of_bar = f" of {rise:.2f} bar" if calibrated else ""
    at_most = f" (at most {rise:.2f} bar)" if calibrated else ""
    quiet = [v for v in phase.visits if v.turn % 2 != phase.best]
    if _at_its_end(phase):
        return (
            "the sensor stands at the end of its range at TDC, and the two TDCs differ too little"
            " beside it: turn two more full turns, or take a sensor of a wider range"
        )
    highest = max(phase.visits, key=lambda v: v.rise_bar)
    if not any(v.fell for v in phase.visits if v.turn % 2 == highest.turn % 2):
        return (
            f"a rise{of_bar} was seen, and the crank stopped before it came down again: turn on,"
            " the engine's own way, until it has"
        )
    if not quiet:
        return (
            f"a rise{of_bar} was seen, and the other TDC, one turn away, was not passed"
            " beside it: turn on, two full turns"
        )
    return (
        f"the two TDCs differ too little{at_most} to be told apart: no compression"
        " here. Plug or hose loose, a burnt valve, or one without clearance that never shuts: check"
        " them, or sense another cylinder, then turn two full turns"
    )


def _at_its_end(phase: Phase) -> bool:
    """Return whether the sensor's end stood in the way, and not a step of a coarse converter."""
    shares = [v.top_share > CLIPPED_SHARE for v in phase.visits]
    levels = [v.level_bar for v in phase.visits]
    steps = PLATEAU_STEPS * max(v.step_bar for v in phase.visits)
    return all(shares) or (any(shares) and max(levels) - min(levels) >= steps)


def _why_decided(phase: Phase, profile: Profile, cylinder: int, calibrated: bool) -> str:
    if profile.cycle == "two-stroke":
        return f"cylinder {cylinder} compresses at every turn, as a two-stroke does: one TDC a turn"
    compressed = [v for v in phase.used if v.turn % 2 == phase.best]
    quiet = [v for v in phase.used if v.turn % 2 != phase.best]
    rise = median([v.rise_bar for v in compressed]) if compressed else 0.0
    seen = _times(len(compressed))
    if compressed and median([v.top_share for v in compressed]) >= PLATEAU_SHARE:
        said = f"cylinder {cylinder} drove the sensor to the end of its range {seen}"
    else:
        of_bar = f" of {rise:.1f} bar" if calibrated else ""
        said = f"compression{of_bar} seen {seen} in cylinder {cylinder}"
    if phase.changed:
        said = f"since the encoder or the sensor moved: {said}"
    if quiet:
        return f"{said}, and none at the TDC one turn away, passed {_times(len(quiet))}"
    return f"{said}; no breathing makes so much, though the other TDC was not passed"


def _why_no_two_stroke(phase: Phase) -> str:
    if max(phase.even, phase.odd) > phase.none:
        return (
            "profile contradicts the trace: it says two-stroke, but pressure rises only at every"
            " second turn, as in a four-stroke: correct cycle in the profile"
        )
    if not phase.visits:
        return "the crank has not been turned right through a TDC yet: turn two full turns"
    return "no compression at any turn: check plug, hose and sensor, then turn two full turns"


def _why_changed(phase: Phase, cylinder: int) -> str:
    """Say what contradicts, after an answer that may have stood on the screen."""
    if phase.none >= max(phase.even, phase.odd, phase.every) or not any(
        v.rise_bar > ROSE_NOISES * max(v.noise_bar, ROSE_NOISE_LEAST_BAR) for v in phase.used
    ):
        return (
            f"the compression of cylinder {cylinder} stayed away at the last turns where it was"
            " before: the sensor or its hose has come off, or the encoder has slipped; check"
            " both, then turn two full turns"
        )
    return (
        "compressions came at both TDCs, one after the other: the encoder has slipped on the"
        " crank, or the profile's counts or drive ratio are wrong; tighten the clamp, then turn two"
        " full turns without touching it"
    )


def why_nothing(judgement: Judgement, clipped: float, *, calibrated: bool) -> str:
    """Return the reason where not even a rough TDC is known."""
    nodes = judgement.nodes
    if not len(nodes):
        return "no samples: nothing was measured; check encoder and board, then record again"
    if clipped > CLIPPED_MOST:
        return "the sensor stands at the end of its range: check its wiring and its range"
    swing = float(np.ptp(nodes.pressure_bar))
    turned = float(np.ptp(nodes.angle_deg))
    if turned < STOOD_CELLS * nodes.cell_deg and turned < STOOD_DEG:
        return "the encoder has not moved: check its clamp and its cable, then turn the crank"
    if judgement.humps and turned >= TURNED_ENOUGH_DEG:
        return (
            "pressure rises and falls, but nowhere as a compression does over the crank's angle:"
            " check the sensor's hose and the encoder's clamp"
        )
    if turned < TURNED_ENOUGH_DEG:
        return (
            f"turned {turned:.0f}° of the 720° of two full turns and no whole compression seen:"
            " turn on the engine's own way"
        )
    if swing < FLAT_STEPS * nodes.step_bar:
        return "the pressure is flat over two full turns: sensor off, hose off, or its valve shut"
    moved = f" (pressure moved by {swing:.2f} bar)" if calibrated else ""
    return (
        f"no compression in two full turns{moved}: plug hole or hose"
        " open, or a valve that does not shut; check, then turn two full turns again"
    )


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
