"""What is laid with the trace? Recordings over it, a healthy one behind: the actions of both."""

from __future__ import annotations

from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from strokewise.analysis.errors import StrokewiseError
from strokewise.gui.models.figures.views import OF_PASSES, Subject
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.going import Going
from strokewise.gui.sayings.saying import capital
from strokewise.gui.window.loader import Loader, load

if TYPE_CHECKING:
    from collections.abc import Callable

    from strokewise.gui.models.classroom.classroom import Classroom
    from strokewise.gui.window.workbench import Workbench

TURNING = (
    "Turning a healthy engine on the bench …"
    " The first time the bench is compiled, which can take a minute or two."
)
OPENED_SHARE = 0.2
"""Of reading a recording whole, what taking its file apart takes."""


class LayingActions:
    """The actions of what is laid over the trace and behind it."""

    window: Workbench

    if TYPE_CHECKING:

        def _choose_recording(self, words: str, take: Callable[[str], object]) -> None: ...

    def open_overlay(self) -> None:
        """Ask for another recording to be laid over this one."""
        if self.window.laid.full:
            self.window.say("Six traces are on the picture: Shift+O takes the last one off")
            return
        self._choose_recording("Recording to lay over this one", self.overlay_with)

    def take_overlay_off(self) -> None:
        """Take the recording off that was laid over last."""
        window, others = self.window, self.window.laid.others
        if not others:
            window.say("No other recording is laid over this one")
            return
        window.laid = window.laid.without_last()
        window.say(f"{others[-1].name} is off the picture")
        window.redraw()

    def overlay_with(self, name: str) -> None:
        """Lay another recording over this one; it is read aside."""
        window, path, asked_on = self.window, Path(name).expanduser(), self.window.view

        def loaded(subject: Subject) -> None:
            window.laid = window.laid.with_other(subject)
            self._show_if_on(asked_on, "overlay", f"{subject.name} is laid over: view 8")

        load(window, f"Reading {path.name}", lambda going: _read(path, going), loaded)

    def toggle_healthy(self) -> None:
        """Lay a healthy trace behind this one and shade the difference, or take it away."""
        window = self.window
        if window.laid.healthy is not None:
            window.laid = window.laid.without_healthy()
            window.say("The healthy trace is off the picture")
            window.redraw()
            return
        self.lay_healthy()

    def lay_healthy(self) -> None:
        """Lay a healthy trace behind this one, where none is yet."""
        if self.window.laid.healthy is None:
            self.window.rooms.with_classroom(self._lay_healthy)

    def _lay_healthy(self, room: Classroom) -> None:
        from strokewise.gui.models.classroom.reference import healthy_subject

        window, run, asked_on = self.window, self.window.run, self.window.view
        try:
            answered = window.rooms.questioning.answered_question
            asked_of = "" if answered is None else answered[0].scenario
            bench, assumed = room.healthy(run.snapshot, asked_of)
        except StrokewiseError as error:
            window.say(capital(str(error)))
            return

        def turned(made: Future[Subject]) -> None:
            error = made.exception()
            if error is not None:
                window.say(fault_words("turning a healthy engine", error))
                return
            if window.run is not run:
                return  # another engine is on the picture by now
            window.laid = replace(window.laid, healthy=made.result())
            window.bar.clear()
            view = window.view if window.view in OF_PASSES else "angle"
            self._show_if_on(asked_on, view, "A healthy trace is behind it: views 2 to 4")

        window.loader = Loader(lambda: healthy_subject(bench, assumed), turned)
        window.say(TURNING, stays=True)

    def _show_if_on(self, asked_on: str, view: str, words: str) -> None:
        """Show what was laid, but pull nobody from a page that was opened in the meantime."""
        if self.window.view in (asked_on, view):
            self.window.show_view(view)
        else:
            self.window.redraw()
            self.window.say(words)


def _read(path: Path, going: Going) -> Subject:
    """Read a recording to its end, by the deck of a replay."""
    from strokewise.gui.models.run.sources import open_deck

    deck = open_deck(path, going=lambda share: going(OPENED_SHARE * share))
    while not deck.at_end:
        deck.play_some()
        going(OPENED_SHARE + (1 - OPENED_SHARE) * deck.played)
    return deck.subject_at_end(path.name)
