"""Did the encoder lose counts? Its own index says: it comes round once a turn, whatever the count.

Turned one way the index is always met at the same edge, so between two such meetings lie whole
turns of counts. Turned the other way its other edge is met; the two are told apart by the counts
themselves and never compared.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from strokewise.analysis.crank.angle import DEFAULT_COUNTS_PER_REV, deg_per_count
from strokewise.analysis.median import median
from strokewise.analysis.profile import Encoder
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.samples import INDEX_INPUT, Events, IntArray

INDEX_MISMATCH: Final = "index-mismatch"

SLACK_COUNTS = 2
"""An edge and a count latched at it may differ by a cell, at either end."""

MISPITCH_TURNS = 3
"""So many turns alike, each off by the same, are an encoder of another number of counts …"""

ALIKE_TURNS_SHARE = 0.8
"""… and of all turns so large a share must be alike: the others lost an index pulse."""


@dataclass(frozen=True, slots=True)
class CountFault:
    """Counts lost or gained between two meetings with the index.

    Attributes
    ----------
    after_s, time_s : float
        Board time of the last meeting before and the first after it: what was counted in between
        is in doubt, what came before and what comes after hang together in themselves.
    counts : int
        How many came too many, by the net turning in between; negative when some were lost.
    """

    after_s: float
    time_s: float
    counts: int


def count_faults(events: Events, encoder: Encoder) -> tuple[CountFault, ...]:
    """Return every stretch between two meetings with the index that is not whole turns long.

    Parameters
    ----------
    events : Events
        Of one segment, in order of time; only input 0 is looked at.

    Returns
    -------
    tuple of CountFault
        In order of time; empty for a sound encoder, for none with an index, and for an encoder
        whose stated number of counts is wrong (see :func:`stated_otherwise`).
    """
    return _faults(events, encoder) if stated_otherwise(events, encoder) is None else ()


def _faults(events: Events, encoder: Encoder) -> tuple[CountFault, ...]:
    per_turn = encoder.counts_per_rev or DEFAULT_COUNTS_PER_REV
    faults = []
    for time_s, count in _each_way(events, per_turn):
        step = np.diff(count)
        # Lost counts shorten a turn by their own direction; 'too many' means beyond the turns.
        off = step - per_turn * np.round(step / per_turn).astype(np.int64)
        sign = np.where(step < 0, -1, 1)
        faults += [
            CountFault(float(time_s[i]), float(time_s[i + 1]), int(off[i] * sign[i]))
            for i in np.flatnonzero(np.abs(off) > SLACK_COUNTS)
        ]
    return tuple(sorted(faults, key=lambda fault: fault.time_s))


def stated_otherwise(events: Events, encoder: Encoder) -> int | None:
    """Return the counts of a turn by the index, where they differ from those stated every time.

    None where they agree, or where too few turns were seen to say.
    """
    per_turn = encoder.counts_per_rev or DEFAULT_COUNTS_PER_REV
    step = np.diff(events.count[events.input == INDEX_INPUT])
    # Rocked about the index the steps go to and fro; two on end the same way span a turn each.
    on_end = np.sign(step[1:]) == np.sign(step[:-1])
    whole = np.abs(step[1:][on_end])
    if (np.abs(np.abs(step) - per_turn) <= SLACK_COUNTS).any():
        return None  # one turn as stated is enough: longer ones have lost an index pulse
    whole = whole[whole > 0.5 * whole.max(initial=0)]
    if len(whole) < MISPITCH_TURNS:
        return None
    usual = int(median(whole))
    alike = np.abs(whole - usual) <= SLACK_COUNTS
    if alike.mean() < ALIKE_TURNS_SHARE or abs(usual - per_turn) <= SLACK_COUNTS:
        return None
    return usual


def count_notices(events: Events, encoder: Encoder) -> tuple[Notice, ...]:
    """Return what a person must know about the count: how many are off, how often and when."""
    per_turn = encoder.counts_per_rev or DEFAULT_COUNTS_PER_REV
    usual = stated_otherwise(events, encoder)
    if usual is not None:
        return (notice(INDEX_MISMATCH, counts=usual, stated=per_turn),)
    faults = _faults(events, encoder)
    if not faults:
        return ()
    total = sum(abs(fault.counts) for fault in faults)
    last = faults[-1]
    return (
        notice(
            "lost-counts",
            counts=total,
            crank_deg=total * abs(deg_per_count(encoder)),
            turns=len(faults),
            after_s=last.after_s,
            until_s=last.time_s,
        ),
    )


def _each_way(events: Events, per_turn: int) -> list[tuple[np.ndarray, IntArray]]:
    """Part the index's meetings by the way the count went: rising, then falling."""
    own = events.input == INDEX_INPUT
    time_s, count = events.time_us[own] * 1e-6, events.count[own]
    if len(count) < 2:
        return []
    step = np.diff(count)
    far = np.abs(step) > per_turn / 2
    # Met again without a turn between, the shaft went back: by the index's width, to its far edge.
    way = np.empty(len(count), np.int64)
    way[0] = np.sign(step[0]) or 1
    for i, (by, is_far) in enumerate(zip(step.tolist(), far.tolist(), strict=True)):
        way[i + 1] = np.sign(by) if is_far else -way[i]
    return [(time_s[way == side], count[way == side]) for side in (1, -1)]
