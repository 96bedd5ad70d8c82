"""Answers to people: the commands, the window, the job sheet, and pages in a notebook.

Every step is a question and a page (:mod:`~strokewise.gui.registry` lists them). What was found in
a recording is found once and asked about as often as wanted; an answer prints its headline, and
shows itself as a page where a notebook displays it:

================  =================================================================================
``commands``      a module for each command
``sayings``       the sentence of every reason and notice
``pages``         what each answer says: its words, cautions, drawings and JSON
``models``        what window and terminal show, as plain values without Qt
``window``        the thin Qt views that draw them
``job``           the folder that keeps everything about one engine
``sheet``         what is handed over at the end: HTML and PDF
================  =================================================================================

Examples
--------
>>> from strokewise.gui import ask, found_in
>>> found = found_in("recordings/cranked.swr")
>>> said = ask("valves", found)
>>> print(said)
SET NOW: 1E, 2I, 3E, 1I.
>>> [each["valve"] for each in said.json["valves"] if each["ready"]]
['1E', '1I', '2I', '3E']
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.public import loaded_when_used

if TYPE_CHECKING:
    from strokewise.gui.found import found_in, found_of
    from strokewise.gui.options import SaidOfEngine
    from strokewise.gui.sayings.spoken import say, told
    from strokewise.gui.steps import Said, ask

__all__ = [
    "Said",
    "SaidOfEngine",
    "ask",
    "found_in",
    "found_of",
    "say",
    "told",
]

__getattr__, __dir__ = loaded_when_used(
    __name__,
    {
        "found": (
            "found_in",
            "found_of",
        ),
        "options": ("SaidOfEngine",),
        "sayings.spoken": (
            "say",
            "told",
        ),
        "steps": (
            "Said",
            "ask",
        ),
    },
)
