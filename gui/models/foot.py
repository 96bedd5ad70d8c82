"""What does the window's foot say of how the bytes come in? The trouble, or where from."""

from __future__ import annotations

from strokewise.gui.models.run.snapshot import Link

NO_PORT = "no port yet"
MOST_OF_NAME = 36
"""More letters of a port or file would leave no room at the foot for what it does."""


def link_words(link: Link) -> str:
    """Return the trouble where there is one, else name, state, rate and losses."""
    if link.trouble:
        return link.trouble
    if not link.name:
        return f"{NO_PORT}: F2"
    parts = [short_name(link.name), link.state]
    if link.recording:
        parts.insert(0, f"● RECORDING to {short_name(link.recording)}")
    if link.simulated:
        parts.append("simulated")
    if link.rate_hz:
        parts.append(f"{link.rate_hz:.0f}/s")
    if link.lost_frames or link.bad_frames:
        parts.append(f"{link.lost_frames} lost, {link.bad_frames} damaged")
    return " · ".join(parts)


def short_name(name: str, most: int = MOST_OF_NAME) -> str:
    """Return a name with its middle left out where it is long: its end tells files apart."""
    if len(name) <= most:
        return name
    kept = most - 1
    return f"{name[: kept // 2]}…{name[-(kept - kept // 2) :]}"
