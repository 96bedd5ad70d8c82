"""What can be done here? Every action as a button under its heading, with its key."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from strokewise.gui.models.keys import KeyStroke
from strokewise.gui.models.palette import Palette
from strokewise.gui.window import ink
from strokewise.gui.window.key_button import TARGET_PX, KeyButton

COLUMN_PX = 195
"""Width that a key and its words need in two lines."""
MOST_COLUMNS = 6
HEADING_PX = 17
HEADING_ROWS = 0.7
"""Height of a heading, in buttons."""


class ActionList(QWidget):
    """Every action as a button, in as many columns as there is room for.

    Parameters
    ----------
    groups : mapping
        Keys under their headings.
    do : callable
        Called with the action that was chosen.
    """

    def __init__(
        self,
        groups: Mapping[str, tuple[KeyStroke, ...]],
        width: int,
        scale: float,
        colours: Palette,
        do: Callable[[str], object],
    ) -> None:
        super().__init__()
        self.buttons: dict[str, KeyButton] = {}
        self._scale = scale
        columns = QHBoxLayout(self)
        columns.setContentsMargins(0, 0, 0, 0)
        for part in in_columns(
            groups, min(MOST_COLUMNS, max(1, round(width / (COLUMN_PX * scale))))
        ):
            column = QVBoxLayout()
            column.setSpacing(0)
            for heading in part:
                label = QLabel(heading)
                label.setFont(ink.font(HEADING_PX * scale, bold=True))
                label.setContentsMargins(8, 8, 0, 2)
                column.addWidget(label)
                column.addLayout(self._buttons_of(groups[heading], colours, do))
            column.addStretch(1)
            columns.addLayout(column, 1)

    def _buttons_of(
        self, keys: tuple[KeyStroke, ...], colours: Palette, do: Callable[[str], object]
    ) -> QGridLayout:
        grid = QGridLayout()
        grid.setSpacing(0)
        for i, key in enumerate(keys):
            button = KeyButton(self, " or ".join(key.keys[:1]), key.words, key.name, lines=2)
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            button.show_words(key.words, colours)
            button.clicked.connect(lambda _=False, action=key.action: do(action))
            button.setFixedHeight(round(TARGET_PX * self._scale))
            grid.addWidget(button, i, 0)
            self.buttons[key.action] = button
        return grid


def in_columns(groups: Mapping[str, tuple[KeyStroke, ...]], count: int) -> list[list[str]]:
    """Return the headings in so many columns about equally high, in order within each."""
    heights = {heading: len(keys) + HEADING_ROWS for heading, keys in groups.items()}
    columns: list[list[str]] = [[] for _ in range(count)]
    for heading in sorted(heights, key=lambda each: -heights[each]):
        lowest = min(columns, key=lambda column: sum(heights[each] for each in column))
        lowest.append(heading)
    order = list(groups)
    columns = [sorted(column, key=order.index) for column in columns if column]
    return sorted(columns, key=lambda column: order.index(column[0]))


class ChoiceList(QWidget):
    """A few things to choose from, as large buttons in columns.

    Parameters
    ----------
    choices : sequence of (str, str)
        Words of each, and what it means, which a screen reader says too.
    chosen : int or None
        Which is in force.
    take : callable
        Called with the number of the one chosen.
    """

    def __init__(
        self,
        heading: str,
        choices: Sequence[tuple[str, str]],
        chosen: int | None,
        width: int,
        scale: float,
        take: Callable[[int], object],
    ) -> None:
        super().__init__()
        layout = QVBoxLayout(self)
        label = QLabel(heading)
        label.setFont(ink.font(HEADING_PX * scale * 1.3, bold=True))
        layout.addWidget(label)
        grid = QGridLayout()
        grid.setSpacing(6)
        columns = max(1, min(3, round(width / (COLUMN_PX * scale))))
        rows = -(-len(choices) // columns)
        self.buttons: list[QPushButton] = []
        for i, (words, means) in enumerate(choices):
            button = QPushButton(f"✓ {words}" if i == chosen else words)
            button.setObjectName("choice")
            button.setFont(ink.font(HEADING_PX * scale))
            button.setAutoDefault(True)
            button.setAccessibleName(words)
            button.setAccessibleDescription(means)
            button.setToolTip(means)
            button.clicked.connect(lambda _=False, i=i: take(i))
            grid.addWidget(button, i % rows, i // rows)
            self.buttons.append(button)
        layout.addLayout(grid)
        layout.addStretch(1)
