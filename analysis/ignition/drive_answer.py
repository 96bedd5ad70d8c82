"""Where must the distributor's drive gear start so that the rotor ends where it belongs?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.ignition.drive_gear import (
    DriveDrawing,
    DriveError,
    Lead,
    Meshing,
    crank_per_turn,
    drawing,
    found_at,
    gear_of,
    leads,
    meshing,
    rotor_deg,
    way_round,
)
from strokewise.analysis.ignition.pump_slot import Seating, seating
from strokewise.analysis.profile import Profile
from strokewise.analysis.question import saying
from strokewise.analysis.remark import Notice, Remark
from strokewise.analysis.verdict.found import Standing

Open = Literal["", "crank", "rotation"]
"""What is not known: where the crank stands, or which way the rotor turns away from TDC."""


@dataclass(frozen=True, slots=True)
class DriveQuestion:
    """What a person may say of the drive.

    Attributes
    ----------
    after_tdc_deg : float or None
        Where the crank stands, after the firing TDC of cylinder 1; before what was measured.
    lead_1_deg : float
        Where the lead of cylinder 1 is on the cap, clockwise from a line of choice.
    end_deg : float or None
        Where the rotor must end, when it is not at a lead.
    found_deg : float or None
        Where the rotor points now, when it is in already.
    slot_deg : float or None
        Where the oil pump's slot stands now.
    """

    after_tdc_deg: float | None = saying("number")
    lead_1_deg: float = saying("number", 0.0)
    end_deg: float | None = saying("number")
    found_deg: float | None = saying("number")
    slot_deg: float | None = saying("number")


@dataclass(frozen=True, slots=True)
class DriveAnswer:
    """What is said about the drive.

    Attributes
    ----------
    open : str
        What is not known, so that the rotor's end is not known either; empty where it is.
    why_not : Remark or None
        Why it is not known where the crank stands; None where it is.
    after_firing_1_deg : float or None
        Where the crank stands; None when a recording could not tell.
    meshing, drawing : or None
        None where it is not known where the rotor must end.
    leads : tuple of Lead
        Empty when nobody said which way the rotor turns.
    error : DriveError or None
        Only where it was said where the rotor points now.
    """

    profile: Profile
    open: Open
    why_not: Remark | None
    after_firing_1_deg: float | None
    lead_1_deg: float
    meshing: Meshing | None
    drawing: DriveDrawing | None
    leads: tuple[Lead, ...]
    error: DriveError | None
    warnings: tuple[Notice, ...]
    seating: Seating | None = None
    """The oil pump's slot, and when the gear is home; None where the rotor's end is not known."""
    within_deg: float = 0.0
    """How near TDC is known, and so where the crank stands; 0 where it is only said."""

    @property
    def decided(self) -> bool:
        """Whether it is known where the rotor must end."""
        return self.meshing is not None


def drive_answer(question: DriveQuestion, standing: Standing) -> DriveAnswer:
    """Return where the rotor must start for where the crank stands.

    Raises
    ------
    InputError
        The profile has no drive gear, or a gear that cannot be.
    """
    standing = standing.at(question.after_tdc_deg)
    profile, after_deg = standing.profile, standing.after_deg
    end_deg = _end(profile, after_deg, question)
    gear = gear_of(profile)
    error = None
    if question.found_deg is not None and end_deg is not None:
        error = found_at(profile, question.found_deg, end_deg)
    known_way = profile.distributor_rotation is not None
    placed = end_deg is not None
    return DriveAnswer(
        profile=profile,
        open="crank" if standing.why_not else "" if placed else "rotation",
        why_not=standing.why_not,
        after_firing_1_deg=after_deg,
        lead_1_deg=question.lead_1_deg,
        meshing=None
        if end_deg is None
        else meshing(gear, end_deg, crank_per_turn=crank_per_turn(profile)),
        drawing=None
        if end_deg is None
        else drawing(profile, end_deg, lead_1_deg=question.lead_1_deg),
        leads=leads(profile, question.lead_1_deg) if known_way else (),
        error=error,
        warnings=standing.warnings,
        seating=None
        if end_deg is None
        else seating(
            gear,
            end_deg,
            crank_per_turn=crank_per_turn(profile),
            way=way_round(profile),
            slot_deg=question.slot_deg,
        ),
        within_deg=standing.within_deg,
    )


def _end(profile: Profile, after_deg: float | None, question: DriveQuestion) -> float | None:
    """Where the rotor must end: as said, or by the crank; None where it can't be known."""
    if question.end_deg is not None:
        return question.end_deg
    if after_deg is None:
        return None
    if profile.distributor_rotation is not None:
        return rotor_deg(profile, after_deg, question.lead_1_deg)
    return question.lead_1_deg if after_deg == 0 else None
