"""What happens on a key? One method for each action that the list of keys names."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QKeySequence, QShortcut

from strokewise.analysis.errors import InputError
from strokewise.daq.recording.atomic import free_name
from strokewise.daq.recording.container import RECORDING_SUFFIX
from strokewise.gui.models.figures.units import NOT_CALIBRATED, is_calibrated, next_unit
from strokewise.gui.models.keys import KEYS, VIEWS, grouped, keys_for
from strokewise.gui.models.turn.rocking import rocking_for
from strokewise.gui.models.turn.target import Target, advance_of, marks_by_key, targets
from strokewise.gui.pages.cautions import before_recording, turning_back
from strokewise.gui.window.action_list import ActionList, ChoiceList
from strokewise.gui.window.choosing import choose_files
from strokewise.gui.window.keeping import KeepingActions
from strokewise.gui.window.key_button import scale_of
from strokewise.gui.window.laying import LayingActions
from strokewise.gui.window.panel_text import caution_html
from strokewise.gui.window.replay_actions import ReplayActions
from strokewise.gui.window.worksheet_actions import WorksheetActions

if TYPE_CHECKING:
    from strokewise.gui.window.workbench import Workbench


ZOOM = 1.4
GAP_SHARE = 0.03
"""Between the columns of a panel, of the window's height."""


