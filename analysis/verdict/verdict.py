"""What is the answer? Which TDC, how sure, and what to do next.

All angles are crank degrees in the encoder frame, which lives from one start of the board to the
next; positive means later in the engine's own direction of turning.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from strokewise.analysis.estimate import Interval
from strokewise.analysis.remark import Notice, Remark
from strokewise.analysis.samples import Health
from strokewise.analysis.tdc.diagnostics import Diagnostics

AskedMethod = Literal[
    "fit", "rocking", "stop", "peak", "fixed-loss", "chords", "polytropic", "heat-shape"
]
"""The ways to TDC that a person may ask for."""

Method = AskedMethod | Literal["rough"]
"""How TDC was found: as asked for, or no better than roughly, with nothing fitted."""

TDC_MOST_DEG = 30.0
"""A TDC no surer than this is a rough one, and not given as TDC."""

DECIDED_AT = 0.9999
"""Probability from which the firing TDC counts as told apart from the overlap TDC.

A wrong call sets clearances on lifted valves and the ignition half a turn out."""


@dataclass(frozen=True, slots=True)
class Tdc:
    """Top dead centre of the sensed cylinder.

    Attributes
    ----------
    angle_deg : Interval
        Value in [0, 360); the interval is not wrapped.
    after_index_deg : float or None
        The same after the encoder's index, where there is one.
    passes : int
        Compressions (or stop contacts) that the answer rests on.
    """

    angle_deg: Interval
    cylinder: int
    method: Method
    passes: int
    after_index_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Candidate:
    """One possible firing TDC of cylinder 1 in [0, 720), and its probability.

    ``within_deg`` is how far off a rough one may be; None where TDC is given with its interval.
    """

    firing_1_deg: float
    probability: float
    within_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Compression:
    """Peak pressure over the passes: the median, absolute, in bar."""

    peak_bar: float
    peak_gauge_bar: float
    passes: int


@dataclass(frozen=True, slots=True)
class Verdict:
    """The whole answer of ``find`` and of the live tracker.

    Attributes
    ----------
    decided : bool
        The compression TDC has been told apart from the overlap TDC with at least ``DECIDED_AT``.
    reason : Remark
        Why; or why not and what to do next. ``strokewise.gui.sayings.say`` gives its sentence.
    firing_deg : dict of int to float, or None
        Firing TDC of every cylinder in [0, cycle), only when decided.
    probability : float
        Of the most likely candidate.
    clipped : float
        Share of the readings that stood at either end of the converter.
    segment : int or None
        The segment that the answer speaks of.
    earlier : Remark or None
        Why this is the answer of an earlier start of the board or hold of the clamp; None where
        it is that of the last one.
    unchecked_since_s : float or None
        Since when, on the board's clock, nothing has checked the clamp; None where compressions do.
    diagnostics : Diagnostics or None
        What the joint fit tells of the engine beside TDC, once a recording is closed.

    Examples
    --------
    >>> from strokewise.analysis import find
    >>> from strokewise.daq import read_with_profile
    >>> bench = read_with_profile("recordings/cranked.swr")
    >>> verdict = find(bench.recording, bench.profile)
    >>> verdict.decided, verdict.tdc.method, verdict.probability >= 0.9999
    (True, 'fit', True)
    """

    decided: bool
    reason: Remark
    warnings: tuple[Notice, ...] = ()
    tdc: Tdc | None = None
    firing_deg: dict[int, float] | None = None
    probability: float = 0.0
    candidates: tuple[Candidate, ...] = ()
    compression: Compression | None = None
    health: Health = field(default_factory=Health)
    clipped: float = 0.0
    segment: int | None = None
    earlier: Remark | None = None
    unchecked_since_s: float | None = None
    diagnostics: Diagnostics | None = None
