"""How is the window drawn without a screen? For documents, tests and sheets."""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from strokewise.analysis.errors import InputError
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.sources import open_deck
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.options import EXIT_DECIDED, EXIT_UNDECIDED
from strokewise.gui.window.launch import application, show_wanted

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

    from strokewise.gui.window.workbench import Workbench

PICTURE_LOOK_S = 0.02
"""So often it is looked whether a step has been answered."""


def draw_picture(args: argparse.Namespace) -> int:
    """Draw one moment of a recording into a PNG file; the exit code says whether it was decided."""
    deck = open_deck(args.file, engine=args.engine, settings=args.settings)
    deck.scan_all()
    deck.seek(deck.length_s if args.at is None else args.at)
    deck.follower.judge()
    run = ReplayRun(deck, playing=False)
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    app = application()
    from strokewise.gui.window.workbench import Workbench

    window = Workbench(run, Settings(theme="dark" if args.dark else "light"))
    if args.over:
        other = open_deck(args.over).subject_at_end(Path(args.over).name)
        window.laid = window.laid.with_other(other)
    window.setMinimumSize(1, 1)
    window.resize(*args.size)
    window.show()
    show_wanted(window, args)
    _wait_for_answer(window, app)
    # Two rounds: the first lays out at the size wanted, the second draws at that size.
    for _ in range(2):
        app.processEvents()
        window.settle()
        window.redraw()
    image = window.grab().toImage()
    window.close()
    if not image.save(str(args.picture)):
        raise InputError(f"{args.picture} cannot be written as a picture: end the name in .png")
    verdict = run.snapshot.verdict
    return EXIT_DECIDED if verdict is not None and verdict.decided else EXIT_UNDECIDED


def _wait_for_answer(
    window: Workbench, app: QApplication, sleep: Callable[[float], None] = time.sleep
) -> None:
    """Wait until the step that is shown has its answer: a picture has no later."""
    page = window.pages.get("steps")
    if page is None:
        return
    while not page.answered:  # type: ignore[attr-defined]
        app.processEvents()
        page.look()  # type: ignore[attr-defined]
        sleep(PICTURE_LOOK_S)
