"""How are thousands of recordings answered? One after the other, or on any executor, in order.

A school or a remanufacturing line gives an executor of ``concurrent.futures`` to the same function
that the command uses with processes of this machine.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import TypeVar

from strokewise.analysis.errors import InputError

Given = TypeVar("Given")
Come = TypeVar("Come")

AHEAD = 64
"""Items handed out before the first of them is awaited: enough for any number of cores here, few
enough that a run that is stopped ends soon."""

FEWEST_APART = 4
"""Starting processes costs more than this many short recordings."""

_PRINTING = threading.Lock()
"""What is printed belongs to the whole process, and workers of a cluster may have many threads."""


@dataclass(frozen=True, slots=True)
class Printed:
    """What a command printed about one item, and its exit code."""

    code: int
    out: str
    err: str


def in_order(
    work: Callable[[Given], Come], items: Iterable[Given], executor: Executor | None = None
) -> Iterator[Come]:
    """Do the work for every item, and yield what comes of it in the order of the items.

    Parameters
    ----------
    work : callable
        Of one item; for processes it and the items must be such as can be pickled.
    executor : Executor, optional
        Left out, the work is done here, one item after the other. Whoever stops early lets what
        has not begun be forgotten; the executor itself is the caller's to close.

    Examples
    --------
    >>> from concurrent.futures import ThreadPoolExecutor
    >>> from strokewise.gui.many import in_order
    >>> with ThreadPoolExecutor(2) as executor:
    ...     list(in_order(abs, [-3, 1, -2], executor))
    [3, 1, 2]
    """
    if executor is None:
        yield from map(work, items)
        return
    coming = iter(items)
    begun: deque[Future[Come]] = deque(
        executor.submit(work, item) for item in islice(coming, AHEAD)
    )
    try:
        while begun:
            done = begun.popleft().result()
            begun.extend(executor.submit(work, item) for item in islice(coming, 1))
            yield done
    finally:
        for each in begun:
            each.cancel()


@dataclass(frozen=True, slots=True)
class PrintedApart:
    """Does a command's work for one file, and keeps what it prints for whoever asked.

    ``folder`` is where the asker stood, so that names mean the same to a worker elsewhere.
    """

    answer: Callable[[Path, argparse.Namespace], int]
    args: argparse.Namespace
    folder: Path = field(default_factory=Path.cwd)

    def __call__(self, file: Path) -> Printed:
        """Answer one file.

        Raises
        ------
        InputError
            When the asker's folder is not there on this machine.
        """
        out, err = io.StringIO(), io.StringIO()
        with (
            _PRINTING,
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(err),
            _standing_in(self.folder),
        ):
            code = self.answer(file, self.args)
        return Printed(code, out.getvalue(), err.getvalue())


@contextlib.contextmanager
def _standing_in(folder: Path) -> Iterator[None]:
    before = Path.cwd()
    try:
        os.chdir(folder)
    except OSError as error:
        raise InputError(
            f"{folder} is not to be had on every worker ({error.strerror}); recordings must lie"
            " where all of them see them under one path"
        ) from None
    try:
        yield
    finally:
        os.chdir(before)


def cores_here() -> int:
    """Return on how many cores this process may run: not all, where it was started so."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextlib.contextmanager
def all_cores(count: int) -> Iterator[Executor | None]:
    """Lend processes on every core that is to be had; None where they would not pay."""
    cores = min(cores_here(), count)
    if count < FEWEST_APART or cores < 2:
        yield None
        return
    executor = ProcessPoolExecutor(cores)
    try:
        yield executor
    finally:
        executor.shutdown(cancel_futures=True)
