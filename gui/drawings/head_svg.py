"""How do the valves stand? The head from above, each valve free, done, rocking or lifted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal
from xml.etree import ElementTree as ET

from strokewise.gui.drawings.figure_svg import as_text, new_svg, shape, text
from strokewise.gui.models.palette import LIGHT

HEAD_WIDTH, HEAD_HEIGHT = 440, 158
"""Narrower than other drawings: its words are read from where the valves are set."""
HEAD_LEFT, HEAD_RIGHT = 14.0, 426.0
CYLINDER_Y, VALVE_Y, WORD_Y, NOTE_Y = 36.0, 76.0, 118.0, 148.0
LARGEST_VALVE = 24.0
VALVE_SHARE = 0.42
"""Radius of a valve, of the distance from one to the next."""
WORDS_NEED = 40.0
"""Where valves stand nearer than this, their words stand on two levels in turn."""
WORD_STEP = 13.0

HeadState = Literal["free", "done", "rocking", "lifted", "nearly"]
STATE_WORDS: dict[HeadState, str] = {
    "free": "free",
    "done": "done",
    "rocking": "rocks",
    "lifted": "lifted",
    "nearly": "nearly",
}


def head_svg(answer: Mapping[str, Any]) -> str | None:
    """Return the drawing from the answer of ``strokewise valves``; None where it has none.

    The valves stand along the head from the pulley end where their order is known, else by
    cylinder; how each stands is told by shape and word.
    """
    valves = answer.get("valves")
    if not valves:
        return None
    known = all(valve["number"] is not None for valve in valves)
    along = sorted(valves, key=lambda valve: valve["number"]) if known else list(valves)
    svg = new_svg(HEAD_WIDTH, HEAD_HEIGHT)
    high = WORD_Y + 2 * WORD_STEP - CYLINDER_Y
    frame = {"fill": "none", "stroke": LIGHT.rule}
    shape(svg, "rect", x=4, y=14, width=HEAD_WIDTH - 8, height=high, rx=10, **frame)
    step = (HEAD_RIGHT - HEAD_LEFT) / len(along)
    for place, valve in enumerate(along):
        x = HEAD_LEFT + (place + 0.5) * step
        lower = place % 2 if step < WORDS_NEED else 0
        _valve(svg, x, step, valve, state_of(valve, valves), WORD_Y + lower * WORD_STEP)
    where = "pulley end at the left" if known else "order along the head not stated: by cylinder"
    text(svg, HEAD_LEFT, NOTE_Y + 4, f"The head from above, {where}.", fill=LIGHT.faint)
    return as_text(svg)


def state_of(valve: Mapping[str, Any], valves: list[Mapping[str, Any]]) -> HeadState:
    """Return how a valve stands; both kinds of one cylinder lifted at once are rocking."""
    if valve["done"]:
        return "done"
    if valve["ready"]:
        return "free"
    if valve["on_base_circle"]:
        return "nearly"
    lifted = {
        each["kind"]
        for each in valves
        if each["cylinder"] == valve["cylinder"] and not each["on_base_circle"]
    }
    return "rocking" if len(lifted) > 1 else "lifted"


def _valve(
    svg: ET.Element,
    x: float,
    step: float,
    valve: Mapping[str, Any],
    state: HeadState,
    word_y: float,
) -> None:
    radius = min(LARGEST_VALVE, step * VALVE_SHARE)
    full = state == "free"
    ink = "#FFFFFF" if full else LIGHT.ink
    line: dict[str, float | str] = {"stroke": LIGHT.ink, "stroke_width": 2.0}
    match state:
        case "free":
            shape(svg, "circle", cx=x, cy=VALVE_Y, r=radius, fill=LIGHT.target, **line)
        case "done":
            side = 1.7 * radius
            at = {"x": x - side / 2, "y": VALVE_Y - side / 2, "width": side, "height": side}
            shape(svg, "rect", fill=LIGHT.paper, **at, **line)
        case "rocking":
            r = 1.15 * radius
            corners = f"{x:.1f},{VALVE_Y - r:.1f} {x + r:.1f},{VALVE_Y:.1f} "
            corners += f"{x:.1f},{VALVE_Y + r:.1f} {x - r:.1f},{VALVE_Y:.1f}"
            shape(svg, "polygon", points=corners, fill=LIGHT.sheet, **line)
        case _:
            dashes: dict[str, float | str] = (
                {"stroke_dasharray": "5 4"} if state == "lifted" else {}
            )
            shape(svg, "circle", cx=x, cy=VALVE_Y, r=radius, fill=LIGHT.sheet, **line, **dashes)
    size = f"{max(9.0, min(15.0, radius * 0.75)):.0f}"
    style = {"font_size": size, "font_weight": "bold"}
    text(svg, x, VALVE_Y + 5, str(valve["valve"]), "middle", fill=ink, **style)
    kind = "inlet" if valve["kind"] == "inlet" else "exhaust"
    small = {"font_size": "10"} if step < WORDS_NEED else {}
    text(svg, x, CYLINDER_Y, kind if step >= WORDS_NEED else kind[:2], "middle", **small)
    colour = LIGHT.target if full else LIGHT.ink
    text(svg, x, word_y, STATE_WORDS[state], "middle", fill=colour, **small)
