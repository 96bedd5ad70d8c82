"""How is a file chosen? In a dialogue that nothing waits for; nobody types a path."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QDir, QEvent, QObject, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QFileDialog, QLineEdit, QWidget

from strokewise.gui.window import ink
from strokewise.gui.window.controls import CONTROL_TYPE_SHARE

DIALOG_SHARE = 0.7
"""Size of the dialogue, of the window's."""


class _Dropped(QObject):
    """Chooses the files that are dropped on a dialogue."""

    def __init__(self, dialog: QFileDialog) -> None:
        super().__init__(dialog)
        self._dialog = dialog
        dialog.setAcceptDrops(True)
        dialog.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() not in (QEvent.Type.DragEnter, QEvent.Type.Drop):
            return super().eventFilter(watched, event)
        assert isinstance(event, QDropEvent)
        files = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
        if not files:
            return False
        event.acceptProposedAction()
        if event.type() == QEvent.Type.Drop:
            self.take(files)
        return True

    def take(self, files: list[str]) -> None:
        """Choose files, as many as may be."""
        many = self._dialog.fileMode() == QFileDialog.FileMode.ExistingFiles
        self._dialog.filesSelected.emit(files if many else files[:1])
        self._dialog.accepted.emit()
        self._dialog.close()


def choose_files(
    window: QWidget,
    words: str,
    filters: Sequence[str],
    take: Callable[[list[str]], object],
    *,
    many: bool = False,
    saves: bool = False,
    recent: Sequence[str] = (),
    offered: Path | None = None,
) -> QFileDialog:
    """Ask for a file, or several; the window and the run go on meanwhile.

    Parameters
    ----------
    take : callable
        Called with the paths once they are chosen.
    saves : bool
        The file need not be there yet.
    recent : sequence of str
        Files that were chosen before, the latest first: it opens in the folder of the first, and
        the folders of all stand at its side. A file dropped on it is chosen.
    offered : Path, optional
        A name that can be taken as it is.
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
    folders = list(dict.fromkeys(str(Path(each).absolute().parent) for each in recent))
    if folders:
        dialog.setDirectory(folders[0])
        places = [QUrl.fromLocalFile(each) for each in (QDir.homePath(), *folders)]
        dialog.setSidebarUrls(places)
    if offered is not None:
        dialog.setDirectory(str(offered.parent))
        dialog.selectFile(offered.name)
    dialog.dropped = _Dropped(dialog)  # type: ignore[attr-defined]  # lives as long as it
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setFont(ink.font(max(13, round(ink.steady(window.height()) * CONTROL_TYPE_SHARE))))
    dialog.resize(round(window.width() * DIALOG_SHARE), round(window.height() * DIALOG_SHARE))
    dialog.filesSelected.connect(lambda names: take(list(names)))
    dialog.show()
    if offered is not None and (entry := dialog.findChild(QLineEdit)) is not None:
        entry.selectAll()  # another name is typed over it
    return dialog
