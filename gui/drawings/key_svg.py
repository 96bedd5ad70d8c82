"""What does this key of the profile mean? A small drawing where a word is not enough."""

from __future__ import annotations

import math
from collections.abc import Callable
from xml.etree import ElementTree as ET

from strokewise.gui.drawings.figure_svg import as_text, new_svg, shape, text
from strokewise.gui.models.palette import LIGHT

KEY_WIDTH, KEY_HEIGHT = 480, 132
LEFT_X, RIGHT_X, ROUND_Y, ROUND = 120.0, 360.0, 58.0, 40.0
"""Of two drawings side by side: the middle of each, and how large."""
BELOW_Y = 122.0
WAY_FROM_DEG, WAY_TO_DEG, WAY_STEPS = 40.0, 320.0, 40
ARROW_HEAD = 7.0
GEAR_WIDE, GEAR_HIGH, GEAR_TEETH = 56.0, 84.0, 6
BORE_X, BORE_HALF, CROWN_Y, PIN_Y, CRANK_Y = 90.0, 38.0, 18.0, 44.0, 104.0
PIN_SHIFT, CRANK_THROW_X, CRANK_THROW_Y = 10.0, 20.0, -8.0
VALVE, MOST_DRAWN = 15.0, 24


def key_svg(key: str, said: str) -> str | None:
    """Return the drawing of a key, ``"drive_gear.hand"``, with what was said; None without one."""
    draw = _DRAWN.get(key)
    if draw is None:
        return None
    svg = new_svg(KEY_WIDTH, KEY_HEIGHT)
    draw(svg, said.strip())
    return as_text(svg)


def _rotation(svg: ET.Element, said: str) -> None:
    for x, way, word in _both_ways():
        colour = _colour(said, word)
        shape(svg, "circle", cx=x, cy=ROUND_Y, r=ROUND, fill="none", stroke=LIGHT.faint)
        shape(svg, "circle", cx=x, cy=ROUND_Y, r=6, fill=LIGHT.faint)
        _arrow(svg, x, ROUND - 12, way, colour)
        text(svg, x, BELOW_Y, word, "middle", fill=colour)
    text(svg, KEY_WIDTH / 2, ROUND_Y, "facing the pulley", "middle", fill=LIGHT.faint)


def _rotor(svg: ET.Element, said: str) -> None:
    for x, way, word in _both_ways():
        colour = _colour(said, word)
        shape(svg, "circle", cx=x, cy=ROUND_Y, r=ROUND + 8, fill="none", stroke=LIGHT.faint)
        for tower in range(4):
            angle = math.radians(90 * tower)
            at = {
                "cx": x + (ROUND - 2) * math.sin(angle),
                "cy": ROUND_Y - (ROUND - 2) * math.cos(angle),
            }
            shape(svg, "circle", r=7, fill="none", stroke=LIGHT.faint, **at)
        _arrow(svg, x, ROUND - 17, way, colour)
        text(svg, x, BELOW_Y, word, "middle", fill=colour)
    text(svg, KEY_WIDTH / 2, ROUND_Y, "looking on the cap", "middle", fill=LIGHT.faint)


def _hand(svg: ET.Element, said: str) -> None:
    """Draw both gears with the axis upright: seen from the side, a right hand's teeth rise right.

    A helix ``(cos t, sin t, c t)`` with c > 0 is right-handed; of what is seen from the front, the
    half with y < 0, x grows as z does.
    """
    for x, rise, word in ((LEFT_X, 1, "right"), (RIGHT_X, -1, "left")):
        colour = _colour(said, word)
        left, top = x - GEAR_WIDE / 2, ROUND_Y - GEAR_HIGH / 2
        box = {"x": left, "y": top, "width": GEAR_WIDE, "height": GEAR_HIGH}
        shape(svg, "rect", fill="none", stroke=colour, **box)
        lean = GEAR_WIDE * 0.5
        step = (GEAR_HIGH - lean) / (GEAR_TEETH - 1)
        for tooth in range(GEAR_TEETH):
            low = top + lean + tooth * step
            ends = (low, low - lean) if rise > 0 else (low - lean, low)
            style: dict[str, float | str] = {"stroke": colour, "stroke_width": 2.0}
            shape(svg, "line", x1=left, y1=ends[0], x2=left + GEAR_WIDE, y2=ends[1], **style)
        text(svg, x, BELOW_Y, f"{word}: teeth rise to the {word}", "middle", fill=colour)


def _pin(svg: ET.Element, said: str) -> None:
    """Draw the firing stroke of an engine that turns clockwise, from the pulley end.

    The rod pushes back along itself, from the crank pin at the right up to the left: the piston
    lies against the left wall, which is the major thrust side.
    """
    high = CRANK_Y - CROWN_Y - 22
    for side in (-1, 1):
        x = BORE_X + side * BORE_HALF
        wide = 4.0 if side < 0 else 1.5
        ends = {"x1": x, "x2": x, "y1": 8.0, "y2": CROWN_Y + high}
        shape(svg, "line", stroke=LIGHT.ink, stroke_width=wide, **ends)
    crown = {"x": BORE_X - BORE_HALF + 3, "y": CROWN_Y, "width": 2 * BORE_HALF - 6, "height": 44}
    shape(svg, "rect", fill="none", stroke=LIGHT.ink, **crown)
    middle = {"x1": BORE_X, "x2": BORE_X, "y1": 4.0, "y2": KEY_HEIGHT - 4}
    shape(svg, "line", stroke=LIGHT.faint, stroke_dasharray="6 4", **middle)
    pin_x = BORE_X - PIN_SHIFT
    rod = {
        "x1": pin_x,
        "y1": PIN_Y,
        "x2": BORE_X + CRANK_THROW_X,
        "y2": CRANK_Y + CRANK_THROW_Y,
    }
    shape(svg, "line", stroke=LIGHT.ink, stroke_width=3.0, **rod)
    shape(svg, "circle", cx=pin_x, cy=PIN_Y, r=6, fill=LIGHT.target)
    shape(svg, "circle", cx=BORE_X, cy=CRANK_Y, r=5, fill=LIGHT.ink)
    _arrow(svg, BORE_X, 22.0, 1, LIGHT.faint, middle_y=CRANK_Y)
    for number, words in enumerate(
        (
            "Positive: the pin stands off the bore's",
            "middle towards the major thrust side,",
            "the wall that the piston is pressed to",
            "on its firing stroke (here: left, turning",
            "clockwise, seen from the pulley end).",
        )
    ):
        text(svg, BORE_X + BORE_HALF + 22, 24 + 20 * number, words, fill=LIGHT.ink)


