"""How is the drive gear said? Its page, and how its question is asked."""

from __future__ import annotations

from strokewise.analysis.crank.strokes import within
from strokewise.analysis.ignition.drive_answer import DriveAnswer, DriveQuestion, drive_answer
from strokewise.analysis.ignition.drive_gear import DriveError, Lead, Meshing
from strokewise.analysis.profile import Profile
from strokewise.gui.drawings.drive_svg import drive_svg
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    VALVE_CONTACT,
    Caution,
)
from strokewise.gui.pages.headline import Claim, Ground, Rank
from strokewise.gui.pages.headline import headline as in_order
from strokewise.gui.pages.page import Facts, Page, Row, Text, page_of
from strokewise.gui.pages.pump_slot import (
    goes_home,
    seating_figures,
    seating_rows,
    slot_claim,
    tooth_table,
)
from strokewise.gui.pages.rough import rough_claims, rough_sign
from strokewise.gui.pages.sign import CAUSE_OPEN
from strokewise.gui.pages.step import Figures, Label, Step
from strokewise.gui.pages.words import sentence
from strokewise.gui.sayings import say, say_any

DRIVE_DECIMALS = 2
DRIVE_DRAWING = "drive gear"

DRIVE_HOME = Caution(
    "drive-home",
    "Drive gear in",
    "Ignition off and the crank left where it is while the gear goes in. See that the gear is home "
    "and the oil pump's tongue engaged before the engine is cranked: without oil pressure it is "
    "ruined in seconds.",
)

NO_ROTATION = (
    "which way the rotor turns is not known, so with the crank away from the firing TDC of"
    " cylinder 1 its place is not known either: set distributor.rotation"
)

LABELS = {
    "after_tdc_deg": Label(
        "Crank after firing TDC of 1",
        "crank degrees after the firing TDC of cylinder 1 (default 0 without a recording)",
        "DEG",
        option="after-tdc",
        in_window=False,
    ),
    "lead_1_deg": Label(
        "Lead of cylinder 1 at, degrees",
        "where the lead of cylinder 1 is (default 0)",
        "DEG",
        "0",
        "lead-1",
    ),
    "end_deg": Label(
        "Rotor must end at, degrees",
        "where the rotor must end, when it is not at a lead",
        "DEG",
        "at its lead",
        "end",
    ),
    "found_deg": Label(
        "It is in; rotor points to, degrees",
        "where the rotor points now, when it is in already",
        "DEG",
        "181",
        "found",
    ),
    "slot_deg": Label(
        "Pump's slot stands at, degrees",
        "where the oil pump's slot stands now, as the rotor's angles are counted",
        "DEG",
        "63",
        "slot",
    ),
}


def drive_cautions(profile: Profile) -> tuple[Caution, ...]:
    """Return what can hurt while the drive gear goes in."""
    return (DRIVE_HOME, TURNING_BY_HAND, VALVE_CONTACT, MANUAL_FIRST)


def drive_page(answer: DriveAnswer) -> Page:
    """Return the page of an answer."""
    rows: list[Row] = []
    if answer.after_firing_1_deg is not None:
        after = within(answer.after_firing_1_deg, answer.profile.cycle_deg)
        rows.append(Row("Crank", f"{after:.1f}° after firing TDC of cylinder 1"))
    if answer.meshing is not None:
        rows += _meshing(answer.meshing)
        if answer.seating is not None:
            rows += seating_rows(answer.seating, answer.meshing.end_deg)
    rows.append(_leads(answer))
    if answer.error is not None:
        rows += _error(answer.error)
    line = (
        "Angles of rotor and leads are degrees clockwise, seen on the cap, from the line that"
        f" puts the lead of cylinder 1 at {within(answer.lead_1_deg, 360):.0f}°."
    )
    teeth = () if answer.seating is None else (tooth_table(answer.seating),)
    rough = rough_claims(answer.within_deg, answer.profile) if answer.decided else ()
    claims = (*_claims(answer), *rough)
    half_turn = answer.error is not None and answer.error.half_turn
    return page_of(
        "drive",
        claims,
        decided=answer.decided,
        reason=_why_not(answer) or in_order(claims),
        sign=CAUSE_OPEN if half_turn else rough_sign(answer.within_deg),
        ground=Ground(half_turn=half_turn),
        parts=(Facts(tuple(rows)), *teeth, Text(line)),
        warnings=answer.warnings,
        cautions=drive_cautions(answer.profile),
        pictures=(DRIVE_DRAWING,) if answer.drawing is not None else (),
    )


def _why_not(answer: DriveAnswer) -> str:
    return say_any(answer.why_not) or (NO_ROTATION if answer.open == "rotation" else "")


def _claims(answer: DriveAnswer) -> tuple[Claim, ...]:
    """Return what is said first; of the slot only while the gear is still to go in."""
    said = headline(answer)
    if answer.seating is None or answer.error is not None:
        return (said,)
    slot = slot_claim(answer.seating)
    if slot is None:
        return (said,)
    return (slot, said) if goes_home(answer.seating) else (slot,)


