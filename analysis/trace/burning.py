"""Did a charge burn? One that is only squeezed loses heat and gas, and comes down early for it.

Halve the way between the two points at which pressure stands at one level, going up and coming
down. Whatever a charge loses on its way over the top, to the wall, past the rings or through a
valve not quite shut, it has lost when it comes down: the lower the level, the earlier the middle.
Only a charge that is given heat comes down the later the lower the level. No engine, no TDC and no
calibration is needed to see it (reasoned from the first law; no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.median import median
from strokewise.analysis.remark import Notice, notice, remark
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump
from strokewise.analysis.trace.settled import Settled
from strokewise.analysis.trace.steady import SAME_COMPRESSION_DEG
from strokewise.analysis.trade import DEG_S_PER_RPM

BURNS: Final = "charge-burns"
"""Code of the warning."""

EVERY_CHARGE_BURNS = remark("every-charge-burns")
"""Why TDC is only known roughly: burning moves pressure from where the piston alone puts it."""

LEVELS: FloatArray = np.arange(0.85, 0.19, -0.05)
"""Of the rise, from the top down. Above, noise moves the middle; below, hot walls still warm the
charge, and air may leak back in."""

LATER_DEG = 0.6
"""The middle may come later by so much from one level to a lower one without any burning: noise,
the crank's own speeding up between the flanks, a zero that creeps."""

LATER_S = 0.04e-3
"""And by so long: a slow sensor drags the foot of a compression more than its top. First-order
lags up to 1 ms did it by under 0.06 ms (calculated)."""

LATER_SIGMAS = 4.0
"""And by so many sigmas of what noise does to a middle."""

BURNT_FLANK_DEG = 150.0
"""A compression's flanks lie within this of its top, a burnt one's too."""

LEAST_RPM = 70.0
"""Slower, by hand, nothing burns; and pauses on the way bend the flanks."""

QUIET_DEG = 0.2
"""A sound compression's middle came later by no more; one between this and the above is told by
the others beside it."""

CUT_OFF_LEAST_BAR = 1.0
"""Where the top is cut off at the sensor's end, what is left must rise by so much: the flanks of a
vacuum sensor end where valves have hardly shut, and are moved by them and not by heat."""

FEWEST_LEVELS = 4


@dataclass(frozen=True, slots=True)
class Chords:
    """Middles of the two points at each level of a hump, from its top down, and how sure they are.

    Both are (levels reached,). They rest on the nodes from ``first`` on; ``closed`` where the crank
    went on beyond the far flank.
    """

    middle_deg: FloatArray
    sigma_deg: FloatArray
    first: int
    closed: bool


def burnt(nodes: Nodes, humps: tuple[Hump, ...], cold: Settled[bool] | None = None) -> BoolArray:
    """Return which humps are compressions whose charge burned, (humps,).

    Where some burned, so has one of which too little is seen to tell: cut off by either end of the
    recording, say.

    Parameters
    ----------
    cold : Settled, optional
        Where those that did not burn, whatever the noise, are kept for the next call.
    """
    cold = Settled() if cold is None else cold
    found = [_burnt(nodes, hump, cold) for hump in humps]
    for at in range(1, len(humps)):
        # A rise after a rise while the crank goes on: heat, whatever each looks like by itself.
        way_deg = abs(humps[at].angle_deg - humps[at - 1].angle_deg)
        pair = humps[at - 1 : at + 1]
        if way_deg < SAME_COMPRESSION_DEG and all(_tells(nodes, hump) for hump in pair):
            found[at - 1] = found[at] = True
    burning = [hump.pressure_bar for hump, burns in zip(humps, found, strict=True) if burns]
    if burning:  # what peaks as high as those that burned is no compression alone
        most = median(burning)
        pairs = zip(humps, found, strict=True)
        found = [None if h.pressure_bar > most and not burns else burns for h, burns in pairs]
    unsure = bool(burning)
    return np.array([unsure if burns is None else burns for burns in found], np.bool_)


