"""How does the window come up? From a command's options to a window on a run."""

from __future__ import annotations

import argparse
import os
import signal
import sys
from collections.abc import Callable
from typing import Any

from strokewise.analysis.errors import InputError
from strokewise.gui.models.settings import Settings, load_settings, save_settings
from strokewise.gui.models.sources import is_recording, open_live, open_replay

NO_QT = (
    "the window needs PySide6 and pyqtgraph: pip install 'strokewise[window]'; "
    "`strokewise watch` shows the same in a terminal"
)


def application() -> Any:
    """Return the application, made when there is none yet.

    Raises
    ------
    InputError
        When Qt is not installed, or there is no screen to open a window on.
    """
    try:
        from PySide6.QtWidgets import QApplication
    except ImportError as error:
        raise InputError(f"{NO_QT} ({error})") from None
    if QApplication.instance() is not None:
        return QApplication.instance()
    if no_screen():
        raise InputError(
            "no screen to open a window on; `strokewise watch` works in a terminal, "
            "and --picture draws without a screen"
        )
    app = QApplication(["strokewise"])
    app.setApplicationName("strokewise")
    # Python's own handler ends the window on Ctrl-C once the event loop lets it run.
    signal.signal(signal.SIGINT, lambda *_: app.closeAllWindows())
    return app


def no_screen() -> bool:
    """Tell whether Qt would abort for want of a screen, which cannot be caught."""
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM"):
        return False
    return not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def open_replay_window(args: argparse.Namespace) -> int:
    """Open the window on a recording."""
    run = open_replay(args.file, engine=args.engine, settings=args.settings)
    run.set_speed(args.speed)
    if args.at is not None:
        run.seek(args.at)
    return show(run, args, lambda window: _prepare_replay(window, args))


def open_live_window(args: argparse.Namespace) -> int:
    """Open the window on a port; without one on the set-up page."""
    settings = load_settings()
    port = args.port or settings.port
    if port and is_recording(port):
        raise InputError(f"{port} is a recording, not a port: use `strokewise replay {port}`")
    run = open_live(
        port, baud=args.baud, engine=args.engine, settings=args.settings, suspect=args.suspect
    )
    return show(run, args, lambda window: _prepare_live(window, args, chosen=bool(args.port)))


def _prepare_replay(window: Any, args: argparse.Namespace) -> None:
    window.show_view(args.view)
    if args.over:
        window.actions_.overlay_with(args.over)
    window.begin()


def _prepare_live(window: Any, args: argparse.Namespace, *, chosen: bool) -> None:
    """Show the cautions before the first live run of a job; it begins once they are read."""
    if not chosen:
        window.show_page("setup")
        return
    window.begin_live(args.job or "", args.port)


def show(run: Any, args: argparse.Namespace, prepare: Callable[[Any], None]) -> int:
    """Open a window on a run and stay until it is closed."""
    app = application()
    from PySide6.QtCore import QTimer

    from strokewise.gui.window.workbench import Workbench

    settings: Settings = load_settings()
    if args.dark:
        settings = Settings(**{**_fields(settings), "theme": "dark"})
    window = Workbench(run, settings, keep=save_settings)
    window.show()
    window.redraw()
    prepare(window)
    tick = QTimer()  # lets Python see Ctrl-C while Qt's loop runs
    tick.timeout.connect(lambda: None)
    tick.start(250)
    app.exec()
    return 0


def _fields(settings: Settings) -> dict[str, Any]:
    from dataclasses import asdict

    return asdict(settings)
