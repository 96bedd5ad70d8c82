"""What does the live answer look like in a terminal? Big and calm, 80 columns, no colour needed."""

from __future__ import annotations

import re

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from strokewise.analysis.crank.strokes import EnginePhase, phase_at
from strokewise.gui.models.near import within_words
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.turn.adjust import adjustable_now
from strokewise.gui.models.turn.rocking import BEFORE_TURNING_BACK
from strokewise.gui.pages.sign import Certainty
from strokewise.gui.safe_text import safe_text

TERMINAL_WIDTH = 78
"""Two columns less than the usual 80: some terminals break a full line."""
BAR_WIDTH = 24
MOST_WITH_BIG_DIGITS = 6
"""More cylinders than this and big digits do not fit into the usual 24 rows together."""

SIGNS: dict[Certainty, str] = {
    Certainty.SURE: "(✓)",
    Certainty.NOT_YET: "( ? )",
    Certainty.WITHDRAWN: "[ X ]",
    Certainty.WAITING: "( … )",
    Certainty.HIDDEN: "/ ? \\",
    Certainty.ANSWERED: "[ ‖ ]",
}

DIGITS: dict[str, tuple[str, str, str]] = {
    "0": ("█▀█", "█ █", "█▄█"),
    "1": (" ▄█", "  █", "  █"),
    "2": ("▀▀█", "█▀▀", "█▄▄"),
    "3": ("▀▀█", " ▀█", "▄▄█"),
    "4": ("█ █", "▀▀█", "  █"),
    "5": ("█▀▀", "▀▀█", "▄▄█"),
    "6": ("█▀▀", "█▀█", "█▄█"),
    "7": ("▀▀█", "  █", "  █"),
    "8": ("█▀█", "█▀█", "█▄█"),
    "9": ("█▀█", "▀▀█", "▄▄█"),
    "±": (" ▄ ", "▀█▀", "▀▀▀"),
    "°": ("▄▄", "▀▀", "  "),
    "-": ("  ", "▀▀", "  "),
    " ": (" ", " ", " "),
}


def big(text: str) -> list[str]:
    """Return digits three rows high."""
    return ["  ".join(DIGITS[letter][row] for letter in text) for row in range(3)]


def screen(snapshot: Snapshot) -> RenderableType:
    """Return the whole screen for one moment."""
    sentence = snapshot.sentence()
    head = Text(f"{SIGNS[sentence.certainty]}  {sentence.sign}", style="bold reverse")
    head.pad_right(1)
    parts: list[RenderableType] = [head, Text("")]
    parts.append(Text(safe_text(sentence.first), style="bold"))
    if sentence.second:
        parts.append(Text(safe_text(sentence.second), style="bold"))
    phase = _phase(snapshot)
    rocking = _rocking(snapshot)
    if phase is not None:
        many = len(phase.cylinders) > MOST_WITH_BIG_DIGITS
        parts += _next_firing(phase, snapshot.half_width_deg, small=many or bool(rocking))
        if not _rocked_now(snapshot):
            parts.append(_cylinders(snapshot, phase, few=many and bool(rocking)))
        parts += [] if rocking else _adjust(snapshot)
    if snapshot.first_turns.words:
        parts += [Text(""), Text(f"! {snapshot.first_turns.words}", style="bold")]
    parts += rocking
    parts += [
        Rule(style="dim"),
        Text(safe_text(sentence.detail)),
        Text(safe_text(_link(snapshot)), style="dim"),
    ]
    return Padding(Group(*parts), (0, 1))


def plain_line(snapshot: Snapshot) -> str:
    """Return the moment as one line, for a pipe or a log."""
    sentence = snapshot.sentence()
    said = f"{sentence.sign}: {sentence.text}"
    rocking = snapshot.rocking
    if rocking is None or snapshot.first_turns.words:
        return said
    more = rocking.instruction if rocking.under_way else rocking.offer
    return f"{said}. {more}" if more else said


_NUMBER = re.compile(r"\d+(?:\.\d+)?°")


def told_apart(line: str) -> str:
    """Return what makes a plain line another one: not each degree that is left to turn."""
    return _NUMBER.sub("°", line)


