"""When is the verdict formed anew? Aside, so that the picture never waits for it.

A joint fit takes longer than a picture may stand still. So it is made aside, one at a time, and no
more often than leaves the machine to its other work.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future

from strokewise.gui.models.run.aside import Aside
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.follower import Follower, Opinion


class Judge:
    """Has opinions formed aside; asked and listened to from one thread."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.trouble = ""
        """Why the last opinion could not be formed; empty when it could."""
        self._aside: Aside[Opinion] = Aside("judge", clock)

    @property
    def busy(self) -> bool:
        """True while an opinion is being formed."""
        return self._aside.busy

    def attend(self, follower: Follower) -> bool:
        """Hand a finished opinion over and ask for the next one when it is time.

        Returns
        -------
        bool
            True when the follower has got a new opinion.
        """
        done = self._aside.collect()
        if done is not None:
            self._hand_over(done, follower)
        if self._aside.free and follower.stale and follower.samples:
            self._aside.ask(follower.question())
        return done is not None

    def _hand_over(self, done: Future[Opinion], follower: Follower) -> None:
        error = done.exception()
        if error is None:
            self.trouble = ""
            follower.take(done.result())
        else:
            # A fault of ours must neither stop a recording nor pass unseen.
            self.trouble = fault_words("the verdict", error)

    def close(self) -> None:
        """Wait a moment for an opinion still being formed; it is of no use any more."""
        self._aside.close()
