"""What else goes into a job by command? A task of its own, a torque; and taking something back."""

from __future__ import annotations

import argparse
from datetime import UTC, date, datetime

from strokewise.analysis.errors import InputError
from strokewise.gui.job.add import add_task, add_torque, take_back
from strokewise.gui.job.day import day_said
from strokewise.gui.options import EXIT_DECIDED, Subparsers


def day_given(text: str) -> date:
    """Return a day of the calendar, for argparse."""
    try:
        return day_said(text, "2026-11-30")
    except InputError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def add_entry_actions(actions: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``job task``, ``job torque`` and ``job undo``."""
    task = actions.add_parser("task", help="put a task of this job's own on its list")
    task.add_argument("folder", metavar="JOB", help="the job's folder")
    task.add_argument("text", metavar="TEXT", help="what is to do")
    task.add_argument("--why", default="", help="why it must not be forgotten")
    task.add_argument("--code", metavar="NAME", default="", help="short name to tick it by")
    task.set_defaults(action=_task)
    torque = actions.add_parser("torque", help="put down how tight something was drawn")
    torque.add_argument("folder", metavar="JOB", help="the job's folder")
    torque.add_argument("what", metavar="WHAT", help='such as "Head bolts"')
    torque.add_argument("value", metavar="VALUE", help='"90 N m", "65 lb ft", "40 N m + 90 deg"')
    torque.add_argument("--tool", required=True, help="with which tool")
    _add_who(torque)
    torque.add_argument("--note", default="", help="anything else of it")
    torque.set_defaults(action=_torque)
    undo = actions.add_parser(
        "undo",
        help="take back gaps, a note, a photo, a torque, an own task, an answer or a recording",
        description="Take back what was put into the job by mistake. Of a recording its answers"
        " come first. Every file stays in the folder, and the sheet names an answer or a recording"
        " that was taken back.",
    )
    undo.add_argument("folder", metavar="JOB", help="the job's folder")
    undo.add_argument("number", metavar="NUMBER", type=int, help="with which its file begins")
    _add_who(undo)
    undo.set_defaults(action=_undo)


def _add_who(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--initials", required=True, help="who did it")
    parser.add_argument("--date", type=day_given, help="YYYY-MM-DD; today when left out")


def _task(args: argparse.Namespace) -> int:
    task = add_task(args.folder, args.text, code=args.code, why=args.why)
    print(f"to do: {task.text} ({task.code})")
    return EXIT_DECIDED


def _torque(args: argparse.Namespace) -> int:
    name = add_torque(
        args.folder,
        args.what,
        args.value,
        tool=args.tool,
        initials=args.initials,
        on=_day_of(args),
        note=args.note,
    )
    print(f"kept {name}")
    return EXIT_DECIDED


def _undo(args: argparse.Namespace) -> int:
    what = take_back(args.folder, args.number, initials=args.initials, on=_day_of(args))
    print(f"{args.number} taken back: {what}")
    return EXIT_DECIDED


def _day_of(args: argparse.Namespace) -> date:
    day: date = args.date or datetime.now(UTC).astimezone().date()
    return day
