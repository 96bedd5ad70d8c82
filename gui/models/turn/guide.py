"""How far to turn, and what when it went too far? The turn guide.

A position is only right when it is come up to in the engine's own direction, so that the play in
chain, belt and gears lies on the side where it lies in running. Hence an overshoot is not turned
back onto the target, but back past the play and up again; or, where the profile forbids turning
back, round once more. Where nobody said, the guide says just that and names both ways: it neither
sends anybody backwards nor hides two degrees of overshoot behind a whole round.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from strokewise.gui.models.turn.target import Position

Phase = Literal[
    "no target", "too fast", "turn on", "slowly", "there", "past", "go back", "go round"
]

ON_TARGET_DEG = 0.5
"""Counts as there: half of the finest line on a timing scale, and what a spanner can hold."""
SLOWLY_DEG = 15.0
"""From here the last swing of the spanner should be a short one."""
PAST_THE_PLAY_DEG = 30.0
"""How far to go back before coming up again: a worn chain and skew gear have up to about ten
crank degrees of play (from memory), so three times that is past it for certain."""
TURN_BACK_AT_MOST_DEG = PAST_THE_PLAY_DEG
"""Only so short an overshoot is turned back: the caution is to turn back past the play and no
further, and beyond it the way back and up again saves little."""
BY_HAND_DEG_S = 400.0
"""Faster than the quick part of a spanner's swing, and two thirds of the slowest starter's
100 rev/min (from memory)."""
BACKWARDS_DEG = 3.0
"""A run against the direction that is longer than a spanner's give and a ring's spring."""
NOBODY_SAID = "Nobody said whether this engine may be turned back"


@dataclass(frozen=True, slots=True)
class Guidance:
    """What the guide says at one moment.

    Attributes
    ----------
    remaining_deg : float or None
        Degrees still to turn in the engine's direction; negative once gone past.
    back_deg : float or None
        Degrees to turn back, only in the phases ``"go back"`` and ``"past"``.
    round_deg : float or None
        Degrees to the next round of it, only in the phase ``"past"``.
    words : str
        What to do, for two metres away.
    warning : str
        Empty, or what is wrong with how it is being turned.
    arrow : {1, -1, 0}
        Which way to turn: on, back, not at all.
    """

    phase: Phase
    remaining_deg: float | None = None
    back_deg: float | None = None
    round_deg: float | None = None
    words: str = ""
    warning: str = ""
    arrow: Literal[1, -1, 0] = 0


@dataclass(frozen=True, slots=True)
class TurnGuide:
    """The guide's memory between two moments; :meth:`follow` returns the next one.

    Attributes
    ----------
    turning_back : {"allowed", "never"} or None
        As the profile says. Unknown: both ways are named, and it is for the manual to say which.
    goal_deg : float or None
        The unwrapped angle that is being turned to.
    going_back : bool
        The crank has been past the goal and is on its way back past the play.
    furthest_deg : float or None
        The furthest forward that the crank has stood.
    """

    turning_back: Literal["allowed", "never"] | None = None
    goal_deg: float | None = None
    going_back: bool = False
    went_round: bool = False
    furthest_deg: float | None = None

    def retarget(self) -> TurnGuide:
        """Forget the goal: another target has been chosen."""
        return TurnGuide(self.turning_back)

    def follow(
        self, position: Position | None, angle_deg: float, speed_deg_s: float = 0.0
    ) -> tuple[TurnGuide, Guidance]:
        """Return the guide after the crank has come to ``angle_deg``, and what to say.

        Parameters
        ----------
        position : Position or None
            Where the target stands; None while it cannot be placed.
        angle_deg, speed_deg_s : float
            Crank angle (unwrapped, encoder frame) and its speed.
        """
        if position is None:
            return self.retarget(), Guidance("no target", words="No target yet")
        if abs(speed_deg_s) > BY_HAND_DEG_S:
            ahead = position.at_or_after(angle_deg) - angle_deg
            return self.retarget(), Guidance("too fast", ahead, words="Turn by hand to be guided")
        guide = self._with_goal(position, angle_deg)._judge(position, angle_deg)
        return guide, guide._say(position, angle_deg)

    def _with_goal(self, position: Position, angle_deg: float) -> TurnGuide:
        furthest = angle_deg if self.furthest_deg is None else max(self.furthest_deg, angle_deg)
        goal = self.goal_deg
        if goal is None:
            # Standing a hair past it is being there, not a whole turn short of it.
            goal = position.at_or_after(angle_deg - ON_TARGET_DEG)
        else:
            # The estimate may move a little from pass to pass: stay with the same turn of it.
            drift = (position.angle_deg - goal) % position.period_deg
            if drift > position.period_deg / 2:
                drift -= position.period_deg
            goal += drift
        return replace(self, goal_deg=goal, furthest_deg=furthest)

    def _judge(self, position: Position, angle_deg: float) -> TurnGuide:
        assert self.goal_deg is not None
        past = angle_deg - self.goal_deg
        if self.going_back:
            if past <= -PAST_THE_PLAY_DEG:
                return replace(self, going_back=False, furthest_deg=angle_deg)
            if past > self._back_at_most_deg:
                return self._next_round(position, angle_deg)
            return self
        if past > ON_TARGET_DEG:
            if self.turning_back != "never" and past <= self._back_at_most_deg:
                return replace(self, going_back=True)
            return self._next_round(position, angle_deg)
        if past < -position.period_deg - PAST_THE_PLAY_DEG:
            # It was turned back past the play anyway: the nearer one is the goal again.
            goal = position.at_or_after(angle_deg)
            return replace(self, goal_deg=goal, went_round=False, furthest_deg=angle_deg)
        return self

    @property
    def _back_at_most_deg(self) -> float:
        """Further past than this it goes round; who goes on where nobody said has chosen that."""
        return TURN_BACK_AT_MOST_DEG if self.turning_back == "allowed" else PAST_THE_PLAY_DEG

    def _next_round(self, position: Position, angle_deg: float) -> TurnGuide:
        goal = position.at_or_after(angle_deg)
        return replace(self, goal_deg=goal, going_back=False, went_round=True)

    def _say(self, position: Position, angle_deg: float) -> Guidance:
        assert self.goal_deg is not None
        assert self.furthest_deg is not None
        remaining = self.goal_deg - angle_deg
        if self.going_back:
            back = PAST_THE_PLAY_DEG - remaining
            if self.turning_back is None and self.furthest_deg - angle_deg <= BACKWARDS_DEG:
                return self._say_both(position.at_or_after(angle_deg) - angle_deg, remaining, back)
            words = f"Too far by {-remaining:.0f}°: turn back {back:.0f}°, then come up again"
            if remaining > -ON_TARGET_DEG or self.turning_back is None:
                words = f"Go on back {back:.0f}°, past the play, then come up again"
            if self.turning_back is None:
                words = f"{NOBODY_SAID}. As you are turning it back: {words[:1].lower()}{words[1:]}"
            return Guidance("go back", remaining, back, words=words, arrow=-1)
        warning = self._backwards_warning(angle_deg)
        if abs(remaining) <= ON_TARGET_DEG:
            return Guidance("there", remaining, words="Stop: you are there", warning=warning)
        if self.went_round and remaining > SLOWLY_DEG:
            why = NOBODY_SAID if self.turning_back is None else "Do not turn back"
            words = f"Past it. {why}: go round again, {remaining:.0f}°"
            return Guidance("go round", remaining, words=words, warning=warning, arrow=1)
        if remaining <= SLOWLY_DEG:
            words = f"Slowly: {remaining:.1f}° to go"
            return Guidance("slowly", remaining, words=words, warning=warning, arrow=1)
        words = f"Turn on {remaining:.0f}°"
        return Guidance("turn on", remaining, words=words, warning=warning, arrow=1)

    @staticmethod
    def _say_both(round_deg: float, remaining_deg: float, back_deg: float) -> Guidance:
        words = (
            f"Too far by {-remaining_deg:.0f}°. {NOBODY_SAID}: where its manual allows it, back "
            f"{back_deg:.0f}° and up again; else on round, {round_deg:.0f}°"
        )
        return Guidance("past", remaining_deg, back_deg, round_deg, words)

    def _backwards_warning(self, angle_deg: float) -> str:
        assert self.furthest_deg is not None
        if self.furthest_deg - angle_deg <= BACKWARDS_DEG:
            return ""
        if self.turning_back == "never":
            return "That is backwards: stop. This engine must not be turned back"
        if self.turning_back is None:
            return "That is backwards: the profile does not say that it may be turned back"
        return "That is backwards"
