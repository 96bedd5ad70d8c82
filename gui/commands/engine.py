"""What is known of this engine? A profile made new, shown, and checked."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from strokewise.analysis.crank.strokes import MOST_CYLINDERS
from strokewise.analysis.errors import InputError
from strokewise.daq.profile.known import KnownEngine, check_table
from strokewise.daq.profile.layers import Layer, load_profile
from strokewise.daq.recording.atomic import write_atomically
from strokewise.gui.models.setup.first_profile import (
    FirstAnswers,
    first_profile,
    order_of,
    usual_order,
)
from strokewise.gui.models.setup.sharpening import EngineKnown, Sharpening, engine_known
from strokewise.gui.options import EXIT_DECIDED, Subparsers, add_command, add_json_option
from strokewise.gui.sayings import told

Taken = TypeVar("Taken")

EXAMPLE = """\
strokewise engine new bench.toml
strokewise engine show bench.toml
strokewise engine check bench.toml"""
TRIES = 3
"""So often a question is asked again after an answer that cannot be."""
COLUMN = 34


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise engine``."""
    parser = add_command(
        subparsers,
        "engine",
        example=EXAMPLE,
        after="Exit code 0: done, or sound. 2: what is wrong, in one line.",
    )
    actions = parser.add_subparsers(title="actions", metavar="ACTION", required=True)
    new = actions.add_parser(
        "new", help="ask the few questions, and write a profile that says what more would sharpen"
    )
    new.add_argument("file", metavar="FILE", help="the new profile (TOML)")
    new.set_defaults(action=_new)
    show = actions.add_parser(
        "show", help="say what is known, what is assumed, and what each missing thing would sharpen"
    )
    check = actions.add_parser("check", help="say whether a profile is sound, and what is wrong")
    for each, action in ((show, _show), (check, _check)):
        each.add_argument("file", metavar="FILE", help="an engine profile (TOML)")
        add_json_option(each)
        each.set_defaults(action=action)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the action asked for."""
    code: int = args.action(args)
    return code


def _new(args: argparse.Namespace) -> int:
    path = Path(args.file)
    if path.exists():
        raise InputError(f"{path}: there is a file already, and it stays as it is: name another")
    said = _asked()
    write_atomically(path, first_profile(said).encode())
    layer, known = _loaded(path)
    missing = engine_known(layer.table).missing
    print(f"\nWritten to {path}. That is enough to turn the engine:")
    print(f"  strokewise live --engine {path}")
    print("More would sharpen the answers; the file has a line for each:")
    for key, sharpens in _first_of_each(missing):
        print(f"  {key:<{COLUMN}} {sharpens}")
    assert known.stated
    return EXIT_DECIDED


def _asked() -> FirstAnswers:
    """Ask the few questions; Enter takes what stands in brackets."""
    name = _ask("Name of the engine", "none", str)
    cylinders = _ask("How many cylinders", "4", _cylinders)
    usual = "-".join(str(number) for number in usual_order(cylinders))
    order = _ask(f"Firing order, such as {usual}", "", lambda text: order_of(text, cylinders))
    two = _ask("Four-stroke or two-stroke (4, 2)", "4", _two_stroke)
    sensed = _ask(
        "Which cylinder is the sensor in", "1", lambda text: _whole(text, cylinders, "a cylinder")
    )
    return FirstAnswers(cylinders, order, sensed, "" if name == "none" else name, two)


def _ask(words: str, default: str, take: Callable[[str], Taken]) -> Taken:
    for left in range(TRIES - 1, -1, -1):
        print(f"{words} [{default}]: " if default else f"{words}: ", end="", flush=True)
        line = sys.stdin.readline()
        if not line:
            raise InputError(f"no answer to “{words}”: the input has ended, nothing is written")
        try:
            return take(line.strip() or default)
        except InputError as error:
            if not left:
                raise
            print(f"  {error}")
    raise AssertionError("a question ends with an answer or an error")


def _whole(text: str, most: int, what: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= most:
        raise InputError(f"“{text}” is not {what} from 1 to {most}")
    return int(text)


def _cylinders(text: str) -> int:
    return _whole(text, MOST_CYLINDERS, "a number of cylinders")


def _two_stroke(text: str) -> bool:
    if text[:1] not in ("2", "4"):
        raise InputError(f"“{text}” is neither: 4 or 2")
    return text[:1] == "2"


def _loaded(path: Path) -> tuple[Layer, KnownEngine]:
    layer = load_profile(path)
    return layer, check_table(layer.table, str(path))


def _first_of_each(missing: tuple[Sharpening, ...]) -> list[tuple[str, str]]:
    """Return one line for all the keys of a table that sharpen the same."""
    found: dict[tuple[str, str], list[str]] = {}
    for each in missing:
        found.setdefault((each.table, each.sharpens), []).append(each.key)
    return [
        (keys[0] if len(keys) == 1 else f"[{table}] ({len(keys)} keys)", sharpens)
        for (table, sharpens), keys in found.items()
    ]


def _show(args: argparse.Namespace) -> int:
    path = Path(args.file)
    layer, known = _loaded(path)
    engine = engine_known(layer.table)
    if args.json:
        from strokewise.gui.pages.answers import as_line

        print(as_line(_shown_json(path, engine, known)))
        return EXIT_DECIDED
    print(
        f"{path}: {len(engine.known)} known, {len(engine.assumed)} assumed,"
        f" {len(engine.missing)} missing"
    )
    print("\nKnown")
    for key, value in engine.known:
        print(f"  {key:<{COLUMN}} {value}")
    print("\nAssumed, as nobody said otherwise")
    for each in engine.assumed:
        print(f"  {each.key:<{COLUMN}} {each.value}: {each.why}")
    if engine.missing:
        print("\nMissing, and what it would sharpen")
        for item in engine.missing:
            print(f"  {item.key:<{COLUMN}} {item.sharpens}")
    for notice in told(known.notices):
        print(f"\n! {notice.text}")
    return EXIT_DECIDED


def _shown_json(path: Path, engine: EngineKnown, known: KnownEngine) -> dict[str, object]:
    from strokewise.gui.pages.answers import base_answer

    reason = f"{len(engine.known)} known, {len(engine.missing)} missing"
    answer = base_answer(True, reason, told(known.notices))
    return answer | {
        "file": str(path),
        "known": dict(engine.known),
        "assumed": [{"key": e.key, "value": e.value, "why": e.why} for e in engine.assumed],
        "missing": [{"key": e.key, "sharpens": e.sharpens} for e in engine.missing],
    }


def _check(args: argparse.Namespace) -> int:
    path = Path(args.file)
    _, known = _loaded(path)
    profile = known.profile
    order = "-".join(str(number) for number in profile.firing_order)
    reason = f"sound: {profile.cycle}, {profile.cylinders} cylinders, {order}"
    if args.json:
        from strokewise.gui.pages.answers import as_line, base_answer

        answer = base_answer(True, reason, told(known.notices))
        print(as_line(answer | {"file": str(path)}))
        return EXIT_DECIDED
    print(f"{path}: {reason}")
    for notice in told(known.notices):
        print(f"! {notice.text}")
    return EXIT_DECIDED