def _phase(snapshot: Snapshot) -> EnginePhase | None:
    verdict, angle = snapshot.verdict, snapshot.angle_deg
    if verdict is None or not verdict.decided or verdict.firing_deg is None or angle is None:
        return None
    return phase_at(snapshot.profile, verdict.firing_deg[1], angle)


def _rocked_now(snapshot: Snapshot) -> bool:
    """Tell whether the next swing is what counts, more than what each cylinder does."""
    return bool(_rocking(snapshot)) and snapshot.rocking is not None and snapshot.rocking.under_way


def _rocking(snapshot: Snapshot) -> list[RenderableType]:
    """Return the offer to rock, or the next swing, with the cautions; nothing where neither helps.

    Two turns by hand come before any rocking.
    """
    rocking = snapshot.rocking
    if rocking is None or snapshot.first_turns.words or not (rocking.helps or rocking.under_way):
        return []
    if not rocking.under_way:
        mind = [] if rocking.guidance.refused else [Text(f"! {BEFORE_TURNING_BACK}")]
        return [Text(""), Text(rocking.offer, style="bold"), *mind]
    cautions = () if rocking.guidance.enough else rocking.cautions
    said = Text(rocking.instruction, style="bold")
    return [Text(""), said, *(Text(f"! {text}") for text in cautions)]


def _next_firing(phase: EnginePhase, half_deg: float, *, small: bool) -> list[RenderableType]:
    degrees = f"{phase.to_next_firing_deg:.0f}°"
    which = " and ".join(map(str, phase.next_to_fire))
    words = Text(f"to the next firing TDC, of cylinder {which}, in the direction of turning")
    if small:
        exact = f"{degrees} {within_words(half_deg)}"
        short = Text(f"to the next firing TDC, of cylinder {which}, as it turns")
        return [Text(""), Text(exact, style="bold") + Text(" ") + short]
    # The large figure is in whole degrees: a smaller ± stands in the sign alone.
    figure = f"{degrees} ±{half_deg:.0f}°" if half_deg >= 0.5 else degrees
    rows = [Text(row, style="bold") for row in big(figure)]
    return [Text(""), *rows, words, Text("")]


def _cylinders(snapshot: Snapshot, phase: EnginePhase, *, few: bool) -> Table:
    """Return a row a cylinder; where there is room for few, of many those that fire now or next."""
    table = Table(box=None, padding=(0, 2, 0, 0), show_header=False, pad_edge=False)
    cycle = snapshot.profile.cycle_deg
    for row in snapshot.chart().rows:
        if few and not (row.firing_now or row.cylinder in phase.next_to_fire):
            continue
        one = phase.cylinder(row.cylinder)
        done = round(one.after_firing_deg / cycle * BAR_WIDTH)
        bar = "─" * done + "●" + "─" * (BAR_WIDTH - done)
        sign = "►" if row.firing_now else " "
        style = "bold" if row.firing_now else ""
        table.add_row(
            Text(f"{sign} {row.label:>2}", style=style),
            Text(row.doing, style=style),
            Text(f"├{bar}┤"),
            Text(f"fires in {one.to_firing_deg:3.0f}°"),
        )
    return table


def _adjust(snapshot: Snapshot) -> list[RenderableType]:
    assert snapshot.verdict is not None
    assert snapshot.verdict.firing_deg is not None
    assert snapshot.angle_deg is not None
    words = adjustable_now(
        snapshot.profile,
        snapshot.verdict.firing_deg[1],
        snapshot.angle_deg,
        snapshot.half_width_deg,
    )
    return [Text(""), Text(f"May be adjusted now: {words}")] if words else []


def _link(snapshot: Snapshot) -> str:
    link = snapshot.link
    parts = [link.name, link.state]
    if link.rate_hz:
        parts.append(f"{link.rate_hz:.0f} samples/s")
    if snapshot.replay is not None:
        parts.append(f"{snapshot.replay.position_s:.1f} s")
    if link.lost_frames or link.bad_frames:
        parts.append(f"{link.lost_frames} frames lost, {link.bad_frames} damaged")
    if link.simulated:
        parts.append("simulated")
    return " · ".join(parts)