class Actions(KeepingActions, LayingActions, ReplayActions, WorksheetActions):
    """The keys of a window, bound to what they do."""

    def __init__(self, window: Workbench) -> None:
        self.window = window
        for name, _ in VIEWS:
            setattr(self, f"view_{name}", partial(window.show_view, name))
        self.shortcuts: list[QShortcut] = []
        for key in KEYS:
            do = partial(self.do, key.action)
            for sequence in key.keys:
                shortcut = QShortcut(QKeySequence(sequence), window)
                shortcut.activated.connect(do)
                self.shortcuts.append(shortcut)

    # -- what lies over the picture

    @property
    def _gap(self) -> int:
        return round(self.window.height() * GAP_SHARE)

    def do(self, name: str) -> None:
        """Do what an action of the table says, but for what a question keeps from the class."""
        if not self.refused(name):
            getattr(self, name)()

    def refused(self, name: str) -> bool:
        """Tell, and say, that a question that stands does not let this be done."""
        window = self.window
        return window.question_stands and window.rooms.questioning.refuses(name)

    def show_keys(self) -> None:
        """Show every action as a button, with its key."""
        window = self.window
        groups = grouped(keys_for({*window.circumstances, "class"}))
        inside = ActionList(
            groups, window.panel.room, scale_of(window), window.colours, self._from_list
        )
        window.panel.hold(inside, window.colours)

    def _from_list(self, name: str) -> None:
        self.window.panel.dismiss()
        if name != "show_keys":
            self.do(name)

    def show_cautions(self, then: Callable[[], None] | None = None) -> None:
        """Show the cautions; ``then`` follows once they have been read."""
        profile = self.window.run.snapshot.profile
        cautions = (*before_recording(), turning_back(profile))
        button = "Read (Enter)" if then is not None else "Close (Esc)"
        self.window.panel.tell(
            caution_html(cautions, self._gap), self.window.colours, button=button, then=then
        )

    def back(self) -> None:
        """Close what lies over the picture, or go back to the stroke chart."""
        window = self.window
        if not window.panel.isHidden():
            window.panel.dismiss()
        elif window.bar.words:
            window.bar.clear()
        else:
            window.show_view("chart")
        window.setFocus()
        if not window.question_bar.isHidden():  # a question stands until it is answered
            window.rooms.questioning.take_keyboard()

    # -- target and timing

    def next_target(self, step: int = 1) -> None:
        """Choose the next target of the list."""
        snapshot = self.window.run.snapshot
        choice = list(targets(snapshot.profile))
        chosen = self.window.chosen or choice[0]
        at = choice.index(chosen) if chosen in choice else -1
        self.choose(choice[(at + step) % len(choice)])

    def previous_target(self) -> None:
        """Choose the target before."""
        self.next_target(-1)

    def list_targets(self) -> None:
        """Show every target, to choose one."""
        window = self.window
        snapshot = window.run.snapshot
        choice = targets(snapshot.profile)
        chosen = window.chosen or snapshot.target
        at = choice.index(chosen) if chosen in choice else None

        def take(number: int) -> None:
            window.panel.dismiss()
            if number < len(choice):
                self.choose(choice[number])
            else:
                self.ask_advance()

        words = [(target.label, target.explanation) for target in choice]
        words.append(("an advance …", "so many degrees before a firing TDC, typed in"))
        inside = ChoiceList("Turn to", words, at, window.panel.room, scale_of(window), take)
        window.panel.hold(inside, window.colours)

    def choose(self, target: Target) -> None:
        """Turn to a target from now on."""
        self.window.chosen = target
        self.window.run.choose(target)
        self.window.say(f"Turn to {target.label}: {target.explanation}")
        self.window.redraw()

    def ask_advance(self) -> None:
        """Ask for an advance before firing TDC."""
        self.window.bar.ask_text(
            "Advance before firing TDC, in degrees, and cylinder (12 or 12 3):",
            self.window.colours,
            self._take_advance,
        )

    def _take_advance(self, text: str) -> None:
        try:
            self.choose(advance_of(text, self.window.run.snapshot.profile.cylinders))
        except InputError as error:
            self.window.say(str(error))

    def toggle_suspect(self) -> None:
        """Put the timing under suspicion, or lift that."""
        suspect = not self.window.run.snapshot.first_turns.suspect
        self.window.run.suspect(suspect)
        self.window.say(
            "Timing under suspicion: first two full turns by hand, stop at any resistance, "
            "only then the starter"
            if suspect
            else "Timing taken as proven"
        )

    def toggle_rocking(self) -> None:
        """Show the rocking guide in the turn guide's place, or the turn guide again."""
        window = self.window
        guide = window.chart_page.guide
        rocking = rocking_for(window.run.snapshot.profile, None, None)
        if rocking.guidance.refused:
            window.say(rocking.instruction)
            return
        guide.rock_asked = guide.rocking is None
        window.show_view("chart")

    # -- how it looks and sounds

    def toggle_sound(self) -> None:
        """Sound on or off."""
        speaker = self.window.speaker
        if speaker.on:
            speaker.switch_off()
        elif not speaker.switch_on():
            self.window.say(speaker.why_silent)
        self.window.redraw()

    def next_unit(self) -> None:
        """Show pressure in the next unit."""
        self.window.remember(unit=next_unit(self.window.unit).name)
        if not is_calibrated(self.window.run.snapshot.profile):
            self.window.say(f"{self.window.unit.name} chosen; here {NOT_CALIBRATED}")
        self.window.redraw()

    def toggle_theme(self) -> None:
        """Light or dark."""
        self.window.remember(theme="dark" if self.window.settings.theme == "light" else "light")
        self.window.redraw()

    def toggle_full_screen(self) -> None:
        """Whole screen, or not."""
        if self.window.isFullScreen():
            self.window.showNormal()
        else:
            self.window.showFullScreen()

    def zoom_in(self) -> None:
        """Zoom in on a figure."""
        self.window.figure.zoom(ZOOM)

    def zoom_out(self) -> None:
        """Zoom out."""
        self.window.figure.zoom(1 / ZOOM)

    def zoom_all(self) -> None:
        """Show all of the figure."""
        self.window.figure.show_all()

    # -- other recordings

    def open_recording(self) -> None:
        """Ask for a recording to be played instead."""
        take = self.window.drops.take
        self._choose_recording("Recording to be played", lambda name: take(Path(name)))

    def _choose_recording(self, words: str, take: Callable[[str], object]) -> None:
        self.window.dialog = choose_files(
            self.window,
            words,
            [f"Recordings (*{RECORDING_SUFFIX})"],
            lambda names: take(names[0]),
            recent=self.window.settings.recent_recordings,
        )

    # -- live

    def toggle_recording(self) -> None:
        """Record, or stop recording."""
        live = self.window.live
        if live is None:
            self.window.say("A replay is not recorded again")
        elif live.snapshot.link.recording:
            live.stop_recording()
            self.window.say(f"Kept in {live.snapshot.link.recording}")
        else:
            folder = self._folder()
            if folder is not None:
                stamp = datetime.now().strftime("%Y-%m-%d-%H%M%S")
                self.window.recorded = free_name(folder, f"recording-{stamp}", RECORDING_SUFFIX)
                live.record(self.window.recorded)

    def press_mark(self) -> None:
        """A mark stands at its pointer now."""
        live = self.window.live
        if live is None:
            return
        name = self.window.mark
        live.press(name)
        others = len(marks_by_key(live.snapshot.profile)) > 1
        more = ". Shift+M: M is for another mark" if others else ""
        self.window.say(f"Mark “{name}” put down{more}")

    def next_mark(self) -> None:
        """Take M for the next of the marks that are pressed by key, and say which."""
        window = self.window
        if window.live is None:
            return
        names = marks_by_key(window.run.snapshot.profile)
        if len(names) < 2:
            only = f"“{names[0]}” is the only one" if names else "the profile names none"
            window.say(f"M has no choice of marks: {only} that is pressed by key")
            return
        window.chosen_mark = names[(names.index(window.mark) + 1) % len(names)]
        others = ", ".join(f"“{name}”" for name in names if name != window.mark)
        window.say(f"M is now for “{window.mark}” (others: {others})")
        window.redraw()

    # -- pages

    def show_setup(self) -> None:
        """Show the set-up page."""
        self.window.show_page("setup")

    def show_class(self) -> None:
        """Show the class-room page."""
        self.window.show_page("class")

    def show_steps(self, by: int = 1) -> None:
        """Show the steps after TDC; there already, the next one."""
        if self.window.view != "steps":
            self.window.show_page("steps")
        else:
            self._steps("turn", by)

    def show_job(self, by: int = 1) -> None:
        """Show the job; there already, its next part."""
        if self.window.view != "job":
            self.window.show_page("job")
        else:
            self.window.rooms.desk.page.turn(by)
        self.window.rooms.desk.page.take_keyboard()

    def previous_part(self) -> None:
        """Show the part of the job before."""
        self.show_job(-1)

    def keep_answer(self) -> None:
        """Put the answer that is shown into the job."""
        self.window.rooms.desk.keep_shown()

    def previous_step(self) -> None:
        """Show the step before."""
        self.show_steps(-1)

    def read_on(self) -> None:
        """Read on in a step's answer."""
        self._steps("scroll", 1)

    def read_back(self) -> None:
        """Read back in a step's answer."""
        self._steps("scroll", -1)

    def _steps(self, name: str, by: int) -> None:
        if self.window.view == "steps":
            getattr(self.window.pages["steps"], name)(by)

    def toggle_question(self) -> None:
        """Hide the verdict until the class has answered."""
        self.window.toggle_question()

    def show_lesson(self) -> None:
        """Show the questions, answers and scores of the class."""
        self._lesson("show_desk")

    def next_question(self) -> None:
        """Put the next question before the class."""
        self._lesson("next")

    def reveal_answer(self) -> None:
        """Show the answer, whoever has not answered."""
        self._lesson("reveal")

    def _lesson(self, name: str) -> None:
        if self.window.lesson is not None:
            getattr(self.window.lesson, name)()
        else:
            self.window.say("No class is held: open one with strokewise class FILE")

    def close(self) -> None:
        """Close the window."""
        self.window.close()
