"""The program as it is, and beside it a voice that tells where on the screen a named thing is.

A mouse needs a place, and a place in pixels moves with every change of a window. So hands ask, a
name a line on standard input, and are told on standard output, in JSON: what a screen reader would
read out, found in Qt's tree of accessible things, where it can be hit, and what to scroll if not.

A fit that the run of the tests has made before, number for number, is looked up as in its tests.
"""

import json
import os
import sys
import threading
from fnmatch import fnmatchcase
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QPoint, QRect, Qt, Signal
from PySide6.QtGui import QAccessible, QWindow
from PySide6.QtWidgets import QAbstractScrollArea, QApplication, QWidget

from strokewise.analysis.tdc import coarse
from strokewise.gui.cli import main

sys.path.append(str(Path(__file__).resolve().parents[2] / "suite"))
from suite_once import FOLDER, once

READ_ONLY = (QAccessible.Role.StaticText, QAccessible.Role.Client, QAccessible.Role.Grouping)
"""What may have the name of what is beside it, or of what is in it, but isn't what is pressed."""
WITHIN = " > "
"""``"Answers > *"``: anything in what is called so."""


def name_of(thing):
    """Return what a screen reader says; Qt names a list to choose from by its choice on Linux."""
    widget = thing.object()
    own = widget.accessibleName() if isinstance(widget, QWidget) else ""
    return own or thing.text(QAccessible.Text.Name)


def named_in(thing, names):
    """Yield everything that is shown and has this name, in what has the names before it."""
    first, *rest = names
    for number in range(thing.childCount()):
        inside = thing.child(number)
        # An entry that its list must be scrolled to is invisible, too: that its list can tell.
        if inside is None or (inside.object() is not None and inside.state().invisible):
            continue
        if fnmatchcase(name_of(inside), first):
            yield from named_in(inside, rest) if rest else (inside,)
        yield from named_in(inside, names)


def how_pressed(thing):
    """Return a key to sort by: buttons first, words last."""
    return (thing.role() != QAccessible.Role.Button) + (thing.role() in READ_ONLY)


def holders(thing):
    """Yield the widgets that a thing lies in, from the inside outwards."""
    while thing is not None and not isinstance(thing.object(), QWidget):
        thing = thing.parent()
    yield from up_from(thing and thing.object())


def up_from(widget):
    """Yield a widget and those that it lies in, up to its window."""
    while widget is not None:
        yield widget
        widget = None if widget.isWindow() else widget.parentWidget()


def place_of(thing):
    """Return where a thing can be hit: its seen part, and the nearest of what it is scrolled in."""
    whole = seen = thing.rect()
    scrolled = None
    for widget in holders(thing):
        room = QRect(widget.mapToGlobal(QPoint(0, 0)), widget.size())
        if isinstance(widget, QAbstractScrollArea) and widget is not thing.object():
            room = QRect(widget.viewport().mapToGlobal(QPoint(0, 0)), widget.viewport().size())
            scrolled = scrolled or room
        seen = seen.intersected(room)
    over = QApplication.widgetAt(seen.center())
    covered = over is not None and next(holders(thing)) not in up_from(over)
    told = {"seen": seen.getRect(), "whole": whole.getRect(), "covered": covered and str(over)}
    if scrolled is not None:
        told["scrolled"] = scrolled.getRect()
    return told


def at_keyboard():
    """Return the names of what has the keyboard and of what it lies in."""
    widget, names = QApplication.focusWidget(), []
    while widget is not None:
        names.append(widget.accessibleName())
        widget = None if widget.isWindow() else widget.parentWidget()
    return names


class Teller(QObject):
    """Answers in the window's own thread, and counts the clicks that have reached a window."""

    asked = Signal(str)

    def __init__(self):
        super().__init__()
        self.clicks = 0
        self.asked.connect(self.tell, Qt.ConnectionType.QueuedConnection)
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self):
        for line in sys.stdin:
            self.asked.emit(line.rstrip("\n"))

    def tell(self, name):
        """Answer with the place of the thing of a name, None for a place where there is none.

        Without a name only the clicks are told.
        """
        if not QAccessible.isActive():
            QAccessible.setActive(True)  # else a list that is filled anew keeps its old entries
        application = QApplication.instance()
        for window in application.allWindows():  # clicks alone: a filter over all would cost time
            window.installEventFilter(self)
        QApplication.sendPostedEvents()
        front = (QApplication.activePopupWidget(), QApplication.activeWindow())
        place = None
        for window in dict.fromkeys([*front, *QApplication.topLevelWidgets()]):
            if name and place is None and window is not None and window.isVisible():
                whole = QAccessible.queryAccessibleInterface(window)
                found = sorted(named_in(whole, name.split(WITHIN)), key=how_pressed)
                place = place_of(found[0]) if found else None
        told = {"clicks": self.clicks, "place": place, "keyboard": at_keyboard()}
        print(json.dumps(told), flush=True)

    def eventFilter(self, watched, event):
        if event.type() == QEvent.Type.MouseButtonRelease and isinstance(watched, QWindow):
            self.clicks += 1
        return False


if __name__ == "__main__":
    teller = Teller()
    coarse.fit_passes = once(coarse.fit_passes, Path(os.environ[FOLDER]))
    sys.exit(main())
