"""When is the verdict formed anew? Aside, so that the picture never waits for it.

A joint fit takes longer than a picture may stand still. So it runs in a thread of its own, one at a
time, and no more often than leaves the machine to its other work.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from queue import Empty, SimpleQueue

from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.follower import Follower, Opinion

REST_FACTOR = 2.0
"""Rest for so many times what the last judging took: a third of one core at the most. Most take
some hundredths of a second, a joint fit made anew some tenths."""
REST_LEAST_S = 0.25
"""Four opinions a second: the picture moves with the crank in between, and an answer taken back is
shown within a quarter of a second."""
CLOSING_S = 0.3
"""A window that closes does not wait longer than this for an opinion in the making."""


class Judge:
    """Forms opinions in a thread; asked and listened to from one other thread."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.trouble = ""
        """Why the last opinion could not be formed; empty when it could."""
        self._clock = clock
        self._questions: SimpleQueue[Callable[[], Opinion] | None] = SimpleQueue()
        self._answers: SimpleQueue[Opinion | Exception] = SimpleQueue()
        self._busy = False
        self._asked_s = 0.0
        self._next_s = float("-inf")
        self._thread = threading.Thread(target=self._run, name="judge", daemon=True)
        self._thread.start()

    @property
    def busy(self) -> bool:
        """True while an opinion is being formed."""
        return self._busy

    def attend(self, follower: Follower) -> bool:
        """Hand a finished opinion over and ask for the next one when it is time.

        Returns
        -------
        bool
            True when the follower has got a new opinion.
        """
        took = self._hand_over(follower)
        if not self._busy and follower.stale and follower.samples and self._clock() >= self._next_s:
            self._busy = True
            self._asked_s = self._clock()
            self._questions.put(follower.question())
        return took

    def _hand_over(self, follower: Follower) -> bool:
        try:
            answer = self._answers.get_nowait()
        except Empty:
            return False
        self._busy = False
        now = self._clock()
        self._next_s = now + max(REST_LEAST_S, REST_FACTOR * (now - self._asked_s))
        if isinstance(answer, Exception):
            # A fault of ours must neither stop a recording nor pass unseen.
            self.trouble = fault_words("the verdict", answer)
            return True
        self.trouble = ""
        follower.take(answer)
        return True

    def close(self) -> None:
        """End the thread; an opinion still being formed is of no use any more."""
        self._questions.put(None)
        self._thread.join(CLOSING_S)

    def _run(self) -> None:
        while (question := self._questions.get()) is not None:
            try:
                self._answers.put(question())
            except Exception as error:  # handed to the thread that asked
                self._answers.put(error)
