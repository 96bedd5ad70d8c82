"""Is a key for what has the keyboard, or for the window?"""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QComboBox, QWidget

WAYS = {
    Qt.Key.Key_Left,
    Qt.Key.Key_Right,
    Qt.Key.Key_Home,
    Qt.Key.Key_End,
    Qt.Key.Key_PageUp,
    Qt.Key.Key_PageDown,
}
"""Keys by which one goes about in a list."""
PLAIN = (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier)


def is_for_itself(focus: QWidget | None, event: QKeyEvent) -> bool:
    """Tell whether a list takes the key to find an entry by it, or a button to be pressed.

    Fields to write into claim their keys themselves; lists and buttons do not, and a letter meant
    for an entry would run a command of the window.
    """
    if event.modifiers() not in PLAIN:
        return False
    if isinstance(focus, QAbstractItemView | QComboBox):
        return (event.text().isprintable() and event.text() != "") or event.key() in WAYS
    if isinstance(focus, QAbstractButton):
        return event.key() == Qt.Key.Key_Space
    return False
