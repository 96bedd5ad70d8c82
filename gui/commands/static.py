"""Where must the crank stand for the static timing, and does a strobe agree with it?"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strokewise.gui.options import (
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    say,
)

if TYPE_CHECKING:
    from strokewise.analysis.estimate import Interval, Notice
    from strokewise.analysis.ignition.static_timing import Move, TimingPoint
    from strokewise.analysis.ignition.strobe import StrobeCheck, StrobeReading
    from strokewise.analysis.profile import Profile
    from strokewise.gui.standing import Standing

EXAMPLE = """\
strokewise static bench.swr --advance "6 deg BTDC"
strokewise static --engine bench.toml --rim "8.4 mm"
strokewise static --curve 800=0,3000=20 --strobe 700=13 --strobe 3200=33"""


@dataclass(frozen=True, slots=True)
class StaticAnswer:
    """What is said about the static timing.

    Attributes
    ----------
    point : TimingPoint
        The advance in everything that can be measured.
    target_deg : float or None
        Crank angle after cylinder 1's firing TDC to turn to, in the cycle.
    moves : tuple of Move or None
        How to get there from where the crank stands; None where that is not known.
    strobe : StrobeCheck or None
        Only where readings were given.
    """

    profile: Profile
    cylinder: int
    point: TimingPoint
    target_deg: float
    after_firing_1_deg: float | None
    moves: tuple[Move, ...] | None
    strobe: StrobeCheck | None
    readings: tuple[StrobeReading, ...]
    why_not: str
    warnings: tuple[Notice, ...]


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise static``."""
    parser = add_command(
        subparsers,
        "static",
        about="Turn static timing into what can be measured, and check it with a strobe.",
        example=EXAMPLE,
        after="The curve is what is added to the static figure: crank speed=crank degrees.",
    )
    parser.add_argument(
        "file", metavar="FILE", nargs="?", help="a recording; its end is where the crank stands"
    )
    parser.add_argument("--cylinder", type=int, default=1, metavar="N", help="default 1")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--advance", metavar="ANGLE", help='"6 deg BTDC", before the profile\'s own')
    what.add_argument("--rim", metavar="LEN", help='along the pulley\'s rim before TDC: "8.4 mm"')
    what.add_argument("--chord", metavar="LEN", help="straight across the rim before TDC")
    what.add_argument("--teeth", metavar="N", help="flywheel teeth before TDC")
    what.add_argument("--travel", metavar="LEN", help="piston below its top, before TDC")
    parser.add_argument(
        "--strobe",
        metavar="RPM=DEG",
        action="append",
        default=[],
        help="degrees before TDC that the mark shows at a crank speed; may be given several times",
    )
    parser.add_argument("--curve", metavar="RPM=DEG,…", help="the advance curve, by crank speed")
    parser.add_argument(
        "--mark-late",
        metavar="DEG[,LOW,HIGH]",
        help="how late the mark itself is, as strokewise marks found it",
    )
    add_engine_options(parser)
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer for the advance asked about."""
    from strokewise.gui.pages.static_words import static_answer, static_words
    from strokewise.gui.standing import standing

    answer = answer_for(standing(args), args)
    return say(args, answer, static_answer, static_words, decided=not answer.why_not)


def answer_for(standing: Standing, args: argparse.Namespace) -> StaticAnswer:
    """Return the answer for the advance asked about, with the options of a command line.

    Without a recording nobody has said where the crank stands, so there is no way to turn it.
    """
    from strokewise.analysis.ignition.static_timing import approach, static_target, timing_point

    profile, why_not = standing.profile, standing.why_not
    after_deg = standing.after_deg if args.file is not None else None
    btdc_deg = _advance(profile, args)
    target_deg = static_target(profile, 0.0, args.cylinder, btdc_deg)
    moves = None
    if after_deg is not None:
        moves = approach(
            after_deg,
            target_deg,
            cycle_deg=profile.cycle_deg,
            turning_back=profile.turning_back,
        )
    check, readings = _strobe(btdc_deg, args)
    if check is not None and check.culprits == ("unknown",) and not why_not:
        why_not = check.words
    return StaticAnswer(
        profile=profile,
        cylinder=args.cylinder,
        point=timing_point(profile, btdc_deg),
        target_deg=target_deg,
        after_firing_1_deg=after_deg,
        moves=moves,
        strobe=check,
        readings=readings,
        why_not=why_not,
        warnings=standing.warnings,
    )


def _advance(profile: Profile, args: argparse.Namespace) -> float:
    """Degrees before TDC, from whatever was given."""
    from strokewise.analysis.errors import InputError
    from strokewise.analysis.ignition.static_timing import (
        btdc_from_arc,
        btdc_from_chord,
        btdc_from_teeth,
        btdc_from_travel,
    )
    from strokewise.daq.profile.quantity import read_after_tdc
    from strokewise.gui.typed import number, quantity

    if args.rim is not None:
        return btdc_from_arc(profile, quantity("--rim", args.rim))
    if args.chord is not None:
        return btdc_from_chord(profile, quantity("--chord", args.chord))
    if args.teeth is not None:
        return btdc_from_teeth(profile, number("--teeth", args.teeth))
    if args.travel is not None:
        return btdc_from_travel(profile, quantity("--travel", args.travel))
    if args.advance is not None:
        try:
            return -read_after_tdc(args.advance)
        except InputError as error:
            raise InputError(f'--advance "{args.advance}" {error}') from None
    if profile.static_advance_btdc_deg is None:
        raise InputError(
            'no static timing known: give --advance "6 deg BTDC", or static_timing.advance in the'
            " profile"
        )
    return profile.static_advance_btdc_deg


def _strobe(
    btdc_deg: float, args: argparse.Namespace
) -> tuple[StrobeCheck | None, tuple[StrobeReading, ...]]:
    from strokewise.analysis.errors import InputError
    from strokewise.analysis.ignition.strobe import StrobeReading, check_strobe
    from strokewise.gui.typed import interval

    if not args.strobe:
        if args.curve or args.mark_late:
            raise InputError("--curve and --mark-late go with --strobe RPM=DEG")
        return None, ()
    readings = tuple(StrobeReading(*_pair("--strobe", text)) for text in args.strobe)
    curve = [_pair("--curve", part) for part in (args.curve or "").split(",") if part]
    late: Interval | None = None
    if args.mark_late is not None:
        late = interval("--mark-late", args.mark_late)
    return check_strobe(readings, btdc_deg, curve, mark_late=late), readings


def _pair(option: str, text: str) -> tuple[float, float]:
    """Return speed in rev/min and crank degrees."""
    from strokewise.gui.typed import named, number

    speed, angle = named(option, text, "800=16")
    return number(option, speed), number(option, angle)
