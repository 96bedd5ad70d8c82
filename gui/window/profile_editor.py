"""How is a profile made on the screen? The form, a drawing of the key in hand, and its file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QByteArray, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from strokewise.analysis.errors import StrokewiseError
from strokewise.analysis.profile import Profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.profile.layers import load_profile
from strokewise.daq.profile.write import write_profile
from strokewise.gui.drawings.key_svg import KEY_HEIGHT, KEY_WIDTH, key_svg
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.setup.checks import sensor_on
from strokewise.gui.models.setup.draft import Draft
from strokewise.gui.models.setup.lacking import ANY_MARK
from strokewise.gui.models.setup.profile_words import key_said
from strokewise.gui.window.choosing import choose_files
from strokewise.gui.window.controls import Choice, buttons, heading
from strokewise.gui.window.profile_table import ProfileTable

UNSOUND = "The profile cannot be {} yet: see what is said beside its keys"


class KeyDrawing(QWidget):
    """Draws what the key in hand means, and takes no room where a word is enough."""

    def __init__(self) -> None:
        super().__init__()
        self._renderer = QSvgRenderer()
        self.hide()

    def show_key(self, key: str, said: str, words: str) -> None:
        """Show the drawing of a key, with what was said of it."""
        svg = key_svg(key, said)
        self.setVisible(svg is not None)
        if svg is not None:
            self._renderer.load(QByteArray(svg.encode()))
            self.setAccessibleName(f"Drawing: {words}")
            self.setFixedHeight(KEY_HEIGHT)
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        painter.fillRect(self.rect(), Qt.GlobalColor.white)  # it is drawn for paper
        wide = min(float(self.width()), self.height() * KEY_WIDTH / KEY_HEIGHT)
        high = wide * KEY_HEIGHT / KEY_WIDTH
        self._renderer.render(painter, QRectF(0, (self.height() - high) / 2, wide, high))
        painter.end()


class ProfileEditor(QWidget):
    """The form of a profile and its file.

    Parameters
    ----------
    channel : callable
        Returns the channel whose sensor is looked at.
    """

    said = Signal(str)
    wanted = Signal(object, str)
    """A profile to be used from now on, and the file it lies in."""
    written = Signal()
    """Something in the draft has changed."""

    def __init__(
        self, profile: Profile, recent: tuple[str, ...], channel: Callable[[], int]
    ) -> None:
        super().__init__()
        self.draft = Draft.of(profile)
        self._channel = channel
        self.table = ProfileTable(self.draft)
        self.table.written.connect(self._table_written)
        self.table.currentCellChanged.connect(lambda *_: self._draw_key())
        self.drawing = KeyDrawing()
        self.path = QLineEdit(recent[0] if recent else "")
        self.path.setPlaceholderText("file of the profile, such as bench.toml")
        self.path.setAccessibleName("File of the profile")
        self.recent = Choice()
        self.recent.setAccessibleName("Recent profiles")
        self.recent.addItem("recent profiles")
        self.recent.addItems(recent)
        self.recent.activated.connect(
            lambda index: self.open_profile(self.recent.itemText(index)) if index else None
        )
        self.about = QLabel("")
        self.about.setWordWrap(True)
        self.whole_error = QLabel("")
        self.whole_error.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(heading("Engine profile"))
        layout.addWidget(self.table, 1)
        layout.addWidget(self.about)
        layout.addWidget(self.drawing)
        layout.addWidget(self.whole_error)
        layout.addLayout(
            buttons(
                ("Add mark", "", self.add_mark),
                ("Drop mark", "", self.remove_mark),
                ("Add sensor", "", self.add_sensor),
                ("Drop sensor", "", self.remove_sensor),
            )
        )
        row = QHBoxLayout()
        row.addWidget(self.path, 1)
        row.addWidget(self.recent)
        layout.addLayout(row)
        layout.addLayout(
            buttons(
                ("Open …", "", self.choose_profile),
                ("Use", "", self.use_profile),
                ("Save and use", "", self.save_profile),
            )
        )
        self.fill()

    def fill(self) -> None:
        """Fill the form from the draft."""
        self.table.draft = self.draft
        self.table.fill()
        self.whole_error.setText(self.draft.error)
        self.whole_error.setVisible(bool(self.draft.error))
        self._draw_key()

    def edit(self, profile: Profile) -> None:
        """Edit a profile."""
        self.draft = Draft.of(profile)
        self.changed()

    def open_profile(self, path: str) -> None:
        """Read a profile file into the form."""
        try:
            known = check_table(load_profile(path).table, path)
        except StrokewiseError as error:
            self.said.emit(str(error))
            return
        self.path.setText(path)
        self.edit(known.profile)

    def use_profile(self) -> None:
        """Use the profile as it stands."""
        if self.draft.profile is None:
            self.said.emit(UNSOUND.format("used"))
            return
        self.wanted.emit(self.draft.profile, "")

    def save_profile(self) -> None:
        """Save the profile and use it."""
        if self.draft.profile is None:
            self.said.emit(UNSOUND.format("saved"))
            return
        path = Path(self.path.text().strip() or "engine.toml").expanduser()
        try:
            write_profile(self.draft.profile, path)
        except StrokewiseError as error:
            self.said.emit(str(error))
            return
        self.wanted.emit(self.draft.profile, str(path))

    def choose_profile(self) -> None:
        """Choose a profile file."""
        self.dialog = choose_files(
            self.window(),
            "Engine profile",
            ["Engine profiles (*.toml)"],
            lambda names: self.open_profile(names[0]),
            recent=[self.recent.itemText(i) for i in range(1, self.recent.count())],
        )

    def add_mark(self) -> None:
        """Add a mark, and go to it."""
        self.draft.add_mark()
        self.changed()
        profile = self.draft.profile
        if profile is not None and profile.marks:
            self.table.go_to(("marks", len(profile.marks) - 1, "name"))

    def go_to(self, key: str) -> None:
        """Put the keyboard where a key is filled in; a mark that there is none of is added."""
        if key == ANY_MARK:
            self.add_mark()
        else:
            self.table.go_to(tuple(key.split(".")))
        self.table.setFocus()

    def remove_mark(self) -> None:
        """Take the mark out in whose rows the keyboard is."""
        row = self.table.row_at(self.table.currentRow())
        number = row.path[1] if row is not None and row.path[0] == "marks" else None
        if isinstance(number, int) and self.draft.remove_mark(number):
            self.changed()
        else:
            self.said.emit("Choose a row of the mark that is to be dropped")

    def add_sensor(self) -> None:
        """Add one on the chosen channel, or where that has one, on the first that has none."""
        channel = self._channel()
        profile = self.draft.profile
        has_one = profile is None or sensor_on(profile, channel) is not None
        self.draft.add_sensor(None if has_one else channel)
        self.changed()

    def remove_sensor(self) -> None:
        """Take the sensor of the chosen channel out."""
        if self.draft.remove_sensor(self._channel()):
            self.changed()
        else:
            self.said.emit(f"The profile has no sensor on channel {self._channel()} to take out")

    def take_reading(self, snapshot: Snapshot | None, pressure: str) -> bool:
        """Put a reading beside the pressure that was typed, as a known point; True when done."""
        reading, channel = snapshot and snapshot.reading, self._channel()
        if not reading or channel >= len(reading.raw):
            self.said.emit("No reading yet: connect the board first")
        elif not pressure:
            self.said.emit("Type the pressure that stands at the sensor now, such as 0 bar")
        elif self.draft.add_point(channel, reading.raw[channel], pressure):
            self.changed()
            self.said.emit(f"Reading {reading.raw[channel]} taken as {pressure}")
            return True
        else:
            self.said.emit(f"The profile names no sensor on channel {channel}: add one to it first")
        return False

    def changed(self) -> None:
        """Show what was written into the draft from here or from elsewhere."""
        self.fill()
        self.written.emit()

    def _table_written(self) -> None:
        self.whole_error.setText(self.draft.error)
        self.whole_error.setVisible(bool(self.draft.error))
        self._draw_key()
        self.written.emit()

    def _draw_key(self) -> None:
        row = self.table.row_at(self.table.currentRow())
        if row is None:
            self.drawing.hide()
            self.about.hide()
            return
        said = key_said(row.path)
        key = ".".join(step for step in row.path if isinstance(step, str))
        self.drawing.show_key(key, row.text, said.words)
        self.about.setText(f"{said.words}: {said.hint}.")
        self.about.setVisible(bool(said.hint))
        # With less room left for the table its row must still be seen.
        QTimer.singleShot(0, self.table, self.table.show_current)
