"""Which key does what? The one list behind shortcuts, buttons, and the list of all actions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

When = Literal["always", "live", "replay", "class", "lesson"]
Group = Literal[
    "views",
    "turning",
    "replay",
    "places",
    "live",
    "pages",
    "class-room",
    "figure",
    "keep",
    "window",
]
GROUPS: dict[Group, str] = {
    "views": "Views",
    "turning": "Turning the engine",
    "live": "Recording",
    "replay": "Replay",
    "places": "Places in it",
    "pages": "Pages",
    "class-room": "Class-room",
    "figure": "Figure",
    "keep": "Out of the window",
    "window": "Window",
}
"""Under which headings the actions are listed, in this order."""


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
        For the list of actions, and for a screen reader.
    group : str
        Under which heading it is listed.
    short : str
        On a button that is always seen: in the foot, or of a view; empty where there is none.
    foot : int
        Place in the foot by how much it is needed, from 1: the last go first where there is no
        room. 0 where it does not stand there.
    """

    keys: tuple[str, ...]
    action: str
    words: str
    when: When = "always"
    group: Group = "window"
    short: str = ""
    foot: int = 0

    @property
    def name(self) -> str:
        """What a screen reader says."""
        return self.words[:1].upper() + self.words[1:]


VIEWS: tuple[tuple[str, str], ...] = (
    ("chart", "stroke chart and turn guide"),
    ("angle", "pressure over crank angle"),
    ("volume", "pressure over volume"),
    ("loglog", "log p over log V, with the polytropic slope"),
    ("speed", "speed over crank angle"),
    ("fit", "the fit and its residuals"),
    ("tdc", "where TDC lies: the posterior"),
    ("overlay", "recordings over each other"),
)
VIEW_SHORT = ("strokes", "p, angle", "p, volume", "log, log", "speed", "fit", "TDC", "overlay")
"""On the buttons of the views, in their order."""

ROCK_KEY = "H"
"""By hand."""

_VIEW_KEYS = tuple(
    KeyStroke((str(i + 1),), f"view_{name}", words, "always", "views", short)
    for i, ((name, words), short) in enumerate(zip(VIEWS, VIEW_SHORT, strict=True))
)

