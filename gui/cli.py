"""Which command was asked for, and how does it end? The entry of ``strokewise …``.

Commands are listed in :mod:`strokewise.gui.registry`; only the one that was asked for is loaded, so
that ``strokewise --help`` answers at once, and no command but those of the window loads Qt.
"""

from __future__ import annotations

import argparse
import codecs
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import NoReturn

from strokewise.analysis.errors import StrokewiseError
from strokewise.gui import registry
from strokewise.gui.options import EXIT_BAD_INPUT, EXIT_DECIDED, complain
from strokewise.gui.safe_text import SafeStream, plain_where_lacking

PLAIN_SIGNS = "strokewise-plain-signs"
EXIT_INTERRUPTED = 130  # 128 + SIGINT, what a shell expects after Ctrl-C


class Parser(argparse.ArgumentParser):
    """A parser whose errors are one line, and which takes files before, between, after options."""

    _mixing = False

    def parse_known_args(  # type: ignore[override]
        self, args: Sequence[str] | None = None, namespace: argparse.Namespace | None = None
    ) -> tuple[argparse.Namespace, list[str]]:
        """Parse; argparse alone refuses ``add JOB --set KEY=VALUE FILE`` with optional files."""
        commands = any(action.nargs == argparse.PARSER for action in self._actions)
        if commands or self._mixing:
            return super().parse_known_args(args, namespace)
        self._mixing = True  # what mixes them parses twice, by this method
        try:
            found, left = self.parse_known_intermixed_args(args, namespace)
        finally:
            self._mixing = False
        if left:
            self.error(f"not understood: {' '.join(left)}")
        return found, left

    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the command line, and where the help is."""
        self.exit(EXIT_BAD_INPUT, f"{self.prog}: {message} (see {self.prog} --help)\n")


class PrintVersion(argparse.Action):
    """Print the version; looked up only when asked for, as that costs more than all the rest."""

    def __call__(self, parser: argparse.ArgumentParser, *args: object) -> NoReturn:
        """Print it and end."""
        from importlib import metadata

        print(f"strokewise {metadata.version('strokewise')}")
        parser.exit()


def build_parser(wanted: str | None = None) -> argparse.ArgumentParser:
    """Return the parser of every registered command.

    Parameters
    ----------
    wanted : str, optional
        The only command whose module is loaded; of the others the name and one line are known.
        ``None`` loads them all.
    """
    parser = Parser(
        prog="strokewise",
        description="Finds true top dead centre and the firing stroke of every cylinder.",
        epilog="Example: strokewise find bench.swr --engine bench.toml",
    )
    parser.add_argument("--version", action=PrintVersion, nargs=0, help="print the version")
    subparsers = parser.add_subparsers(
        title="commands", metavar="COMMAND", required=True, parser_class=Parser
    )
    for each in registry.COMMANDS:
        if wanted in (None, each.name):
            each.load().add_parser(subparsers)
        else:
            subparsers.add_parser(each.name, help=each.about)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    0: decided or done. 3: read well, but it cannot honestly say. 2: bad input or usage, with one
    line on standard error and never a traceback.
    """
    codecs.register_error(PLAIN_SIGNS, plain_where_lacking)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a console that lacks a degree sign prints "?" for it
            stream.reconfigure(errors=PLAIN_SIGNS)
    # numpy is not loaded yet. Its threads spin between matrices as small as ours, and only warm the
    # machine; who sets the variable keeps what was set.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with _safe_streams():
        return _run(argv)


@contextmanager
def _safe_streams() -> Iterator[None]:
    """Let no name, note or file name control the terminal."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = SafeStream(before[0]), SafeStream(before[1])
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def _run(argv: Sequence[str] | None) -> int:
    """Run one command; what a person can mend is one line."""
    try:
        try:
            words = sys.argv[1:] if argv is None else list(argv)
            args = build_parser(wanted=words[0] if words else "").parse_args(words)
            code: int = args.run(args)
        finally:
            sys.stdout.flush()  # here, where a reader that has gone can still be met quietly
    except KeyboardInterrupt:
        return EXIT_INTERRUPTED
    except BrokenPipeError:  # "strokewise … | head": the reader has had enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_DECIDED
    except StrokewiseError as error:
        return complain(str(error))
    except OSError as error:
        return complain(f"{error.filename}: {error.strerror}" if error.filename else str(error))
    return code
