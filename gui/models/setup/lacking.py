"""What does the profile lack for a step? In the workshop's words, and where it is filled in."""

from __future__ import annotations

import re
from collections.abc import Sequence

from strokewise.gui.models.setup.profile_words import KEY_WORDS, key_said
from strokewise.gui.pages.page import Facts, Row

ANY_MARK = "marks"
"""The profile names no mark at all: there is no one key to fill in."""
FILL_IN = "To be filled in"
_TOLD_AS = {key: f"“{words}”" for key, words in KEY_WORDS.items() if "." in key or "_" in key} | {
    "[[marks]]": "“Marks”"
}
"""What the form calls each key that can be told from a word of the sentence it stands in."""
_KEY_IN_WORDS = re.compile(
    "|".join(
        rf"(?<![\w.]){re.escape(key)}(?!\w)" for key in sorted(_TOLD_AS, key=len, reverse=True)
    )
)


def lacking_words(keys: Sequence[str], instead: str = "") -> str:
    """Return the one line of what is missing.

    Parameters
    ----------
    keys : sequence of str
        Of the profile, ``"drive_gear.teeth"``.
    instead : str
        The field of the step that may be said instead; empty where there is none.
    """
    about, said = _said(keys)
    line = f"{about} ({'; '.join(said)})" if about else "; ".join(said)
    here = f", or say {instead} on the left" if instead else ""
    return f"The profile does not say yet: {line}. Fill it in there{here}."


def lacking_facts(keys: Sequence[str]) -> Facts:
    """Return each missing key with how it is written and what for."""
    about, said = _said(keys)
    rows = (Row(words, _hint(key)) for words, key in zip(said, keys, strict=True))
    return Facts(tuple(rows), f"{about}: {FILL_IN.lower()}" if about else FILL_IN)


def _said(keys: Sequence[str]) -> tuple[str, list[str]]:
    """Return what all keys are about, empty where they are of several things, and each one's."""
    said = [KEY_WORDS[key] for key in keys]
    about, colon, _ = said[0].partition(": ")
    if colon and all(words.startswith(f"{about}: ") for words in said):
        return about, [words.partition(": ")[2] for words in said]
    return "", said


def _hint(key: str) -> str:
    said = key_said(tuple(key.split(".")))
    return ", in ".join(filter(None, (said.such_as, said.units)))


def as_in_form(words: str) -> str:
    """Return words in which keys of the profile are called as its form calls them."""
    return _KEY_IN_WORDS.sub(lambda found: _TOLD_AS[found[0]], words)


def button_words(keys: Sequence[str]) -> str:
    """Return what the button says that leads to the form."""
    if ANY_MARK in keys:
        return "Name a mark in the profile …"
    return f"Fill in: {KEY_WORDS[keys[0]]} …"
