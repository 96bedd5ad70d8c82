"""What does the headline of a step say first where TDC is too rough to set anything by?"""

from __future__ import annotations

from strokewise.analysis.profile import Profile
from strokewise.gui.models.near import ROUGH_DEG, narrowing_sentence, near_words
from strokewise.gui.pages.headline import Claim, Rank
from strokewise.gui.pages.sign import STROKE_SURE, Sign


def is_rough(within_deg: float) -> bool:
    """Return whether TDC is known no better than what wants narrowing."""
    return within_deg > ROUGH_DEG


def rough_claims(within_deg: float, profile: Profile) -> tuple[Claim, ...]:
    """Return how near TDC is, and what narrows it; nothing where it is near enough.

    Parameters
    ----------
    within_deg : float
        How near TDC is known; 0 where the crank is only said to stand somewhere.
    """
    if not is_rough(within_deg):
        return ()
    narrow = narrowing_sentence(within_deg, profile.turning_back)
    return (Claim(f"{near_words(within_deg)}, too rough to set this by. {narrow}", Rank.UNKNOWN),)


def rough_sign(within_deg: float) -> Sign | None:
    """Return the sign of an answer that speaks of the stroke alone; None where it need not."""
    return STROKE_SURE if is_rough(within_deg) else None
