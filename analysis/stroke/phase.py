"""Which of the two TDCs is compression? The likelihood of what each turn's TDC showed.

Four explanations are weighed: compression at the even turns, at the odd turns, at every turn
(valves that do not open, or a two-stroke), and at none (no compression reaches the sensor). What
the turns of one kind have in common is judged once, by their median: breathing repeats itself in
every cycle, so ten turns of it prove no more than one.

Turns of one kind that contradict each other are never weighed together: something has changed
between them (the encoder slipped by a whole turn, the sensor came off), and only what came after
the last contradiction counts. After one, a single compression is not enough any more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.median import median
from strokewise.analysis.profile import CycleName
from strokewise.analysis.stroke.passages import CLIPPED_SHARE, Visit
from strokewise.analysis.stroke.plateaus import PLATEAU_SHARE, plateau_evidence
from strokewise.analysis.stroke.rises import (
    RISE_TYPICAL_BAR,
    Rise,
    kind_log_likelihoods,
    log_likelihoods,
)

PRIOR_EVERY = 2e-5
"""Prior of compression at every turn: whoever turns a four-stroke with its rockers off knows it."""

PRIOR_EVERY_ONE_WAY = 1e-3
"""The same while the crank is turned one way and the other TDC is still to come."""

PRIOR_NONE = 5e-3
"""Prior of no compression at all reaching the sensor."""

PRIOR_OTHER_CYCLE = 2e-5
"""Prior that a two-stroke compresses at every second turn only: the profile is then of another
engine."""

CLEAR = 3.0
"""ln of the odds from which one visit counts as a compression, or as none, when visits are
compared."""

NOISE_SHARE = 0.1
"""What looks like noise beside a rise ten times as large is the bend of its foot."""

WEAKEST_BAR = 0.35
"""A rise smaller than this is no compression to rely on, however still the other TDC was: with a
valve that hardly shuts its peak comes so early that not even TDC is roughly known."""

LEAKY_BAR = 1.0
"""A cylinder whose compression rises by less leaks so much that one begun from standing on its
flank may rise by nothing: for such a TDC that is no overlap."""

LEAKED_AWAY_BAR = 0.1
"""What stands so far over all that the other TDC showed was squeezed, though it hardly rose there:
a slow turn, or a pause before TDC, lets a leaky cylinder's charge escape."""

UNCALIBRATED_LEAST_BAR = 0.3
"""A sensor of unknown gain must move by so much of its assumed 20 bar: less is breathing blown
up."""

UNCLEAR_SHARE = 0.1
"""What rose by less beside the other TDC's compression is breathing, or a knock. What rose by more,
and neither clearly as a compression nor clearly as breathing does, may be one whose charge leaked
while the crank crept."""

STANDS_HIGH_SHARE = 0.5
"""Where what hardly rose stood so much of the other TDC's height over its own lowest pressure, a
pause on the flank may have hidden a compression: at overlap the cylinder is open to the air."""

ALIKE_SHARE = 0.5
"""Compressions after a change rise alike; one that rises by a smaller share of the highest may be
what is left of the change, or a flank seen through a wrong profile."""

FEWEST_AFTER_CHANGE = 2
"""Compressions that must agree after something has changed: one alone may be half of the change."""


@dataclass(frozen=True, slots=True)
class Phase:
    """Posterior of the four explanations.

    ``even`` and ``odd`` speak of the turns counted from the nominal TDC.

    Attributes
    ----------
    visits : tuple of Visit
        All of them, in time order.
    changed : bool
        Earlier visits contradict later ones; only the later ones are weighed.
    weighed : int
        How many of the visits, counted from the last, were weighed.
    """

    even: float
    odd: float
    every: float
    none: float
    visits: tuple[Visit, ...]
    changed: bool = False
    weighed: int = 0

    @property
    def best(self) -> int:
        """0 for even, 1 for odd."""
        return 0 if self.even >= self.odd else 1

    @property
    def probability(self) -> float:
        """Probability of the better of even and odd."""
        return max(self.even, self.odd)

    @property
    def used(self) -> tuple[Visit, ...]:
        """The visits that were weighed."""
        return self.visits[len(self.visits) - self.weighed :]


NOTHING_KNOWN = Phase(0.5, 0.5, 0.0, 0.0, ())


