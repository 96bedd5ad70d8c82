"""How is a recording played? A deck driven by the clock, in a thread of its own."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from queue import Empty, SimpleQueue

from strokewise.gui.models.figures.overview import Overview
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.judging import Judge
from strokewise.gui.models.run.places import Places
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.run import Newest
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.turn.target import Target

SPEEDS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
REPLAY_FRAME_S = 1 / 60
SCAN_SLICE_S = 0.010
"""Time spent on looking through the recording between two frames."""
LOOK_EVERY_S = 0.5
"""How often the overview is drawn anew while the recording is still being looked through."""

Request = Callable[[], None]


class ReplayRun:
    """Plays a recording until it is stopped; all requests may come from any thread."""

    live = False

    def __init__(
        self,
        deck: Deck,
        *,
        playing: bool = True,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.name = deck.name
        self.file: Path | None = None
        """The recording, where it lies in a file."""
        self._deck = deck
        self._clock = clock
        self._requests: SimpleQueue[Request] = SimpleQueue()
        self._stopping = threading.Event()
        self._wake = threading.Event()
        self._thread: threading.Thread | None = None
        self._playing = playing
        self._speed = 1.0
        self._anchor = (0.0, 0.0)
        self._looked_s = float("-inf")
        self._judge: Judge | None = None
        self._fault = ""
        self._places = Places()
        self.newest = Newest(deck.snapshot(playing=playing))

    @property
    def snapshot(self) -> Snapshot:
        """The newest moment."""
        return self.newest.peek

    def look(self) -> Snapshot:
        """Return the newest moment, and be called for the next one."""
        return self.newest.look()

    @property
    def overview(self) -> Overview:
        """The whole recording at a glance, as far as it has been looked through."""
        return self._deck.overview

    @property
    def playing(self) -> bool:
        """True while it plays."""
        return self._playing

    @property
    def speed(self) -> float:
        """How many times as fast as it was."""
        return self._speed

    @property
    def judging(self) -> bool:
        """True while what has come in is not yet part of the verdict."""
        follower = self._deck.follower
        behind = follower.samples > 0 and follower.stale and not self._fault
        return behind or (self._judge is not None and self._judge.busy)

    def start(self) -> None:
        """Begin in a thread of its own."""
        self._thread = threading.Thread(target=self._run, name="replay", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End the thread and wait for it."""
        self._stopping.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def choose(self, target: Target) -> None:
        """Turn to another position."""
        self._ask(lambda: self._deck.choose(target))

    def suspect(self, suspect: bool) -> None:
        """Say whether the timing is under suspicion."""
        self._ask(lambda: self._deck.follower.suspect(suspect))

    def play(self, playing: bool) -> None:
        """Play or pause; at the end, playing begins anew."""

        def do() -> None:
            if playing and self._deck.at_end:
                self._deck.seek(0.0)
            self._playing = playing

        self._ask(do)

    def set_speed(self, speed: float) -> None:
        """Play so many times as fast as it was, within 0.05 and 20."""
        self._ask(lambda: setattr(self, "_speed", min(max(speed, SPEEDS[0]), SPEEDS[-1])))

    def stop_looking(self) -> None:
        """Look through no more of the recording."""
        self._ask(self._deck.stop_looking)

    def faster(self, steps: int = 1) -> None:
        """Take the next faster speed, or slower for negative steps."""

        def do() -> None:
            at = min(range(len(SPEEDS)), key=lambda i: abs(SPEEDS[i] - self._speed))
            self._speed = SPEEDS[min(max(at + steps, 0), len(SPEEDS) - 1)]

        self._ask(do)

    def seek(self, position_s: float) -> None:
        """Go to any place."""
        self._ask(lambda: self._deck.seek(position_s))

    def step_samples(self, count: int) -> None:
        """Pause and go on or back by samples."""
        self._ask(lambda: self._deck.step_samples(count), pause=True)

    def step_degrees(self, degrees: float) -> None:
        """Pause and go on or back by degrees of the crank."""
        self._ask(lambda: self._deck.step_degrees(degrees), pause=True)

    def bookmark(self) -> Places:
        """Put a bookmark where the picture stands, or take it away; return what there is now."""
        return self._change(self._places.with_bookmark(self._shown_s))

    def loop(self) -> Places:
        """Let a loop begin where the picture stands, end there, or be no more."""
        return self._change(self._places.looped(self._shown_s))

    def go_to_bookmark(self, step: int) -> bool:
        """Go to the next bookmark, or the one before; False where there is none."""
        at_s = self._places.next_to(self._shown_s, step)
        if at_s is not None:
            self._ask(lambda: self._deck.seek(at_s), pause=True)
        return at_s is not None

    @property
    def _shown_s(self) -> float:
        """The place that a person sees, and means."""
        replay = self.newest.peek.replay
        return 0.0 if replay is None else replay.position_s

    def _change(self, places: Places) -> Places:
        self._places = places
        self._ask(lambda: None)  # the picture shows it
        return places

    def next_tdc(self) -> None:
        """Pause and go to the next TDC of the sensed cylinder."""
        self._ask(lambda: self._deck.next_tdc(), pause=True)

    def _ask(self, do: Callable[[], object], *, pause: bool = False) -> None:
        def request() -> None:
            if pause:
                self._playing = False
            do()

        self._requests.put(request)
        self._wake.set()

    def _run(self) -> None:
        self._judge = Judge(self._clock)
        self._hold()
        try:
            while not self._stopping.is_set():
                busy = self._serve()
                busy |= self._play_on()
                busy |= self._judge.attend(self._deck.follower)
                busy |= self._scan()
                if busy:
                    self.newest.put(self._now())
                # Asleep while nothing moves, yet awake often enough for an opinion in the making.
                self._wake.wait(REPLAY_FRAME_S if busy else 3 * REPLAY_FRAME_S)
                self._wake.clear()
        except Exception as error:  # a thread that dies unseen leaves its last answer standing
            self._fault, self._playing = fault_words("the replay", error), False
            snapshot = self._deck.snapshot(playing=False)
            link = replace(snapshot.link, state="ended", trouble=self._fault)
            self.newest.put(replace(snapshot, verdict=None, link=link))
        finally:
            self._judge.close()

    def _now(self) -> Snapshot:
        snapshot = self._deck.snapshot(playing=self._playing, speed=self._speed)
        if snapshot.replay is not None:
            snapshot = replace(snapshot, replay=replace(snapshot.replay, places=self._places))
        if self._judge is None or not self._judge.trouble:
            return snapshot
        return replace(snapshot, link=replace(snapshot.link, trouble=self._judge.trouble))

    def _serve(self) -> bool:
        served = False
        while True:
            try:
                request = self._requests.get_nowait()
            except Empty:
                break
            request()
            served = True
        if served:
            self._hold()
        return served

    def _hold(self) -> None:
        """Count time from here: each place is computed from this moment, so nothing adds up."""
        self._anchor = (self._clock(), self._deck.position_s)

    def _play_on(self) -> bool:
        if not self._playing:
            return False
        since_s, from_s = self._anchor
        until_s = from_s + (self._clock() - since_s) * self._speed
        back_s = self._places.back_from(until_s)
        if back_s is not None:
            self._deck.seek(back_s)
            self._hold()
            return True
        self._deck.advance_to(until_s)
        if self._deck.at_end:
            self._playing = False
        return True

    def _scan(self) -> bool:
        if self._deck.scanned:
            return False
        until_s = self._clock() + SCAN_SLICE_S
        while not self._deck.scanned and self._clock() < until_s:
            self._deck.scan()
        if self._clock() - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = self._clock()
            self._deck.look()
        return True
