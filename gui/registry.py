"""Which commands and steps are there? One line for each; what they need is loaded when asked for.

A command is a module of ``strokewise.gui.commands`` with ``add_parser(subparsers)``. A step is also
a module of ``strokewise.gui.pages`` that has a ``STEP``: the command line, the window's steps, the
job and the sheet all find it here.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from strokewise.gui.pages.step import Step

Asks = Literal["recording", "crank", "recordings", "samples"]
"""What a step needs: what a recording tells of TDC; where the crank stands, if only by hearsay;
several recordings together; or a recording's samples alone."""


@dataclass(frozen=True, slots=True)
class Command:
    """One command.

    Attributes
    ----------
    about : str
        Its line in the help.
    module : str
        Of ``gui.commands``, where the name cannot be a module's.
    """

    name: str
    about: str
    module: str = ""

    def load(self) -> ModuleType:
        """Return the command's module."""
        return import_module(f"strokewise.gui.commands.{self.module or self.name}")


@dataclass(frozen=True, slots=True)
class StepEntry:
    """One step.

    Attributes
    ----------
    title : str
        What the window calls it.
    question : str
        What it answers, as a question.
    heading : str
        What the sheet calls its answer.
    module : str
        Where its ``STEP`` is.
    in_window : bool
        It is a page of the window's steps; the others are answered by the window as a whole.
    in_job : bool
        A job keeps its answers; a hose's response is the rig's, not the engine's.
    """

    name: str
    title: str
    question: str
    heading: str
    asks: Asks
    module: str
    in_window: bool = True
    in_job: bool = True

    def load(self) -> Step:
        """Return the step, its question and its page loaded."""
        step: Step = import_module(self.module).STEP
        return step


# The order of the list is the order of the help.
COMMANDS: tuple[Command, ...] = (
    Command(
        "find",
        "Find top dead centre and the firing stroke of every cylinder in a recording.",
    ),
    Command(
        "record",
        "Record a port into a file, with the engine profile and the sensed cylinder.",
    ),
    Command(
        "simulate",
        "Make a recording of the simulated bench engine, or run it live as a port.",
    ),
    Command(
        "ports",
        "List the serial ports of this computer, with what they say of themselves.",
    ),
    Command(
        "engine",
        "Make an engine profile by a few questions, show what is known and missing, or check it.",
    ),
    Command(
        "check",
        "Judge the health of a recording, or try the rig on a port before the engine.",
    ),
    Command(
        "export",
        "Write a recording as tables: time, crank angle, pressure, raw integers; and events.",
    ),
    Command(
        "response",
        "Measure how slow sensor and hose are at the most, from pressure let go by hand.",
    ),
    Command(
        "live",
        "Open the window on a live port: verdict, stroke chart, turn guide.",
    ),
    Command(
        "replay",
        "Open the window on a recording, or draw it into a picture without a screen.",
    ),
    Command(
        "watch",
        "Watch a port or a recording in the terminal: who fires, how far to turn.",
    ),
    Command(
        "class",
        "Hold a class: questions on real and simulated traces, groups, scores, a trainer's screen.",
        "class_room",
    ),
    Command(
        "marks",
        "Measure timing marks from true TDC, and weigh why they are off.",
    ),
    Command(
        "cam",
        "Measure the cam's timing from pressure: shift, teeth, and how to put it right.",
    ),
    Command(
        "valves",
        "Say which valves can be set now, where to turn next, and whether gaps are right.",
    ),
    Command(
        "drive",
        "Say where to start the distributor's drive gear, and which lead goes where.",
    ),
    Command(
        "static",
        "Turn static timing into what can be measured, and check it with a strobe.",
    ),
    Command(
        "compare",
        "Compare the compressions of the cylinders, at one speed and one atmosphere.",
    ),
    Command(
        "job",
        "Keep everything about one engine in a folder: new, add, tick, show.",
    ),
    Command(
        "sheet",
        "Make the job sheet of a job: one HTML file and a PDF, for A4 or Letter paper.",
    ),
)

# The order of the list is that of the job, and of the sheet.
STEPS: tuple[StepEntry, ...] = (
    StepEntry(
        "find",
        "Top dead centre",
        "Where is TDC, and which cylinder fires there?",
        "Top dead centre and firing order",
        "recording",
        "strokewise.gui.pages.find",
        in_window=False,
    ),
    StepEntry(
        "marks",
        "Timing marks",
        "Where do the marks really stand, and why are they off?",
        "Timing marks",
        "recording",
        "strokewise.gui.pages.marks",
    ),
    StepEntry(
        "cam",
        "Cam timing",
        "How late is the cam, and what puts it right?",
        "Cam timing",
        "recording",
        "strokewise.gui.pages.cam",
    ),
    StepEntry(
        "valves",
        "Valve clearances",
        "Which valves can be set here, and where to turn next?",
        "Which valves are set together",
        "crank",
        "strokewise.gui.pages.valves",
    ),
    StepEntry(
        "drive",
        "Drive gear",
        "Where must the rotor start so that it ends where it belongs?",
        "Drive gear and distributor",
        "crank",
        "strokewise.gui.pages.drive",
    ),
    StepEntry(
        "static",
        "Static timing",
        "Where must the crank stand, and does a strobe agree?",
        "Static timing",
        "crank",
        "strokewise.gui.pages.static",
    ),
    StepEntry(
        "compare",
        "Compressions",
        "Do the cylinders agree, and what would confirm why not?",
        "Compressions compared",
        "recordings",
        "strokewise.gui.pages.compare",
    ),
    StepEntry(
        "check",
        "State of the recording",
        "Is the recording sound?",
        "State of the recording",
        "samples",
        "strokewise.gui.pages.check",
        in_window=False,
    ),
    StepEntry(
        "response",
        "Response time",
        "How slow are sensor and hose at the most?",
        "Response time of sensor and hose",
        "samples",
        "strokewise.gui.pages.response",
        in_window=False,
        in_job=False,
    ),
)


def window_steps() -> tuple[StepEntry, ...]:
    """Return the pages of the window's steps, in their order."""
    return tuple(entry for entry in STEPS if entry.in_window)


def kept_steps() -> tuple[StepEntry, ...]:
    """Return the steps whose answers a job keeps."""
    return tuple(entry for entry in STEPS if entry.in_job)


def command(name: str) -> Command:
    """Return a command by its name."""
    return next(each for each in COMMANDS if each.name == name)


def step_entry(name: str) -> StepEntry | None:
    """Return a step by its name; None where there is none."""
    return next((each for each in STEPS if each.name == name), None)
