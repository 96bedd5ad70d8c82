"""Did a charge burn? One that is only squeezed loses heat and gas, and comes down early for it.

Halve the way between the two points at which pressure stands at one level, going up and coming
down. Whatever a charge loses on its way over the top, to the wall, past the rings or through a
valve not quite shut, it has lost when it comes down: the lower the level, the earlier the middle.
Only a charge that is given heat comes down the later the lower the level. No engine, no TDC and no
calibration is needed to see it (reasoned from the first law; no source).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.median import median
from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.trace.chords import chords_of
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump
from strokewise.analysis.trace.plateau import ripple_bar
from strokewise.analysis.trace.settled import Settled
from strokewise.analysis.trace.spacing import SAME_COMPRESSION_DEG
from strokewise.analysis.trade import DEG_S_PER_RPM

BURNS: Final = "charge-burns"
"""Code of the warning."""

EVERY_CHARGE_BURNS = remark("every-charge-burns")
"""Why TDC is only known roughly: burning moves pressure from where the piston alone puts it."""

HEAT_GIVEN = "heat-given"
"""Why TDC is refused where the fit needs walls that warm the charge."""

HEAT_OR_SLIP = "heat-or-slip"
"""Why TDC is refused where compressions came later as no slip alone makes them."""

LATER_DEG = 0.6
"""The middle may come later by so much from one level to a lower one without any burning: noise,
the crank's own speeding up between the flanks, a zero that creeps."""

LATER_S = 0.04e-3
"""And by so long: a slow sensor drags the foot of a compression more than its top. First-order
lags up to 1 ms did it by under 0.06 ms (calculated)."""

LATER_SIGMAS = 4.0
"""And by so many sigmas of what noise does to a middle."""

LEAST_RPM = 70.0
"""Slower, by hand, nothing burns; and pauses on the way bend the flanks."""

QUIET_DEG = 0.2
"""A sound compression's middle came later by no more; one between this and the above is told by
the others beside it."""

CUT_OFF_LEAST_BAR = 1.0
"""Where the top is cut off at the sensor's end, what is left must rise by so much: the flanks of a
vacuum sensor end where valves have hardly shut, and are moved by them and not by heat."""

BURNS_LEAST_BAR = 0.5
"""A charge that burns rises by bars; a dead cylinder's humps, of a tenth, lean as breathing and
a slow sensor make them."""

FEWEST_LEVELS = 4

FOOT_UNSEEN_SHARE = 0.15
"""A compression whose foot stands by so much of its height over the others' has a flank that an end
of the recording cuts off: burning shows lower down."""

FALLS_SHARE = 0.02
"""Two humps are two rises where pressure fell by so much of the rise between them; less is noise on
one top, that the sensor's end has cut flat, say."""

MOVED_DEG, MOVED_SPEEDS = 1.5, 1.25
"""Compressions that did not burn, at speeds no further apart, have middles within some tenths of a
degree of each other unless the clamp slipped between them."""

SLOW_SENSOR_FEWEST, SLOW_SENSOR_SPEEDS, SLOW_SENSOR_SHARE = 5, 1.5, 0.4
"""So many compressions at speeds so many times apart tell what a slow sensor does to the middles
from burning: it goes with the speed …"""

SLOW_SENSOR_OFF_DEG = 0.25
"""… so smoothly (charges scatter by more, and where they stop to burn there is a step) …"""

SLOW_SENSOR_S, DRAGGED_PER_DEG2 = 1.3e-3, 0.0016
"""… and by no more than the slowest sensor does, in degrees by the cube of what it lags in degrees:
1 ms at 2,240 rev/min moved the middle by 3.3° from the upper third to the lower (simulated)."""


def burnt(nodes: Nodes, humps: tuple[Hump, ...], cold: Settled[bool] | None = None) -> BoolArray:
    """Return which humps are compressions whose charge burned, (humps,).

    Where some burned, so has one of which too little is seen to tell: cut off by either end of the
    recording, say, on the way up or down.

    Parameters
    ----------
    cold : Settled, optional
        Where those that did not burn, whatever the noise, are kept for the next call.
    """
    cold = Settled() if cold is None else cold
    found = [_burnt(nodes, hump, cold) for hump in humps]
    if any(found) and (ripple := ripple_bar(nodes)) > 0.0:
        found = [
            _burnt(nodes, hump, cold, ripple) if burns else burns
            for burns, hump in zip(found, humps, strict=True)
        ]
    if any(found) and _sensor_is_slow(nodes, humps):
        found = [False] * len(humps)
    for at in range(1, len(humps) - 1):
        three = slice(at - 1, at + 2)
        if found[three] == [False, True, False] and _moved(nodes, *humps[three]):
            found[at] = False
    for at in range(1, len(humps)):
        # A rise after a rise while the crank goes on: heat, whatever each looks like by itself.
        first, second = pair = humps[at - 1 : at + 1]
        if first.direction != second.direction:
            continue  # rocked back over it
        if abs(second.angle_deg - first.angle_deg) >= SAME_COMPRESSION_DEG:
            continue
        if all(_tells(nodes, hump) for hump in pair) and _falls_between(nodes, *pair):
            found[at - 1] = found[at] = True
    burning = [hump.pressure_bar for hump, burns in zip(humps, found, strict=True) if burns]
    if burning:  # what peaks as high as those that burned is no compression alone
        most = median(burning)
        foot = min(hump.pressure_bar - hump.rise_bar for hump in humps)
        pairs = zip(humps, found, strict=True)
        found = [
            None if not burns and (h.pressure_bar > most or _foot_unseen(h, foot)) else burns
            for h, burns in pairs
        ]
    unsure = bool(burning)
    return np.array([unsure if burns is None else burns for burns in found], np.bool_)


