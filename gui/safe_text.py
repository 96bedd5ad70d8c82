"""Can this text do harm where it is shown? The one place that makes it harmless, for every way out.

Names, notes and file names come from whoever made a recording, a profile or a job. An escape
sequence in one could rewrite a terminal's screen, an override of direction turn a number round. So
whatever controls rather than shows leaves as its code, ``\\u001b``: in JSON that means the same.
"""

from __future__ import annotations

import re
from typing import Any, TextIO

_CONTROLS = re.compile(
    "[\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f"  # C0 but tab and line feed, DEL, 8-bit C1 with its CSI
    "\\u061c\\u200e\\u200f\\u202a-\\u202e\\u2066-\\u2069"  # marks, embeddings, overrides
    "\\u2028\\u2029\\ufeff\\ud800-\\udfff]"  # line breaks that are none, half characters
)

FORMULA_STARTS = ("=", "+", "-", "@", "\t")
"""A spreadsheet computes a cell that begins so."""


def safe_text(text: str) -> str:
    """Return text whose every character shows, line feeds and tabs kept.

    Examples
    --------
    >>> from strokewise.gui.safe_text import safe_text
    >>> print(safe_text("pulley\\x1b[2J notch"))
    pulley\\u001b[2J notch
    """
    return _CONTROLS.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def safe_line(text: str) -> str:
    """Return text on one line."""
    return safe_text(" ".join(text.split()))


def safe_cell(text: str) -> str:
    """Return a text for one cell of a table that no spreadsheet takes for a formula."""
    line = safe_line(text)
    return (
        f"'{line}" if line.startswith(FORMULA_STARTS) or text.startswith(FORMULA_STARTS) else line
    )


PLAIN_FOR = {"−": "-", "×": "x", "·": ".", "…": "...", "“": '"', "”": '"', "’": "'", "→": "->"}
"""What a console that lacks a character can show for it: a minus must not become a "?"."""


def plain_where_lacking(error: UnicodeError) -> tuple[str, int]:
    """Return what is written for characters that a stream cannot encode, and where to go on.

    A handler of errors for :func:`codecs.register_error`.
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    return "".join(PLAIN_FOR.get(each, "?") for each in lacking), error.end


class SafeStream:
    """A standard stream on which nothing but our own code can control the terminal.

    Attributes
    ----------
    bare : TextIO
        The stream itself, for what moves the cursor on purpose.
    """

    def __init__(self, bare: TextIO) -> None:
        self.bare = bare

    def write(self, text: str) -> int:
        """Write, with what controls made visible."""
        self.bare.write(safe_text(text))
        return len(text)

    def writelines(self, lines: Any) -> None:
        """Write each line."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.bare, name)


def bare(stream: TextIO) -> TextIO:
    """Return the stream that may be controlled, behind one that may not."""
    return stream.bare if isinstance(stream, SafeStream) else stream
