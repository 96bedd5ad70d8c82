"""Where is everything set up? Port, sensor and encoder check, engine profile, on one page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.analysis.trace.trace import DEFAULT_ADC_BITS, pressure_of
from strokewise.daq.ports import Port, ports
from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.setup.checks import SensorCheck, TurnCheck, sensor_choices, sensor_on
from strokewise.gui.models.setup.draft import Draft
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.sayings.saying import capital
from strokewise.gui.window.controls import Choice, buttons, dress, heading
from strokewise.gui.window.first_fields import FirstFields
from strokewise.gui.window.profile_editor import UNSOUND, ProfileEditor

NO_CHANNEL = "The board sends no reading on this channel"
PORTS_EVERY_MS = 2000
"""So often the ports are listed again while the page is seen."""
BAUDS = ("57600", "115200", "230400", "250000", "500000", "1000000")


def said_of_engine(profile: Profile) -> bool:
    """Tell whether anybody said what engine it is: one cylinder alone is what counts before."""
    return profile.cylinders > 1 or bool(profile.name) or profile.stroke_mm is not None


class SetupPage(QWidget):
    """The set-up page; what it finds out is handed on by signals."""

    connect_wanted = Signal(str, int, str, bool)
    """Port, baud, job, whether the timing is under suspicion."""
    profile_wanted = Signal(object, str)
    """A profile to be used from now on, and the file it lies in."""
    recording_wanted = Signal()
    """A recording is to be looked at instead."""
    said = Signal(str)

    def __init__(
        self, settings: Settings, profile: Profile, list_ports: Callable[[], list[Port]] = ports
    ) -> None:
        super().__init__()
        self._list_ports = list_ports
        self.sensor_check, self.turn_check = SensorCheck(), TurnCheck()
        self._snapshot: Snapshot | None = None
        self._dressed: tuple[object, ...] = ()
        self._listed: list[Port] | None = None
        self._watch = QTimer(self)
        self._watch.setInterval(PORTS_EVERY_MS)
        self._watch.timeout.connect(self.refresh_ports)
        self._channels: tuple[tuple[int, str], ...] = ()
        layout = QHBoxLayout(self)
        self._began_with = profile
        self.editor = ProfileEditor(profile, settings.recent_profiles, lambda: self.channel)
        self.editor.said.connect(self.said)
        self.editor.wanted.connect(self.profile_wanted)
        self.editor.written.connect(self.fill_first)
        layout.addLayout(self._left(settings), 4)
        layout.addWidget(self.editor, 7)
        self.refresh_ports()
        self.fill_first()

    def refresh_ports(self) -> None:
        """List the ports again; nothing moves where nothing has changed."""
        found = self._list_ports()
        if found == self._listed:
            return
        chosen, self._listed = self.port, found
        self.port_list.clear()
        for port in found:
            item = QListWidgetItem(f"{port.device}   {port.description}".rstrip())
            item.setData(Qt.ItemDataRole.UserRole, port.device)
            self.port_list.addItem(item)
            if port.device == chosen:
                self.port_list.setCurrentItem(item)
        if not found:
            self.port_list.addItem("No port found: plug the board in, then press F5")
            self.port_list.addItem("Without a board: open a recording, or F3, the class-room")

    def showEvent(self, event: QShowEvent) -> None:  # noqa: D102
        super().showEvent(event)
        self._watch.start()

    def hideEvent(self, event: QHideEvent) -> None:  # noqa: D102
        super().hideEvent(event)
        self._watch.stop()

    @property
    def port(self) -> str:
        """The port to connect to: what was typed, or chosen from the list."""
        return self.port_entry.text().strip()

    def connect_port(self) -> None:
        """Ask for a live run of the port."""
        if not self.port:
            self.said.emit("Choose a port from the list, or type its name")
            return
        if not self.first.stated:
            self.said.emit("Say how many cylinders there are, and their firing order, first")
            return
        if self.draft.profile is None:
            self.said.emit(UNSOUND.format("used"))
            return
        baud = int(self.baud.currentText())
        self.connect_wanted.emit(self.port, baud, self.job.text().strip(), self.suspect.isChecked())

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Show the readings of a moment."""
        self._snapshot = snapshot
        self._dress(colours)
        profile, reading = snapshot.profile, snapshot.reading
        self._fill_channels(sensor_choices(profile, reading))
        channel = self.channel
        sensor = sensor_on(profile, channel)
        self.sensor_check.add(reading, channel)
        if reading is None or channel >= len(reading.raw):
            self.reading.setText("No reading yet" if reading is None else NO_CHANNEL)
            return
        raw = reading.raw[channel]
        words = f"raw {raw}"
        if sensor is not None and sensor.points:
            bar, _ = pressure_of([raw], sensor, profile, DEFAULT_ADC_BITS)  # type: ignore[arg-type]
            words += f"   =   {unit.text(float(bar[0]))} absolute"
        elif sensor is None:
            words += "   (no sensor of the profile is on this channel: no unit)"
        else:
            words += "   (no known points in the profile: no unit)"
        angle = snapshot.angle_deg or 0.0
        self.reading.setText(f"Pressure: {words}")
        self.encoder.setText(f"Encoder: count {reading.count}   =   {angle:.1f}° of the crank")

    def press_turn(self) -> None:
        """First or second press of the turn check."""
        reading = None if self._snapshot is None else self._snapshot.reading
        if reading is None:
            self.said.emit("No reading yet: connect the board first")
            return
        self.turn_check = self.turn_check.press(reading)
        self.turn_words.setText(self.turn_check.words)

    def take_turn(self) -> None:
        """Put counts and direction as found into the profile."""
        if self._snapshot is not None:
            self._use(lambda snapshot: self.turn_check.applied(snapshot.profile))

    def take_zero(self) -> None:
        """Zero the chosen sensor at the atmosphere."""

        def zeroed(snapshot: Snapshot) -> Profile:
            profile, channel = snapshot.profile, self.channel
            sensor = sensor_on(profile, channel)
            if sensor is None:
                raise InputError(
                    f"the profile names no sensor on channel {channel}: add one to it first"
                )
            atmosphere = profile.atmosphere.pressure_bar
            shifted = self.sensor_check.zeroed(sensor, atmosphere)
            sensors = tuple(shifted if each is sensor else each for each in profile.sensors)
            return replace(profile, sensors=sensors)

        self._use(zeroed)

    def _use(self, make: Callable[[Snapshot], Profile]) -> None:
        if self._snapshot is None:
            return
        try:
            profile = make(self._snapshot)
        except InputError as error:
            self.said.emit(capital(str(error)))
            return
        self.editor.edit(profile)
        self.profile_wanted.emit(profile, "")

    @property
    def draft(self) -> Draft:
        """The profile as it is being edited."""
        return self.editor.draft

    def open_profile(self, path: str) -> None:
        """Read a profile file into the form."""
        self.editor.open_profile(path)

    def fill_first(self) -> None:
        """Show in the first fields what the draft says."""
        self.first.draft = self.draft
        profile = self.draft.profile
        self.first.stated |= profile is not None and said_of_engine(profile)
        self.first.fill()

    def take_reading(self) -> None:
        """Put the reading of this moment beside the pressure that was typed, as a known point."""
        if self.editor.take_reading(self._snapshot, self.pressure.text().strip()):
            self.pressure.clear()

    def _left(self, settings: Settings) -> QVBoxLayout:
        self.port_list = QListWidget()
        self.port_list.setAccessibleName("Ports")
        self.port_list.setObjectName("targets")
        self.port_list.itemClicked.connect(self._port_chosen)
        self.port_list.itemActivated.connect(self._port_chosen)
        self.setFocusProxy(self.port_list)
        self.port_entry = QLineEdit(settings.port)
        self.port_entry.setPlaceholderText("port, such as /dev/ttyACM0 or COM3")
        self.port_entry.returnPressed.connect(self.connect_port)
        self.port_entry.setAccessibleName("Port")
        self.baud = Choice()
        self.baud.setAccessibleName("Baud")
        self.baud.addItems(BAUDS)
        self.baud.setCurrentText(str(settings.baud))
        self.job = QLineEdit()
        self.job.setAccessibleName("Name of the job")
        self.job.setPlaceholderText("name of the job")
        self.suspect = QCheckBox("timing under suspicion: two turns by hand first")
        self.suspect.setAccessibleName(self.suspect.text())
        self.reading, self.encoder = QLabel("No reading yet"), QLabel("")
        self.channels = Choice()
        self.channels.setAccessibleName("Sensor")
        self.turn_words = QLabel(self.turn_check.words)
        self.turn_words.setWordWrap(True)
        row = QHBoxLayout()
        row.addWidget(self.port_entry, 1)
        row.addWidget(self.baud)
        left = QVBoxLayout()
        left.addWidget(heading("Port"))
        left.addWidget(self.port_list, 1)
        left.addLayout(row)
        self.first = FirstFields(self.draft, stated=said_of_engine(self._began_with))
        self.first.written.connect(self.editor.changed)
        left.addWidget(self.first)
        left.addWidget(self.job)
        left.addWidget(self.suspect)
        left.addLayout(
            buttons(
                ("Connect", "", self.connect_port),
                ("List again (F5)", "F5", self.refresh_ports),
                ("Open recording …", "", self.recording_wanted.emit),
            )
        )
        left.addWidget(heading("Sensor and encoder check"))
        left.addWidget(self.channels)
        left.addWidget(self.reading)
        left.addWidget(self.encoder)
        left.addWidget(self.turn_words)
        self.pressure = QLineEdit()
        self.pressure.setAccessibleName("Pressure at the sensor now")
        self.pressure.setPlaceholderText("now, 0 bar")
        taking = buttons(("Take this reading", "", self.take_reading))
        taking.insertWidget(0, self.pressure)
        left.addLayout(taking)
        left.addLayout(
            buttons(
                ("Zero at air (Z)", "Z", self.take_zero),
                ("Mark at pointer (K)", "K", self.press_turn),
                ("Use counts", "", self.take_turn),
            )
        )
        return left

    @property
    def channel(self) -> int:
        """The channel whose sensor is looked at."""
        chosen = self.channels.currentData()
        return 0 if chosen is None else int(chosen)

    def _fill_channels(self, choices: tuple[tuple[int, str], ...]) -> None:
        """List the channels anew where something about them has changed; the chosen one stays."""
        if choices == self._channels:
            return
        chosen, self._channels = self.channel, choices
        self.channels.clear()
        for channel, words in choices:
            self.channels.addItem(words, channel)
        self.channels.setCurrentIndex(max(0, self.channels.findData(chosen)))

    def _port_chosen(self, item: QListWidgetItem) -> None:
        device = item.data(Qt.ItemDataRole.UserRole)
        if device:
            self.port_entry.setText(device)

    def _dress(self, colours: Palette) -> None:
        state = (colours.theme, self.window().height())
        if state != self._dressed:
            self._dressed = state
            dress(self, colours)
            self.editor.table.show_colours(colours)
