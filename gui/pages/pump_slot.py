"""How are the oil pump's slot and the gear's seat said? Rows and figures of the drive's page."""

from __future__ import annotations

from strokewise.analysis.ignition.pump_slot import HALF_TURN_DEG, Seating, ToothChoice
from strokewise.gui.pages.headline import Claim, Rank
from strokewise.gui.pages.page import Facts, Row, Table
from strokewise.gui.pages.step import Figures
from strokewise.gui.sayings.saying import signed

SLOT_DECIMALS = 2
NO_SLOT = (
    "where to set it beforehand is not known: add drive_gear.slot_angle and drive_gear.slot_depth"
)
NO_DEPTH = "where to set it beforehand takes drive_gear.slot_depth, too"


def slot_claim(seating: Seating) -> Claim | None:
    """Return what must be said before anything goes in; None where nothing about the slot."""
    if not seating.off or seating.off_deg is None or seating.before_deg is None:
        return None
    to = _slot(seating.before_deg)
    if seating.turns is not False:
        return Claim(
            f"FIRST TURN THE PUMP'S SLOT {_way_back(seating.off_deg)}, to {to}.", Rank.WRONG
        )
    seats = [each for each in seating.choices if each.seats]
    other = f"only {_said(seats[0])}" if seats else "no tooth near it"
    return Claim(
        f"THE GEAR CANNOT GO HOME THERE: the pump's slot must stand at {to} and cannot be turned."
        f" As it stands, {other} goes in.",
        Rank.HARM,
    )


def goes_home(seating: Seating) -> bool:
    """Tell whether the gear can be let in at all where it is wanted, as far as is known."""
    return not (seating.off and seating.turns is False)


def seating_rows(seating: Seating, end_deg: float) -> list[Row]:
    """Return what is to be known of slot and seat."""
    rows = [_slot_row(seating)]
    if seating.stands_deg is not None:
        rows.append(_now_row(seating))
    per_mm = seating.short_deg_per_mm
    home = (
        f"the gear down on its seat and the rotor at {end_deg:.1f}°. Each mm too high leaves the"
        f" rotor {_turned(per_mm)} of that"
    )
    if seating.high_mm is not None and seating.riding_deg is not None:
        home += (
            f"; with the tongue on the slot's edge the gear stands {seating.high_mm:g} mm high,"
            f" the rotor at {seating.riding_deg:.1f}°"
        )
    rows.append(Row("Fully home", home))
    return rows


def _slot_row(seating: Seating) -> Row:
    words = "Pump's slot"
    if seating.home_deg is None:
        return Row(words, NO_SLOT, known=False)
    home = _slot(seating.home_deg, 1)
    if seating.before_deg is None:
        return Row(words, f"at {home} with the gear home; {NO_DEPTH}", known=False)
    before = _slot(seating.before_deg, 1)
    return Row(
        words,
        f"must stand at {before} beforehand (one through the middle may stand half a turn on); the"
        f" gear takes it along to {home}",
    )


def _now_row(seating: Seating) -> Row:
    stands = _slot(seating.stands_deg or 0.0, 1)
    if seating.off_deg is None:
        return Row("Slot now", f"{stands}; {NO_SLOT}", known=False)
    if not seating.off:
        return Row("Slot now", f"{stands}: the tongue finds it")
    turn = f"turn it {_way_back(seating.off_deg)}"
    do = {True: turn, False: "it cannot be turned", None: f"{turn}, if it can be turned"}
    return Row(
        "Slot now",
        f"{stands}, {_turned(seating.off_deg)} of where it must stand: {do[seating.turns]}",
    )


def tooth_table(seating: Seating) -> Table:
    """Return what each tooth more or less does to mesh, rotor, ignition and slot."""
    known = any(each.slot_deg is not None for each in seating.choices)
    heads = ("Going in at", "start", "end", "ignition", *(("slot before",) if known else ()))
    rows = tuple(
        (
            _teeth(each.teeth),
            _rotor(each.start_deg),
            _rotor(each.end_deg),
            _ignition(each.crank_deg),
            *((_slot(each.slot_deg or 0.0) + _seats(each),) if known else ()),
        )
        for each in seating.choices
    )
    narrow = tuple(
        Row(_short(each.teeth), "; ".join(map(" ".join, zip(heads[1:], row[1:], strict=True))))
        for each, row in zip(seating.choices, rows, strict=True)
    )
    title = "A tooth more or less, clockwise +"
    return Table(title, heads, rows, Facts(narrow, title))


def seating_figures(seating: Seating) -> Figures:
    """Return slot and seat as keys of ``strokewise drive --json``."""
    return {
        "home": _figure(seating.home_deg),
        "before": _figure(seating.before_deg),
        "riding": _figure(seating.riding_deg),
        "short_per_mm": _figure(seating.short_deg_per_mm),
        "turns": seating.turns,
        "now": _figure(seating.stands_deg),
        "off": _figure(seating.off_deg),
        "teeth": [
            {
                "teeth": each.teeth,
                "start": _figure(each.start_deg),
                "end": _figure(each.end_deg),
                "crank": _figure(each.crank_deg),
                "slot": _figure(each.slot_deg),
                "seats": each.seats,
            }
            for each in seating.choices
        ],
    }


def _figure(angle_deg: float | None) -> float | None:
    return None if angle_deg is None else round(angle_deg, SLOT_DECIMALS)


def _slot(angle_deg: float, decimals: int = 0) -> str:
    return f"{round(angle_deg, decimals) % HALF_TURN_DEG:.{decimals}f}°"


def _rotor(angle_deg: float) -> str:
    return f"{round(angle_deg) % 360}°"


def _turned(angle_deg: float) -> str:
    return f"{abs(angle_deg):.1f}° {'clockwise' if angle_deg > 0 else 'counter-clockwise'}"


def _way_back(off_deg: float) -> str:
    return f"{abs(off_deg):.0f}° {'counter-clockwise' if off_deg > 0 else 'clockwise'}"


def _teeth(teeth: int) -> str:
    if not teeth:
        return "the wanted tooth"
    count = f"{abs(teeth)} {'tooth' if abs(teeth) == 1 else 'teeth'}"
    return f"{count} {'clockwise' if teeth > 0 else 'counter-clockwise'}"


def _said(each: ToothChoice) -> str:
    words = _teeth(each.teeth)
    return words if each.crank_deg is None else f"{words} ({_ignition(each.crank_deg)})"


def _short(teeth: int) -> str:
    return (
        "As wanted"
        if not teeth
        else signed(f"{teeth:+d}") + (" tooth" if abs(teeth) == 1 else " teeth")
    )


def _ignition(crank_deg: float | None) -> str:
    if crank_deg is None:
        return "not known"
    if not crank_deg:
        return "as it should"
    return f"{abs(crank_deg):.0f}° {'late' if crank_deg > 0 else 'early'}"


def _seats(each: ToothChoice) -> str:
    return {True: ", goes in", False: ", not as it stands", None: ""}[each.seats]
