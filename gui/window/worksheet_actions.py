"""How does the class get its worksheet? The actions that gather traces, print them, keep them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from strokewise.analysis.errors import StrokewiseError
from strokewise.daq.recording.atomic import free_name
from strokewise.gui.models.figures.units import counted_words
from strokewise.gui.sayings.saying import capital

if TYPE_CHECKING:
    from pathlib import Path

    from strokewise.gui.models.classroom.classroom import Classroom
    from strokewise.gui.models.classroom.worksheet import Worksheet
    from strokewise.gui.window.workbench import Workbench


class WorksheetActions:
    """The actions of the worksheet."""

    window: Workbench

    if TYPE_CHECKING:

        def _folder(self) -> Path | None: ...

    def keep_trace(self) -> None:
        """Put the trace of this moment on the class's worksheet."""
        window = self.window

        def keep(room: Classroom) -> None:
            try:
                room.keep_trace(window.run.snapshot, window.run.name, window.unit, self._so())
            except StrokewiseError as error:
                window.say(capital(str(error)))
                return
            self._say_count(room)

        window.rooms.with_classroom(keep)

    def undo_worksheet(self) -> None:
        """Put the worksheet back to what it was before its last change."""

        def undo(room: Classroom) -> None:
            if room.undo_worksheet():
                self._say_count(room)
            else:
                self.window.say("Nothing to undo: nothing was put on the worksheet or taken off")

        self.window.rooms.with_classroom(undo)

    def empty_worksheet(self) -> None:
        """Take everything off the worksheet."""

        def empty(room: Classroom) -> None:
            if room.traces:
                room.empty_worksheet()
            self._say_count(room)

        self.window.rooms.with_classroom(empty)

    def toggle_gauge(self) -> None:
        """Count the worksheet's pressures from the air outside, as a gauge does, or a vacuum."""
        window = self.window
        window.remember(gauge=not window.settings.gauge)
        window.rooms.fill_class()
        window.say(f"On the worksheet: {counted_words(gauge=window.settings.gauge)}")

    def print_worksheet(self) -> None:
        """Ask for a printer, then print what the class gets."""
        from strokewise.gui.drawings.worksheet_svg import worksheet_pages

        self._print("worksheet", worksheet_pages)

    def print_answers(self) -> None:
        """Ask for a printer, then print what the trainer keeps."""
        from strokewise.gui.drawings.worksheet_svg import answer_pages

        self._print("answers of the worksheet", answer_pages)

    def save_worksheet(self) -> None:
        """Save the worksheet as a PDF, and its answers as another."""
        from strokewise.gui.drawings.worksheet_svg import answer_pages, worksheet_pages
        from strokewise.gui.window.printing import save_pages

        def save(room: Classroom) -> None:
            folder = self._folder()
            if folder is None:
                return
            sheets = self._sheets(room)
            today = f"{datetime.now():%Y-%m-%d}"
            path = free_name(folder, f"worksheet-{today}", ".pdf")
            answers = free_name(folder, f"worksheet-answers-{today}", ".pdf")
            try:
                save_pages(worksheet_pages(sheets), path, "Worksheet")
                save_pages(answer_pages(sheets), answers, "Answers of the worksheet")
            except OSError as error:
                self.window.say(f"{path} could not be written: {error.strerror}")
                return
            self.window.say(f"Saved as {path}, its answers as {answers.name}")

        self.window.rooms.with_classroom(save)

    def _print(self, name: str, pages: Callable[[Sequence[Worksheet]], tuple[str, ...]]) -> None:
        from strokewise.gui.window.printing import ask_printer

        def ask(room: Classroom) -> None:
            drawn = pages(self._sheets(room))
            self.window.dialog = ask_printer(self.window, drawn, name, self.window.say)

        self.window.rooms.with_classroom(ask)

    def _sheets(self, room: Classroom) -> tuple[Worksheet, ...]:
        window = self.window
        return room.worksheet(
            window.run.snapshot,
            window.run.name,
            window.unit,
            self._so(),
            gauge=window.settings.gauge,
        )

    def _so(self) -> str:
        """Return what is known of the engine by the question that the class has answered."""
        return "" if self.window.lesson is None else self.window.lesson.so

    def _say_count(self, room: Classroom) -> None:
        count = len(room.traces)
        traces = "trace" if count == 1 else "traces"
        more = "Ctrl+P prints it" if count else "W puts this one on it"
        self.window.say(f"On the worksheet: {count} {traces}. {more}")
        self.window.rooms.fill_class()
