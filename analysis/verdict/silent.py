"""Was the board silent for a while, in one start of it? Then nothing saw what the crank did."""

from __future__ import annotations

from typing import Final

from strokewise.analysis.estimate import Notice

BOARD_SILENT: Final = "board-silent"
"""Code of the warning."""

SILENT_S = 0.5
"""Longer than any board takes for a block of its samples, and than frames lost here and there."""


def silent_notice(since_s: float, for_s: float) -> Notice:
    """Say from when on, on the board's clock, and for how long."""
    return Notice(
        BOARD_SILENT,
        f"nothing came from the board for {for_s:.1f} s from {since_s:.1f} s on its clock; it"
        " counted on, so its angles hold, but what the crank and the clamp did meanwhile was not"
        " seen",
    )
