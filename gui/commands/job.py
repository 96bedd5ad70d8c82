"""What belongs to one job? One folder for its recordings, answers, gaps and to-do list."""

from __future__ import annotations

import argparse
import json
import shlex
import sys
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path

from strokewise.analysis.errors import InputError, StrokewiseError
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.read import read_recording
from strokewise.gui.commands.job_entries import add_entry_actions, day_given
from strokewise.gui.job.add import (
    add_answer,
    add_gaps,
    add_note,
    add_photo,
    add_profile,
    add_recording,
    create_job,
    tick_task,
)
from strokewise.gui.job.ask import answer_request, differences, groups, request_for
from strokewise.gui.job.gaps import gap_said
from strokewise.gui.job.job import Job, changed_recordings, read_job
from strokewise.gui.job.kept import JobRecording
from strokewise.gui.job.words import job_answer, job_words
from strokewise.gui.options import (
    EXIT_BAD_INPUT,
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_json_option,
    complain,
)
from strokewise.gui.recordings import recordings_named
from strokewise.gui.steps import Said

EXAMPLE = """\
strokewise job new bench-four --name "Bench four" --engine bench.toml
strokewise job add bench-four bench.swr
strokewise job add bench-four cyl*.swr --ask find --ask marks
strokewise job add bench-four --ask compare
strokewise job add bench-four --gap "1E=0.40 mm, 0.36 mm, 0.35 mm"
strokewise job add bench-four --photo notch.jpg --shows "pulley notch at its pointer"
strokewise job task bench-four "Bleed the cooling system" --why "It was drained."
strokewise job torque bench-four "Head bolts" "40 N m + 90 deg" --tool "wrench 7" --initials AB
strokewise job undo bench-four 9 --initials AB
strokewise job tick bench-four oil-rockers --initials AB
strokewise job show bench-four"""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise job``."""
    parser = add_command(
        subparsers,
        "job",
        example=EXAMPLE,
        after="The folder holds TOML, JSON and recordings; no file in it is ever changed.",
    )
    actions = parser.add_subparsers(title="actions", metavar="ACTION", required=True)
    _add_new(actions)
    _add_add(actions)
    _add_tick(actions)
    add_entry_actions(actions)
    _add_show(actions)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the action asked for."""
    code: int = args.action(args)
    return code


def _add_new(actions: Subparsers[argparse.ArgumentParser]) -> None:
    new = actions.add_parser("new", help="make a new job")
    new.add_argument("folder", metavar="JOB", help="the new folder")
    new.add_argument("--name", help="what the job is called; the folder's name when left out")
    new.add_argument("--for", dest="made_for", metavar="WHOM", default="", help="whom it is for")
    new.add_argument("--engine", metavar="PROFILE", help="engine profile (TOML), copied into it")
    new.set_defaults(action=_new)


def _add_add(actions: Subparsers[argparse.ArgumentParser]) -> None:
    add = actions.add_parser("add", help="add recordings and their answers, gaps, a note")
    add.add_argument("folder", metavar="JOB", help="the job's folder, before the recordings")
    add.add_argument(
        "files", metavar="FILE", nargs="*", default=[], help="recordings, copied into the job"
    )
    add.add_argument("--engine", metavar="PROFILE", help="engine profile that counts from now on")
    add.add_argument(
        "--ask",
        metavar="COMMAND",
        action="append",
        help="what to answer about the recordings named, or without any about all that are in "
        'the job: find (the default), "find --method rocking", marks, cam, compare, none; '
        'valves, drive, "static --strobe 700=13" need no recording',
    )
    add.add_argument(
        "--set",
        dest="settings",
        metavar="KEY=VALUE",
        action="append",
        default=[],
        help="one key of the profile, for these answers: --set sensor.cylinder=3",
    )
    add.add_argument(
        "--gap",
        metavar="VALVE=GAPS",
        action="append",
        default=[],
        help='a valve\'s gap as found, as set, after nipping up: "1E=0.40 mm, 0.36 mm, 0.35 mm"; '
        '"-" for one not measured',
    )
    add.add_argument("--target", metavar="GAP", help="wanted gap, where the profile has none")
    add.add_argument(
        "--stage", metavar="WHEN", default="", help='when gaps were measured: "after first running"'
    )
    add.add_argument("--note", metavar="TEXT", help="anything worth having on the sheet")
    add.add_argument(
        "--photo", metavar="PHOTO", help="a photo, as of a mark; where it was taken stays outside"
    )
    add.add_argument("--shows", metavar="TEXT", default="", help="what the photo shows")
    add.set_defaults(action=_add)


def _add_tick(actions: Subparsers[argparse.ArgumentParser]) -> None:
    tick = actions.add_parser("tick", help="tick something on the to-do list")
    tick.add_argument("folder", metavar="JOB", help="the job's folder")
    tick.add_argument("task", metavar="TASK", help="its short name, as job show lists it")
    tick.add_argument("--initials", required=True, help="who did it")
    tick.add_argument("--date", type=day_given, help="YYYY-MM-DD; today when left out")
    tick.add_argument("--note", default="", help='such as "no distributor on this engine"')
    tick.add_argument("--undo", action="store_true", help="take the tick back")
    tick.set_defaults(action=_tick)