def weigh(
    visits: tuple[Visit, ...],
    *,
    noise_bar: float,
    calibrated: bool = True,
    cycle: CycleName = "four-stroke",
    changed: bool = False,
) -> Phase:
    """Return the posterior of even, odd, every and none, given the visits.

    With a sensor of unknown gain only the proportion of the two kinds of turns counts, so both must
    have been visited.

    Parameters
    ----------
    visits : tuple of Visit
        In time order.
    changed : bool
        Something is known to have changed before the first of them.
    """
    prior = _log_prior(cycle, _seen_one_way(visits))
    scale = _scale(visits, calibrated)
    if scale is None:
        return _posterior(prior, visits, changed, 0)
    since = _last_change(visits, scale, noise_bar)
    changed = changed or since > 0
    used = visits[since:]
    kinds = [tuple(v for v in used if v.turn % 2 == parity) for parity in (0, 1)]
    # Noise is the sensor's, whatever the turn: the quieter kind shows it without the compression.
    quiet = [median([v.noise_bar for v in kind]) for kind in kinds if kind]
    noise_bar = max(noise_bar, min(quiet, default=0.0))
    seen = [kind_log_likelihoods(kind, scale, noise_bar) for kind in kinds]
    evidence = np.array(
        [
            seen[0][0] + seen[1][1],
            seen[0][1] + seen[1][0],
            seen[0][0] + seen[1][0],
            seen[0][1] + seen[1][1],
        ]
    )
    twice = all(len(kind) >= FEWEST_AFTER_CHANGE for kind in kinds)
    plateaus = plateau_evidence(kinds)
    evidence += plateaus
    rises = [Rise.of(kind) for kind in kinds]
    largest = max(_largest(rises), _cut_off_over_other(kinds))
    at_end, leaky = bool(plateaus.any()), largest * scale < LEAKY_BAR
    rises_say_little = not at_end and (
        largest * scale < WEAKEST_BAR
        or (cycle == "four-stroke" and _no_overlap(kinds, rises, seen))
        or (cycle == "four-stroke" and leaky and _leaked_first(kinds, rises))
        or any(_ways_contradict(kind, scale, noise_bar) for kind in kinds)
    )
    unproven = changed and not (
        (at_end and twice) or _enough_after_change(kinds, scale, noise_bar, cycle)
    )
    open_ended = not at_end and not _came_down(kinds, rises)
    if rises_say_little or unproven or open_ended:
        # What one compression says cannot be told from what is left of the change itself, and what
        # squeezed one way and never the other is neither a compression nor breathing.
        evidence = np.zeros(4)
    return _posterior(prior + evidence, visits, changed, len(used))


def _no_overlap(
    kinds: list[tuple[Visit, ...]], rises: list[Rise | None], seen: list[tuple[float, float]]
) -> bool:
    """Return whether the TDC that rose less may have squeezed as well: valves may never open.

    Its rise is not clear, or it stood too high; each is taken within a visit, so that no drift of
    the zero speaks.
    """
    known = [rise for rise in rises if rise is not None]
    if len(known) < 2 or any(v.clipped for kind in kinds for v in kind):
        return False
    leans = [squeezed - breathed for squeezed, breathed in seen]
    highs = [median([v.height_bar for v in kind]) for kind in kinds]
    lower, higher = sorted(zip((rise.bar for rise in known), leans, highs, strict=True))
    unclear = abs(lower[1]) < CLEAR and lower[0] > UNCLEAR_SHARE * higher[0]
    return unclear or (lower[1] < 0.0 < higher[1] and lower[2] > STANDS_HIGH_SHARE * higher[2])


def _leaked_first(kinds: list[tuple[Visit, ...]], rises: list[Rise | None]) -> bool:
    """Return whether each passage of the TDC that rose less began on the flank, where the crank
    stood."""
    if not all(kinds):
        return False
    lower = min(range(2), key=lambda parity: 0.0 if (r := rises[parity]) is None else r.bar)
    return all(v.from_flank for v in kinds[lower])


def _ways_contradict(kind: tuple[Visit, ...], scale: float, noise_bar: float) -> bool:
    """Return whether one TDC clearly squeezed turned one way, and clearly not turned the other.

    A swing back may be too slow to squeeze anything; that speaks for neither TDC.
    """
    ways = [tuple(v for v in kind if v.forward == forward) for forward in (True, False)]
    if not all(ways):
        return False
    rises = [Rise.of(way) for way in ways]
    if any(rise is None or rise.at_least for rise in rises):
        return False
    both = [log_likelihoods(rise, scale, noise_bar) for rise in rises]
    leans = sorted(squeezed - breathed for squeezed, breathed in both)
    return leans[0] < -CLEAR and leans[1] > CLEAR


def _came_down(kinds: list[tuple[Visit, ...]], rises: list[Rise | None]) -> bool:
    """Return whether what rose most was seen to come down again, or could not be seen to.

    A pressure that is still rising when the crank stops may peak anywhere, even at another TDC than
    the one it was met near.
    """
    highest = max(range(2), key=lambda parity: 0.0 if (r := rises[parity]) is None else r.bar)
    return any(v.fell or v.clipped for v in kinds[highest])


def _largest(rises: list[Rise | None]) -> float:
    return max((r.bar for r in rises if r is not None), default=0.0)


