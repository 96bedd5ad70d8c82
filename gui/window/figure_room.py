"""Which figure does the window show, and is it drawn anew? Loaded with the first one wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.gui.models.figures.piston import piston_now
from strokewise.gui.models.figures.view_figures import figure_of, now_of
from strokewise.gui.models.figures.views import OF_PASSES
from strokewise.gui.models.run.snapshot import Snapshot

if TYPE_CHECKING:
    from strokewise.gui.window.figure_view import FigureView
    from strokewise.gui.window.workbench import Workbench


class FigureRoom:
    """Draws the figures of a window, each only when something in it has changed."""

    def __init__(self, window: Workbench) -> None:
        self._window = window
        self._view: FigureView | None = None
        self._drawn_of: tuple[object, ...] = ()
        self._drawn_passes: object = None

    @property
    def view(self) -> FigureView:
        """What draws them, loaded when the first is wanted: a fifth of the start-up."""
        if self._view is None:
            from strokewise.gui.window.figure_view import FigureView

            self._view = FigureView()
            self._window.stack.addWidget(self._view)
        return self._view

    def forget(self) -> None:
        """Draw the next one anew, whatever was drawn before."""
        self._drawn_of = ()

    def draw(self, snapshot: Snapshot) -> None:
        """Draw the figure of the present view."""
        window, colours = self._window, self._window.colours
        tdc = None if snapshot.verdict is None else snapshot.verdict.tdc
        name, unit = window.view, window.unit
        far = snapshot.before_class
        drawn_of = (
            snapshot.why_no_passes(), tdc, name, unit.name, colours.theme, window.laid, far,
        )  # fmt: skip
        # Passes hold arrays, which have no plain equality: another tuple is other passes.
        if drawn_of != self._drawn_of or snapshot.passes is not self._drawn_passes:
            self._drawn_of, self._drawn_passes = drawn_of, snapshot.passes
            figure = figure_of(name, snapshot, unit, name=window.run_name, laid=window.laid)
            self.view.show_figure(figure, colours, far=far)
        self.view.show_now(now_of(name, snapshot, unit))
        self.view.show_piston(piston_now(snapshot) if name in OF_PASSES else None)
