"""What would a board on the bench send? A simulated recording or a live port, no hardware."""

from __future__ import annotations

import argparse
import shlex
import sys
from contextlib import suppress
from pathlib import Path

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.bench import Bench, take
from strokewise.daq.bench.engine.compiled import COMPILED
from strokewise.daq.bench.keep import Files, keep, write_profile
from strokewise.daq.bench.live import BenchSource
from strokewise.daq.bench.parameters import split_settings
from strokewise.daq.bench.scenarios.scenarios import SCENARIOS, Scenario, scenario
from strokewise.daq.bench.serve import open_line, serve
from strokewise.daq.simulated_ports import announced
from strokewise.gui.options import EXIT_DECIDED, Subparsers, add_command, positive

DEFAULT_SCENARIO = "cranked"


COMPILING = (
    "Making the simulated engine ready: seconds, and a minute or more the first time on a machine,"
    " while it is compiled."
)


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise simulate``."""
    parser = add_command(
        subparsers,
        "simulate",
        example="strokewise simulate bench.swr --scenario hand-turned --seed 7\n"
        'strokewise simulate worn.swr --scenario worn-rings --set noise=0.02bar --set "lag=1 ms"\n'
        "strokewise simulate --live --scenario cranked\n"
        "strokewise simulate --list\n"
        "strokewise simulate --list --scenario cam-tooth-late",
        after="Beside the recording lie its engine profile (.toml) and the truth (.truth.json).",
    )
    parser.add_argument("out", metavar="OUT", nargs="?", help="the new recording; not written over")
    parser.add_argument("--scenario", metavar="NAME", help=f"default {DEFAULT_SCENARIO}")
    parser.add_argument(
        "--set",
        dest="settings",
        metavar="KEY=VALUE",
        action="append",
        default=[],
        help="set one of the scenario's keys; may be given several times",
    )
    parser.add_argument("--seed", type=int, metavar="N", help="everything left to chance")
    parser.add_argument(
        "--list", action="store_true", help="list the scenarios, or one scenario's keys"
    )
    parser.add_argument(
        "--live", action="store_true", help="run in real time, as a port for other commands"
    )
    parser.add_argument(
        "--socket",
        nargs="?",
        const=0,
        type=int,
        metavar="PORT",
        help="with --live: a network port of this computer instead of a serial one",
    )
    parser.add_argument(
        "--seconds",
        metavar="S",
        type=positive,
        help="with --live: stop after so long; without it the engine turns until Ctrl-C",
    )
    parser.add_argument(
        "--profile", metavar="FILE", help="with --live: write the engine profile for --engine here"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List, run live, or make a recording."""
    if args.list:
        print(_keys(scenario(args.scenario)) if args.scenario else _names())
        return EXIT_DECIDED
    if not COMPILED:
        print(
            "numba is not installed: a second of engine takes several, and --live cannot keep up. "
            "pip install 'strokewise[bench]' mends that.",
            file=sys.stderr,
        )
    chosen = scenario(args.scenario or DEFAULT_SCENARIO)
    bench = chosen.build(split_settings(args.settings), args.seed)
    if args.live:
        if args.out is not None:
            raise InputError(
                f"{args.out}: --live writes no file; start it, then strokewise record the port"
            )
        return _live(bench, args, chosen.name)
    if args.out is None:
        raise InputError("name the recording to make, like bench.swr, or say --live or --list")
    return _record(chosen, bench, args)


def _record(chosen: Scenario, bench: Bench, args: argparse.Namespace) -> int:
    files = Files.beside(Path(args.out))
    files.must_be_new()
    if COMPILED and sys.stderr.isatty():
        print(COMPILING, file=sys.stderr, flush=True)
    taken = take(bench)
    keep(taken, files, scenario=chosen.name, made_by=command_line(chosen, bench, args))
    print(f"{files.recording}: {chosen.about}.")
    print(f"{taken.run.time_s[-1]:.1f} s of a simulated engine, seed {bench.seed}.")
    print(f"Profile: {files.profile}. Truth: {files.truth}.")
    print(f"Next: strokewise find {files.recording}")
    return EXIT_DECIDED


def command_line(chosen: Scenario, bench: Bench, args: argparse.Namespace) -> str:
    """Return the command that makes the same recording again."""
    words = ["strokewise", "simulate", Path(args.out).name, "--scenario", chosen.name]
    for setting in args.settings:
        words += ["--set", setting]
    return shlex.join([*words, "--seed", str(bench.seed)])


def _live(bench: Bench, args: argparse.Namespace, scenario_name: str) -> int:
    if COMPILED:
        print(COMPILING, file=sys.stderr, flush=True)
    told = ""
    if args.profile is not None:
        write_profile(bench, Path(args.profile))
        told = f" --engine {shlex.quote(args.profile)}"
    with open_line(args.socket) as line, BenchSource(bench) as source:
        print(line.port, flush=True)
        print(
            "A simulated board waits on this port. Ctrl-C ends it. In another window:\n"
            f"  strokewise watch {line.port}{told}",
            file=sys.stderr,
        )
        about = f"simulated board, {scenario_name} (no engine)"
        with announced(line.port, about), suppress(KeyboardInterrupt):
            serve(source, line, seconds=args.seconds)
    return EXIT_DECIDED


def _names() -> str:
    width = max(map(len, SCENARIOS))
    lines = []
    group = ""
    for found in SCENARIOS.values():
        if found.group != group:
            group = found.group
            lines += ["", group.capitalize()]
        lines.append(f"  {found.name:<{width}}  {found.about}")
    return "\n".join(lines).strip()


def _keys(chosen: Scenario) -> str:
    bench = chosen.build()
    rows = [
        (f"{parameter.key}={parameter.shown(bench)}", parameter) for parameter in chosen.parameters
    ]
    width = max(len(text) for text, _ in rows)
    lines = [f"{chosen.name}: {chosen.about}.", "", "What --set can change, as it stands now:"]
    for text, parameter in rows:
        preset = " (what this scenario is about)" if parameter.key in chosen.presets else ""
        choices = f" ({', '.join(parameter.choices)})" if parameter.choices else ""
        lines.append(f"  {text:<{width}}  {parameter.about}{choices}{preset}")
    return "\n".join(lines)