def _cut_off_over_other(kinds: list[tuple[Visit, ...]]) -> float:
    """Return how far the sensor's end, met at one TDC again and again, lies over the other's tops.

    Cut off there, and with a foot that is a flank already, a compression rises by less than it was.
    """
    for kind, other in (kinds, kinds[::-1]):
        if min(len(other), sum(v.clipped for v in kind)) >= FEWEST_AFTER_CHANGE:
            return median([v.top_bar for v in kind]) - max(v.top_bar for v in other)
    return 0.0


def _seen_one_way(visits: tuple[Visit, ...]) -> bool:
    """Return whether only one kind of turn was passed, and only in one direction.

    Whoever turns on will meet the other TDC within a turn and had better wait for it; whoever rocks
    the crank about one TDC will not.
    """
    return len({v.turn % 2 for v in visits}) < 2 and len({v.forward for v in visits}) < 2


def _log_prior(cycle: CycleName, one_way: bool) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    if cycle == "two-stroke":
        every = 1.0 - 2.0 * PRIOR_OTHER_CYCLE - PRIOR_NONE
        return np.log([PRIOR_OTHER_CYCLE, PRIOR_OTHER_CYCLE, every, PRIOR_NONE])
    always = PRIOR_EVERY_ONE_WAY if one_way else PRIOR_EVERY
    either = 0.5 * (1.0 - always - PRIOR_NONE)
    return np.log([either, either, always, PRIOR_NONE])


def _posterior(
    log_weight: np.ndarray[tuple[int], np.dtype[np.float64]],
    visits: tuple[Visit, ...],
    changed: bool,
    weighed: int,
) -> Phase:
    weight = np.exp(log_weight - log_weight.max())
    even, odd, every, none = (weight / weight.sum()).tolist()
    return Phase(even, odd, every, none, visits, changed, weighed)


def _scale(visits: tuple[Visit, ...], calibrated: bool) -> float | None:
    """Return what makes rises bar; None while an unknown gain leaves nothing to say."""
    if calibrated:
        return 1.0
    kinds = [[v.rise_bar for v in visits if v.turn % 2 == parity] for parity in (0, 1)]
    if not kinds[0] or not kinds[1]:
        return None
    largest = max(median(kind) for kind in kinds)
    return RISE_TYPICAL_BAR / largest if largest > UNCALIBRATED_LEAST_BAR else None


def _last_change(visits: tuple[Visit, ...], scale: float, noise_bar: float) -> int:
    """Return the first visit from which on no clear visit contradicts a later one of its kind."""
    tops = [[v.top_bar for v in visits if v.turn % 2 == parity] for parity in (0, 1)]
    leaked_bar = [max(other, default=math.inf) + LEAKED_AWAY_BAR / scale for other in tops[::-1]]
    clear = [
        (at, visit.turn % 2, squeezed)
        for at, visit in enumerate(visits)
        if (squeezed := _seems_squeezed(visit, scale, noise_bar)) is not None
        and (squeezed or visit.top_bar < leaked_bar[visit.turn % 2])
    ]
    rocked = len({v.turn for v in visits}) == 1
    known: dict[int, bool] = {}
    for place in range(len(clear) - 1, -1, -1):
        at, kind, squeezed = clear[place]
        if known.setdefault(kind, squeezed) == squeezed:
            continue
        # Rocked about one TDC, a swing too slow to squeeze anything lies between others.
        if not (rocked and not squeezed and place and clear[place - 1][2]):
            return at + 1
    return 0


def _seems_squeezed(visit: Visit, scale: float, noise_bar: float) -> bool | None:
    """Return the same, the end of the sensor's range being taken for a compression."""
    at_end = visit.top_share >= PLATEAU_SHARE
    return True if at_end else clearly_squeezed(visit, scale, noise_bar)


def clearly_squeezed(visit: Visit, scale: float = 1.0, noise_bar: float = 0.0) -> bool | None:
    """Return whether a visit by itself clearly is a compression, clearly is none, or neither."""
    if visit.top_share >= CLIPPED_SHARE:
        return None
    noise_bar = max(noise_bar, min(visit.noise_bar, NOISE_SHARE * visit.rise_bar))
    squeezed, breathed = log_likelihoods(Rise.one(visit), scale, noise_bar)
    if squeezed - breathed > CLEAR:
        return True
    return False if breathed - squeezed > CLEAR and not visit.lingered else None


def _enough_after_change(
    kinds: list[tuple[Visit, ...]], scale: float, noise_bar: float, cycle: CycleName
) -> bool:
    clear = [[clearly_squeezed(v, scale, noise_bar) for v in kind] for kind in kinds]
    rises = [
        visit.rise_bar
        for kind, told in zip(kinds, clear, strict=True)
        for visit, squeezed in zip(kind, told, strict=True)
        if squeezed and (visit.fell or visit.clipped)
    ]
    compressions = sum(rise > ALIKE_SHARE * max(rises) for rise in rises)
    quiet = sum(c is False for kind in clear for c in kind)
    return compressions >= FEWEST_AFTER_CHANGE and (quiet > 0 or cycle == "two-stroke")
