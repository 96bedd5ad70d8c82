"""How does the drive gear look going in? The cap from above: where the rotor starts and ends."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any
from xml.etree import ElementTree as ET

from strokewise.gui.drawings.figure_svg import DRAWING_WIDTH, as_text, new_svg, shape, text
from strokewise.gui.models.palette import LIGHT

DRIVE_HEIGHT = 330
MIDDLE_X, MIDDLE_Y = 190.0, 165.0
CAP, TOWER_AT, TOWER, TEETH, TURN_AT, HEAD = 140.0, 120.0, 14.0, 96.0, 62.0, 8.0
TICK = 8.0
ROTOR_FROM, ROTOR_TO = 12.0, 92.0
SLOT_Y, SLOT_FROM, SLOT_TO, SLOT_HEIGHT = 366.0, 48.0, 41.0, 440
"""The oil pump's slot, below the cap as it lies below the gear, and the height with it."""
WORDS_X, WORDS_Y, WORDS_LINE = 372.0, 62.0, 22.0
ARC_STEPS = 60


def drive_svg(answer: Mapping[str, Any]) -> str | None:
    """Return the drawing from the answer of ``strokewise drive``; None where it has none.

    Angles are clockwise from the top of the drawing, which stands for the line of choice.
    """
    mesh, picture = answer.get("meshing"), answer.get("drawing")
    if mesh is None or picture is None:
        return None
    seat = answer.get("seating") or {}
    slotted = seat.get("home") is not None
    svg = new_svg(DRAWING_WIDTH, SLOT_HEIGHT if slotted else DRIVE_HEIGHT)
    shape(svg, "circle", cx=MIDDLE_X, cy=MIDDLE_Y, r=CAP, fill="none", stroke=LIGHT.ink)
    for angle in picture["teeth"]:
        _spoke(svg, angle, TEETH, TEETH + TICK, stroke=LIGHT.faint)
    for lead in answer["leads"]:
        x, y = _at(lead["at"], TOWER_AT)
        shape(svg, "circle", cx=x, cy=y, r=TOWER, fill=LIGHT.paper, stroke=LIGHT.ink)
        text(svg, x, y + 4, str(lead["cylinder"]), "middle", font_weight="bold")
    start = float(mesh["start"])
    _spoke(svg, start, ROTOR_FROM, ROTOR_TO, stroke=LIGHT.warning, stroke_dasharray="7 4")
    _spoke(svg, float(mesh["end"]), ROTOR_FROM, ROTOR_TO, stroke=LIGHT.target)
    _turn(svg, start, float(mesh["turn"]))
    if slotted:
        _slot(svg, seat)
    for number, (words, colour) in enumerate(_words(mesh)):
        text(svg, WORDS_X, WORDS_Y + number * WORDS_LINE, words, fill=colour)
    return as_text(svg)


def _words(mesh: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [
        (f"Start the rotor at {_plain(mesh['start'])}° (dashed)", LIGHT.warning),
        (f"going in it turns {_plain(abs(mesh['turn']))}° {mesh['direction']},", LIGHT.ink),
        (f"that is {abs(mesh['turn_teeth']):g} teeth,", LIGHT.ink),
        (f"and ends at {_plain(mesh['end'])}° (solid).", LIGHT.target),
        ("", LIGHT.ink),
        (f"Short strokes: one tooth, {_plain(mesh['tooth'])}° of the rotor", LIGHT.faint),
        (f"and {_plain(mesh['tooth_crank'])}° of the crank.", LIGHT.faint),
        ("Numbers: the leads' cylinders.", LIGHT.faint),
        ("Seen on the cap; up is 0°, your line.", LIGHT.faint),
    ]


def _slot(svg: ET.Element, seat: Mapping[str, Any]) -> None:
    """Draw the pump's slot as seen from above: where it must stand, and where it ends."""
    shape(svg, "circle", cx=MIDDLE_X, cy=SLOT_Y, r=SLOT_FROM, fill="none", stroke=LIGHT.ink)
    words = [("Below: the oil pump's slot, from above.", LIGHT.faint)]
    if seat["before"] is not None:
        style = {"stroke": LIGHT.warning, "stroke_dasharray": "7 4"}
        _across(svg, float(seat["before"]), SLOT_TO, **style)
        words.append((f"Before: at {_plain(seat['before'])}° (dashed),", LIGHT.warning))
    _across(svg, float(seat["home"]), SLOT_TO, stroke=LIGHT.target)
    words.append((f"with the gear home at {_plain(seat['home'])}° (solid).", LIGHT.target))
    if seat["now"] is not None:
        _across(svg, float(seat["now"]), SLOT_TO, stroke=LIGHT.faint, stroke_dasharray="1.5 3.5")
        words.append((f"Now at {_plain(seat['now'])}° (dotted).", LIGHT.faint))
    for number, (line, colour) in enumerate(words):
        y = SLOT_Y - WORDS_LINE + number * WORDS_LINE
        text(svg, WORDS_X, y, line, fill=colour)


def _across(svg: ET.Element, angle_deg: float, half: float, **style: float | str) -> None:
    angle = math.radians(angle_deg)
    x, y = half * math.sin(angle), half * math.cos(angle)
    ends = {"x1": MIDDLE_X - x, "y1": SLOT_Y + y, "x2": MIDDLE_X + x, "y2": SLOT_Y - y}
    shape(svg, "line", stroke_width=6.0, **ends, **style)


def _plain(angle_deg: float) -> str:
    """Return an angle as finely as anybody sets a rotor."""
    return f"{round(angle_deg, 1):g}"


def _at(angle_deg: float, radius: float) -> tuple[float, float]:
    angle = math.radians(angle_deg)
    return MIDDLE_X + radius * math.sin(angle), MIDDLE_Y - radius * math.cos(angle)


def _spoke(
    svg: ET.Element, angle_deg: float, inner: float, outer: float, **style: float | str
) -> None:
    (x1, y1), (x2, y2) = _at(angle_deg, inner), _at(angle_deg, outer)
    width = 1.0 if outer - inner <= TICK else 4.0
    shape(svg, "line", x1=x1, y1=y1, x2=x2, y2=y2, stroke_width=width, **style)


def _turn(svg: ET.Element, start_deg: float, clockwise_deg: float) -> None:
    """Draw the way it turns, with a head at its end; more than a turn as a spiral inwards."""
    steps = [i / ARC_STEPS for i in range(ARC_STEPS + 1)]
    inwards = TURN_AT / 2 * min(1.0, abs(clockwise_deg) / 1080.0)
    radii = [TURN_AT - inwards * share for share in steps]
    points = [
        _at(start_deg + clockwise_deg * share, radius)
        for share, radius in zip(steps, radii, strict=True)
    ]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    shape(svg, "polyline", points=path, fill="none", stroke=LIGHT.ink, stroke_width=1.5)
    tip = start_deg + clockwise_deg
    back = math.copysign(math.degrees(HEAD / radii[-1]), clockwise_deg)
    corners = (
        _at(tip, radii[-1]),
        _at(tip - back, radii[-1] + HEAD / 2),
        _at(tip - back, radii[-1] - HEAD / 2),
    )
    head = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
    shape(svg, "polygon", points=head, fill=LIGHT.ink)