def burning_notices(burned: BoolArray) -> tuple[Notice, ...]:
    """Return the warning that charges burn, with its caution; none where none does.

    Of the last compression alone it is said with what else it may be: a clamp that slips within one
    bends it as burning does, and only the next one tells.
    """
    if not burned.any():
        return ()
    if len(burned) > 1 and not burned[:-1].any():
        return (Notice(BURNS, remark("last-charge-burns-or-slip")),)
    return (notice(BURNS, burned=int(burned.sum()), seen=len(burned)),)


def likely_burning(doubt: Remark | None) -> tuple[Notice, ...]:
    """Return the warning of charges that most likely burn, where TDC is refused for that."""
    if doubt is None or doubt.code not in (HEAT_GIVEN, HEAT_OR_SLIP):
        return ()
    return (Notice(BURNS, remark("charge-most-likely-burns")),)


def _quick(nodes: Nodes, hump: Hump) -> bool:
    """Return whether a hump was passed faster than by hand, and so may have burned."""
    return hump.moving and abs(float(nodes.speed_deg_s[hump.at])) >= DEG_S_PER_RPM * LEAST_RPM


def _too_low(nodes: Nodes, hump: Hump) -> bool:
    """Return whether too little rose, or is seen below the sensor's end, to tell."""
    least_bar = CUT_OFF_LEAST_BAR if nodes.clipped[hump.at] else BURNS_LEAST_BAR
    return hump.rise_bar < least_bar


def _foot_unseen(hump: Hump, foot_bar: float) -> bool:
    over_bar = hump.pressure_bar - foot_bar
    return over_bar - hump.rise_bar > FOOT_UNSEEN_SHARE * over_bar


def _tells(nodes: Nodes, hump: Hump) -> bool:
    return _quick(nodes, hump) and not _too_low(nodes, hump)


def _burnt(nodes: Nodes, hump: Hump, cold: Settled[bool], hum_bar: float = 0.0) -> bool | None:
    if not _quick(nodes, hump):
        return False
    if _too_low(nodes, hump):
        return None
    if cold.of(nodes, hump):
        return False
    speed_deg_s = abs(float(nodes.speed_deg_s[hump.at]))
    chords = chords_of(nodes, hump, hum_bar)
    middle, sigma = chords.middle_deg, chords.sigma_deg
    if len(middle) < FEWEST_LEVELS:
        return None
    if float(np.max(middle - np.minimum.accumulate(middle))) <= QUIET_DEG:  # whatever the noise
        if chords.closed:
            cold.settle(nodes, hump, chords.first, True)
        return False
    allowed = LATER_DEG + LATER_S * speed_deg_s
    surely = _later_deg(middle, LATER_SIGMAS * sigma)
    if surely > allowed:
        return True
    # By noise alone, or by burning: beside others that did burn it is not used.
    maybe = _later_deg(middle, np.zeros_like(sigma))
    return None if surely > QUIET_DEG or maybe > allowed else False


def _later_deg(middle_deg: FloatArray, sigma_deg: FloatArray) -> float:
    """Return by how much a level comes later than the earliest above it, both as sure as given."""
    earliest = np.minimum.accumulate(middle_deg + sigma_deg)
    return float(np.max(middle_deg - sigma_deg - earliest))


def _moved(nodes: Nodes, before: Hump, bent: Hump, after: Hump) -> bool:
    """Return whether the encoder moved within a compression, and so bent its flanks.

    Those before it and after it, which did not burn, stand apart at like speed.
    """
    low, _, high = sorted(abs(float(nodes.speed_deg_s[h.at])) for h in (before, bent, after))
    if high > MOVED_SPEEDS * low or not before.direction == bent.direction == after.direction:
        return False
    was, now = (chords_of(nodes, hump).middle_deg for hump in (before, after))
    if not len(was) or not len(now):
        return False
    moved_deg = nearest(float(now.mean() - was.mean()), 720.0)  # a slip of a turn is one, too
    return abs(moved_deg) > MOVED_DEG


def _falls_between(nodes: Nodes, first: Hump, second: Hump) -> bool:
    lowest = float(nodes.pressure_bar[first.at : second.at + 1].min())
    lower = min(first, second, key=lambda hump: hump.pressure_bar)
    return lower.pressure_bar - lowest > FALLS_SHARE * lower.rise_bar


def _sensor_is_slow(nodes: Nodes, humps: tuple[Hump, ...]) -> bool:
    """Return whether middles come late in all compressions as a slow sensor's do, and vanish so.

    Its lag drags the foot of a flank more than its top: ever less as an engine runs down, whereas
    a charge that burned is late by as much as it burned.
    """
    quick = [hump for hump in humps if _tells(nodes, hump)]
    if len(quick) < SLOW_SENSOR_FEWEST:
        return False
    speed = np.abs(nodes.speed_deg_s[[hump.at for hump in quick]])
    fast = speed > SLOW_SENSOR_SHARE * speed.max()  # slower, losses bend it the other way
    if speed.max() < SLOW_SENSOR_SPEEDS * speed.min() or fast.sum() < SLOW_SENSOR_FEWEST:
        return False
    each = [chords_of(nodes, hump) for hump in quick]
    if min(len(chords.middle_deg) for chords in each) < FEWEST_LEVELS:
        return False
    later = np.array([chords.lean_deg for chords in each])
    smooth = np.polyval(np.polyfit(speed[fast], later[fast], 2), speed[fast])
    most = LATER_DEG + DRAGGED_PER_DEG2 * (SLOW_SENSOR_S * speed) ** 3
    return bool(
        np.all(np.abs(later[fast] - smooth) < SLOW_SENSOR_OFF_DEG)
        and np.all(later < most)
        and later[speed.argmin()] < QUIET_DEG
    )
