"""What do title and foot of the window say of a moment?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.gui.models.foot import link_words
from strokewise.gui.models.keys import foot_keys
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.turn.target import shortened

if TYPE_CHECKING:
    from strokewise.gui.window.workbench import Workbench


def show_foot(window: Workbench, snapshot: Snapshot) -> None:
    """Show in the title how it stands, in the foot how the bytes come in and what a button does."""
    link = snapshot.link
    recording = ["recording"] if link.recording else []
    rocking = [snapshot.rocking_words] if snapshot.rocking_words else []
    said = [window.run_name, window.band.sentence.sign, link.state, *rocking, *recording]
    title = " · ".join(["strokewise", *said])
    if title != window.windowTitle():
        window.setWindowTitle(title)
    words = {key.action: _now(window, key.short) for key in foot_keys(window.circumstances)}
    window.row.show_words(link_words(link), words, bool(link.trouble), window.colours)


def _now(window: Workbench, short: str) -> str:
    """Return what a button says as things stand."""
    match short:
        case "sound":
            return f"sound {'on' if window.speaker.on else 'off'}"
        case "light":
            return "dark" if window.settings.theme == "light" else "light"
        case "play":
            return "pause" if window.replay is not None and window.replay.playing else "play"
        case "mark":
            return shortened(window.mark)
        case "record":
            return "stop recording" if window.run.snapshot.link.recording else "record"
        case _:
            return short
