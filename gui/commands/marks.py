"""Where do the timing marks really stand, and why are they off?"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from strokewise.gui.options import (
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    say,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strokewise.analysis.estimate import Interval, Notice
    from strokewise.analysis.marks.mark_causes import MarkCauses
    from strokewise.analysis.marks.mark_evidence import Clamp
    from strokewise.analysis.marks.marks import MarkPlace
    from strokewise.analysis.profile import Mark
    from strokewise.gui.found import Found

EXAMPLE = """\
strokewise marks bench.swr --engine bench.toml
strokewise marks bench.swr --stated "pulley notch=123.4" --json
strokewise marks bench.swr --earlier "pulley notch=7.4,7.1,7.7" --cam-shift 17,15,19"""

STEADY_PASSES = 4
"""So many compressions with one TDC between them, and no slip seen: the clamp held."""


@dataclass(frozen=True, slots=True)
class MarksAnswer:
    """What is said about the marks; ``decided`` as in :func:`decide`."""

    decided: bool
    reason: str
    places: tuple[MarkPlace, ...]
    causes: MarkCauses
    found: Found
    warnings: tuple[Notice, ...]


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise marks``."""
    parser = add_command(
        subparsers,
        "marks",
        example=EXAMPLE,
        after="Marks come from [[marks]] of the profile; a mark pressed on the screen by its name.",
    )
    parser.add_argument("file", metavar="FILE", help="a recording")
    parser.add_argument(
        "--stated",
        metavar="NAME=DEG",
        action="append",
        default=[],
        help="crank angle (encoder frame) at which a mark met its pointer, as read off",
    )
    parser.add_argument(
        "--earlier",
        metavar="NAME=DEG[,LOW,HIGH]",
        action="append",
        default=[],
        help="how late a mark was in an earlier recording",
    )
    parser.add_argument(
        "--cam-shift", metavar="DEG[,LOW,HIGH]", help="how late the cam is, from pressure"
    )
    add_engine_options(parser)
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer for every mark of the profile and every name pressed."""
    from strokewise.gui.found import found_in
    from strokewise.gui.pages.marks_words import marks_answer, marks_words

    answer = answer_for(found_in(args.file, args), args)
    return say(args, answer, marks_answer, marks_words, decided=answer.decided)


def answer_for(found: Found, args: argparse.Namespace) -> MarksAnswer:
    """Return the answer for what was found, with the options of a command line."""
    from strokewise.analysis.estimate import Notice
    from strokewise.analysis.marks.mark_causes import weigh_causes
    from strokewise.analysis.marks.marks import shared_step_deg
    from strokewise.gui.typed import interval, named

    places = place_all(found, _stated(args))
    names = [place.mark.name for place in places]
    earlier: dict[str, Interval] = {}
    for text in args.earlier:
        name, value = named("--earlier", text, '"pulley notch=7.4,7.1,7.7"')
        earlier[_known("--earlier", name, names)] = interval("--earlier", value)
    slipped_deg = shared_step_deg(places)
    if slipped_deg is not None:  # a jump of all marks is not a ring that moves
        places = tuple(replace(place, drift=None) for place in places)
    causes = weigh_causes(
        places,
        found.profile,
        cam_shift=interval("--cam-shift", args.cam_shift) if args.cam_shift else None,
        earlier_late=earlier,
        clamp="slipped" if slipped_deg is not None else clamp_of(found),
    )
    decided, reason = decide(found, places, causes)
    warnings = [*found.verdict.warnings, *(n for place in places for n in place.notices)]
    if slipped_deg is not None and not any(n.code == "clamp-slip" for n in warnings):
        warnings.append(Notice("clamp-slip", slip_words(slipped_deg)))
    return MarksAnswer(decided, reason, places, causes, found, tuple(warnings))


def _stated(args: argparse.Namespace) -> dict[str, list[float]]:
    from strokewise.gui.typed import named, number

    stated: dict[str, list[float]] = {}
    for text in args.stated:
        name, value = named("--stated", text, '"pulley notch=123.4"')
        stated.setdefault(name, []).append(number("--stated", value))
    return stated


def _known(option: str, name: str, names: Sequence[str]) -> str:
    from strokewise.analysis.errors import InputError

    if name not in names:
        listed = ", ".join(f'"{one}"' for one in names) or "none"
        raise InputError(f'{option}: no mark is named "{name}"; there are {listed}')
    return name


def marks_of(found: Found, stated: dict[str, list[float]]) -> tuple[Mark, ...]:
    """Return the profile's marks, and one for every other name that was pressed or read off."""
    from strokewise.analysis.profile import Mark

    marks = {mark.name: mark for mark in found.profile.marks}
    for name in (*found.pressed_names, *stated):
        marks.setdefault(name, Mark(name))
    return tuple(marks.values())


def place_all(found: Found, stated: dict[str, list[float]]) -> tuple[MarkPlace, ...]:
    """Return where every mark stands; nothing while TDC itself is not found."""
    from strokewise.analysis.marks.marks import place_mark
    from strokewise.analysis.trace.marks_met import MarkPress

    if found.segment is None or found.tdc_1 is None:
        return ()
    places = []
    for mark in marks_of(found, stated):
        seen = found.seen_of(mark)
        read = tuple(MarkPress(angle) for angle in stated.get(mark.name, ()))
        seen = replace(seen, presses=(*seen.presses, *read))
        places.append(place_mark(seen, found.profile, found.tdc_1, found.firing_1_deg))
    return tuple(places)


def clamp_of(found: Found) -> Clamp:
    """Return what the recording says of the encoder's clamp."""
    if any(notice.code == "clamp-slip" for notice in found.verdict.warnings):
        return "slipped"
    tdc = found.verdict.tdc
    return "steady" if tdc is not None and tdc.passes >= STEADY_PASSES else "unknown"


def slip_words(slipped_deg: float) -> str:
    """Return the warning of a clamp that was seen to slip by marks on different parts."""
    return (
        f"marks on different parts jumped by {slipped_deg:+.1f}° together: the encoder's clamp"
        " slipped; angles before and after it do not belong together. Tighten it and record again"
    )


def decide(found: Found, places: Sequence[MarkPlace], causes: MarkCauses) -> tuple[bool, str]:
    """Return whether every mark that was met has its place, its turn included, and the reason."""
    met = [place for place in places if place.after_tdc is not None]
    if found.tdc_1 is None:
        return False, f"TDC is not found: {found.verdict.reason}"
    if not places:
        return False, "no marks: name them under [[marks]] in the profile, or press their keys"
    if not met:
        return False, "no mark was met: turn the crank right past its pointer, or press its key"
    if any(place.turn is None for place in met):
        return False, f"a half-speed mark's turn is open: {found.verdict.reason}"
    if causes.decided:
        return True, f"most probable: {causes.findings[0].cause}"
    if not causes.findings:
        return True, "marks measured; none states what it should show, so no cause is weighed"
    return True, f"marks measured; the cause is open. {causes.next_look}"
