"""Which key does what? The one list behind the shortcuts, the key row and the list of keys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

When = Literal["always", "live", "replay", "class"]


@dataclass(frozen=True, slots=True)
class KeyStroke:
    """One key.

    Attributes
    ----------
    keys : tuple of str
        As Qt names them.
    action : str
        Name of what it does, a method of the window.
    words : str
        For the list of keys.
    short : str
        For the key row; empty where it does not stand there.
    """

    keys: tuple[str, ...]
    action: str
    words: str
    when: When = "always"
    short: str = ""


VIEWS: tuple[tuple[str, str], ...] = (
    ("chart", "stroke chart and turn guide"),
    ("angle", "pressure over crank angle"),
    ("volume", "pressure over volume"),
    ("loglog", "log p over log V, with the polytropic slope"),
    ("speed", "speed over crank angle"),
    ("fit", "the fit and its residuals"),
    ("tdc", "where TDC lies: the posterior"),
    ("overlay", "two recordings over each other"),
)

ROCK_KEY = "H"
"""By hand."""

KEYS: tuple[KeyStroke, ...] = (
    *(KeyStroke((str(i + 1),), f"view_{name}", words) for i, (name, words) in enumerate(VIEWS)),
    KeyStroke(("T",), "next_target", "next target of the turn guide", short="target"),
    KeyStroke(("Shift+T",), "previous_target", "target before"),
    KeyStroke(("A",), "ask_advance", "target: an advance before firing TDC, in degrees"),
    KeyStroke((ROCK_KEY,), "toggle_rocking", "rocking guide: how far, how fast, when enough"),
    KeyStroke(("C",), "show_cautions", "the cautions", short="cautions"),
    KeyStroke(("B",), "toggle_suspect", "timing under suspicion: two turns by hand first"),
    KeyStroke(("S",), "toggle_sound", "sound to steer by, on or off", short="sound"),
    KeyStroke(("U",), "next_unit", "unit of pressure: bar, kPa, psi", short="unit"),
    KeyStroke(("L",), "toggle_theme", "light or dark", short="light"),
    KeyStroke(("F11",), "toggle_full_screen", "whole screen"),
    KeyStroke(("Space",), "toggle_play", "play or pause", "replay", "play"),
    KeyStroke(("+", "="), "faster", "play faster, up to 20 times", "replay"),
    KeyStroke(("-",), "slower", "play slower, down to 0.05 times", "replay"),
    KeyStroke(("Right",), "sample_on", "on by a sample", "replay"),
    KeyStroke(("Left",), "sample_back", "back by a sample", "replay"),
    KeyStroke(("Shift+Right",), "degree_on", "on by a degree of the crank", "replay"),
    KeyStroke(("Shift+Left",), "degree_back", "back by a degree of the crank", "replay"),
    KeyStroke(
        ("N",), "next_tdc", "on to the next TDC of the sensed cylinder", "replay", "next TDC"
    ),
    KeyStroke(("Home",), "to_start", "to the start", "replay"),
    KeyStroke(("End",), "to_end", "to the end", "replay"),
    KeyStroke(("O",), "open_overlay", "open a second recording to lay over this one"),
    KeyStroke(("R",), "toggle_recording", "record, or stop recording", "live", "record"),
    KeyStroke(("M",), "press_mark", "a mark stands at its pointer now", "live", "mark"),
    KeyStroke(("Shift+M",), "next_mark", "which mark M is for, where there are several", "live"),
    KeyStroke(("F2",), "show_setup", "set up: ports, sensor check, profile", short="set up"),
    KeyStroke(("F3",), "show_class", "class-room: scenarios, faults, questions", short="class"),
    KeyStroke(
        ("F4",), "show_steps", "steps after TDC: marks, cam, valves …; again: next", short="steps"
    ),
    KeyStroke(("Shift+F4",), "previous_step", "the step before"),
    KeyStroke(("PgDown",), "read_on", "read on in a step's answer"),
    KeyStroke(("PgUp",), "read_back", "read back"),
    KeyStroke(("Q",), "toggle_question", "question: hide the verdict until answered", "class"),
    KeyStroke(("W",), "keep_trace", "put the trace of this moment on the worksheet", "class"),
    KeyStroke(("Ctrl++", "Ctrl+="), "zoom_in", "zoom in on a figure, also with wheel or drag"),
    KeyStroke(("Ctrl+-",), "zoom_out", "zoom out"),
    KeyStroke(("Ctrl+0",), "zoom_all", "show all of the figure"),
    KeyStroke(("P",), "export_png", "save this view as a picture (PNG)"),
    KeyStroke(("G",), "export_svg", "save this view as a drawing (SVG)"),
    KeyStroke(("X",), "export_csv", "save this view as a table (CSV)"),
    KeyStroke(("Ctrl+C",), "copy", "copy this view: picture and table"),
    KeyStroke(("Esc",), "back", "back to the stroke chart; closes what lies over it"),
    KeyStroke(("Ctrl+Q",), "close", "close the window"),
    KeyStroke(("F1", "?"), "show_keys", "this list of keys", short="keys"),
)


def keys_for(when: set[When]) -> tuple[KeyStroke, ...]:
    """Return the keys that do something in these circumstances."""
    return tuple(key for key in KEYS if key.when == "always" or key.when in when)
