"""How is the drive gear said, to a person and to a program?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.crank.strokes import within
from strokewise.analysis.ignition.drive_gear import DriveError, Lead, Meshing
from strokewise.gui.pages.answers import Answer, base_answer
from strokewise.gui.pages.cautions import (
    MANUAL_FIRST,
    TURNING_BY_HAND,
    VALVE_CONTACT,
    Caution,
)
from strokewise.gui.pages.words import caution_words, fact, paragraph, sentence, warning_words

if TYPE_CHECKING:
    from strokewise.gui.commands.drive import DriveAnswer

DECIMALS = 2

DRIVE_HOME = Caution(
    "drive-home",
    "Drive gear in",
    "Ignition off and the crank left where it is while the gear goes in. See that the gear is home "
    "and the oil pump's tongue engaged before the engine is cranked: without oil pressure it is "
    "ruined in seconds.",
)


def drive_words(answer: DriveAnswer) -> str:
    """Return the whole answer for a person."""
    facts: list[str] = []
    if answer.after_firing_1_deg is not None:
        after = within(answer.after_firing_1_deg, answer.profile.cycle_deg)
        facts += fact("Crank", f"{after:.1f}° after firing TDC of cylinder 1")
    if answer.meshing is not None:
        facts += _meshing(answer.meshing)
    facts += _leads(answer)
    if answer.error is not None:
        facts += _error(answer.error)
    parts = [
        paragraph(headline(answer)),
        "\n".join(facts),
        paragraph(
            "Angles of rotor and leads are degrees clockwise, seen on the cap, from the line that"
            f" puts the lead of cylinder 1 at {within(answer.lead_1_deg, 360):.0f}°."
        ),
        warning_words(answer.warnings),
        caution_words((DRIVE_HOME, TURNING_BY_HAND, VALVE_CONTACT, MANUAL_FIRST)),
    ]
    return "\n\n".join(part for part in parts if part)


def headline(answer: DriveAnswer) -> str:
    """Return the one sentence that a person came for."""
    if answer.meshing is None:
        return f"NOT SURE. {sentence(answer.why_not)}"
    if answer.error is not None and answer.error.half_turn:
        return "THE DRIVE IS HALF A TURN OUT, or cylinder 1 stands at its overlap TDC."
    if answer.error is not None:
        return sentence(answer.error.words[0])
    gear = answer.meshing
    return (
        f"START THE ROTOR AT {gear.start_deg:.0f}°: going in it turns {abs(gear.turn_deg):.0f}°"
        f" {gear.direction} and ends at {gear.end_deg:.0f}°."
    )


def _meshing(gear: Meshing) -> list[str]:
    return [
        *fact(
            "Going in",
            f"turns {abs(gear.turn_deg):.1f}° {gear.direction}, {abs(gear.turn_teeth):.2f} teeth:"
            f" start at {gear.start_deg:.1f}°, end at {gear.end_deg:.1f}°",
        ),
        *fact(
            "One tooth wrong",
            f"{gear.tooth_deg:.1f}° of the rotor, {gear.tooth_crank_deg:.1f} crank degrees of"
            " ignition timing",
        ),
    ]


def _leads(answer: DriveAnswer) -> list[str]:
    order = "-".join(map(str, answer.profile.firing_order))
    if not answer.leads:
        return fact("Leads", f"{order}, in the order in which the rotor passes them")
    listed = ", ".join(f"{lead.cylinder} at {lead.cap_deg:.0f}°" for lead in answer.leads)
    way = answer.profile.distributor_rotation
    return fact("Leads", f"{order}, {way}: {listed}")


def _error(error: DriveError) -> list[str]:
    text = (
        f"{abs(error.error_deg):.1f}° {'clockwise' if error.error_deg > 0 else 'counter-clockwise'}"
    )
    if abs(error.error_deg) < 0.05:
        text = "nowhere"
    if error.crank_deg is not None and abs(error.error_deg) >= 0.05:
        early = "late" if error.crank_deg > 0 else "early"
        text += f" of its place: {abs(error.crank_deg):.0f} crank degrees {early}"
    lines = fact("Found", text)
    for number, way in enumerate(error.words, start=1):
        lines += fact(f"Way {number}" if len(error.words) > 1 else "To do", way)
    if error.lead_moves:
        moves = ", ".join(f"{one} to {other}'s" for one, other in sorted(error.lead_moves.items()))
        lines += fact("Leads would move", f"{moves} tower")
    return lines


def drive_answer(answer: DriveAnswer) -> Answer:
    """Return the whole answer for a program."""
    known = answer.meshing is not None
    reason = answer.why_not or headline(answer)
    said = base_answer(known, reason, answer.warnings)
    after = answer.after_firing_1_deg
    said["crank"] = (
        None
        if after is None
        else {"after_firing_1": round(within(after, answer.profile.cycle_deg), DECIMALS)}
    )
    said["meshing"] = None if answer.meshing is None else _meshing_answer(answer.meshing)
    said["leads"] = [_lead(lead) for lead in answer.leads]
    said["found"] = None if answer.error is None else _error_answer(answer.error)
    picture = answer.drawing
    said["drawing"] = (
        None
        if picture is None
        else {
            "depth": [f"{depth:.3f} mm" for depth in picture.depth_mm],
            "rotor": [round(float(angle), DECIMALS) for angle in picture.rotor_deg],
            "teeth": [round(float(angle), DECIMALS) for angle in picture.teeth_deg],
        }
    )
    return said


def _meshing_answer(gear: Meshing) -> Answer:
    return {
        "turn": round(gear.turn_deg, DECIMALS),
        "turn_teeth": round(gear.turn_teeth, DECIMALS),
        "direction": gear.direction,
        "start": round(gear.start_deg, DECIMALS),
        "end": round(gear.end_deg, DECIMALS),
        "tooth": round(gear.tooth_deg, DECIMALS),
        "tooth_crank": round(gear.tooth_crank_deg, DECIMALS),
    }


def _lead(lead: Lead) -> Answer:
    return {"cylinder": lead.cylinder, "at": round(lead.cap_deg, DECIMALS)}


def _error_answer(error: DriveError) -> Answer:
    crank = error.crank_deg
    return {
        "error": round(error.error_deg, DECIMALS),
        "crank": None if crank is None else round(crank, DECIMALS),
        "teeth": error.teeth,
        "rest": round(error.rest_deg, DECIMALS),
        "half_turn": error.half_turn,
        "lead_moves": {str(one): other for one, other in sorted(error.lead_moves.items())},
        "ways": list(error.words),
    }
