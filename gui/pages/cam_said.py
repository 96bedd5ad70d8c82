"""How are separate cams, and clearances just set, asked for? Alike where the cam is seen."""

from __future__ import annotations

from strokewise.gui.pages.step import Label

SEPARATE_CAMS = Label(
    "Separate inlet, exhaust cams",
    "inlet and exhaust have a cam each: their shifts say nothing of each other",
)
CLEARANCES_SET = Label(
    "Clearances just set",
    "the valve clearances have just been set to the profile's figures",
)
