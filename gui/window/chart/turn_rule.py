"""How is the turn guide drawn? A number to be read from afar, over a rule that slides by.

The rule runs past a fixed pointer as a scale on a pulley runs past its own: the target comes in
from the right, and what lies left of the pointer has been turned already.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QWidget

from strokewise.gui.models.keys import ROCK_KEY
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.steps.found_now import is_hidden
from strokewise.gui.models.turn.adjust import adjustable_now
from strokewise.gui.models.turn.guide import (
    BY_HAND_DEG_S,
    ON_TARGET_DEG,
    PAST_THE_PLAY_DEG,
    Guidance,
)
from strokewise.gui.models.turn.rocking import Rocking, rocking_for
from strokewise.gui.sayings import say
from strokewise.gui.sayings.saying import capital
from strokewise.gui.window import ink
from strokewise.gui.window.chart.rocking_painting import paint_rocking
from strokewise.gui.window.chart.turn_number import paint_number
from strokewise.gui.window.key_button import TARGET_PX, Spot

HALF_RULE_DEG = 60.0
"""How far the rule shows to either side of the pointer."""
FINE_DEG = 30.0
"""Nearer than this the rule is drawn wider, so that single degrees can be hit."""
FINE_HALF_DEG = 20.0
FOOT_SHARE, FOOT_LINE = 0.85, 1.22
"""Type of what comes second at the foot against the first, and height of a line."""
SMALLEST_FOOT = 9.0
HATCH_SHARE = 0.12
"""Step of the hatching, of the rule's height."""
THIN = 75
"""Heights of thin lines in the rule's: on a screen of many pixels one of them is not seen."""
GUIDE_HIDDEN = "Where to turn is hidden until the class has answered"
SHADE = 0.3
"""How dense the shade is where the target may stand."""
GUIDE_SILENT = "The board is silent: where to turn is not known"
UNDER_POINTER = 0.2
"""A number so near to the pointer, of the rule's height, is left out."""


def paint_guide(
    painter: QPainter,
    box: QRectF,
    guidance: Guidance | None,
    label: str,
    words: str,
    colours: Palette,
    *,
    warns: bool = False,
    half_deg: float = 0.0,
) -> None:
    """Paint the guide into a box.

    Parameters
    ----------
    label : str
        Name of the target.
    words : str
        What stands at the foot: what comes before turning to anything, or may be done here.
    warns : bool
        Those words are a warning.
    """
    painter.fillRect(box, QColor(colours.sheet))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    inner, unit = _inner(box)
    head = QRectF(inner.left(), inner.top(), inner.width(), unit * 0.75)
    if label:
        ink.text(painter, head, "Turn to  ▾", ink.font(unit * 0.5), colours.faint)
    name = QRectF(inner.left(), head.bottom(), inner.width(), unit * 0.95)
    ink.text(
        painter,
        name,
        label,
        ink.fitted(label, unit * 0.75, name.width(), bold=True),
        colours.target,
    )
    number = QRectF(inner.left(), name.bottom(), inner.width(), unit * 2.9)
    rule = QRectF(box.left(), number.bottom() + unit * 0.1, box.width(), unit * 1.9)
    foot = QRectF(
        inner.left(),
        rule.bottom() + unit * 0.2,
        inner.width(),
        inner.bottom() - rule.bottom() - unit * 0.2,
    )
    if guidance is not None:
        paint_number(painter, number, guidance, half_deg, colours)
        _paint_rule(painter, rule, guidance, half_deg, colours)
    say = "" if guidance is None else guidance.warning or guidance.words
    _paint_words(painter, foot, say, words, unit, colours, warns=warns)


def _inner(box: QRectF) -> tuple[QRectF, float]:
    """Return the box within its margin, and the unit that everything in it is measured by."""
    pad = box.width() * 0.05
    inner = box.adjusted(pad, pad * 0.6, -pad, -pad * 0.6)
    return inner, min(inner.height() / 10, inner.width() / 6.2)


def head_box(box: QRectF) -> QRectF:
    """Return where the name of the target stands."""
    inner, unit = _inner(box)
    return QRectF(box.left(), box.top(), box.width(), max(TARGET_PX, inner.top() + unit * 1.7))


