"""How is a file chosen? In a dialogue that nothing waits for; nobody types a path."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QWidget

from strokewise.gui.window import ink
from strokewise.gui.window.controls import CONTROL_TYPE_SHARE

DIALOG_SHARE = 0.7
"""Size of the dialogue, of the window's."""


def choose_files(
    window: QWidget,
    words: str,
    filters: Sequence[str],
    take: Callable[[list[str]], object],
    *,
    many: bool = False,
    saves: bool = False,
) -> QFileDialog:
    """Ask for a file, or several; the window and the run go on meanwhile.

    Parameters
    ----------
    take : callable
        Called with the paths once they are chosen.
    saves : bool
        The file need not be there yet.
    """
    dialog = QFileDialog(window, words)
    dialog.setOption(QFileDialog.Option.DontUseNativeDialog)  # that of a platform may block
    dialog.setWindowModality(Qt.WindowModality.NonModal)
    modes = QFileDialog.FileMode
    dialog.setFileMode(
        modes.AnyFile if saves else modes.ExistingFiles if many else modes.ExistingFile
    )
    if saves:
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setNameFilters([*filters, "All files (*)"])
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setFont(ink.font(max(13, round(ink.steady(window.height()) * CONTROL_TYPE_SHARE))))
    dialog.resize(round(window.width() * DIALOG_SHARE), round(window.height() * DIALOG_SHARE))
    dialog.filesSelected.connect(lambda names: take(list(names)))
    dialog.show()
    return dialog
