"""Was the board silent for a while, in one start of it? Then nothing saw what the crank did."""

from __future__ import annotations

from typing import Final

from strokewise.analysis.remark import Notice, notice

BOARD_SILENT: Final = "board-silent"
"""Code of the warning."""

SILENT_S = 0.5
"""Longer than any board takes for a block of its samples, and than frames lost here and there."""


def silent_notice(since_s: float, for_s: float) -> Notice:
    """Say from when on, on the board's clock, and for how long."""
    return notice(BOARD_SILENT, since_s=since_s, for_s=for_s)
