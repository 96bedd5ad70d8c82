"""Where is the middle between the two contacts of a piston stop? TDC without a pressure sensor.

With a stop in the plug hole the crank is brought gently to it from each side and held there. A
contact is where the crank comes to rest and then goes back; a key pressed meanwhile (``"stop"``)
confirms it. Both contacts have the piston at the same height, so TDC is their middle, but for what
a pin offset makes of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from strokewise.analysis.crank.kinematics import angle_of_travel, crank_of, stroke_ratio
from strokewise.analysis.estimate import WIDTH_OVER_SIGMA, Interval
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.analysis.samples import Press
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trade import BACKLASH_SIGMA_DEG, PIN_OFFSET_SIGMA, USUAL_ROD_RATIO

STOP_KEY = "stop"
"""Name of the key that confirms a contact."""

HELD_S = 0.4
"""The crank rests on the stop for at least so long, or it only turned back."""

REST_DEG = 0.5
"""What a hand that leans on a stop may move it."""

GONE_DEG = 2.0
"""So far from a rest, the way to it or from it is plain."""

KEY_EARLY_S, KEY_LATE_S = 0.3, 1.0
"""A key pressed so long before the crank rests, or after it leaves, still speaks of that rest."""

AGREE_DEG = 1.0
"""Nothing passes a stop, so a rest that falls short of the farthest by more (or by two
counts of a coarse encoder) was not at it."""

STRUCK_DEG_S = 45.0
"""The last degrees are to be slower: a blow springs rod and threads, and marks the piston."""

LEAST_APART_DEG, MOST_APART_DEG = 180.0, 358.0
"""From one side of the stop round to the other: a stop meets the piston in the upper half of its
way, and one that leaves less than a degree on each side would be no stop."""

WOBBLE_SIGMA_DEG = 0.10
"""Once-a-turn error of a clamp off centre, which a middle between far contacts takes in part."""


Side = Literal["before", "after"]


@dataclass(frozen=True, slots=True)
class Contact:
    """The piston against the stop.

    Attributes
    ----------
    angle_deg : float
        Unwrapped crank angle in the encoder frame.
    side : {"before", "after"}
        Of TDC: turned the engine's own way the stop is met before it.
    confirmed : bool
        The key was pressed meanwhile.
    approach_deg_s : float
        Highest speed in the last degrees.
    """

    time_s: float
    angle_deg: float
    side: Side
    confirmed: bool
    approach_deg_s: float


@dataclass(frozen=True, slots=True)
class StopFinding:
    """What the contacts say.

    Attributes
    ----------
    tdc_deg : Interval or None
        None while one side is missing, or the two do not fit a stop.
    reason : Remark
        What was found, or what is missing and what to do.
    contacts : tuple of Contact
        Those that the answer rests on.
    """

    tdc_deg: Interval | None
    reason: Remark
    contacts: tuple[Contact, ...]
    warnings: tuple[Notice, ...] = ()


def contacts_of(nodes: Nodes, presses: tuple[Press, ...] = ()) -> tuple[Contact, ...]:
    """Return every rest after which the crank went back, or at which the recording ends.

    Empty for a crank that only went one way, or never rested.
    """
    keys = np.array([p.time_us * 1e-6 for p in presses if p.name == STOP_KEY])
    found = []
    for first, last in _rests(nodes):
        rest = nodes.angle_deg[first : last + 1]
        came, speed = _came(nodes, first)
        goes = _goes(nodes, last)
        if came == 0 or goes == came:
            continue
        if goes == 0:  # with no line crossed after it, the angle drifts on to the cell's middle
            rest = rest[nodes.time_s[first : last + 1] - nodes.time_s[first] < 0.5 * HELD_S]
        arrives_s, leaves_s = float(nodes.time_s[first]), float(nodes.time_s[last])
        pressed = (keys > arrives_s - KEY_EARLY_S) & (keys < leaves_s + KEY_LATE_S)
        # The line crossed last is the near side of the cell that the shaft rests in.
        angle = came * (float((came * rest).max()) + 0.5 * nodes.cell_deg)
        side: Side = "before" if came > 0 else "after"
        found.append(Contact(arrives_s, angle, side, bool(pressed.any()), speed))
    return tuple(found)


def _rests(nodes: Nodes) -> list[tuple[int, int]]:
    """Return first and last node of every stretch of ``HELD_S`` or more without turning."""
    time_s, angle = nodes.time_s, nodes.angle_deg
    rests: list[tuple[int, int]] = []
    for first, last in enumerate(np.searchsorted(time_s, time_s + HELD_S).tolist()):
        if last >= len(nodes) or np.ptp(angle[first : last + 1]) > REST_DEG:
            continue
        if rests and first <= rests[-1][1]:
            rests[-1] = (rests[-1][0], last)
        else:
            rests.append((first, last))
    return rests


def _came(nodes: Nodes, first: int) -> tuple[int, float]:
    """Return which way the crank came to a rest (0: it was there) and how fast at the end."""
    gone = np.flatnonzero(np.abs(nodes.angle_deg[:first] - nodes.angle_deg[first]) > GONE_DEG)
    if not len(gone):
        return 0, 0.0
    last = slice(int(gone[-1]), first + 1)
    way = 1 if nodes.angle_deg[first] > nodes.angle_deg[last.start] else -1
    return way, float(np.abs(nodes.speed_deg_s[last]).max())


def _goes(nodes: Nodes, last: int) -> int:
    """Return which way the crank leaves a rest, 0 where the recording ends."""
    gone = np.flatnonzero(np.abs(nodes.angle_deg[last:] - nodes.angle_deg[last]) > GONE_DEG)
    if not len(gone):
        return 0
    return 1 if nodes.angle_deg[last + int(gone[0])] > nodes.angle_deg[last] else -1


def tdc_by_stop(nodes: Nodes, presses: tuple[Press, ...], profile: Profile) -> StopFinding:
    """Return TDC between the contacts from both sides.

    Parameters
    ----------
    presses : tuple of Press
        Keys on the board's clock; where any is named ``"stop"``, only confirmed rests count.
    profile : Profile
        For the pin offset, where stroke and rod are known.
    """
    every = contacts_of(nodes, presses)
    confirmed = tuple(c for c in every if c.confirmed)
    notices = [notice("piston-stop")]
    if every and not confirmed:
        notices.append(notice("stop-not-confirmed", key=STOP_KEY))
    usable = confirmed or every
    agree_deg = max(AGREE_DEG, 2.0 * nodes.cell_deg)
    before, after = (_farthest(usable, side, agree_deg) for side in ("before", "after"))
    kept = (*before, *after)
    notices += _short_and_hard(usable, kept)
    if not before or not after:
        return StopFinding(None, _missing(usable, profile), kept, tuple(notices))
    upper, lower = (float(np.mean([c.angle_deg for c in side])) for side in (before, after))
    apart = upper - lower
    if not LEAST_APART_DEG < apart < MOST_APART_DEG:
        return StopFinding(None, remark("no-stop", apart_deg=apart), kept, tuple(notices))
    value, offset_sigma = _between(upper, 360.0 - apart, profile)
    sigma = float(
        np.sqrt(
            0.25 * (_sigma(before, nodes.cell_deg) ** 2 + _sigma(after, nodes.cell_deg) ** 2)
            + (BACKLASH_SIGMA_DEG / 2) ** 2
            + (WOBBLE_SIGMA_DEG * (1.0 - np.cos(np.radians(180.0 - apart / 2)))) ** 2
            + offset_sigma**2
        )
    )
    reason = remark(
        "middle-of-contacts", before=len(before), after=len(after), apart_deg=360.0 - apart
    )
    return StopFinding(Interval.from_sigma(value, sigma), reason, kept, tuple(notices))


def _farthest(contacts: tuple[Contact, ...], side: Side, agree_deg: float) -> tuple[Contact, ...]:
    own = [c for c in contacts if c.side == side]
    if not own:
        return ()
    way = 1.0 if side == "before" else -1.0
    farthest = max(way * c.angle_deg for c in own)
    return tuple(c for c in own if farthest - way * c.angle_deg <= agree_deg)


def _sigma(contacts: tuple[Contact, ...], cell_deg: float) -> float:
    """Return how well one side is known: its scatter, and the cell that repeats do not average."""
    scatter = 0.0
    if len(contacts) > 1:
        scatter = float(np.std([c.angle_deg for c in contacts], ddof=1) / np.sqrt(len(contacts)))
    else:
        scatter = cell_deg  # nothing shows how well it repeats
    return float(np.hypot(scatter, cell_deg / WIDTH_OVER_SIGMA))


def _between(upper_deg: float, gap_deg: float, profile: Profile) -> tuple[float, float]:
    """Return TDC after the contact at ``upper_deg`` and the sigma from the pin offset."""
    crank = crank_of(profile)
    rod = crank.rod_ratio if crank else USUAL_ROD_RATIO
    stated = crank is not None and profile.pin_offset_mm != 0.0
    shift = _before_tdc(gap_deg, rod, PIN_OFFSET_SIGMA) - _before_tdc(gap_deg, rod, 0.0)
    if crank is None or not stated:
        return upper_deg + gap_deg / 2, abs(shift)
    return upper_deg + _before_tdc(gap_deg, rod, crank.pin_offset_ratio), 0.1 * abs(shift)


def _before_tdc(gap_deg: float, rod_ratio: float, pin_offset_ratio: float) -> float:
    """Return how far before TDC the first of two contacts at equal piston height stands."""
    from scipy.optimize import brentq  # a fifth of a second to load: seldom needed

    def at(travel: float, side: Side) -> float:
        return float(
            angle_of_travel(
                travel, rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio, side=side
            )
        )

    stroke = stroke_ratio(rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio)
    travel = brentq(lambda t: at(t, "after") - at(t, "before") - gap_deg, 0.0, stroke)
    return -at(float(travel), "before")


def _short_and_hard(usable: tuple[Contact, ...], kept: tuple[Contact, ...]) -> list[Notice]:
    notices = []
    short = len(usable) - len(kept)
    if short:
        notices.append(notice("stop-not-reached", rests=short))
    hardest = max((c.approach_deg_s for c in kept), default=0.0)
    if hardest > STRUCK_DEG_S:
        notices.append(notice("stop-met-hard", speed_deg_s=hardest))
    return notices


def _missing(usable: tuple[Contact, ...], profile: Profile) -> Remark:
    if not usable:
        return remark("no-contact", key=STOP_KEY)
    back = usable[0].side == "before"
    if back and profile.turning_back == "never":
        return remark("one-contact-never-back")
    return remark("one-contact", way="backwards" if back else "forwards", key=STOP_KEY)