def _valve_order(svg: ET.Element, said: str) -> None:
    letters = "".join(each for each in said.upper() if each in "EI")[:MOST_DRAWN] or "EIIEEIIE"
    step = min(46.0, (KEY_WIDTH - 40) / len(letters))
    left = (KEY_WIDTH - step * len(letters)) / 2
    size = min(VALVE, step * 0.42)
    for number, letter in enumerate(letters):
        x = left + step * (number + 0.5)
        fill = LIGHT.ink if letter == "E" else LIGHT.paper
        inside = LIGHT.paper if letter == "E" else LIGHT.ink
        shape(svg, "circle", cx=x, cy=50, r=size, fill=fill, stroke=LIGHT.ink)
        text(svg, x, 54, letter, "middle", fill=inside, font_weight="bold")
        if size > 8:
            text(svg, x, 84, str(number + 1), "middle", fill=LIGHT.faint)
    text(svg, 20, 20, "pulley end", fill=LIGHT.target)
    text(svg, KEY_WIDTH - 20, 20, "flywheel end", "end", fill=LIGHT.target)
    text(svg, KEY_WIDTH / 2, BELOW_Y, "E exhaust, I inlet, from above", "middle", fill=LIGHT.ink)


def _slot_angle(svg: ET.Element, said: str) -> None:
    found = "".join(each for each in said.split(" ")[0] if each in "+-.0123456789")
    try:
        angle_deg = float(found)
    except ValueError:
        angle_deg = 90.0
    x = LEFT_X
    shape(svg, "circle", cx=x, cy=ROUND_Y + 4, r=ROUND + 8, fill="none", stroke=LIGHT.faint)
    shape(svg, "line", x1=x, y1=ROUND_Y, x2=x, y2=12, stroke=LIGHT.ink, stroke_width=4.0)
    angle = math.radians(angle_deg)
    dx, dy = (ROUND - 4) * math.sin(angle), (ROUND - 4) * math.cos(angle)
    ends = {"x1": x - dx, "y1": ROUND_Y + 4 + dy, "x2": x + dx, "y2": ROUND_Y + 4 - dy}
    shape(svg, "line", stroke=LIGHT.target, stroke_width=6.0, **ends)
    for number, (words, colour) in enumerate(
        (
            ("The rotor's key (up) above, the oil", LIGHT.ink),
            ("pump's slot below it, both from above", LIGHT.ink),
            (f"with the gear home: here {angle_deg:g}° clockwise.", LIGHT.target),
        )
    ):
        text(svg, x + ROUND + 34, 40 + 22 * number, words, fill=colour)


def _both_ways() -> tuple[tuple[float, int, str], ...]:
    return (LEFT_X, 1, "clockwise"), (RIGHT_X, -1, "counter-clockwise")


def _colour(said: str, word: str) -> str:
    """What was said stands out; before anything was said both stand alike."""
    return LIGHT.target if said == word else LIGHT.faint if said else LIGHT.ink


def _arrow(
    svg: ET.Element, x: float, radius: float, way: int, colour: str, *, middle_y: float = ROUND_Y
) -> None:
    def at(angle_deg: float, out: float = 0.0) -> tuple[float, float]:
        angle = math.radians(way * angle_deg)
        return x + (radius + out) * math.sin(angle), middle_y - (radius + out) * math.cos(angle)

    span = WAY_TO_DEG - WAY_FROM_DEG
    points = [at(WAY_FROM_DEG + span * i / WAY_STEPS) for i in range(WAY_STEPS + 1)]
    path = " ".join(f"{px:.1f},{py:.1f}" for px, py in points)
    shape(svg, "polyline", points=path, fill="none", stroke=colour, stroke_width=3.0)
    on = math.degrees(1.6 * ARROW_HEAD / radius)
    corners = (at(WAY_TO_DEG + on), at(WAY_TO_DEG, ARROW_HEAD), at(WAY_TO_DEG, -ARROW_HEAD))
    head = " ".join(f"{px:.1f},{py:.1f}" for px, py in corners)
    shape(svg, "polygon", points=head, fill=colour)


_DRAWN: dict[str, Callable[[ET.Element, str], None]] = {
    "rotation": _rotation,
    "distributor.rotation": _rotor,
    "drive_gear.hand": _hand,
    "pin_offset": _pin,
    "valves.order": _valve_order,
    "drive_gear.slot_angle": _slot_angle,
}
DRAWN_KEYS = tuple(_DRAWN)
