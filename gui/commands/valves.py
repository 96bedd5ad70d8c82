"""Which valves can be set now, where to turn next, and does each gap come out right?"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
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
    from strokewise.analysis.profile import Profile
    from strokewise.analysis.valves.clearances import FeelerStack, Gap, ShimChoice
    from strokewise.analysis.valves.valve_setting import ValveSetting
    from strokewise.gui.standing import Standing

EXAMPLE = """\
strokewise valves bench.swr --done 1E,1I --gap "1E=0.40 mm, 0.36 mm, 0.35 mm"
strokewise valves --engine bench.toml --after-tdc 0
strokewise valves --engine bench.toml --gap "2I=0.010 in" --fitted "2I=2.45 mm\""""


@dataclass(frozen=True, slots=True)
class Measures:
    """What goes with the setting: shims by valve, feeler stacks by kind of valve."""

    shims: dict[str, tuple[ShimChoice, ...]]
    feelers: dict[str, tuple[FeelerStack, ...]]


@dataclass(frozen=True, slots=True)
class ValvesAnswer:
    """What is said about the valves: where the crank stands, what can be set, what goes with it."""

    standing: Standing
    setting: ValveSetting
    measures: Measures


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise valves``."""
    parser = add_command(
        subparsers,
        "valves",
        example=EXAMPLE,
        after="Without a recording, angles count from the firing TDC of cylinder 1.",
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
        "--done",
        metavar="VALVES",
        action="append",
        default=[],
        help="set already: 1E,2I or their numbers along the head",
    )
    parser.add_argument(
        "--gap",
        metavar="VALVE=GAPS",
        action="append",
        default=[],
        help='as found, as set, after the locknut was nipped up: "1E=0.40 mm, 0.36 mm, 0.35 mm"',
    )
    parser.add_argument(
        "--fitted",
        metavar="VALVE=SHIM",
        action="append",
        default=[],
        help="thickness of the fitted shim; --gap gives the gap as found",
    )
    parser.add_argument("--shims", metavar="SIZES", help='shims at hand: "2.40 mm, 2.45 mm"')
    parser.add_argument(
        "--blades", choices=("metric", "inch"), default="metric", help="which set of feelers"
    )
    parser.add_argument("--engine-is", choices=("cold", "hot"), help="how warm the engine is now")
    add_engine_options(parser)
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer for where the crank stands."""
    from strokewise.gui.pages.valves_words import valves_answer, valves_words
    from strokewise.gui.standing import standing

    answer = answer_for(standing(args), args)
    return say(args, answer, valves_answer, valves_words, decided=not answer.standing.why_not)


def answer_for(standing: Standing, args: argparse.Namespace) -> ValvesAnswer:
    """Return the answer for where the crank stands, with the options of a command line."""
    from strokewise.analysis.valves.valve_setting import valve_setting

    profile = standing.profile
    setting = valve_setting(
        profile,
        0.0,
        standing.after_deg or 0.0,
        done=_keys(profile, args.done),
        gaps=_gaps(profile, args.gap),
        engine_is=args.engine_is,
    )
    return ValvesAnswer(standing, setting, _measures(profile, setting, args))


def _keys(profile: Profile, texts: Sequence[str]) -> tuple[str, ...]:
    """Valves by key or by number along the head, as keys."""
    from strokewise.analysis.valves.base_circle import check_keys, valves_of
    from strokewise.gui.typed import joined

    by_number = {str(v.number): v.key for v in valves_of(profile) if v.number is not None}
    keys = tuple(by_number.get(part, part.upper()) for part in joined(texts))
    check_keys(profile, keys)
    return keys


def _gaps(profile: Profile, texts: Sequence[str]) -> list[Gap]:
    from strokewise.analysis.errors import InputError
    from strokewise.analysis.valves.base_circle import valves_of
    from strokewise.analysis.valves.clearances import Gap, target_mm
    from strokewise.gui.typed import named, quantity

    kinds = {valve.key: valve.kind for valve in valves_of(profile)}
    gaps = []
    for text in texts:
        valve, values = named("--gap", text, '"1E=0.40 mm, 0.36 mm, 0.35 mm"')
        (key,) = _keys(profile, [valve])
        measured = [
            None if part.strip() in ("", "-") else quantity("--gap", part.strip())
            for part in values.split(",")
        ]
        wanted = target_mm(profile, kinds[key])
        if len(measured) > 3 or wanted is None:
            what = "has more than three gaps" if len(measured) > 3 else "has no figure to hold to"
            raise InputError(
                f'--gap "{text}" {what}: give found, set and nipped, and the clearance in the'
                " profile (--set valves.clearance_exhaust=…)"
            )
        gaps.append(Gap(key, wanted, *measured))
    return gaps


def _measures(profile: Profile, setting: ValveSetting, args: argparse.Namespace) -> Measures:
    from strokewise.analysis.errors import InputError
    from strokewise.analysis.valves.clearances import (
        INCH_BLADES_MM,
        METRIC_BLADES_MM,
        choose_shims,
        feeler_stacks,
    )
    from strokewise.gui.typed import named, quantity

    found = {check.gap.valve: check.gap for check in setting.gaps}
    sizes = [quantity("--shims", part.strip()) for part in (args.shims or "").split(",") if part]
    shims = {}
    for text in args.fitted:
        valve, thickness = named("--fitted", text, '"1E=2.45 mm"')
        (key,) = _keys(profile, [valve])
        gap = found.get(key)
        if gap is None or gap.before_mm is None:
            raise InputError(f'--fitted "{text}" needs the gap as found: --gap "{key}=0.25 mm"')
        fitted_mm = quantity("--fitted", thickness)
        shims[key] = choose_shims(fitted_mm, gap.before_mm, gap.target_mm, sizes or None)
    blades = METRIC_BLADES_MM if args.blades == "metric" else INCH_BLADES_MM
    feelers = {
        kind: feeler_stacks(target, blades) for kind, target in setting.targets_mm.items() if target
    }
    return Measures(shims, feelers)
