"""Which key does what? The one list behind the shortcuts, the key row and the list of keys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

When = Literal["always", "live", "replay", "class"]


@dataclass(frozen=True, slots=True)
class Key:
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

KEYS: tuple[Key, ...] = (
    *(Key((str(i + 1),), f"view_{name}", words) for i, (name, words) in enumerate(VIEWS)),
    Key(("T",), "next_target", "next target of the turn guide", short="target"),
    Key(("Shift+T",), "previous_target", "target before"),
    Key(("A",), "ask_advance", "target: an advance before firing TDC, in degrees"),
    Key((ROCK_KEY,), "toggle_rocking", "rocking guide: how far, how fast, when enough"),
    Key(("C",), "show_cautions", "the cautions", short="cautions"),
    Key(("B",), "toggle_suspect", "timing under suspicion: two turns by hand first"),
    Key(("S",), "toggle_sound", "sound to steer by, on or off", short="sound"),
    Key(("U",), "next_unit", "unit of pressure: bar, kPa, psi", short="unit"),
    Key(("L",), "toggle_theme", "light or dark", short="light"),
    Key(("F11",), "toggle_full_screen", "whole screen"),
    Key(("Space",), "toggle_play", "play or pause", "replay", "play"),
    Key(("+", "="), "faster", "play faster, up to 20 times", "replay"),
    Key(("-",), "slower", "play slower, down to 0.05 times", "replay"),
    Key(("Right",), "sample_on", "on by a sample", "replay"),
    Key(("Left",), "sample_back", "back by a sample", "replay"),
    Key(("Shift+Right",), "degree_on", "on by a degree of the crank", "replay"),
    Key(("Shift+Left",), "degree_back", "back by a degree of the crank", "replay"),
    Key(("N",), "next_tdc", "on to the next TDC of the sensed cylinder", "replay", "next TDC"),
    Key(("Home",), "to_start", "to the start", "replay"),
    Key(("End",), "to_end", "to the end", "replay"),
    Key(("O",), "open_overlay", "open a second recording to lay over this one"),
    Key(("R",), "toggle_recording", "record, or stop recording", "live", "record"),
    Key(("M",), "press_mark", "a mark stands at its pointer now", "live", "mark"),
    Key(("Shift+M",), "next_mark", "which mark M is for, where there are several", "live"),
    Key(("F2",), "show_setup", "set up: ports, sensor check, profile", short="set up"),
    Key(("F3",), "show_class", "class-room: scenarios, faults, questions", short="class"),
    Key(("F4",), "show_steps", "steps after TDC: marks, cam, valves …; again: next", short="steps"),
    Key(("Shift+F4",), "previous_step", "the step before"),
    Key(("PgDown",), "read_on", "read on in a step's answer"),
    Key(("PgUp",), "read_back", "read back"),
    Key(("Q",), "toggle_question", "question: hide the verdict until answered", "class"),
    Key(("W",), "keep_trace", "put the trace of this moment on the worksheet", "class"),
    Key(("Ctrl++", "Ctrl+="), "zoom_in", "zoom in on a figure, also with wheel or drag"),
    Key(("Ctrl+-",), "zoom_out", "zoom out"),
    Key(("Ctrl+0",), "zoom_all", "show all of the figure"),
    Key(("P",), "export_png", "save this view as a picture (PNG)"),
    Key(("G",), "export_svg", "save this view as a drawing (SVG)"),
    Key(("X",), "export_csv", "save this view as a table (CSV)"),
    Key(("Ctrl+C",), "copy", "copy this view: picture and table"),
    Key(("Esc",), "back", "back to the stroke chart; closes what lies over it"),
    Key(("Ctrl+Q",), "close", "close the window"),
    Key(("F1", "?"), "show_keys", "this list of keys", short="keys"),
)


def keys_for(when: set[When]) -> tuple[Key, ...]:
    """Return the keys that do something in these circumstances."""
    return tuple(key for key in KEYS if key.when == "always" or key.when in when)
