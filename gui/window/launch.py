"""How does the window come up? From a command's options to a window on a run."""

from __future__ import annotations

import argparse
import gc
import os
import signal
import sys
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from strokewise.analysis.errors import InputError, StrokewiseError
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.sources import (
    LARGE_BYTES,
    is_recording,
    open_live,
    open_replay,
    profile_maker,
    reading_words,
    size_of,
)
from strokewise.gui.models.setup.settings import Settings, load_settings, save_settings

if TYPE_CHECKING:
    from strokewise.gui.models.lesson.session import Session
    from strokewise.gui.models.run.live import LiveRun
    from strokewise.gui.window.workbench import Workbench

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
    """Open the window on a recording; without one on the set-up page, which opens one."""
    if args.file is None:
        run = open_live("", engine=args.engine, settings=args.settings)
        return show(run, args, lambda window: window.show_page("setup"))
    if size_of(args.file) < LARGE_BYTES:
        return show(_replay(args), args, lambda window: _prepare_replay(window, args))
    return _open_large(args)


def _replay(args: argparse.Namespace, going: Callable[[float], object] | None = None) -> ReplayRun:
    run = open_replay(args.file, engine=args.engine, settings=args.settings, going=going)
    run.set_speed(args.speed)
    if args.at is not None:
        run.seek(args.at)
    return run


def _open_large(args: argparse.Namespace) -> int:
    """Show the window at once and read the recording meanwhile."""
    from strokewise.gui.models.run.player import Deck

    name = os.path.basename(args.file)
    make_profile = profile_maker(engine=args.engine, settings=args.settings)
    waiting = ReplayRun(Deck([], make_profile, Tracker, name=name), playing=False)
    failed: list[BaseException] = []

    def prepare(window: Workbench) -> None:
        from strokewise.gui.models.run.going import StoppedError
        from strokewise.gui.window.loader import load

        def opened(run: ReplayRun) -> None:
            window.change_run(run, begin=False)
            _prepare_replay(window, args)

        def not_opened(error: BaseException) -> None:
            if isinstance(error, StoppedError):
                window.say(str(error))
                window.show_page("setup")  # which opens another
                return
            known = isinstance(error, StrokewiseError)
            failed.append(error if known else StrokewiseError(fault_words("opening it", error)))
            window.close()

        load(
            window,
            reading_words(args.file),
            lambda going: _replay(args, going),
            opened,
            not_opened,
        )

    code = show(waiting, args, prepare)
    if failed:
        raise failed[0]
    return code


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


def open_class_window(session: Session, args: argparse.Namespace, news: str = "") -> int:
    """Open the class's window, and the trainer's desk where there is a second screen for it.

    Parameters
    ----------
    news : str
        Said once the window is there.
    """
    from strokewise.gui.models.run.player import Deck

    empty = Deck([], profile_maker(), Tracker, name=session.lesson.title)

    def prepare(window: Workbench) -> None:
        from strokewise.gui.window.lesson.lesson_play import LessonPlay

        screens = application().screens()
        apart = args.windows == 2 or (args.windows is None and len(screens) > 1)
        window.lesson = LessonPlay(window, session, apart=apart)
        if apart:
            window.lesson.desk.show()
        if apart and len(screens) > 1:  # the trainer stays where they are, the class looks at it
            window.setScreen(screens[1])
            window.move(screens[1].geometry().topLeft())
            window.showFullScreen()
        window.lesson.start()
        if news:
            window.say(news)

    return show(ReplayRun(empty, playing=False), args, prepare)


def show_wanted(window: Workbench, args: argparse.Namespace) -> None:
    """Show the view that the command line asks for."""
    if args.view == "steps":
        window.rooms.show_step(args.step)
    else:
        window.show_view(args.view)


def _prepare_replay(window: Workbench, args: argparse.Namespace) -> None:
    window.remember_recording(os.path.abspath(args.file))
    show_wanted(window, args)
    if args.over:
        window.actions_.overlay_with(args.over)
    window.begin()


def _prepare_live(window: Workbench, args: argparse.Namespace, *, chosen: bool) -> None:
    """Show the cautions before the first live run of a job; it begins once they are read."""
    if not chosen:
        window.show_page("setup")
        return
    window.begin_live(args.job or "", args.port)


def show(
    run: LiveRun | ReplayRun, args: argparse.Namespace, prepare: Callable[[Workbench], None]
) -> int:
    """Open a window on a run and stay until it is closed."""
    app = application()
    from strokewise.gui.window.letting_go import LettingGo
    from strokewise.gui.window.workbench import Workbench

    settings: Settings = load_settings()
    if args.dark:
        settings = replace(settings, theme="dark")
    window = Workbench(run, settings, keep=save_settings)
    window.show()
    window.redraw()
    # What is loaded by now stays: looking through all of it for garbage, again and again while a
    # large recording is read, would stop the picture for half a second each time.
    gc.freeze()
    letting_go = LettingGo()  # again and again, so that Python sees Ctrl-C while Qt's loop runs
    prepare(window)
    app.exec()
    letting_go.end()
    return 0
