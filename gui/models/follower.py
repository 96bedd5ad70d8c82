"""How do blocks of samples become what is shown? Tracker, trail and guide, fed together.

One follower serves live runs and replays alike; it knows nothing of where the blocks come from, and
a copy of it is a bookmark that a replay can go back to.
"""

from __future__ import annotations

from collections.abc import Callable

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Segment
from strokewise.analysis.verdict import Verdict
from strokewise.gui.models.first_turns import FirstTurns
from strokewise.gui.models.guide import Guidance, TurnGuide
from strokewise.gui.models.snapshot import Link, Reading, Replay, Snapshot, TrackerLike
from strokewise.gui.models.target import Position, Target, position, targets
from strokewise.gui.models.trail import TrailKeeper

MakeTracker = Callable[[Profile], TrackerLike]


class Follower:
    """Follows one engine: blocks in, snapshots out.

    Parameters
    ----------
    make_tracker : callable
        Makes the tracker for a profile.
    suspect : bool
        The timing is under suspicion: two turns by hand come before the starter.
    """

    def __init__(
        self, profile: Profile, make_tracker: MakeTracker, *, suspect: bool = False
    ) -> None:
        self.profile = profile
        self._tracker = make_tracker(profile)
        self._trail = TrailKeeper(profile)
        self._first_turns = FirstTurns(suspect=suspect)
        self._guide = TurnGuide(profile.turning_back)
        self._guidance: Guidance | None = None
        self._position: Position | None = None
        self._target = targets(profile)[0]
        self._aim = self._target
        self._verdict: Verdict | None = None
        self._was_decided = False
        self._segment: int | None = None
        self._reading: Reading | None = None
        self.samples = 0

    @property
    def target(self) -> Target:
        """The position that is being turned to."""
        return self._target

    def choose(self, target: Target) -> None:
        """Turn to another position from now on."""
        self._target = target
        self._guide = self._guide.retarget()
        self._follow_guide()

    def suspect(self, suspect: bool) -> None:
        """Say whether the timing is under suspicion."""
        self._first_turns = FirstTurns(suspect=suspect)

    def feed(self, block: Segment) -> None:
        """Take the next block in."""
        if block.number != self._segment:
            self._segment = block.number
            self._guide = self._guide.retarget()
            self._first_turns = self._first_turns.new_segment()
        self._tracker.feed(block)
        self._trail.add(block)
        self.samples += len(block.samples)
        if len(block.samples):
            self._reading = Reading(
                int(block.samples.count[-1]),
                tuple(int(value) for value in block.samples.readings[-1]),
                int(block.samples.time_us[-1]),
            )
        self._judge()
        self._follow_guide()

    def _judge(self) -> None:
        verdict = self._tracker.verdict()
        if verdict.decided:
            self._was_decided = False
        elif self._verdict is not None and self._verdict.decided:
            self._was_decided = True
        self._verdict = verdict

    def _follow_guide(self) -> None:
        now = self._tracker.now
        if now is None:
            return
        self._first_turns = self._first_turns.follow(now.angle_deg, now.speed_deg_s)
        self._aim = self._target
        self._position = position(self._aim, self.profile, self._verdict)
        if self._position is None:
            # Which TDC it is is open: the next one of either kind can still be turned to.
            self._aim = targets(self.profile)[-1]
            self._position = position(self._aim, self.profile, self._verdict)
        self._guide, self._guidance = self._guide.follow(
            self._position, now.angle_deg, now.speed_deg_s
        )

    @property
    def guidance(self) -> Guidance | None:
        """What the turn guide says now."""
        return self._guidance

    def snapshot(
        self, number: int, link: Link, replay: Replay | None = None, received_s: float = 0.0
    ) -> Snapshot:
        """Return all that a view draws, frozen."""
        return Snapshot(
            profile=self.profile,
            number=number,
            now=self._tracker.now,
            verdict=self._verdict,
            was_decided=self._was_decided,
            passes=tuple(self._tracker.passes),
            state=self._tracker.state,
            trail=self._trail.trail(),
            target=self._aim,
            position=self._position,
            guidance=self._guidance,
            first_turns=self._first_turns,
            link=link,
            reading=self._reading,
            replay=replay,
            received_s=received_s,
        )
