"""What does an answer from before still say, once the board has started anew or its hold ended?

Live, of all angles only TDC comes back, by the encoder's index, which sits on its shaft whatever
the count is; the stroke never, until it is seen again. A recording that was made to its end may be
answered from an earlier start, which is then said first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from strokewise.analysis.crank.strokes import firing_1_from
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.analysis.verdict.hold import ENCODER_STANDS, Ended
from strokewise.analysis.verdict.verdict import Candidate, Tdc, Verdict

BOARD_RESTARTED: Final = "board-restarted"
"""Code of the warning that the board started anew."""

BY_INDEX: Final = "tdc-by-index"
"""Code of the reason of an answer that :func:`by_index` gave."""

INDEX_COUNTS = 1.0
"""An index edge and the count latched at it may differ by a cell, then and now."""


@dataclass(frozen=True, slots=True)
class Before:
    """How the last hold ended.

    Attributes
    ----------
    starts : int
        How often the board has started.
    ended : Ended or None
        How the hold ended; None where the board started anew, or none has ended yet.
    """

    starts: int = 1
    ended: Ended | None = None

    @property
    def why(self) -> Remark | None:
        """Why nothing from before counts any more; None where nothing has ended."""
        ended = self.ended
        if ended is not None:
            return remark("did-not-follow", moved_s=ended.moved_s, stood_s=ended.stood_s)
        return remark("started-anew") if self.starts > 1 else None

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What a person must know of it, whatever has been found since."""
        if self.ended is not None:
            return (notice(ENCODER_STANDS, why=self.why),)
        if self.starts < 2:
            return ()
        return (notice(BOARD_RESTARTED, starts=self.starts),)


def by_index(
    verdict: Verdict,
    before: Before,
    tdc: Tdc | None,
    index_deg: float | None,
    cell_deg: float,
    profile: Profile,
) -> Verdict:
    """Return a verdict without TDC with the one from before, put where the index shows it to be."""
    if verdict.tdc is not None or verdict.decided or index_deg is None:
        return verdict
    if tdc is None or tdc.after_index_deg is None:
        return verdict
    value = (index_deg + tdc.after_index_deg) % 360.0
    give = INDEX_COUNTS * abs(cell_deg)
    old = tdc.angle_deg
    angle = Interval(
        value, value - (old.value - old.low) - give, value + old.high - old.value + give
    )
    two_stroke = profile.cycle == "two-stroke"
    places = (value,) if two_stroke else (value, value + 360.0)
    share = 1.0 / len(places)
    return replace(
        verdict,
        reason=remark(BY_INDEX, why=before.why),
        tdc=replace(tdc, angle_deg=angle),
        probability=share,
        candidates=tuple(
            Candidate(firing_1_from(profile, tdc.cylinder, place), share) for place in places
        ),
    )


def with_why(verdict: Verdict, before: Before) -> Verdict:
    """Return the verdict of the present hold, which says what ended the one before."""
    if before.why is None:
        return verdict
    reason = verdict.reason
    if not verdict.decided and reason.code != BY_INDEX:
        reason = remark("no-longer-holds", why=before.why, now=reason)
    return replace(verdict, reason=reason, warnings=(*verdict.warnings, *before.notices))


def with_earlier(verdict: Verdict, old: Verdict | None, before: Before) -> Verdict:
    """Return the answer of a recording: where its end decides nothing, the last one that did.

    That it is of an earlier start or hold stands in ``earlier``, and first in its reason.
    """
    if verdict.decided or old is None:
        return verdict
    earlier = remark("from-before", why=before.why)
    return replace(
        old,
        reason=remark("answer-from-before", earlier=earlier, answer=old.reason),
        earlier=earlier,
        warnings=(*old.warnings, Notice(before.notices[0].code, earlier)),
    )
