"""How does a room open without the window standing still? Its modules are loaded aside."""

from __future__ import annotations

import importlib
import threading

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QLabel, QProgressBar, QVBoxLayout, QWidget

from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.window.controls import dress, heading


class Preparer(QObject):
    """Loads modules in a thread of its own, and has compiled what is not yet.

    Parameters
    ----------
    engine : str
        Module that knows whether the bench's engine is compiled, and has it done; empty for none.
    """

    progress = Signal(float)
    """Share of the modules that are there, 0 to 1."""
    compiles = Signal()
    """It will take longer, this once."""
    done = Signal()

    def __init__(self, modules: tuple[str, ...], engine: str = "") -> None:
        super().__init__()
        self._modules, self._engine = modules, engine
        self.finished = False
        self._thread = threading.Thread(target=self._load, name="preparer", daemon=True)

    def begin(self) -> None:
        """Begin, once what it says is listened to; later calls do nothing."""
        if self._thread.ident is None:
            self._thread.start()

    def _load(self) -> None:
        for number, name in enumerate(self._modules, start=1):
            importlib.import_module(name)
            self.progress.emit(number / len(self._modules))
        engine = importlib.import_module(self._engine) if self._engine else None
        if engine is not None and not engine.is_kept():
            self.compiles.emit()
            engine.compile_aside()
        self.finished = True
        self.done.emit()


class Opening(QWidget):
    """Stands in a page's place while it opens, and says how far it is."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self._dressed: tuple[object, ...] = ()
        self.bar = QProgressBar()
        self.bar.setRange(0, 100)
        self.bar.setAccessibleName(words)
        layout = QVBoxLayout(self)
        layout.addStretch(1)
        layout.addWidget(heading(f"{words} …"), 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addWidget(self.bar)
        note = QLabel("The run goes on meanwhile. Esc: back to the stroke chart")
        layout.addWidget(note, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addStretch(1)

    def show_progress(self, share: float) -> None:
        """Show how far it is."""
        self.bar.setValue(round(100 * share))

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Keep to the window's colours."""
        state = (colours.theme, self.window().height())
        if state != self._dressed:
            self._dressed = state
            dress(self, colours)
