"""Why is it decided, or why not, and what should be done next?"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Remark, remark
from strokewise.analysis.stroke.passages import CLIPPED_SHARE
from strokewise.analysis.stroke.phase import WEAKEST_BAR, Phase, clearly_squeezed
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

NOTHING_MEASURED = remark("nothing-measured")
"""Where not one sample is known."""

CLIPPED_MOST = 0.5
"""A sensor that stands at its end for so much of the time shows nothing of use."""


def why(
    judgement: Judgement, profile: Profile, cylinder: int, decided: bool, *, calibrated: bool
) -> Remark:
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
        return remark("rises-at-every-turn")
    if not phase.visits:
        return remark("not-through-a-tdc")
    rise_bar = max(v.rise_bar for v in phase.visits) if calibrated else None
    quiet = [v for v in phase.visits if v.turn % 2 != phase.best]
    if _at_its_end(phase):
        return remark("alike-at-the-sensors-end")
    highest = max(phase.visits, key=lambda v: v.rise_bar)
    if not any(v.fell for v in phase.visits if v.turn % 2 == highest.turn % 2):
        return remark("rise-not-come-down", rise_bar=rise_bar)
    if not quiet:
        return remark("other-tdc-not-passed", rise_bar=rise_bar)
    return remark("tdcs-too-alike", most_bar=rise_bar)


def _at_its_end(phase: Phase) -> bool:
    """Return whether the sensor's end stood in the way, and not a step of a coarse converter."""
    shares = [v.top_share > CLIPPED_SHARE for v in phase.visits]
    levels = [v.level_bar for v in phase.visits]
    steps = PLATEAU_STEPS * max(v.step_bar for v in phase.visits)
    return all(shares) or (any(shares) and max(levels) - min(levels) >= steps)


def _why_decided(phase: Phase, profile: Profile, cylinder: int, calibrated: bool) -> Remark:
    if profile.cycle == "two-stroke":
        return remark("compresses-at-every-turn", cylinder=cylinder)
    compressed = [v for v in phase.used if v.turn % 2 == phase.best]
    quiet = [v for v in phase.used if v.turn % 2 != phase.best]
    rise = median([v.rise_bar for v in compressed]) if compressed else 0.0
    at_end = bool(compressed) and (
        median([v.top_share for v in compressed]) >= PLATEAU_SHARE
        or (rise < WEAKEST_BAR and all(v.clipped for v in compressed))
    )
    return remark(
        "compression-seen",
        cylinder=cylinder,
        times_seen=len(compressed),
        rise_bar=rise if calibrated else None,
        at_sensors_end=at_end,
        since_moved=phase.changed,
        none_at_other=len(quiet),
    )


def _why_no_two_stroke(phase: Phase) -> Remark:
    if max(phase.even, phase.odd) > phase.none:
        return remark("two-stroke-as-four-stroke")
    if not phase.visits:
        return remark("two-stroke-not-through-a-tdc")
    return remark("no-compression-at-any-turn")


def _why_changed(phase: Phase, cylinder: int) -> Remark:
    """Say what contradicts, after an answer that may have stood on the screen."""
    if phase.none >= max(phase.even, phase.odd, phase.every) or not any(
        v.rise_bar > ROSE_NOISES * max(v.noise_bar, ROSE_NOISE_LEAST_BAR) for v in phase.used
    ):
        return remark("compression-stayed-away", cylinder=cylinder)
    return remark("compressions-at-both-tdcs")


def why_nothing(judgement: Judgement, clipped: float, *, calibrated: bool) -> Remark:
    """Return the reason where not even a rough TDC is known."""
    nodes = judgement.nodes
    if not len(nodes):
        return NOTHING_MEASURED
    if clipped > CLIPPED_MOST:
        return remark("sensor-at-its-end")
    swing = float(np.ptp(nodes.pressure_bar))
    turned = float(np.ptp(nodes.angle_deg))
    if turned < STOOD_CELLS * nodes.cell_deg and turned < STOOD_DEG:
        return remark("encoder-not-moved")
    if judgement.humps and turned >= TURNED_ENOUGH_DEG:
        return remark("no-compressions-shape")
    if turned < TURNED_ENOUGH_DEG:
        return remark("turned-too-little", turned_deg=turned)
    if swing < FLAT_STEPS * nodes.step_bar:
        return remark("pressure-flat")
    return remark("no-compression-in-two-turns", moved_bar=swing if calibrated else None)