def _paint_rule(
    painter: QPainter, box: QRectF, guidance: Guidance, half_deg: float, colours: Palette
) -> None:
    painter.fillRect(box, QColor(colours.paper))
    remaining = guidance.remaining_deg
    if remaining is None:
        return
    half = FINE_HALF_DEG if abs(remaining) < FINE_DEG / 2 else HALF_RULE_DEG
    scale = box.width() / (2 * half)
    middle = box.center().x()
    painter.save()
    painter.setClipRect(box)
    target_x = middle + remaining * scale
    _paint_spans(painter, box, target_x, scale, guidance, half_deg, colours)
    step = 1 if half == FINE_HALF_DEG else 5
    type_ = ink.font(box.height() * 0.24)
    thin = max(1.0, box.height() / THIN)
    first = math.ceil((remaining - half) / step) * step
    ticks = range(first, math.floor(remaining + half) + 1, step)  # degrees still to go from there
    for long in (False, True):
        top = box.bottom() - box.height() * (0.42 if long else 0.24)
        at = [target_x - tick * scale for tick in ticks if (tick % (step * 5) == 0) is long]
        painter.setPen(QPen(QColor(colours.ink), 2 * thin if long else thin))
        painter.drawLines([QLineF(x, top, x, box.bottom()) for x in at])
    for tick in ticks:
        if tick % (step * 10):
            continue
        x = target_x - tick * scale
        covered = abs(x - middle) < box.height() * UNDER_POINTER  # it would be run through
        words = f"{abs(tick)}"
        wide = ink.width_of(words, type_) * 1.2
        cut = x - wide / 2 < box.left() or x + wide / 2 > box.right()  # half a number is another
        if not covered and not cut:
            room = QRectF(x - wide / 2, box.top() + box.height() * 0.3, wide, box.height() * 0.28)
            if tick == 0:  # on the target's flag
                painter.fillRect(room, QColor(colours.paper))
            ink.text(painter, room, words, type_, colours.ink, ink.CENTRE)
    painter.restore()
    _paint_pointer(painter, box, colours)


def _paint_spans(
    painter: QPainter,
    box: QRectF,
    target_x: float,
    scale: float,
    guidance: Guidance,
    half_deg: float,
    colours: Palette,
) -> None:
    """The target's flag, where it may really stand, and behind it what is past it."""
    step = max(ink.HATCH_STEP, round(box.height() * HATCH_SHARE))
    past = QRectF(target_x, box.top(), max(0.0, box.right() - target_x), box.height())
    painter.fillRect(past, ink.hatching(colours.paper, colours.ink, "falling", step))
    if guidance.phase == "go back":
        play = QRectF(
            target_x - PAST_THE_PLAY_DEG * scale, box.top(), PAST_THE_PLAY_DEG * scale, box.height()
        )
        painter.fillRect(play, ink.hatching(colours.paper, colours.ink, "level", step))
    shade = QColor(colours.target)
    shade.setAlphaF(SHADE)
    half = half_deg * scale
    painter.fillRect(QRectF(target_x - half, box.top(), 2 * half, box.height()), shade)
    width = max(6.0, 2 * ON_TARGET_DEG * scale)
    flag = QRectF(target_x - width / 2, box.top(), width, box.height())
    painter.fillRect(flag, QColor(colours.target))


def _paint_pointer(painter: QPainter, box: QRectF, colours: Palette) -> None:
    x, size = box.center().x(), box.height() * 0.22
    painter.setPen(QPen(QColor(colours.paper), 1.5))
    painter.setBrush(QColor(colours.ink))
    painter.drawPolygon(
        QPolygonF(
            [
                QPointF(x - size, box.top() - size * 0.4),
                QPointF(x + size, box.top() - size * 0.4),
                QPointF(x, box.top() + size),
            ]
        )
    )
    painter.setPen(QPen(QColor(colours.ink), max(3.0, 3 * box.height() / THIN)))
    painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))


def _paint_words(
    painter: QPainter,
    box: QRectF,
    say: str,
    first: str,
    unit: float,
    colours: Palette,
    *,
    warns: bool,
) -> None:
    size, lines, below = set_foot(say, first, box.width(), box.height(), unit)
    top = box.top()
    for part, pixels, colour in (
        (lines, size, colours.ink),
        (below, size * FOOT_SHARE, colours.warning if warns else colours.ink),
    ):
        type_ = ink.font(pixels, bold=part is lines)
        for line in part:
            room = QRectF(box.left(), top, box.width(), pixels * FOOT_LINE)
            ink.text(painter, room, line, type_, colour)
            top += pixels * FOOT_LINE