def headline(answer: DriveAnswer) -> Claim:
    """Return the one sentence that a person came for."""
    if answer.meshing is None:
        return Claim(f"NOT SURE. {sentence(_why_not(answer))}", Rank.UNKNOWN)
    if answer.error is not None and answer.error.half_turn:
        half = "THE DRIVE IS HALF A TURN OUT, or cylinder 1 stands at its overlap TDC."
        return Claim(half, Rank.HARM, half_turn=True)
    if answer.error is not None:
        return Claim(sentence(say(answer.error.ways[0])), Rank.WRONG)
    gear = answer.meshing
    return Claim(
        f"START THE ROTOR AT {gear.start_deg:.0f}°: going in it turns {abs(gear.turn_deg):.0f}°"
        f" {gear.direction} and ends at {gear.end_deg:.0f}°."
    )


def _meshing(gear: Meshing) -> list[Row]:
    return [
        Row(
            "Going in",
            f"turns {abs(gear.turn_deg):.1f}° {gear.direction}, {abs(gear.turn_teeth):.2f} teeth:"
            f" start at {gear.start_deg:.1f}°, end at {gear.end_deg:.1f}°",
        ),
        Row(
            "One tooth wrong",
            f"{gear.tooth_deg:.1f}° of the rotor, {gear.tooth_crank_deg:.1f} crank degrees of"
            " ignition timing",
        ),
    ]


def _leads(answer: DriveAnswer) -> Row:
    order = "-".join(map(str, answer.profile.firing_order))
    if not answer.leads:
        return Row("Leads", f"{order}, in the order in which the rotor passes them")
    listed = ", ".join(f"{lead.cylinder} at {lead.cap_deg:.0f}°" for lead in answer.leads)
    return Row("Leads", f"{order}, {answer.profile.distributor_rotation}: {listed}")


def _error(error: DriveError) -> list[Row]:
    text = (
        f"{abs(error.error_deg):.1f}° {'clockwise' if error.error_deg > 0 else 'counter-clockwise'}"
    )
    if abs(error.error_deg) < 0.05:
        text = "nowhere"
    if error.crank_deg is not None and abs(error.error_deg) >= 0.05:
        early = "late" if error.crank_deg > 0 else "early"
        text += f" of its place: {abs(error.crank_deg):.0f} crank degrees {early}"
    rows = [Row("Found", text)]
    for number, way in enumerate(error.ways, start=1):
        rows.append(Row(f"Way {number}" if len(error.ways) > 1 else "To do", say(way)))
    if error.lead_moves:
        moves = ", ".join(f"{one} to {other}'s" for one, other in sorted(error.lead_moves.items()))
        rows.append(Row("Leads would move", f"{moves} tower"))
    return rows


def drive_figures(answer: DriveAnswer) -> Figures:
    """Return the keys of ``strokewise drive --json`` beside those of every answer."""
    said: Figures = {}
    after = answer.after_firing_1_deg
    said["crank"] = (
        None
        if after is None
        else {"after_firing_1": round(within(after, answer.profile.cycle_deg), DRIVE_DECIMALS)}
    )
    said["meshing"] = None if answer.meshing is None else _meshing_answer(answer.meshing)
    said["seating"] = None if answer.seating is None else seating_figures(answer.seating)
    said["leads"] = [_lead(lead) for lead in answer.leads]
    said["found"] = None if answer.error is None else _error_answer(answer.error)
    picture = answer.drawing
    said["drawing"] = (
        None
        if picture is None
        else {
            "depth": [f"{depth:.3f} mm" for depth in picture.depth_mm],
            "rotor": [round(float(angle), DRIVE_DECIMALS) for angle in picture.rotor_deg],
            "teeth": [round(float(angle), DRIVE_DECIMALS) for angle in picture.teeth_deg],
        }
    )
    return said


def _meshing_answer(gear: Meshing) -> Figures:
    return {
        "turn": round(gear.turn_deg, DRIVE_DECIMALS),
        "turn_teeth": round(gear.turn_teeth, DRIVE_DECIMALS),
        "direction": gear.direction,
        "start": round(gear.start_deg, DRIVE_DECIMALS),
        "end": round(gear.end_deg, DRIVE_DECIMALS),
        "tooth": round(gear.tooth_deg, DRIVE_DECIMALS),
        "tooth_crank": round(gear.tooth_crank_deg, DRIVE_DECIMALS),
    }


def _lead(lead: Lead) -> Figures:
    return {"cylinder": lead.cylinder, "at": round(lead.cap_deg, DRIVE_DECIMALS)}


def _error_answer(error: DriveError) -> Figures:
    crank = error.crank_deg
    return {
        "error": round(error.error_deg, DRIVE_DECIMALS),
        "crank": None if crank is None else round(crank, DRIVE_DECIMALS),
        "teeth": error.teeth,
        "rest": round(error.rest_deg, DRIVE_DECIMALS),
        "half_turn": error.half_turn,
        "lead_moves": {str(one): other for one, other in sorted(error.lead_moves.items())},
        "ways": [say(way) for way in error.ways],
    }


def _drawings(answer: DriveAnswer) -> dict[str, str]:
    drawn = drive_svg(drive_figures(answer))
    return {} if drawn is None else {DRIVE_DRAWING: drawn}


STEP = Step(
    "drive",
    DriveQuestion,
    drive_answer,
    drive_page,
    drive_figures,
    LABELS,
    drawings=_drawings,
    cautions=drive_cautions,
    lacks=lambda answer: ("distributor.rotation",) if answer.open == "rotation" else (),
)
