"""Who fires, and what is wrong? A class prepared as a file, held in the window, resumed."""

from __future__ import annotations

import argparse
from pathlib import Path

from strokewise.analysis.errors import InputError
from strokewise.daq.recording.atomic import free_name, write_atomically
from strokewise.gui.models.lesson.bank import BANK, QUESTIONS_IN_NEW, new_lesson
from strokewise.gui.models.lesson.lesson import (
    TWO_GROUPS,
    class_text,
    groups_of,
    lesson_of,
    lesson_text,
)
from strokewise.gui.models.lesson.session import SESSION_SUFFIX, Session, begin, resume
from strokewise.gui.models.lesson.standing import score_words
from strokewise.gui.options import EXIT_DECIDED, Subparsers, add_command

NEW = "new"
CHANGED = ". The file has changed since: --anew takes it"
EXAMPLE = """\
strokewise class new friday.toml --questions 10 --groups "Anna, Ben"
strokewise class friday.toml
strokewise class friday.toml --windows 2
strokewise class friday.toml --table friday.csv"""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise class``."""
    parser = add_command(
        subparsers,
        "class",
        example=EXAMPLE,
        after="A session is kept beside FILE as it goes, and goes on where it was interrupted.",
    )
    parser.add_argument(
        "words",
        metavar="[new] FILE",
        nargs="+",
        help="a class (TOML); with new in front, one is written to begin with",
    )
    parser.add_argument(
        "--questions",
        metavar="N",
        type=int,
        default=QUESTIONS_IN_NEW,
        help=f"of a new class, out of the {len(BANK)} that come with it; "
        f"default {QUESTIONS_IN_NEW}",
    )
    parser.add_argument(
        "--groups", metavar="NAMES", help='groups or pupils of a new class, like "Anna, Ben"'
    )
    parser.add_argument(
        "--anew", action="store_true", help="begin a new session; the old one is kept aside"
    )
    parser.add_argument(
        "--windows",
        type=int,
        choices=(1, 2),
        help="2: a window for the trainer beside the class's; else where there is a second screen",
    )
    parser.add_argument(
        "--table", metavar="OUT.csv", help="write what was answered so far, and exit"
    )
    parser.add_argument("--dark", action="store_true", help="light on dark")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write a new class, write the table, or hold the class until its window is closed."""
    match args.words:
        case [word, file] if word == NEW:
            return _new(Path(file), args)
        case [file] if file != NEW:
            pass
        case _:
            raise InputError("name one file: strokewise class FILE, or strokewise class new FILE")
    path = Path(file)
    if args.table is not None:
        return _table(path, Path(args.table))
    session, news = open_session(path, anew=args.anew)
    from strokewise.gui.window.launch import open_class_window

    return open_class_window(session, args, news)


def _new(path: Path, args: argparse.Namespace) -> int:
    names = TWO_GROUPS if args.groups is None else groups_of(args.groups.split(","))
    text = lesson_text(new_lesson(args.questions, names))
    try:
        write_atomically(path, text.encode(), replace=False)
    except FileExistsError:
        raise InputError(f"{path}: is there already, and stays as it is: name another") from None
    print(f"Written to {path}: {args.questions} questions for {', '.join(names)}.")
    print("Change it in any editor, then hold the class:")
    print(f"  strokewise class {path}")
    return EXIT_DECIDED


def session_file(path: Path) -> Path:
    """Return where the session of a class is kept."""
    return path.with_suffix(SESSION_SUFFIX)


def open_session(path: Path, *, anew: bool = False) -> tuple[Session, str]:
    """Return the session of a class, resumed where there is one, and what to say of that.

    Raises
    ------
    InputError
    """
    text = class_text(path)
    lesson = lesson_of(text, path)
    kept = session_file(path)
    if kept.exists() and not anew:
        session = resume(kept)
        if not session.ended:
            at = f"question {session.at + 1} of {session.count}"
            changed = "" if session.text == text else CHANGED
            return session, f"Going on at {at}. {score_words(session)}{changed}"
    if kept.exists():
        kept.rename(free_name(kept.parent, kept.stem, kept.suffix))
    return begin(lesson, text, kept), ""


def _table(path: Path, out: Path) -> int:
    class_text(path)  # says so where there is none
    if not session_file(path).exists():
        raise InputError(f"{path}: no class has been held with it yet, so nobody has answered")
    session = resume(session_file(path))
    try:
        write_atomically(out, session.csv().encode(), replace=False)
    except FileExistsError:
        raise InputError(f"{out}: is there already, and stays as it is: name another") from None
    print(f"Written to {out}: {len(session.given)} answers. {score_words(session)}")
    return EXIT_DECIDED
