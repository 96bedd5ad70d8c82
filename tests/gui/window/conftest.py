"""The window's tests draw without a screen; a toy engine stands behind them."""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import time

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QLineEdit,
    QListWidget,
    QPushButton,
    QTableWidget,
)

from strokewise.daq.recording.container import Chunk
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.window.key_button import TARGET_PX
from strokewise.gui.window.letting_go import LettingGo
from strokewise.gui.window.workbench import Workbench

SIZE = (1366, 768)


@pytest.fixture(scope="session", autouse=True)
def letting_go(qapp):
    """Garbage goes where it goes in the program: in the window's thread alone."""
    made = LettingGo()
    yield made
    made.end()


@pytest.fixture
def deck(toy):
    def make(profile=None, until_s=9.0, judged=True):
        items = [
            Chunk(k * 10_000, data)
            for k, data in enumerate(toy.bytes(np.linspace(-300, 1700, 20_000)))
        ]
        made = Deck(items, lambda board: profile or toy.profile(), toy.Tracker, name="toy.swr")
        made.scan_all()
        made.seek(until_s)
        if judged:
            made.follower.judge()
        return made

    return make


@pytest.fixture
def kept():
    """What the window gave to be remembered."""
    return []


@pytest.fixture
def window(qtbot, deck, kept, tmp_path):
    """Opens a window on a replay of the toy engine that stands nine seconds in, decided."""
    opened = []

    def make(run=None, settings=None, size=SIZE, speaker=None, **more):
        run = run or ReplayRun(deck(**more), playing=False)
        settings = settings or Settings(export_folder=str(tmp_path / "out"))
        made = Workbench(run, settings, keep=kept.append, speaker=speaker)
        made.resize(*size)
        qtbot.addWidget(made)
        made.show()
        made.activateWindow()  # keys go to the active window alone
        qtbot.waitUntil(made.isActiveWindow)
        made.settle()
        made.redraw()
        qtbot.wait(1)
        opened.append(made)
        return made

    yield make
    for made in opened:
        made._closing = True
        made.close()
    # Without a screen Qt would let go of what was copied after its application is gone, and abort.
    QApplication.clipboard().clear()


@pytest.fixture
def named_and_large():
    """Sees that all that takes the keyboard now has a name, and is large enough for a finger."""

    def see(opened):
        seen = 0
        for kind in (QAbstractButton, QLineEdit, QComboBox, QListWidget):
            for each in opened.findChildren(kind):
                if not each.isVisible() or each.focusPolicy() == Qt.FocusPolicy.NoFocus:
                    continue
                named = each.accessibleName() or (isinstance(each, QPushButton) and each.text())
                assert named, (opened.view, each, each.objectName())
                seen += 1
                if isinstance(each.parent(), QComboBox):
                    continue  # what is typed into a list to choose from is as high as the list
                if isinstance(each, QPushButton | QLineEdit | QComboBox):
                    assert each.height() >= TARGET_PX, (opened.view, named)
        for kind in (QListWidget, QTableWidget):
            for each in opened.findChildren(kind):
                chosen = each.selectionMode() != QAbstractItemView.SelectionMode.NoSelection
                if each.isVisible() and chosen and each.model().rowCount():
                    row = each.visualRect(each.model().index(0, 0))
                    assert row.height() >= TARGET_PX - 1, (opened.view, each.accessibleName())
        assert seen

    return see


@pytest.fixture
def wait(qtbot):
    """Lets the window live until something is true."""

    def until(condition, timeout_s=60.0):
        qtbot.waitUntil(lambda: bool(condition()), timeout=int(timeout_s * 1000))

    return until


@pytest.fixture
def let_live(qtbot):
    """Lets the window live for a moment."""

    def live(seconds):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            qtbot.wait(5)

    return live
