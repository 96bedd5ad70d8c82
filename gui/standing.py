"""Where does the crank stand, for a command that says what to do there?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strokewise.analysis.errors import InputError
from strokewise.gui import found
from strokewise.gui.options import known_from
from strokewise.gui.typed import number

if TYPE_CHECKING:
    import argparse

    from strokewise.analysis.estimate import Notice
    from strokewise.analysis.profile import Profile


@dataclass(frozen=True, slots=True)
class Standing:
    """The engine, and where its crank stands.

    ``after_deg`` is after cylinder 1's firing TDC; None when a recording could not tell, and
    ``why_not`` says why.
    """

    profile: Profile
    after_deg: float | None
    why_not: str
    warnings: tuple[Notice, ...]


def standing(args: argparse.Namespace) -> Standing:
    """Return where the crank stands: typed as ``--after-tdc``, or at the end of the recording.

    Without either it stands at the firing TDC of cylinder 1.
    """
    after_tdc = getattr(args, "after_tdc", None)
    typed_deg = None if after_tdc is None else number("--after-tdc", after_tdc)
    if args.file is None:
        known = known_from(args)
        if not known.stated:
            raise InputError(
                "no engine is stated, and none is made up: give a recording, --engine PROFILE, or"
                " --set cylinders=4 --set firing_order=1-3-4-2"
            )
        return Standing(known.profile, typed_deg or 0.0, "", tuple(known.notices))
    return standing_of(found.found_in(args.file, args), typed_deg)


def standing_of(seen: found.Found, typed_deg: float | None = None) -> Standing:
    """Return where the crank stood at the end of what was seen, or where it is said to stand."""
    after_deg = seen.after_firing_1_deg if typed_deg is None else typed_deg
    why_not = seen.why_no_angle if after_deg is None else ""
    return Standing(seen.profile, after_deg, why_not, seen.verdict.warnings)
