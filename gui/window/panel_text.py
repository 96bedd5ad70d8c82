"""What is read on a panel? The cautions before the engine is turned."""

from __future__ import annotations

import html

from strokewise.gui.pages.cautions import Caution


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
