"""How is a recording played by key? Faster and slower, on and back, to places marked in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from strokewise.gui.window.workbench import Workbench


class ReplayActions:
    """The actions of a replay."""

    window: Workbench

    def _replay(self, name: str, *args: float) -> None:
        if self.window.replay is not None:
            getattr(self.window.replay, name)(*args)

    def toggle_play(self) -> None:
        """Play or pause."""
        if self.window.replay is not None:
            self.window.replay.play(not self.window.replay.playing)

    def faster(self) -> None:
        """Play faster."""
        self._replay("faster", 1)

    def slower(self) -> None:
        """Play slower."""
        self._replay("faster", -1)

    def sample_on(self) -> None:
        """On by a sample; over a figure the cursor moves instead."""
        self._step(1, "step_samples")

    def sample_back(self) -> None:
        """Back by a sample."""
        self._step(-1, "step_samples")

    def degree_on(self) -> None:
        """On by a degree."""
        self._replay("step_degrees", 1.0)

    def degree_back(self) -> None:
        """Back by a degree."""
        self._replay("step_degrees", -1.0)

    def _step(self, by: int, name: str) -> None:
        if self.window.view in self.window.pages:
            self._replay(name, by)
        else:
            self.window.figure.move_cursor(by)

    def next_tdc(self) -> None:
        """On to the next TDC."""
        self._replay("next_tdc")

    def to_start(self) -> None:
        """To the start."""
        self._replay("seek", 0.0)

    def to_end(self) -> None:
        """To the end of what has been looked through."""
        replay = self.window.run.snapshot.replay
        if replay is not None:
            self._replay("seek", replay.length_s)

    # -- places in it

    def put_bookmark(self) -> None:
        """Put a bookmark here, or take away the one that stands here."""
        if self.window.replay is not None:
            count = len(self.window.replay.bookmark().bookmarks_s)
            self.window.say(f"{count} bookmark{'' if count == 1 else 's'} in this recording")

    def next_bookmark(self, step: int = 1) -> None:
        """Go to the next bookmark."""
        replay = self.window.replay
        if replay is not None and not replay.go_to_bookmark(step):
            self.window.say("No bookmark yet: D puts one here")

    def previous_bookmark(self) -> None:
        """Go to the bookmark before."""
        self.next_bookmark(-1)

    def loop_here(self) -> None:
        """Loop from here; again: to here; again: no longer."""
        if self.window.replay is not None:
            self.window.say(self.window.replay.loop().loop_words)
