"""How do blocks of samples become what is shown? Tracker, trail and guide, fed together.

One follower serves live runs and replays alike; it knows nothing of where the blocks come from, and
a copy of it is a bookmark that a replay can go back to.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice
from strokewise.analysis.samples import Segment
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.models.figures.loose_passes import loose_passes
from strokewise.gui.models.figures.trail import TrailKeeper
from strokewise.gui.models.figures.views import PassLike
from strokewise.gui.models.run.silence import Ending, Heard
from strokewise.gui.models.run.snapshot import Link, Reading, Replay, Snapshot, TrackerLike
from strokewise.gui.models.steps.marks_passed import MetKeeper
from strokewise.gui.models.turn.first_turns import FirstTurns
from strokewise.gui.models.turn.guide import Guidance, TurnGuide
from strokewise.gui.models.turn.rocking import Rocking, rocking_for
from strokewise.gui.models.turn.target import Position, Target, position, targets

MakeTracker = Callable[[Profile], TrackerLike]


@dataclass(frozen=True, slots=True)
class Opinion:
    """What the tracker made of all that it had been fed up to a moment.

    Attributes
    ----------
    judgement : object or None
        Nodes, fit and phase behind the verdict, for the figures that explain it.
    segment : int or None
        The start of the board that it speaks of.
    hold : tuple or None
        And the hold of the clamp, see :attr:`TrackerLike.hold`.
    samples : int
        How many samples had been fed.
    closing : bool
        Nothing more was expected, so the very last samples were used as well.
    state : str
        The tracker's own plain word for how far it is.
    rocking : Rocking or None
        What the next swing would be, were it rocked.
    judged : object
        The copy of the tracker that formed it, whose findings the next opinion builds on.
    asked_by : Follower or None
        Whom it is for: after another profile or a leap in a replay there is another.
    """

    verdict: Verdict
    passes: tuple[PassLike, ...] = ()
    judgement: Any = None
    segment: int | None = None
    hold: tuple[int | None, int] | None = None
    samples: int = 0
    closing: bool = False
    state: str = ""
    judged: Any = None
    rocking: Rocking | None = None
    asked_by: Follower | None = None


class Follower:
    """Follows one engine: blocks in, snapshots out.

    Feeding is cheap; judging may take long, so it is asked for by itself: :meth:`question` gives a
    call that any thread may make, and :meth:`take` takes its answer in.

    Parameters
    ----------
    make_tracker : callable
        Makes the tracker for a profile.
    suspect : bool
        The timing is under suspicion: two turns by hand come before the starter.
    notices : tuple of Notice
        What a person must know about how the profile came about.
    """

    def __init__(
        self,
        profile: Profile,
        make_tracker: MakeTracker,
        *,
        suspect: bool = False,
        notices: tuple[Notice, ...] = (),
    ) -> None:
        self.profile = profile
        self._notices = notices
        self._tracker = make_tracker(profile)
        self._trail = TrailKeeper(profile)
        self._met = MetKeeper(profile)
        self._first_turns = FirstTurns(suspect=suspect)
        self._guide = TurnGuide(profile.turning_back)
        self._guidance: Guidance | None = None
        self._position: Position | None = None
        self._target = targets(profile)[0]
        self._aim = self._target
        self._opinion: Opinion | None = None
        self._passes_before: tuple[PassLike, ...] = ()
        self._was_decided = False
        self._ended: Ending = ""
        self._segment: int | None = None
        self._hold: tuple[int | None, int] | None = None
        self._reading: Reading | None = None
        self.samples = 0
        self.closing = False

    @property
    def engine(self) -> tuple[Profile, tuple[Notice, ...]]:
        """The profile with its notices."""
        return self.profile, self._notices

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
        first = self._hold is None
        self._tracker.feed(block)
        if self._tracker.hold != self._hold:
            self._hold = self._tracker.hold
            if not first:
                self._end("encoder" if block.number == self._segment else "restart")
            self._segment = block.number
        self._trail.add(block)
        self._met.add(block)
        self.samples += len(block.samples)
        if len(block.samples):
            self._reading = Reading(
                int(block.samples.count[-1]),
                tuple(int(value) for value in block.samples.readings[-1]),
                int(block.samples.time_us[-1]),
            )
        self._follow_guide()

    def _end(self, ended: Ending) -> None:
        """Let go of all that belonged to a start of the board or a hold of the clamp."""
        verdict = self._verdict
        self._was_decided = self._was_decided or (verdict is not None and verdict.decided)
        old = () if self._opinion is None else self._opinion.passes
        self._passes_before = old if ended == "encoder" else ()  # where the counts go on
        self._ended, self._opinion = ended, None
        self._guide, self._guidance = self._guide.retarget(), None
        self._first_turns = self._first_turns.new_segment()
        self._trail, self._met = TrailKeeper(self.profile), MetKeeper(self.profile)

    def tidy(self) -> None:
        """Put small parts together, so that a copy costs little."""
        self._trail.trail()

    @property
    def stale(self) -> bool:
        """True when samples have come in since the opinion was formed."""
        opinion = self._opinion
        return opinion is None or opinion.samples < self.samples or opinion.closing != self.closing

    def question(self) -> Callable[[], Opinion]:
        """Return a call that forms an opinion on what has been fed so far, on a copy of it all."""
        tracker, segment, hold = copy.deepcopy(self._tracker), self._segment, self._hold
        samples, closing, profile = self.samples, self.closing, self.profile

        def answer() -> Opinion:
            verdict = tracker.verdict(closing=closing)
            judgement = getattr(tracker, "judgement", None)
            passes, state = tuple(tracker.passes) or loose_passes(judgement), tracker.state
            rocking = rocking_for(profile, verdict, judgement)
            return Opinion(
                verdict,
                passes,
                judgement,
                segment,
                hold,
                samples,
                closing,
                state,
                tracker,
                rocking,
                self,
            )

        return answer

    def take(self, opinion: Opinion) -> None:
        """Take an opinion in; one on an earlier start or hold is of no use any more.

        Nor is one that another follower asked for: on another profile, or another place of a
        replay.
        """
        if opinion.asked_by is not self or opinion.hold != self._hold:
            return
        self._tracker.adopt(opinion.judged)
        # Taken over: not to be kept alive twice.
        opinion = replace(opinion, judged=None, asked_by=None)
        if opinion.verdict.decided:
            self._was_decided, self._ended = False, ""
        elif self._verdict is not None and self._verdict.decided:
            self._was_decided = True
        self._keep_before(opinion.passes)
        self._opinion = opinion
        self._follow_guide()

    def _keep_before(self, passes: tuple[PassLike, ...]) -> None:
        """Keep the compressions that the next opinion does not go by: those before a slip."""
        old = () if self._opinion is None else self._opinion.passes
        if old and passes and float(old[0].time_s[0]) < float(passes[0].time_s[0]):
            self._passes_before = old

    def judge(self) -> None:
        """Form an opinion here and now."""
        self.take(self.question()())

    @property
    def _verdict(self) -> Verdict | None:
        return None if self._opinion is None else self._opinion.verdict

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
    def count(self) -> int:
        """The last count, 0 before the first."""
        return 0 if self._reading is None else self._reading.count

    @property
    def segment(self) -> int:
        """The start of the board that is followed."""
        return self._segment or 0

    @property
    def angle_deg(self) -> float | None:
        """Where the crank stands, unwrapped; None before the first sample."""
        return None if self._tracker.now is None else self._tracker.now.angle_deg

    @property
    def guidance(self) -> Guidance | None:
        """What the turn guide says now."""
        return self._guidance

    def snapshot(
        self,
        number: int,
        link: Link,
        replay: Replay | None = None,
        received_s: float = 0.0,
        heard: Heard | None = None,
    ) -> Snapshot:
        """Return all that a view draws, frozen."""
        return Snapshot(
            profile=self.profile,
            notices=self._notices,
            number=number,
            now=self._tracker.now,
            verdict=self._verdict,
            was_decided=self._was_decided,
            ended="encoder" if self._tracker.ended else self._ended,
            passes=() if self._opinion is None else self._opinion.passes,
            passes_before=self._passes_before,
            judgement=None if self._opinion is None else self._opinion.judgement,
            state=self._tracker.state if self._opinion is None else self._opinion.state,
            trail=self._trail.trail(),
            target=self._aim,
            position=self._position,
            guidance=self._guidance,
            rocking=None if self._opinion is None else self._opinion.rocking,
            first_turns=self._first_turns,
            met=self._met.now(),
            link=link,
            reading=self._reading,
            replay=replay,
            received_s=received_s,
            heard=heard or Heard(),
        )
