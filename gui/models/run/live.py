"""What is the engine doing right now? A port followed in a thread of its own.

The run survives its port: pulled out, it says so, waits, and goes on when the port is back. What is
being recorded is on the disk before anything is shown of it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from strokewise.analysis.errors import PortError
from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Board, Segment
from strokewise.daq.recording.container import Chunk, Item, Jotting, words_of
from strokewise.daq.recording.record import recording_header
from strokewise.daq.sources import Source
from strokewise.daq.wire.intake import Intake
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.follower import Follower, MakeTracker
from strokewise.gui.models.run.judging import Judge
from strokewise.gui.models.run.keeping import Keeping
from strokewise.gui.models.run.rejoin import Rejoin
from strokewise.gui.models.run.run import MakeProfile, Newest, known
from strokewise.gui.models.run.silence import Away, Heard
from strokewise.gui.models.run.snapshot import Link, Snapshot
from strokewise.gui.models.turn.target import Target

RETRY_S = 1.0
"""Wait between two tries to open a port that went away: a person plugs it in within seconds."""
LINK_SILENT_S = 2.5
"""A board says hello every two seconds: silent for longer, it is not running."""
WAITING_S = 0.2
"""While a port is away its moment is told anew so often, for how long it has been so."""
NEWS_S = 20.0
"""So long it is said what the board's return has told: long enough to come back to the screen."""
RATE_OVER_S = 1.0

Request = Callable[[], None]