KEYS: tuple[KeyStroke, ...] = (
    *_VIEW_KEYS,
    KeyStroke(("T",), "next_target", "next target of the guide", "always", "turning", "target", 1),
    KeyStroke(("Shift+T",), "previous_target", "target before", "always", "turning"),
    KeyStroke(("Y",), "list_targets", "all targets, to choose from", "always", "turning"),
    KeyStroke(("A",), "ask_advance", "an advance before firing TDC", "always", "turning"),
    KeyStroke((ROCK_KEY,), "toggle_rocking", "rocking guide: how far, how fast", group="turning"),
    KeyStroke(("C",), "show_cautions", "the cautions", "always", "turning", "cautions", 2),
    KeyStroke(("B",), "toggle_suspect", "timing suspected: two turns by hand", group="turning"),
    KeyStroke(
        ("S",), "toggle_sound", "sound to steer by, on or off", "always", "turning", "sound", 3
    ),
    KeyStroke(("R",), "toggle_recording", "record, or stop recording", "live", "live", "record", 4),
    KeyStroke(("M",), "press_mark", "a mark stands at its pointer now", "live", "live", "mark", 5),
    KeyStroke(("Shift+M",), "next_mark", "which mark M is for", "live", "live"),
    KeyStroke(("Space",), "toggle_play", "play or pause", "replay", "replay", "play", 4),
    KeyStroke(("N",), "next_tdc", "on to the next TDC", "replay", "replay", "next TDC", 5),
    KeyStroke(("+", "="), "faster", "play faster, up to 20 times", "replay", "replay"),
    KeyStroke(("-",), "slower", "play slower, to 0.05 times", "replay", "replay"),
    KeyStroke(("Right",), "sample_on", "on by a sample", "replay", "replay"),
    KeyStroke(("Left",), "sample_back", "back by a sample", "replay", "replay"),
    KeyStroke(("Shift+Right",), "degree_on", "on by a degree", "replay", "replay"),
    KeyStroke(("Shift+Left",), "degree_back", "back by a degree", "replay", "replay"),
    KeyStroke(("D",), "put_bookmark", "bookmark here, or none", "replay", "places"),
    KeyStroke(("E",), "next_bookmark", "to the next bookmark", "replay", "places"),
    KeyStroke(("Shift+E",), "previous_bookmark", "to the one before", "replay", "places"),
    KeyStroke(("V",), "loop_here", "loop from here, to here, off", "replay", "places"),
    KeyStroke(("Home",), "to_start", "to the start", "replay", "replay"),
    KeyStroke(("End",), "to_end", "to the end", "replay", "replay"),
    KeyStroke(
        ("F2",), "show_setup", "set up: ports, sensor, engine", "always", "pages", "set up", 6
    ),
    KeyStroke(("Ctrl+O",), "open_recording", "open a recording", "always", "pages"),
    KeyStroke(("F4",), "show_steps", "steps after TDC; again: next", "always", "pages", "steps", 7),
    KeyStroke(("Shift+F4",), "previous_step", "the step before", "always", "pages"),
    KeyStroke(("F8",), "show_job", "the job; again: its next part", "always", "pages", "job", 8),
    KeyStroke(("Shift+F8",), "previous_part", "the job's part before", "always", "pages"),
    KeyStroke(("PgDown",), "read_on", "read on in an answer", "always", "pages"),
    KeyStroke(("PgUp",), "read_back", "read back", "always", "pages"),
    KeyStroke(
        ("F3",), "show_class", "class-room: scenarios, faults", "always", "class-room", "class", 9
    ),
    KeyStroke(("Q",), "toggle_question", "question: hide the verdict", "class", "class-room"),
    KeyStroke(
        ("F5",), "show_lesson", "questions, answers, scores", "lesson", "class-room", "lesson", 1
    ),
    KeyStroke(("F6",), "next_question", "the next question", "lesson", "class-room", "next", 2),
    KeyStroke(("F7",), "reveal_answer", "show the answer", "lesson", "class-room", "answer", 3),
    KeyStroke(("W",), "keep_trace", "this trace onto the worksheet", "class", "class-room"),
    KeyStroke(("Shift+W",), "undo_worksheet", "worksheet as before", "class", "class-room"),
    KeyStroke(("Ctrl+W",), "empty_worksheet", "empty the worksheet", "class", "class-room"),
    KeyStroke(("Shift+U",), "toggle_gauge", "worksheet in gauge", "class", "class-room"),
    KeyStroke(("Ctrl+P",), "print_worksheet", "print the worksheet", "class", "class-room"),
    KeyStroke(("Alt+P",), "print_answers", "print its answers", "class", "class-room"),
    KeyStroke(("Shift+P",), "save_worksheet", "worksheet, answers: PDF", "class", "class-room"),
    KeyStroke(("O",), "open_overlay", "lay a recording over, up to 5", "always", "figure"),
    KeyStroke(("Shift+O",), "take_overlay_off", "take the last one off", "always", "figure"),
    KeyStroke(("I",), "toggle_healthy", "a healthy trace behind it", "always", "figure"),
    KeyStroke(("Ctrl++", "Ctrl+="), "zoom_in", "zoom in (also: wheel, drag)", "always", "figure"),
    KeyStroke(("Ctrl+-",), "zoom_out", "zoom out", "always", "figure"),
    KeyStroke(("Ctrl+0",), "zoom_all", "show all of the figure", "always", "figure"),
    KeyStroke(("P",), "export_png", "save as a picture (PNG)", "always", "keep"),
    KeyStroke(("G",), "export_svg", "save as a drawing (SVG)", "always", "keep"),
    KeyStroke(("X",), "export_csv", "save as a table (CSV)", "always", "keep"),
    KeyStroke(("K",), "keep_answer", "this answer into the job", "always", "keep"),
    KeyStroke(("Ctrl+C",), "copy", "copy picture and table", "always", "keep"),
    KeyStroke(("U",), "next_unit", "unit: bar, kPa, psi", "always", "window"),
    KeyStroke(("L",), "toggle_theme", "light or dark", "always", "window", "light", 10),
    KeyStroke(("F11",), "toggle_full_screen", "whole screen"),
    KeyStroke(("Esc",), "back", "back to the stroke chart"),
    KeyStroke(("Ctrl+Q",), "close", "close the window"),
    KeyStroke(("F1", "?"), "show_keys", "all actions and their keys", short="all", foot=11),
)


def keys_for(when: set[When]) -> tuple[KeyStroke, ...]:
    """Return the keys that do something in these circumstances."""
    return tuple(key for key in KEYS if key.when == "always" or key.when in when)


def foot_keys(when: set[When]) -> tuple[KeyStroke, ...]:
    """Return the keys that stand in the foot of the window, the most needed first."""
    return tuple(sorted((key for key in keys_for(when) if key.foot), key=lambda key: key.foot))


def grouped(keys: tuple[KeyStroke, ...]) -> dict[str, tuple[KeyStroke, ...]]:
    """Return keys under the headings that they are listed by, empty ones left out."""
    found = {
        words: tuple(key for key in keys if key.group == group) for group, words in GROUPS.items()
    }
    return {words: these for words, these in found.items() if these}
