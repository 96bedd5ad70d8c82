"""Where must the distributor's drive gear start so that the rotor ends where it belongs?"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from strokewise.gui.options import (
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    say,
)

if TYPE_CHECKING:
    from strokewise.analysis.estimate import Notice
    from strokewise.analysis.ignition.drive_gear import DriveDrawing, DriveError, Lead, Meshing
    from strokewise.analysis.profile import Profile
    from strokewise.gui.standing import Standing

EXAMPLE = """\
strokewise drive --engine bench.toml
strokewise drive bench.swr --engine bench.toml --lead-1 300
strokewise drive --engine bench.toml --found 181
strokewise drive --engine bench.toml --picture drive.svg"""


@dataclass(frozen=True, slots=True)
class DriveAnswer:
    """What is said about the drive.

    Attributes
    ----------
    after_firing_1_deg : float or None
        Where the crank stands; None when a recording could not tell, and ``why_not`` says why.
    meshing, drawing : or None
        None without a drive gear in the profile, or without a place for the rotor to end.
    leads : tuple of Lead
        Empty when nobody said which way the rotor turns.
    error : DriveError or None
        Only where ``--found`` was given.
    """

    profile: Profile
    after_firing_1_deg: float | None
    why_not: str
    lead_1_deg: float
    meshing: Meshing | None
    drawing: DriveDrawing | None
    leads: tuple[Lead, ...]
    error: DriveError | None
    warnings: tuple[Notice, ...]


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise drive``."""
    parser = add_command(
        subparsers,
        "drive",
        example=EXAMPLE,
        after="Angles of rotor and leads: degrees clockwise, seen on the cap, from a line of your"
        " choice.",
    )
    parser.add_argument(
        "file", metavar="FILE", nargs="?", help="a recording; its end is where the crank stands"
    )
    parser.add_argument(
        "--after-tdc",
        metavar="DEG",
        help="crank degrees after the firing TDC of cylinder 1 (default 0 without a recording)",
    )
    parser.add_argument(
        "--lead-1", metavar="DEG", default="0", help="where the lead of cylinder 1 is (default 0)"
    )
    parser.add_argument(
        "--end", metavar="DEG", help="where the rotor must end, when it is not at a lead"
    )
    parser.add_argument(
        "--found", metavar="DEG", help="where the rotor points now, when it is in already"
    )
    parser.add_argument("--picture", metavar="OUT.svg", help="draw it into a new file, too")
    add_engine_options(parser)
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer for where the crank stands."""
    from strokewise.gui.pages.drive_words import drive_answer, drive_words
    from strokewise.gui.standing import standing

    answer = answer_for(standing(args), args)
    if args.picture is not None:
        _draw(Path(args.picture), drive_answer(answer))
    return say(args, answer, drive_answer, drive_words, decided=not answer.why_not)


def _draw(path: Path, answer: dict[str, Any]) -> None:
    from strokewise.analysis.errors import InputError
    from strokewise.gui.pages.drive_svg import drive_svg

    drawn = drive_svg(answer)
    if drawn is None:
        return  # the answer says why there is nothing to draw
    try:
        with path.open("x", encoding="utf-8") as out:
            out.write(drawn)
    except FileExistsError:
        raise InputError(f"{path} is there already: choose another name") from None


def answer_for(standing: Standing, args: argparse.Namespace) -> DriveAnswer:
    """Return the answer for where the crank stands, with the options of a command line."""
    from strokewise.analysis.ignition.drive_gear import (
        crank_per_turn,
        drawing,
        found_at,
        gear_of,
        leads,
        meshing,
    )
    from strokewise.gui.typed import number

    profile, after_deg, why_not = standing.profile, standing.after_deg, standing.why_not
    lead_1_deg = number("--lead-1", args.lead_1)
    known_way = profile.distributor_rotation is not None
    typed_end = None if args.end is None else number("--end", args.end)
    end_deg = _end(profile, after_deg, lead_1_deg, typed_end)
    if end_deg is None and not why_not:
        why_not = (
            "which way the rotor turns is not known, so with the crank away from the firing TDC of"
            " cylinder 1 its place is not known either: set distributor.rotation"
        )
    gear = gear_of(profile)
    error = None
    if args.found is not None and end_deg is not None:
        error = found_at(profile, number("--found", args.found), end_deg)
    placed = end_deg is not None
    return DriveAnswer(
        profile=profile,
        after_firing_1_deg=after_deg,
        why_not=why_not,
        lead_1_deg=lead_1_deg,
        meshing=meshing(gear, end_deg, crank_per_turn=crank_per_turn(profile)) if placed else None,
        drawing=drawing(profile, end_deg, lead_1_deg=lead_1_deg) if placed else None,
        leads=leads(profile, lead_1_deg) if known_way else (),
        error=error,
        warnings=standing.warnings,
    )


def _end(
    profile: Profile, after_deg: float | None, lead_1_deg: float, typed_deg: float | None
) -> float | None:
    """Where the rotor must end: typed, or by the crank; None where it can't be known."""
    from strokewise.analysis.ignition.drive_gear import rotor_deg

    if typed_deg is not None:
        return typed_deg
    if after_deg is None:
        return None
    if profile.distributor_rotation is not None:
        return rotor_deg(profile, after_deg, lead_1_deg)
    return lead_1_deg if after_deg == 0 else None
