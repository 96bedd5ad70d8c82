"""What can hurt somebody at a step, before there is an answer that says so?"""

from __future__ import annotations

from strokewise.analysis.profile import Profile
from strokewise.gui.models.steps.sections import Section
from strokewise.gui.pages import cautions as c
from strokewise.gui.pages.compare_words import LEAK_DOWN
from strokewise.gui.pages.drive_words import DRIVE_HOME

BEFORE: dict[str, tuple[c.Caution, ...]] = {
    "marks": (c.TURNING_BY_HAND, c.VALVE_CONTACT),
    "cam": (c.WRONG_TOOTH, c.TURNING_BY_HAND),
    "valves": (c.VALVE_CONTACT, c.TURNING_BY_HAND),
    "drive": (DRIVE_HOME, c.TURNING_BY_HAND, c.VALVE_CONTACT),
    "static": (c.TURNING_BY_HAND, c.VALVE_CONTACT),
    "compare": (LEAK_DOWN, c.IGNITION_AND_FUEL, c.PLUG_HOLE_PRESSURE, c.STARTER),
}
TURNS_BACK = ("marks", "cam", "valves", "static")
HEADINGS = {"cam": "Before anything is moved"}


def cautions_before(name: str, profile: Profile) -> Section:
    """Return the cautions of a step, as its answer will have them."""
    back = (c.turning_back(profile),) if name in TURNS_BACK else ()
    said = (*BEFORE[name], *back, c.MANUAL_FIRST)
    heading = HEADINGS.get(name, "Before the next step")
    return Section("cautions", heading, tuple((one.heading, one.text) for one in said))