def _add_show(actions: Subparsers[argparse.ArgumentParser]) -> None:
    show = actions.add_parser(
        "show",
        help="show what is in the job and what is still to do",
        description="Exit code 0: nothing is left to do. 3: something is.",
    )
    show.add_argument("folder", metavar="JOB", help="the job's folder")
    show.add_argument("--check", action="store_true", help="compute every answer again and compare")
    add_json_option(show)
    show.set_defaults(action=_show)


def _new(args: argparse.Namespace) -> int:
    if args.engine is not None:
        known_engine(engine=args.engine)  # a wrong profile is refused before anything is made
    job = create_job(
        args.folder,
        args.name or Path(args.folder).resolve().name,
        now=_now(),
        version=_version(),
        made_for=args.made_for,
    )
    if args.engine is not None:
        add_profile(job.folder, args.engine)
    print(f'{job.folder}: new job "{job.name}", {len(job.tasks)} things to do')
    print(f"Next: strokewise job add {args.folder} RECORDING")
    return EXIT_DECIDED


def _add(args: argparse.Namespace) -> int:
    if Path(args.folder).is_file():
        raise InputError(f"{args.folder} is a file: name the job's folder first, then recordings")
    job = read_job(args.folder)
    if not (args.files or args.engine or args.gap or args.note or args.ask or args.photo):
        raise InputError(
            "nothing to add: name a recording, --ask, --engine, --gap, --note or --photo"
        )
    if args.engine is not None:
        print(f"kept {add_profile(job.folder, args.engine)}")
        job = read_job(args.folder)
    gaps = tuple(gap_said(job, text, args.target, called="--gap ") for text in args.gap)
    recordings = tuple(add_recording(job.folder, file) for file in _recordings(args.files))
    for recording in recordings:
        print(f"kept {recording.name}")
    if gaps:
        print(f"kept {add_gaps(job.folder, gaps, stage=args.stage)}")
    if args.note:
        print(f"kept {add_note(job.folder, args.note, now=_now())}")
    if args.photo:
        shows = args.shows or Path(args.photo).stem
        print(f"kept {add_photo(job.folder, args.photo, shows, now=_now())}")
    return _answer(job, recordings, args)


def _answer(job: Job, recordings: tuple[JobRecording, ...], args: argparse.Namespace) -> int:
    """Ask what was asked about the recordings; the worst answer is the exit code."""
    asked = [shlex.split(text) for text in args.ask or (["find"] if recordings else [])]
    about = recordings or read_job(job.folder).recordings
    codes = [EXIT_DECIDED]
    for step, *options in (words for words in asked if words and words != ["none"]):
        for group in groups(step, about, named=bool(recordings)):
            request = request_for(job, step, group, args.settings, options)
            try:
                said = answer_request(job.folder, request)
            except StrokewiseError as error:  # one that cannot be asked must not hide the others
                codes.append(complain(str(error)))
                continue
            codes.append(EXIT_DECIDED if said.decided else EXIT_UNDECIDED)
            name = add_answer(
                job.folder,
                request.words,
                said.json,
                recordings=group,
                profile=request.engine,
                now=_now(),
                page=said.page,
            )
            print(f"kept {name}: {_said(said)}")
    return next((code for code in (EXIT_BAD_INPUT, EXIT_UNDECIDED) if code in codes), EXIT_DECIDED)


def _tick(args: argparse.Namespace) -> int:
    job = tick_task(
        args.folder,
        args.task,
        initials=args.initials,
        on=args.date or _now().astimezone().date(),
        done=not args.undo,
        note=args.note,
    )
    print(f"{args.task} {'taken back' if args.undo else 'ticked'}; {_left(job)}")
    return EXIT_DECIDED


def _show(args: argparse.Namespace) -> int:
    job = read_job(args.folder)
    warnings = [*job.unreadable]
    warnings += [f"{name}: gone or changed since it was added" for name in changed_recordings(job)]
    if args.check:
        warnings += _checked(job)
    if args.json:
        for warning in warnings:
            print(f"warning: {warning}", file=sys.stderr)
        print(json.dumps(job_answer(job, warnings), ensure_ascii=False, allow_nan=False))
    else:
        print(job_words(job, warnings))
        if args.check and not warnings:
            print(f"\nAll {len(job.answers)} answers come out the same when computed again.")
    return EXIT_UNDECIDED if job.to_do else EXIT_DECIDED


def _checked(job: Job) -> list[str]:
    return [
        f"answer {kept.number} ({' '.join(kept.asked)}): {line}"
        for kept in job.answers
        for line in differences(job, kept)
    ]


def _recordings(names: list[str]) -> list[Path]:
    files = recordings_named(names)
    for file in files:
        read_recording(file)  # what is no recording does not get into the job
    return files


def _said(said: Said) -> str:
    return f"{'decided' if said.decided else 'not decided'}, {said.page.reason}"


def _left(job: Job) -> str:
    return f"{len(job.to_do)} of {len(job.tasks)} still to do"


def _now() -> datetime:
    return datetime.now(UTC)


def _version() -> str:
    return metadata.version("strokewise")