def burning_notices(burned: BoolArray) -> tuple[Notice, ...]:
    """Return the warning that charges burn, with its caution; none where none does."""
    if not burned.any():
        return ()
    return (notice(BURNS, burned=int(burned.sum()), seen=len(burned)),)


def _quick(nodes: Nodes, hump: Hump) -> bool:
    """Return whether a hump was passed faster than by hand, and so may have burned."""
    return hump.moving and abs(float(nodes.speed_deg_s[hump.at])) >= DEG_S_PER_RPM * LEAST_RPM


def _too_low(nodes: Nodes, hump: Hump) -> bool:
    """Return whether of a compression too little is seen below the sensor's end."""
    return bool(nodes.clipped[hump.at]) and hump.rise_bar < CUT_OFF_LEAST_BAR


def _tells(nodes: Nodes, hump: Hump) -> bool:
    return _quick(nodes, hump) and not _too_low(nodes, hump)


def _burnt(nodes: Nodes, hump: Hump, cold: Settled[bool]) -> bool | None:
    if not _quick(nodes, hump):
        return False
    if _too_low(nodes, hump):
        return None
    if cold.of(nodes, hump):
        return False
    speed_deg_s = abs(float(nodes.speed_deg_s[hump.at]))
    chords = chords_of(nodes, hump)
    middle, sigma = chords.middle_deg, chords.sigma_deg
    if len(middle) < FEWEST_LEVELS:
        return None
    if float(np.max(middle - np.minimum.accumulate(middle))) <= QUIET_DEG:  # whatever the noise
        if chords.closed:
            cold.settle(nodes, hump, chords.first, True)
        return False
    allowed = LATER_DEG + LATER_S * speed_deg_s
    # Each level against the earliest above it.
    earliest = np.minimum.accumulate(middle + LATER_SIGMAS * sigma)
    later = float(np.max(middle - LATER_SIGMAS * sigma - earliest))
    if later > allowed:
        return True
    return None if later > QUIET_DEG else False


def chords_of(nodes: Nodes, hump: Hump) -> Chords:
    """Return the chords of a hump from its top down, those that both flanks reach."""
    angle = hump.direction * nodes.angle_deg
    top = float(angle[hump.at])
    # Nodes are in time order, and near a compression the crank turns one way.
    first = int(np.searchsorted(np.maximum.accumulate(angle[: hump.at + 1]), top - BURNT_FLANK_DEG))
    beyond = angle[hump.at :] > top + BURNT_FLANK_DEG
    closed = bool(beyond.any())
    last = hump.at + int(beyond.argmax()) if closed else len(angle) - 1
    levels = hump.pressure_bar - hump.rise_bar + LEVELS * hump.rise_bar
    rise = _crossings(angle, nodes, slice(hump.at, first - 1 if first else None, -1), levels)
    fall = _crossings(angle, nodes, slice(hump.at, last + 1), levels)
    both = min(len(rise[0]), len(fall[0]))
    (up_deg, up_sigma_deg), (down_deg, down_sigma_deg) = (
        (deg[:both], sigma_deg[:both]) for deg, sigma_deg in (rise, fall)
    )
    middle_deg = 0.5 * (up_deg + down_deg)
    return Chords(middle_deg, 0.5 * np.hypot(up_sigma_deg, down_sigma_deg), first, closed)


def _crossings(
    angle: FloatArray, nodes: Nodes, flank: slice, levels: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return where pressure first falls under levels on the way down from the top, and sigmas.

    Only of those, from the highest on, that the flank starts over and comes down to.
    """
    pressure, angle = nodes.pressure_bar[flank], angle[flank]
    lowest = np.minimum.accumulate(pressure)
    k = np.searchsorted(-lowest, -levels, side="right")
    reached = (k > 0) & (k < len(pressure))
    k = k[: len(k) if reached.all() else int(reached.argmin())]
    over, way = pressure[k - 1], angle[k] - angle[k - 1]
    drop = over - pressure[k]
    noise = nodes.noise_bar / np.sqrt(nodes.count[flank][k])
    steep = drop / np.maximum(np.abs(way), 1e-6)
    return angle[k - 1] + (over - levels[: len(k)]) / drop * way, noise / steep
