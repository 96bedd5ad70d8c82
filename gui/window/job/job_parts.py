"""What can be put into a job? Tasks and ticks, gaps, recordings and answers; and the sheet."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Signal

from strokewise.analysis.errors import InputError
from strokewise.gui.models.jobs.job_book import JobBook
from strokewise.gui.models.jobs.job_lines import (
    TaskLine,
    answer_entries,
    gap_entries,
    task_lines,
    unchecked_lines,
    valve_names,
)
from strokewise.gui.window.job.job_part import EntryPart, JobPart

DONE, OPEN = "☑", "☐"
STAGES = ("", "after first running")
PAPERS = {"A4": "a4", "Letter": "letter"}


class ToDoPart(JobPart):
    """The to-do list."""

    title = "To do"
    lines_first = True

    def __init__(self, book: JobBook) -> None:
        super().__init__(
            book, "The engine maker’s manual comes first. Choose a task, then tick it.", "Tasks"
        )
        self.let_choose()
        self.note = self.field("such as: no distributor on this engine", "Note of the tick")
        self.row("Note", self.note)
        self.note.returnPressed.connect(self.tick)
        self.buttons(("Tick", self.tick), ("Take the tick back", self.take_back))
        self.text = self.field("such as: bleed the cooling system", "A task of this job’s own")
        self.why = self.field("why, if you like", "Why the task must not be forgotten")
        self.row("Own task", self.text, self.why)
        self.why.returnPressed.connect(self.add)
        self.buttons(("Add the task", self.add), ("Take an own task off", self.take_off))

    def fill(self) -> None:
        """Show the list as it stands."""
        self.show_lines(
            [
                f"{DONE if task.done else OPEN} {task.text}"
                + (f": {task.done}" if task.done else f". {task.why}" if task.why else "")
                for task in task_lines(self.book.job)
            ],
            "Nothing to do",
        )

    @property
    def count_words(self) -> str:
        """How much is left."""
        left = len(self.book.job.to_do)
        return f"{left} left" if left else "all done"

    def tick(self) -> None:
        """Tick the chosen task."""
        if self.do(lambda: self.book.tick(self._chosen.code, self.note.text())):
            self.note.clear()

    def take_back(self) -> None:
        """Take its tick back."""
        if self.do(lambda: self.book.tick(self._chosen.code, self.note.text(), done=False)):
            self.note.clear()

    def add(self) -> None:
        """Put a task of this job's own on the list."""
        if self.do(lambda: self.book.own_task(self.text.text(), self.why.text())):
            self.text.clear()
            self.why.clear()
            self.lines.setCurrentRow(self.lines.count() - 1)

    def take_off(self) -> None:
        """Take the chosen task off the list, where it is this job's own."""
        self.do(self._take_off)

    def _take_off(self) -> str:
        task = self._chosen
        if task.own is None:
            raise InputError("Every job has this task: tick it, with a note why it does not apply")
        return self.book.undo(task.own)

    @property
    def _chosen(self) -> TaskLine:
        return task_lines(self.book.job)[max(0, self.lines.currentRow())]


class GapPart(EntryPart):
    """Valve clearances."""

    title = "Clearances"

    def __init__(self, book: JobBook) -> None:
        super().__init__(
            book,
            "Measure where a valve is free: the steps (F4) say which ones are."
            " What is measured later goes before what was measured earlier.",
            "Gaps that were measured",
        )
        self.valve, self.stage = self.choice("Valve", typed=True), self.choice("When", typed=True)
        self.stage.addItems([each or "on the stand" for each in STAGES])
        self.row("Valve, and when", self.valve, self.stage)
        self.found = self.field("such as 0.40 mm", "Gap as found")
        self.set = self.field("0.36 mm", "Gap as set")
        self.nipped = self.field("0.35 mm", "Gap after the locknut was nipped up")
        self.wanted = self.field("the profile’s", "Wanted gap")
        self.row("Found, as set", self.found, self.set)
        self.row("Nipped up, wanted", self.nipped, self.wanted)
        self.nipped.returnPressed.connect(self.measure)
        self.buttons(("Put the gap down", self.measure), ("Take it back", self.take_back))

    def fill(self) -> None:
        """Show what was measured."""
        profile = self.book.profile
        self.show_entries(gap_entries(self.book.job, profile), "None measured yet")
        names = list(valve_names(profile))
        if [self.valve.itemText(i) for i in range(self.valve.count())] != names:
            with QSignalBlocker(self.valve):
                self.valve.clear()
                self.valve.addItems(names)
        if (entry := self.valve.lineEdit()) is not None:
            entry.setPlaceholderText("such as 1E")

    @property
    def count_words(self) -> str:
        """How many were measured at the last stage."""
        job = self.book.job
        return str(len(job.gaps(job.stages[-1]))) if job.stages else "none"

    def measure(self) -> None:
        """Put down what was typed, and offer the next valve."""
        gaps = (self.found.text(), self.set.text(), self.nipped.text())
        stage = self.stage.currentText().strip()
        when = "" if stage == self.stage.itemText(0) else stage
        valve = self.valve.currentText().strip()
        if self.do(lambda: self.book.measure(valve, gaps, self.wanted.text(), when)):
            for each in (self.found, self.set, self.nipped):
                each.clear()
            self.valve.setCurrentIndex(min(self.valve.currentIndex() + 1, self.valve.count() - 1))


class AnswerPart(EntryPart):
    """Recordings and answers."""

    title = "Answers"

    recordings_wanted = Signal()
    profile_wanted = Signal()
    shown_wanted = Signal()

    def __init__(self, book: JobBook) -> None:
        super().__init__(
            book,
            "K, on any page, puts the answer shown there into the job: its recording is copied"
            " into the job, and the answer is worked out again about the whole of it.",
            "Recordings and answers",
        )
        self.buttons(
            ("Keep the answer shown (K)", self.shown_wanted.emit),
            ("Take it back", self.take_back),
        )
        self.buttons(
            ("Recordings …", self.recordings_wanted.emit),
            ("Engine profile …", self.profile_wanted.emit),
        )

    def fill(self) -> None:
        """Show what there is."""
        self.show_entries(answer_entries(self.book.job))

    @property
    def count_words(self) -> str:
        """How many there are."""
        return str(len(self.book.job.answers) or "none")


class SheetPart(JobPart):
    """The sheet."""

    title = "Sheet"

    wanted = Signal(str)

    def __init__(self, book: JobBook) -> None:
        super().__init__(
            book,
            "One HTML file and one PDF beside the job’s folder: what was found and set, what is"
            " still to do, and what was not checked; to be signed at its end.",
            "What will be on the sheet",
        )
        self.paper = self.choice("Paper")
        self.paper.addItems(list(PAPERS))
        self.row("Paper", self.paper)
        self.buttons(("Make the sheet", self._want))
        self.files: tuple[str, ...] = ()

    def fill(self) -> None:
        """Show what has been made, and what the sheet says was not checked."""
        made = [f"Made: {file}" for file in self.files]
        left = len(self.book.job.to_do)
        to_do = [f"Still to do: {left} of {len(self.book.job.tasks)}"] if left else []
        self.show_lines([*made, *to_do, *unchecked_lines(self.book.job)], "")

    @property
    def count_words(self) -> str:
        """Whether it was made."""
        return "made" if self.files else ""

    def _want(self) -> None:
        self.wanted.emit(PAPERS[self.paper.currentText()])