class LiveRun:
    """Follows a port until it is stopped.

    Parameters
    ----------
    name : str
        The port, as a person names it.
    open_source : callable
        Opens the port; raises PortError when it is not there.
    make_profile : callable
        Gives the engine profile for what the board says.
    make_tracker : callable
        Gives a tracker for a profile.
    engine : callable, optional
        Gives a profile as the table that goes into a recording's header.
    clock : callable
        Seconds, rising.
    """

    live = True

    def __init__(
        self,
        name: str,
        open_source: Callable[[], Source],
        make_profile: MakeProfile,
        make_tracker: MakeTracker,
        *,
        engine: Callable[[Profile], dict[str, Any]] | None = None,
        suspect: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.name = name
        self.simulated = False
        self._open_source = open_source
        self._make_profile = make_profile
        self._make_tracker = make_tracker
        self._engine = engine
        self._clock = clock
        self._suspect = suspect
        self._board: Board | None = None
        self._requests: SimpleQueue[Request] = SimpleQueue()
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None
        self._source: Source | None = None
        self._keeping = Keeping(clock)
        self._link = Link(name)
        self._intake = Intake()
        self._segments_before = 0
        self._heard_s: float | None = None
        self._heard = Heard()
        self._rejoin: Rejoin | None = None
        self._rate_from: tuple[int, int] | None = None
        self._number, self._over = 0, False
        self._follower = self._new_follower(None)
        self._judge: Judge | None = None
        self.newest = Newest(self._follower.snapshot(0, self._link))

    @property
    def snapshot(self) -> Snapshot:
        """The newest moment, as it may be shown now."""
        return self.newest.peek.shown_at(self._clock())

    def look(self) -> Snapshot:
        """Return the newest moment as it may be shown now, and be called for the next one."""
        return self.newest.look().shown_at(self._clock())

    @property
    def judging(self) -> bool:
        """True while what has come in is not yet part of the verdict."""
        follower = self._follower
        behind = follower.samples > 0 and follower.stale and not self._over
        return behind or (self._judge is not None and self._judge.busy)

    def start(self) -> None:
        """Begin in a thread of its own."""
        self._thread = threading.Thread(target=self._run, name="live run", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End the thread and wait for it; what was recorded is closed whole."""
        self._stopping.set()
        if (source := self._source) is not None:
            source.stop()
        if self._thread is not None:
            self._thread.join()
        self._thread = None

    def choose(self, target: Target) -> None:
        """Turn to another position from now on."""
        self._requests.put(lambda: self._follower.choose(target))

    def suspect(self, suspect: bool) -> None:
        """Say whether the timing is under suspicion."""

        def say() -> None:
            self._suspect = suspect
            self._follower.suspect(suspect)

        self._requests.put(say)

    def use_profile(self, make_profile: MakeProfile, table: dict[str, Any] | None = None) -> None:
        """Follow with another profile from now on; the answer begins anew."""

        def use() -> None:
            self._make_profile = make_profile
            if table is not None:
                self._engine = lambda profile: table
            self._follow_with(self._new_follower(self._board))

        self._requests.put(use)

    def record(self, path: Path, operator_note: str | None = None) -> None:
        """Record to a file from now on; one that is there already is never written over."""
        self._requests.put(lambda: self._begin_recording(path, operator_note))

    def stop_recording(self) -> None:
        """Close the recording; the run goes on."""
        self._requests.put(self._end_recording)

    def press(self, name: str) -> None:
        """Put down that a mark stands at its pointer now."""
        self._jot(Jotting(0, mark=name))

    def note(self, text: str) -> None:
        """Put down a note."""
        self._jot(Jotting(0, note=text))

    def _jot(self, jotting: Jotting) -> None:
        source = self._source
        now = jotting._replace(host_us=0 if source is None else source.now_us())
        self._requests.put(lambda: self._take([now]))

    def _run(self) -> None:
        self._judge = Judge(self._clock)
        try:
            while not self._stopping.is_set():
                self._follow_port()
                if self._link.state == "lost":
                    self._wait_for_port()
                self._serve()
                if self._link.state == "ended":
                    break
            while self._link.state == "ended" and not self._stopping.wait(0.1):
                self._serve()
                self._publish(None)
        except Exception as error:  # one that dies unseen would leave its last answer standing
            self._follower, self._over = self._new_follower(None), True
            self._link = replace(self._link, state="ended", trouble=fault_words("the run", error))
        finally:
            self._end_recording()
            self._judge.close()
            if self._over or self._keeping.trouble:
                self.newest.put(self._follower.snapshot(self._number + 1, self._link))

    def _wait_for_port(self) -> None:
        """Wait before the next try, and do meanwhile what is asked for."""
        until_s = time.monotonic() + RETRY_S
        while (left_s := until_s - time.monotonic()) > 0:
            if self._stopping.wait(min(left_s, WAITING_S)):
                return
            self._serve()
            self._publish(None)

    def _follow_port(self) -> None:
        """Follow the port until it ends, goes away or the run is stopped."""
        try:
            source = self._open_source()
        except PortError as error:
            self._lose(str(error))
            return
        self._source = source
        self._begin_port()
        try:
            for item in source:
                self._take([item])
                if words := words_of(item):
                    self._link = self._link.telling(words, self._clock() + NEWS_S)
                self._serve()
                if self._stopping.is_set():
                    source.stop()
            if not self._stopping.is_set():
                self._follower.closing = True
                self._link = replace(self._link, state="ended")
        except PortError as error:
            self._lose(str(error))
        finally:
            self._source = None
            try:
                source.close()
            except PortError as error:
                self._lose(str(error))

    def _begin_port(self) -> None:
        """Begin a stream of its own, joined to what was before only where that can be shown."""
        if self._link.state != "opening":
            self._keeping.reopened()
            self._await_return(reopened=True)
            self._segments_before += max(1, self._intake.health.segments)
        self._intake = Intake()
        self._heard_s = self._clock()
        self._link = replace(self._link, state="running", trouble="")

    def _lose(self, why: str) -> None:
        self._link = replace(self._link, state="lost", trouble=f"{why}. Trying again by itself")
        self._publish(None)

    def _serve(self) -> None:
        """Do what was asked for from other threads."""
        while True:
            try:
                request = self._requests.get_nowait()
            except Empty:
                return
            try:
                request()
            except Exception as error:
                self._link = replace(self._link, trouble=fault_words("that", error))

    def _take(self, items: list[Item]) -> None:
        """Take in what the source delivered: to the disk first, then to the follower."""
        received_s = self._clock()
        for item in items:
            self._keeping.write(item)
            heard = isinstance(item, Chunk) and item.data
            self._heard_s = received_s if heard else self._heard_s
        self._tell_keeping()
        try:
            self._follow(items, received_s)
        except Exception as error:  # recording goes on, whatever the analysis does
            self._link = replace(self._link, trouble=fault_words("following the engine", error))
            self._rejoin = None
            self._follow_with(self._new_follower(None))
            self._publish(received_s)

    def _follow(self, items: list[Item], received_s: float) -> None:
        """Let the follower know what came."""
        if self._rejoin is None and self._heard.silent_s(received_s) is not None:
            self._await_return(reopened=False)
        blocks = [
            replace(block, number=block.number + self._segments_before)
            for block in self._intake.feed(items)
        ]
        for block in blocks if self._rejoin is None else self._returned(blocks, received_s):
            self._feed(block, received_s)
        self._watch_link(received_s)
        self._publish(received_s)

    def _await_return(self, *, reopened: bool) -> None:
        """Hold back what comes next until it is known whether the encoder's frame still holds."""
        if self._rejoin is None and self._heard.at_s is not None:
            self._rejoin = Rejoin(
                self._board, self._heard, self._follower.count, self._follower.segment, reopened
            )
        elif self._rejoin is not None and reopened:
            self._rejoin.reopened, self._rejoin.held, self._rejoin.since_s = True, [], None

    def _returned(self, blocks: list[Segment], now_s: float) -> list[Segment]:
        """Return what may be followed now, of what has come since the board is back."""
        rejoin = self._rejoin
        assert rejoin is not None
        told = rejoin.take(blocks, now_s)
        if told == "waiting":
            return []
        self._rejoin, self._heard = None, rejoin.heard.stay(now_s)
        self._link = self._link.telling(rejoin.news(told, now_s), now_s + NEWS_S)
        blocks, raised_by = rejoin.released(told)
        self._segments_before += raised_by
        return blocks

    def _feed(self, block: Segment, received_s: float = 0.0) -> None:
        if block.board is not None and block.board != self._board:
            self._board = block.board
            follower = self._new_follower(block.board)
            if follower.engine != self._follower.engine:
                self._follow_with(follower)
        self._follower.feed(block)
        self._heard = self._heard.hear(block.samples, received_s)
        if len(block.samples):
            self._measure_rate(block)

    def _new_follower(self, board: Board | None) -> Follower:
        """Return a follower with the profile that counts, and what is to be known about it."""
        engine = known(self._make_profile(board))
        return Follower(
            engine.profile, self._make_tracker, suspect=self._suspect, notices=engine.notices
        )

    def _follow_with(self, follower: Follower) -> None:
        """Go on with another follower, which counts its samples from nothing."""
        self._follower, self._rate_from = follower, None

    def _measure_rate(self, block: Segment) -> None:
        time_us, samples = int(block.samples.time_us[-1]), self._follower.samples
        if self._rate_from is None or time_us < self._rate_from[0]:
            self._rate_from = (time_us, samples)
            return
        elapsed_us = time_us - self._rate_from[0]
        if elapsed_us >= RATE_OVER_S * 1e6:
            rate = (samples - self._rate_from[1]) / elapsed_us * 1e6
            self._link = replace(self._link, rate_hz=rate)
            self._rate_from = (time_us, samples)

    def _watch_link(self, now_s: float) -> None:
        health = self._intake.health
        trouble = self._link.trouble
        silent = self._heard_s is not None and now_s - self._heard_s > LINK_SILENT_S
        if silent and not trouble:
            trouble = (
                f"{self.name} is open but silent: is the board running, is the baud rate right?"
            )
        elif not silent and "is open but silent" in trouble:
            trouble = ""
        news = self._link.news if now_s < self._link.news_until_s else ""
        self._link = replace(
            self._link,
            news=news,
            samples=self._follower.samples,
            lost_frames=health.lost_frames,
            bad_frames=health.bad_frames,
            trouble=trouble,
            simulated=self.simulated,
        )

    def _begin_recording(self, path: Path, operator_note: str | None) -> None:
        engine = None if self._engine is None else self._engine(self._follower.profile)
        header = recording_header(engine=engine, operator_note=operator_note)
        try:
            self._keeping.begin(path, header)
        finally:
            self._tell_keeping()

    def _end_recording(self) -> None:
        self._keeping.end()
        self._tell_keeping()

    def _tell_keeping(self) -> None:
        trouble = self._keeping.trouble or self._link.trouble
        self._link = replace(self._link, recording=self._keeping.name, trouble=trouble)

    def _publish(self, received_s: float | None) -> None:
        if self._judge is not None:
            self._judge.attend(self._follower)
            if self._judge.trouble and not self._link.trouble:
                self._link = replace(self._link, trouble=self._judge.trouble)
        self._number += 1
        at = self._clock() if received_s is None else received_s
        snapshot = self._follower.snapshot(
            self._number, self._link, received_s=at, heard=self._heard
        )
        if self._rejoin is not None and self._rejoin.held:  # what comes again means is open
            heard = self._heard.stay(at)
            snapshot = replace(snapshot, away=Away(0.0, back=True), heard=heard)
        self.newest.put(snapshot)
