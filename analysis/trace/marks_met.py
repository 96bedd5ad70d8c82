"""When was each timing mark met, and where did the crank stand then? Edges and keys pressed.

A mark is met as an edge on a mark input, as a key pressed while the crank creeps up to it, or as an
angle that somebody read off. Edges met turning forward and turning back are the two sides of a
tooth.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from strokewise.analysis.crank.angle import Motion, angle_of_count, deg_per_count, motion_of
from strokewise.analysis.profile import Mark, Profile
from strokewise.analysis.samples import Segment

ALWAYS_S = float("inf")
"""When something was read off that belongs to no moment of a recording."""


@dataclass(frozen=True, slots=True)
class MarkPass:
    """One edge: unwrapped crank angle, and whether the crank was turning the engine's own way.

    ``time_s`` is on the board's clock.
    """

    angle_deg: float
    forward: bool
    time_s: float = ALWAYS_S


@dataclass(frozen=True, slots=True)
class MarkPress:
    """One key press at an unwrapped crank angle; ``speed_deg_s`` is 0 when the crank stood.

    ``time_s`` is on the board's clock.
    """

    angle_deg: float
    speed_deg_s: float = 0.0
    time_s: float = ALWAYS_S


@dataclass(frozen=True, slots=True)
class MarkSeen:
    """Everything seen of one mark; ``cell_deg`` is the width of a count in crank degrees."""

    mark: Mark
    passes: tuple[MarkPass, ...] = ()
    presses: tuple[MarkPress, ...] = ()
    cell_deg: float = 0.0

    def __len__(self) -> int:
        return len(self.passes) + len(self.presses)

    def since(self, time_s: float) -> MarkSeen:
        """Return what was seen from a moment on, and what was read off."""
        return replace(
            self,
            passes=tuple(met for met in self.passes if met.time_s >= time_s),
            presses=tuple(met for met in self.presses if met.time_s >= time_s),
        )


class MarksMet(Protocol):
    """Every mark that was met by now, whichever way the run is kept."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the marks that were pressed, each once."""

    def seen(self, mark: Mark) -> MarkSeen:
        """Return every edge and press of one mark; empty when it was not met."""


@dataclass(frozen=True, slots=True)
class MarksRecorded:
    """The marks of one start of the board, as it was recorded."""

    segment: Segment
    profile: Profile

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the marks that were pressed, each once."""
        return tuple(dict.fromkeys(press.name for press in self.segment.presses))

    def seen(self, mark: Mark) -> MarkSeen:
        """Return every edge and press of one mark; empty when it was not met."""
        return seen_in(self.segment, mark, self.profile)


def seen_in(
    segment: Segment, mark: Mark, profile: Profile, motion: Motion | None = None
) -> MarkSeen:
    """Return every edge and press of one mark in one start of the board.

    Edges and presses outside of the samples, or while the crank stood (edges only), tell no
    direction and are left out. Empty when the mark was not met.

    Parameters
    ----------
    motion : Motion, optional
        That of the samples, where it has been worked out already.
    """
    cell_deg = abs(deg_per_count(profile.encoder))
    samples, events = segment.samples, segment.events
    if len(samples) < 2:
        return MarkSeen(mark, cell_deg=cell_deg)
    time_us = samples.time_us
    motion = motion or motion_of(time_us, samples.count, profile.encoder)
    inside = (events.time_us >= time_us[0]) & (events.time_us <= time_us[-1])
    own = inside & (events.input == mark.input) if mark.input else np.zeros(len(events), bool)
    angles = angle_of_count(events.count[own], profile.encoder)
    speeds = np.interp(events.time_us[own], time_us, motion.speed_deg_s)
    pressed_us = [
        p.time_us for p in segment.presses if p.name == mark.name and p.time_us >= time_us[0]
    ]
    return MarkSeen(
        mark,
        passes=tuple(
            MarkPass(float(angle), bool(speed > 0), float(at_us) * 1e-6)
            for angle, speed, at_us in zip(angles, speeds, events.time_us[own], strict=True)
            if speed != 0
        ),
        presses=tuple(
            MarkPress(
                float(np.interp(at_us, time_us, motion.angle_deg)),
                float(np.interp(at_us, time_us, motion.speed_deg_s)),
                at_us * 1e-6,
            )
            for at_us in pressed_us
            if at_us <= time_us[-1]
        ),
        cell_deg=cell_deg,
    )
