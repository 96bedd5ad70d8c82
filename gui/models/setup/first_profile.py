"""What does a new profile look like? The few answers, and every further key as a comment."""

from __future__ import annotations

from dataclasses import dataclass

from strokewise.analysis.errors import InputError
from strokewise.gui.models.setup.sharpening import MARKS_SHARPEN, SHARPENINGS, Sharpening

LINE = 100
MARK_EXAMPLE = """\
# [[marks]]
# name = "pulley notch"
# on = "pulley"
# stated = "0 deg ATDC"
"""


@dataclass(frozen=True, slots=True)
class FirstAnswers:
    """The few things that are asked.

    Attributes
    ----------
    name : str
        Empty where it has none.
    cylinder : int
        The one that the sensor sits in.
    """

    cylinders: int
    firing_order: tuple[int, ...]
    cylinder: int = 1
    name: str = ""
    two_stroke: bool = False


def order_of(text: str, cylinders: int) -> tuple[int, ...]:
    """Return a firing order said as 1-3-4-2, 1 3 4 2 or 1,3,4,2.

    Raises
    ------
    InputError
        One line that says what is wrong with it.
    """
    such_as = "-".join(str(number) for number in usual_order(cylinders))
    parts = text.replace("-", " ").replace(",", " ").split()
    try:
        order = tuple(int(part) for part in parts)
    except ValueError:
        raise InputError(f"“{text}” is no firing order: numbers, such as {such_as}") from None
    if sorted(order) != list(range(1, cylinders + 1)):
        raise InputError(
            f"“{text}” is no firing order of {cylinders}: each cylinder once, such as {such_as}"
        )
    return order


USUAL_ORDERS: dict[int, tuple[int, ...]] = {
    1: (1,),
    2: (1, 2),
    3: (1, 3, 2),
    4: (1, 3, 4, 2),
    5: (1, 2, 4, 5, 3),
    6: (1, 5, 3, 6, 2, 4),
    8: (1, 8, 4, 3, 6, 5, 7, 2),
}
"""A frequent order of each number of cylinders, offered as an example and never assumed
(common practice, no source)."""


def usual_order(cylinders: int) -> tuple[int, ...]:
    """Return an order to show as an example."""
    return USUAL_ORDERS.get(cylinders, tuple(range(1, cylinders + 1)))


OTHER_ORDERS: dict[int, tuple[tuple[int, ...], ...]] = {
    3: ((1, 2, 3),),
    4: ((1, 2, 4, 3), (1, 3, 2, 4), (1, 4, 3, 2)),
    6: ((1, 4, 2, 6, 3, 5), (1, 2, 3, 4, 5, 6), (1, 4, 3, 6, 2, 5)),
    8: ((1, 5, 4, 2, 6, 3, 7, 8), (1, 3, 7, 2, 6, 5, 4, 8)),
}
"""Others that are met (common practice, no source)."""


def orders_offered(cylinders: int) -> tuple[tuple[int, ...], ...]:
    """Return the orders to pick from; any other is typed."""
    return usual_order(cylinders), *OTHER_ORDERS.get(cylinders, ())


def first_profile(said: FirstAnswers) -> str:
    """Return the text of a new profile, every key that was not asked for as a comment."""
    order = ", ".join(str(number) for number in said.firing_order)
    stated = {
        "cycle": '"two-stroke"' if said.two_stroke else "",
        "name": _quoted(said.name) if said.name else "",
        "sensor.cylinder": str(said.cylinder),
    }
    lines = [
        "# An engine profile of strokewise. Lines that begin with # count for nothing: take the #",
        "# off one, and off the [table] over it, once you know the value. Beside each stands what",
        "# it sharpens. `strokewise engine check` tells whether the file is sound.",
        "",
    ]
    top = [each for each in SHARPENINGS if not each.table]
    lines += [_line(each, stated) for each in top if each.key in ("name", "cycle")]
    lines += [f"cylinders = {said.cylinders}", f"firing_order = [{order}]"]
    lines += [_line(each, stated) for each in top if each.key not in ("name", "cycle")]
    for table in dict.fromkeys(each.table for each in SHARPENINGS if each.table):
        rows = [each for each in SHARPENINGS if each.table == table]
        begun = any(stated.get(each.key) for each in rows)
        lines += ["", f"[{table}]" if begun else f"# [{table}]"]
        lines += [_line(each, stated) for each in rows]
    return "\n".join([*lines, "", f"# {MARKS_SHARPEN}:", MARK_EXAMPLE])


def _line(each: Sharpening, stated: dict[str, str]) -> str:
    value = stated.get(each.key, "")
    words = f"{each.name} = {value or each.example}"
    if value:
        return words
    return f"# {words:<40} # {each.sharpens}"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
