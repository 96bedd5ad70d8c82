"""Over which stretches did the sensor stand at its upper end, and how far past it was it driven?"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.kinematics import crank_of, volume_ratio
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import TURNING_BACK_DEG
from strokewise.analysis.trace.plateau import BRIDGED, PLATEAU_DEG
from strokewise.analysis.trade import USUAL_RATIO, USUAL_ROD_RATIO

FAR_TIMES = 4.0
"""Sensors bear twice to four times the end of their range (common practice, no source). What is
told here was 0.3 to 1.9 of what the bench's pressure came to (84600 on by hand, 84700 on not)."""

STUCK_DEG = 280.0
"""No compression holds a sensor at its end for more; a wire that has come off does."""

LOSSY = 1.3
"""Air that loses heat and leaks a little on its way up rises by this power of its volume."""

OVERRANGED: Final = "sensor-overranged"
"""Code of the warning."""


@dataclass(frozen=True, slots=True)
class AtEnd:
    """One stretch at the sensor's end: where the crank was in it, and its first leg, one way.

    Attributes
    ----------
    low_deg, high_deg : float
        All of the stretch lies between.
    begin_deg, until_deg : float
        The leg, before the crank first turned round; ``begin_deg`` is where the sensor came to its
        end, and only known as such where ``came`` is true.
    came, left : bool
        The stretch did not begin with the trace, and not end with it.
    """

    low_deg: float
    high_deg: float
    begin_deg: float
    until_deg: float
    came: bool
    left: bool = True


def stretches_at_end(nodes: Nodes) -> tuple[AtEnd, ...]:
    """Return the stretches over which the sensor stood at its upper end, in time order."""
    at = np.flatnonzero(nodes.clipped)
    if not len(at):
        return ()
    cuts = [0, *(np.flatnonzero(np.diff(at) > BRIDGED) + 1).tolist(), len(at)]
    return tuple(_stretch(nodes, at[a], at[b - 1]) for a, b in pairwise(cuts))


def overranged(nodes: Nodes, profile: Profile) -> tuple[Notice, ...]:
    """Return the warning that compressions went far past the sensor's end; none where they did not.

    How far is told by how much of the way about TDC it stood there, whatever its calibration.
    """
    wide = [abs(s.until_deg - s.begin_deg) for s in stretches_at_end(nodes) if s.came and s.left]
    wide = [deg for deg in wide if PLATEAU_DEG <= deg <= STUCK_DEG]
    if not wide:
        return ()
    crank = crank_of(profile)
    ratios = {"rod_ratio": USUAL_ROD_RATIO} if crank is None else crank.ratios
    ratio = profile.compression_ratio or USUAL_RATIO
    space = volume_ratio(0.5 * max(wide), compression_ratio=ratio, **ratios)
    times = float(space) ** LOSSY
    return (notice(OVERRANGED, times=times),) if times >= FAR_TIMES else ()


def _stretch(nodes: Nodes, first: int, last: int) -> AtEnd:
    angle: FloatArray = nodes.angle_deg[first : last + 1]
    way = 1.0 if _first_way(angle) > 0 else -1.0
    ahead = np.maximum.accumulate(way * angle)
    turned = np.flatnonzero(ahead - way * angle > TURNING_BACK_DEG)
    leg = ahead[turned[0] if len(turned) else -1]
    return AtEnd(
        float(angle.min()),
        float(angle.max()),
        float(angle[0]),
        float(way * leg),
        bool(first > 0),
        bool(last < len(nodes) - 1),
    )


def _first_way(angle_deg: FloatArray) -> float:
    """Return which way the crank first went by more than rolling back."""
    off = angle_deg - angle_deg[0]
    went = np.flatnonzero(np.abs(off) > TURNING_BACK_DEG)
    return float(off[went[0]] if len(went) else off[-1])
