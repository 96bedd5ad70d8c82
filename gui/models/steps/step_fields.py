"""What may a person say to each step? The options of its command, as fields to fill in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

FieldKind = Literal["text", "several", "whole", "positive", "tick", "choice"]

SEPARATOR = ";"
"""Between several values in one field: a value may hold commas itself."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field.

    Attributes
    ----------
    option : str
        The command's option that it stands for.
    label : str
        What is asked for.
    example : str
        Shown while it is empty.
    choices : tuple of str
        Of a choice; nothing said is always possible, too.
    """

    option: str
    label: str
    kind: FieldKind = "text"
    example: str = ""
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StepAbout:
    """One step of the job: its name as a command, its title, what it asks, and its fields."""

    name: str
    title: str
    question: str
    fields: tuple[Field, ...]


def _yes_no(option: str, label: str) -> Field:
    return Field(option, label, "choice", choices=("yes", "no"))


STEPS_ABOUT: tuple[StepAbout, ...] = (
    StepAbout(
        "marks",
        "Timing marks",
        "Where do the marks really stand, and why are they off?",
        (
            Field("--stated", "Mark read off, encoder degrees", "several", "pulley notch=123.4"),
            Field("--earlier", "How late it was before", "several", "pulley notch=7.4,7.1,7.7"),
            Field("--cam-shift", "Cam is late by, degrees", example="17.1,15.2,19.0"),
        ),
    ),
    StepAbout(
        "cam",
        "Cam timing",
        "How late is the cam, and what puts it right?",
        (
            Field("--clearances-set", "Clearances just set", "tick"),
            Field("--separate-cams", "Separate inlet, exhaust cams", "tick"),
            Field("--keyway", "Keyway it sits on now", "whole", "1"),
        ),
    ),
    StepAbout(
        "valves",
        "Valve clearances",
        "Which valves can be set here, and where to turn next?",
        (
            Field("--done", "Set already", example="1E, 2I"),
            Field("--gap", "Gap found, set, nipped up", "several", "1E=0.40 mm, 0.36 mm, 0.35 mm"),
            Field("--fitted", "Shim that is in", "several", "2I=2.45 mm"),
            Field("--shims", "Shims at hand", example="2.40 mm, 2.45 mm"),
            Field("--blades", "Feelers", "choice", choices=("metric", "inch")),
            Field("--engine-is", "Engine is", "choice", choices=("cold", "hot")),
        ),
    ),
    StepAbout(
        "drive",
        "Drive gear",
        "Where must the rotor start so that it ends where it belongs?",
        (
            Field("--lead-1", "Lead of cylinder 1 at, degrees", example="0"),
            Field("--end", "Rotor must end at, degrees", example="at its lead"),
            Field("--found", "It is in; rotor points to, degrees", example="181"),
        ),
    ),
    StepAbout(
        "static",
        "Static timing",
        "Where must the crank stand, and does a strobe agree?",
        (
            Field("--advance", "Advance", example="6 deg BTDC"),
            Field("--cylinder", "Of cylinder", "whole", "1"),
            Field("--strobe", "Strobe, rev/min=degrees", "several", "700=13; 3200=33"),
            Field("--curve", "Advance curve", example="500=0,1500=10"),
            Field("--mark-late", "The mark itself is late by", example="7.4,7.2,7.6"),
        ),
    ),
    StepAbout(
        "compare",
        "Compressions",
        "Do the cylinders agree, and what would confirm why not?",
        (
            Field("--cylinders", "Cylinder of each file", example="as they say: 1,2,3,4"),
            Field("--neighbours", "Side by side", example="1-2,2-3,3-4"),
            Field("--speed", "At a common rev/min", "positive", "their median"),
            _yes_no("--throttle-open", "Throttle open"),
            _yes_no("--plugs-out", "Plugs out"),
            _yes_no("--decompressor-off", "Decompressor off"),
            _yes_no("--battery-good", "Battery good"),
            _yes_no("--warm", "Engine warm"),
        ),
    ),
)


def about(name: str) -> StepAbout:
    """Return a step by its name."""
    return next(step for step in STEPS_ABOUT if step.name == name)


def trouble_with(field: Field, text: str) -> str:
    """Return why a field cannot be so, empty where it can; what it means is the step's business."""
    try:
        if field.kind == "whole":
            int(text)
        if field.kind == "positive" and not 0 < float(text) < float("inf"):
            raise ValueError
    except ValueError:
        what = "a whole number" if field.kind == "whole" else "a number above zero"
        return f"{field.label}: “{text}” is not {what}"
    return ""


def options_of(step: StepAbout, said: dict[str, str]) -> tuple[str, ...]:
    """Return the options of a command line for what was said; empty fields say nothing."""
    options: list[str] = []
    for field in step.fields:
        text = said.get(field.option, "").strip()
        if not text:
            continue
        if field.kind == "tick":
            options.append(field.option)
        elif field.kind == "several":
            parts = (part.strip() for part in text.split(SEPARATOR))
            options += [f"{field.option}={part}" for part in parts if part]
        else:
            options.append(f"{field.option}={text}")
    return tuple(options)
