"""Which places of a recording does a person come back to? Bookmarks, and a loop between two."""

from __future__ import annotations

from dataclasses import dataclass, replace

SAME_PLACE_S = 0.02
"""Two bookmarks nearer than this are one: it is reached by going to it, which goes by samples."""
SHORTEST_LOOP_S = 0.05
"""A shorter one would only shake."""


@dataclass(frozen=True, slots=True)
class Places:
    """The places of one recording, in seconds of it.

    Attributes
    ----------
    bookmarks_s : tuple of float
        In order.
    loop_from_s, loop_to_s : float or None
        Ends of the loop; it runs once both are set.
    """

    bookmarks_s: tuple[float, ...] = ()
    loop_from_s: float | None = None
    loop_to_s: float | None = None

    def with_bookmark(self, at_s: float) -> Places:
        """Return the same with a bookmark, or without the one that stands there already."""
        others = tuple(each for each in self.bookmarks_s if abs(each - at_s) > SAME_PLACE_S)
        if len(others) == len(self.bookmarks_s):
            others = tuple(sorted((*others, at_s)))
        return replace(self, bookmarks_s=others)

    def next_to(self, at_s: float, step: int) -> float | None:
        """Return the next bookmark after a place, or before it, and on from the other end."""
        if not self.bookmarks_s:
            return None
        if step > 0:
            beyond = [each for each in self.bookmarks_s if each > at_s + SAME_PLACE_S]
            return (beyond or self.bookmarks_s)[0]
        before = [each for each in self.bookmarks_s if each < at_s - SAME_PLACE_S]
        return (before or self.bookmarks_s)[-1]

    def looped(self, at_s: float) -> Places:
        """Return the same with the next thing a person says of a loop: from here, to here, off."""
        if self.loop_from_s is None:
            return replace(self, loop_from_s=at_s)
        if self.loop_to_s is not None:
            return replace(self, loop_from_s=None, loop_to_s=None)
        ends = sorted((self.loop_from_s, at_s))
        if ends[1] - ends[0] < SHORTEST_LOOP_S:
            return replace(self, loop_from_s=None)
        return replace(self, loop_from_s=ends[0], loop_to_s=ends[1])

    def back_from(self, at_s: float) -> float | None:
        """Return where playing goes on from a place: the loop's start at its end, else None."""
        if self.loop_from_s is None or self.loop_to_s is None or at_s < self.loop_to_s:
            return None
        return self.loop_from_s

    @property
    def loop_words(self) -> str:
        """How the loop stands, for whoever has just changed it."""
        if self.loop_from_s is None:
            return "No loop"
        if self.loop_to_s is None:
            return f"A loop from {self.loop_from_s:.2f} s: go on, then V again for its end"
        return f"A loop from {self.loop_from_s:.2f} to {self.loop_to_s:.2f} s; V takes it away"


def round_steps(length_s: float, most: int) -> tuple[float, ...]:
    """Return the places of a time scale: at round seconds or minutes, at most so many."""
    steps = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600)
    if not length_s > 0 or most < 1:
        return ()
    step = next((each for each in steps if length_s / each <= most), length_s)
    return tuple(step * i for i in range(int(length_s / step + 1e-9) + 1))
