"""What is read on a panel? The list of keys, and the cautions before the engine is turned."""

from __future__ import annotations

import html
from itertools import zip_longest

from strokewise.gui.models.keys import KeyStroke
from strokewise.gui.pages.cautions import Caution


def keys_html(keys: tuple[KeyStroke, ...], gap: int) -> str:
    """Return keys as text for a panel, in two columns so many pixels apart."""
    half = -(-len(keys) // 2)
    rows = "".join(
        f"<tr>{_key_cells(one, gap)}{_key_cells(other, gap)}</tr>"
        for one, other in zip_longest(keys[:half], keys[half:])
    )
    return f"<h2>Keys</h2><table>{rows}</table>"


def caution_html(cautions: tuple[Caution, ...], gap: int) -> str:
    """Return cautions as text for a panel, in two columns so many pixels apart."""
    pad = f"padding:{gap // 4}px {gap}px {gap // 4}px 0"
    parts = [
        f"<td width='50%' style='{pad}'><b>{html.escape(caution.heading)}</b>"
        f"<br>{html.escape(caution.text)}</td>"
        for caution in cautions
    ]
    rows = ["<tr>" + "".join(parts[i : i + 2]) + "</tr>" for i in range(0, len(parts), 2)]
    return "<h2>Before the engine is turned</h2><table>" + "".join(rows) + "</table>"


def _key_cells(key: KeyStroke | None, gap: int) -> str:
    if key is None:
        return ""
    names = html.escape(" or ".join(key.keys))
    return (
        f"<td style='padding-right:{gap}px'><b>{names}</b></td>"
        f"<td style='padding-right:{gap}px'>{html.escape(key.words)}</td>"
    )
