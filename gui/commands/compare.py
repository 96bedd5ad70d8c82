"""Do the cylinders' compressions agree, and if one is odd, what would confirm why?"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from strokewise.gui.options import (
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    positive,
    say,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strokewise.analysis.compression.compare import Comparison, WetAndDry
    from strokewise.analysis.compression.cylinder_compression import Conditions, CylinderCompression
    from strokewise.analysis.estimate import Notice

EXAMPLE = """\
strokewise compare cyl1.swr cyl2.swr cyl3.swr cyl4.swr --throttle-open yes --plugs-out yes
strokewise compare recordings-of-today/ --cylinders 1,2,3,4
strokewise compare cyl*.swr --wet cyl3-oiled.swr --json"""

CONDITIONS = ("throttle-open", "plugs-out", "decompressor-off", "battery-good", "warm")


@dataclass(frozen=True, slots=True)
class CompareAnswer:
    """What is said about the cylinders; ``comparison`` is None when there was too little."""

    decided: bool
    reason: str
    measured: tuple[CylinderCompression, ...]
    comparison: Comparison | None
    oiled: tuple[WetAndDry, ...]
    warnings: tuple[Notice, ...]


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise compare``."""
    parser = add_command(
        subparsers,
        "compare",
        example=EXAMPLE,
        after="One recording for each cylinder, cranked; its sensor.cylinder says which.",
    )
    parser.add_argument(
        "files", metavar="FILE", nargs="+", help="a recording, or a folder with recordings"
    )
    parser.add_argument(
        "--cylinders", metavar="N,N,…", help="which cylinder each file is of, in their order"
    )
    parser.add_argument(
        "--wet", metavar="FILE", action="append", default=[], help="a cylinder again, oiled"
    )
    parser.add_argument(
        "--wet-cylinders", metavar="N,N,…", help="which cylinder each oiled file is of"
    )
    parser.add_argument(
        "--speed", type=positive, metavar="RPM", help="the common speed (default: their median)"
    )
    parser.add_argument(
        "--neighbours",
        metavar="N-N,…",
        help="cylinders that sit side by side, such as 1-2,2-3 (default: the next number)",
    )
    for condition in CONDITIONS:
        words = condition.replace("-", " ")
        parser.add_argument(f"--{condition}", choices=("yes", "no"), help=f"{words} while cranking")
    add_engine_options(parser)
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer for all recordings together."""
    from strokewise.gui.pages.compare_words import compare_answer, compare_words

    answer = answer_for(args)
    return say(args, answer, compare_answer, compare_words, decided=answer.decided)


def answer_for(args: argparse.Namespace) -> CompareAnswer:
    """Return the answer for the recordings of a command line."""
    from strokewise.analysis.compression.compare import compare
    from strokewise.gui.recordings import recordings_named

    conditions = _conditions(args)
    files = recordings_named(args.files)
    measured, warnings = _all_measured(files, args.cylinders, args, conditions)
    oiled, more = _all_measured(
        [Path(name) for name in args.wet], args.wet_cylinders, args, conditions
    )
    warnings += more
    if len(measured) < 2:
        few = "two cylinders or more are needed, each with compressions in its recording"
        return CompareAnswer(False, few, tuple(measured), None, (), tuple(warnings))
    comparison = compare(measured, speed_rpm=args.speed, side_by_side=_neighbours(args.neighbours))
    wet = _wet_pairs(measured, oiled)
    notices = (*warnings, *comparison.notices)
    slow = any(notice.code == "hand-speed" for notice in notices)
    missing = len(measured) < len(files)
    return CompareAnswer(
        decided=not slow and not missing,
        reason=_reason(comparison, slow=slow, missing=missing),
        measured=tuple(measured),
        comparison=comparison,
        oiled=wet,
        warnings=notices,
    )


def _reason(comparison: Comparison, *, slow: bool, missing: bool) -> str:
    from strokewise.gui.pages.words import percent

    if slow:
        return "turned too slowly to compare compressions: crank with the starter"
    if missing:
        return "some recording has no compression in it: record that cylinder again"
    if comparison.findings:
        finding = comparison.findings[0]
        numbers = " and ".join(map(str, finding.cylinders))
        return f"cylinder {numbers}: {finding.suggests}"
    return f"the cylinders agree within {percent(comparison.spread.value)}"


def _all_measured(
    files: Sequence[Path], numbers: str | None, args: argparse.Namespace, conditions: Conditions
) -> tuple[list[CylinderCompression], list[Notice]]:
    from strokewise.analysis.errors import InputError
    from strokewise.analysis.estimate import Notice
    from strokewise.gui.compressions import measured_in
    from strokewise.gui.typed import numbers as typed_numbers

    cylinders: Sequence[float | None] = [None] * len(files)
    if numbers is not None:
        cylinders = typed_numbers("--cylinders", numbers)
        if len(cylinders) != len(files):
            raise InputError(f"--cylinders names {len(cylinders)} for {len(files)} recordings")
    measured, warnings = [], []
    for file, number in zip(files, cylinders, strict=True):
        one, said = measured_in(file, args, None if number is None else int(number), conditions)
        warnings += [Notice(n.code, f"{file.name}: {n.text}") for n in said]
        if one is not None:
            measured.append(one)
    return measured, warnings


def _conditions(args: argparse.Namespace) -> Conditions:
    from strokewise.analysis.compression.cylinder_compression import Conditions

    said = {name.replace("-", "_"): getattr(args, name.replace("-", "_")) for name in CONDITIONS}
    return Conditions(**{n: None if value is None else value == "yes" for n, value in said.items()})


def _neighbours(text: str | None) -> list[tuple[int, int]] | None:
    from strokewise.analysis.errors import InputError

    if text is None:
        return None
    pairs = []
    for part in text.split(","):
        one, dash, other = part.strip().partition("-")
        if not (dash and one.isdigit() and other.isdigit()):
            raise InputError(f'--neighbours "{text}" must be pairs such as 1-2,2-3,3-4')
        pairs.append((int(one), int(other)))
    return pairs


def _wet_pairs(
    measured: Sequence[CylinderCompression], oiled: Sequence[CylinderCompression]
) -> tuple[WetAndDry, ...]:
    from strokewise.analysis.compression.compare import wet_and_dry
    from strokewise.analysis.errors import InputError

    dry = {one.cylinder: one for one in measured}
    for one in oiled:
        if one.cylinder not in dry:
            raise InputError(f"--wet: cylinder {one.cylinder} was not measured dry")
    return tuple(wet_and_dry(dry[one.cylinder], one) for one in oiled)
