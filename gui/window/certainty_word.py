"""How is the word set that says how sure, under its shape? In two lines where it is long."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from strokewise.gui.models.palette import Palette
from strokewise.gui.window import ink

LONGEST_WORD_LINE = 8
"""A word of more letters is set in two lines."""
WORD_LINE = 1.125


def paint_certainty_word(
    painter: QPainter, box: QRectF, word: str, pixels: float, colours: Palette
) -> float:
    """Paint the word into the top of a box; return the height that it took."""
    first, _, last = word.rpartition(" ") if len(word) > LONGEST_WORD_LINE else ("", "", word)
    room = box.adjusted(0.25 * pixels, 0, -0.25 * pixels, 0)
    room.setHeight(WORD_LINE * pixels)
    parts = [part for part in (first, last) if part]
    # One type for both: a line squeezed over one that is not looks like another voice.
    longest = max(parts, key=lambda part: ink.width_of(part, ink.font(pixels, bold=True)))
    type_ = ink.fitted(longest, pixels, room.width(), bold=True)
    for part in parts:
        ink.text(painter, room, part, type_, colours.ink, ink.CENTRE)
        room.translate(0, room.height())
    return float(room.top() - box.top())
