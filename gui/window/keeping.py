"""How does what is seen leave the window? The actions that save a view or copy it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from strokewise.daq.recording.atomic import free_name
from strokewise.gui.window import exports

if TYPE_CHECKING:
    from strokewise.gui.window.workbench import Workbench


class KeepingActions:
    """The actions that keep a view."""

    window: Workbench

    def export_png(self) -> None:
        """Save this view as a picture."""
        self._export(".png", exports.save_png)

    def export_svg(self) -> None:
        """Save this view as a drawing."""
        self._export(".svg", exports.save_svg)

    def export_csv(self) -> None:
        """Save this view as a table."""
        self._export(".csv", exports.save_csv)

    def copy(self) -> None:
        """Copy this view."""
        words = exports.copy(self.window.exported_view())
        self.window.say("Copied: picture and text" if words else "Copied: picture and table")

    def _export(self, suffix: str, save: Callable[[exports.Exportable, Path], None]) -> None:
        folder = self._folder()
        if folder is None:
            return
        path = free_name(folder, f"{Path(self.window.run_name).stem}-{self.window.view}", suffix)
        try:
            save(self.window.exported_view(), path)
        except OSError as error:
            self.window.say(f"{path} could not be written: {error.strerror}")
            return
        self.window.say(f"Saved as {path}")

    def _folder(self) -> Path | None:
        folder = self.window.settings.exports
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            self.window.say(f"The folder {folder} cannot be used: {error.strerror}")
            return None
        return folder