@lru_cache(maxsize=64)
def set_foot(
    say: str, first: str, width: float, height: float, unit: float
) -> tuple[float, tuple[str, ...], tuple[str, ...]]:
    """Return type and lines of what stands at the foot, in the largest type that all fits in."""
    size = min(unit * 0.62, height / 4.2)
    while True:
        lines = ink.wrapped(say, ink.font(size, bold=True), width, 20)
        below = ink.wrapped(first, ink.font(size * FOOT_SHARE), width, 20)
        needed = FOOT_LINE * size * (len(lines) + FOOT_SHARE * len(below))
        if needed <= height or size <= SMALLEST_FOOT:
            return size, lines, below
        size *= 0.95


def _hidden(snapshot: Snapshot) -> str:
    return GUIDE_HIDDEN if is_hidden(snapshot) else ""


def _offer(snapshot: Snapshot) -> str:
    """Return the offer to rock, or that it has been rocked enough; empty where neither holds."""
    rocking = snapshot.rocking
    if rocking is None:
        return ""
    if rocking.under_way and rocking.guidance.enough:
        return f"Rocked: {say(rocking.guidance.instruction)}"
    offer = rocking.offer
    return offer if not offer or rocking.guidance.refused else f"{offer}: key {ROCK_KEY}"


def _adjustable(snapshot: Snapshot) -> str:
    """Return what may be adjusted here, once the crank stands before the eye."""
    verdict, angle = snapshot.verdict, snapshot.angle_deg
    if verdict is None or verdict.firing_deg is None or angle is None:
        return ""
    if snapshot.shown_speed_deg_s > BY_HAND_DEG_S:
        return ""
    words = adjustable_now(snapshot.profile, verdict.firing_deg[1], angle, snapshot.half_width_deg)
    return capital(words)


@dataclass(frozen=True, slots=True)
class _RuleShown:
    """All that is seen: the turn guide, or the rocking guide in its place."""

    guidance: Guidance | None = None
    label: str = ""
    words: str = ""
    warns: bool = False
    rocking: Rocking | None = None
    angle_deg: float | None = None
    half_deg: float = 0.0
    colours: Palette = LIGHT


class TurnRule(QWidget):
    """The turn guide as a widget; while the crank is rocked, the rocking guide in its place."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rock_asked: bool | None = None
        """Whether a person wants the rocking guide; None: when it is being rocked."""
        self._shown = _RuleShown()
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(200, 200)
        self.setAccessibleName("Turn guide")
        self.target = Spot(self, "Target to turn to", "key Y")

    @property
    def rocking(self) -> Rocking | None:
        """The rocking guide that is shown; None while it is the turn guide."""
        return self._shown.rocking

    @property
    def words(self) -> str:
        """What stands at the foot of the turn guide."""
        return self._shown.words

    def show_snapshot(self, snapshot: Snapshot, colours: Palette) -> None:
        """Show another moment; nothing is painted where nothing has changed."""
        before = snapshot.first_turns.words or (GUIDE_SILENT if snapshot.away else "")
        rocking = self._rocking(snapshot)
        shown = _RuleShown(
            snapshot.guidance,
            "" if snapshot.target is None else snapshot.target.label,
            before or _hidden(snapshot) or _offer(snapshot) or _adjustable(snapshot),
            bool(before),
            rocking,
            None if rocking is None else snapshot.angle_deg,
            snapshot.half_width_deg,
            colours,
        )
        if shown == self._shown:
            return
        self._shown = shown
        self.target.colours = colours
        self.target.setAccessibleDescription(f"{shown.label}, key Y")
        self.target.setVisible(rocking is None and bool(shown.label))
        said = shown.guidance.words if shown.guidance else ""
        self.setAccessibleDescription(rocking.instruction if rocking else said)
        self.update()

    def _rocking(self, snapshot: Snapshot) -> Rocking | None:
        """Two turns by hand come before any rocking."""
        rocking = snapshot.rocking
        if snapshot.away is not None:
            return None
        if self.rock_asked:
            rocking = rocking or rocking_for(snapshot.profile, None, None)
            return None if rocking.guidance.refused else rocking
        if snapshot.first_turns.words or self.rock_asked is False or rocking is None:
            return None
        return rocking if rocking.wanted else None

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        self.target.setGeometry(head_box(QRectF(self.rect())).toRect())

    def paint_on(self, painter: QPainter, box: QRectF) -> None:
        """Paint the guide on any device."""
        shown = self._shown
        if shown.rocking is not None:
            paint_rocking(painter, box, shown.rocking, shown.angle_deg, shown.colours)
            return
        paint_guide(
            painter,
            box,
            shown.guidance,
            shown.label,
            shown.words,
            shown.colours,
            warns=shown.warns,
            half_deg=shown.half_deg,
        )

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        self.paint_on(painter, QRectF(self.rect()))
        painter.end()
