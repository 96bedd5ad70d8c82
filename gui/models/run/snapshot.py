"""What is true at this moment, in one frozen value that any thread may read?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal, Protocol

import numpy as np

from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import Notice, remark
from strokewise.analysis.samples import Segment
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.models.figures.chart import NOT_TOLD, Chart, chart_for
from strokewise.gui.models.figures.trail import Trail
from strokewise.gui.models.figures.views import PassLike, Subject
from strokewise.gui.models.run.places import Places
from strokewise.gui.models.run.silence import Away, Ending, Heard
from strokewise.gui.models.sentence import Sentence, sentence_for
from strokewise.gui.models.steps.marks_passed import Met
from strokewise.gui.models.turn.first_turns import FirstTurns
from strokewise.gui.models.turn.guide import BY_HAND_DEG_S, Guidance
from strokewise.gui.models.turn.rocking import Rocking
from strokewise.gui.models.turn.target import Position, Target

LinkState = Literal["opening", "running", "paused", "lost", "ended", "held"]

SILENT = remark("silent-now")
ANSWER_HIDDEN = remark("hidden-from-class")
"""Why a moment shows no answer although there is one."""
HIDDEN_NAME = "question"
"""Stands for the name of the run while the name would give the answer away."""


class NowLike(Protocol):
    """Where the crank is: see :class:`strokewise.analysis.verdict.tracker.Now`."""

    @property
    def time_s(self) -> float: ...  # noqa: D102
    @property
    def angle_deg(self) -> float: ...  # noqa: D102
    @property
    def speed_deg_s(self) -> float: ...  # noqa: D102
    @property
    def pressure_bar(self) -> tuple[float, ...]: ...  # noqa: D102
    @property
    def segment(self) -> int: ...  # noqa: D102
    @property
    def standing(self) -> bool: ...  # noqa: D102


def sensor_in(profile: Profile, cylinder: int) -> Sensor | None:
    """Return the sensor in the plug hole of a cylinder; None where the profile names none."""
    for sensor in profile.sensors:
        if sensor.place == "plug hole" and (sensor.cylinder or 1) == cylinder:
            return sensor
    return None


class TrackerLike(Protocol):
    """What follows the engine: see :class:`strokewise.analysis.verdict.tracker.Tracker`."""

    def feed(self, block: Segment) -> None: ...  # noqa: D102
    def verdict(self, *, closing: bool = False) -> Verdict: ...  # noqa: D102
    def adopt(self, judged: Any) -> None: ...  # noqa: D102
    @property
    def hold(self) -> tuple[int | None, int]: ...  # noqa: D102
    @property
    def ended(self) -> bool: ...  # noqa: D102
    @property
    def now(self) -> NowLike | None: ...  # noqa: D102
    @property
    def passes(self) -> Sequence[PassLike]: ...  # noqa: D102
    @property
    def state(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Link:
    """How the bytes come in.

    Attributes
    ----------
    name : str
        Port or file.
    trouble : str
        One line for a person when nothing comes in; empty otherwise.
    samples, lost_frames, bad_frames : int
        Counted since the start.
    rate_hz : float
        Samples a second of board time, lately.
    recording : str
        File that is being recorded to; empty when none.
    news : str
        What the board's return has told, or what befell port and computer, for a while after it.
    news_until_s : float
        How long, by the run's clock.
    """

    name: str = ""
    state: LinkState = "opening"
    trouble: str = ""
    samples: int = 0
    lost_frames: int = 0
    bad_frames: int = 0
    rate_hz: float = 0.0
    recording: str = ""
    simulated: bool = False
    news: str = ""
    news_until_s: float = float("-inf")

    def telling(self, news: str, until_s: float) -> Link:
        """Return the same with news, to be shown until then."""
        return replace(self, news=news, news_until_s=until_s)


@dataclass(frozen=True, slots=True)
class Reading:
    """The last sample as the board sent it: what the sensor check looks at."""

    count: int
    raw: tuple[int, ...]
    time_us: int


@dataclass(frozen=True, slots=True)
class Replay:
    """Where a replay stands.

    Attributes
    ----------
    position_s, length_s : float
        Seconds of recording, gaps between segments included.
    loaded : float
        Share that has been looked through for the overview, 0 to 1.
    passes_s : tuple of float
        Where passes were found so far.
    places : Places
        Bookmarks and loop.
    """

    position_s: float
    length_s: float
    speed: float = 1.0
    loaded: float = 1.0
    passes_s: tuple[float, ...] = ()
    places: Places = field(default_factory=Places)


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything a view draws.

    Attributes
    ----------
    notices : tuple of Notice
        What a person must know about how the profile came about.
    number : int
        Rises by one with every snapshot.
    judgement : object or None
        What the verdict rests on, for the figures that explain it.
    was_decided : bool
        A decided answer stood and has been taken back.
    ended : {"", "restart", "encoder"}
        What ended the hold that the last answer belonged to; empty where none has ended, or where
        there is an answer again.
    away : Away or None
        The board is silent, or was and it is not known yet whether its frame holds: no verdict
        then. See :meth:`shown_at`.
    last : Verdict or None
        What stood in the headline before the board fell silent, for a picture that is greyed.
    passes_before : tuple of PassLike
        Compressions that the verdict does not go by any more: those before the clamp slipped.
    met : Met or None
        What has been met of the marks.
    marks_met : tuple
        Of an engine before a class: name and encoder angle of each mark that met its pointer.
    received_s : float
        The run's clock when the newest bytes in it came in.
    heard : Heard
        When samples last came, by the run's clock; of a replay by its place.
    """

    profile: Profile
    notices: tuple[Notice, ...] = ()
    number: int = 0
    now: NowLike | None = None
    verdict: Verdict | None = None
    was_decided: bool = False
    ended: Ending = ""
    away: Away | None = None
    last: Verdict | None = None
    passes: tuple[PassLike, ...] = ()
    passes_before: tuple[PassLike, ...] = ()
    judgement: Any = None
    state: str = ""
    trail: Trail = field(default_factory=lambda: Trail(np.empty(0), np.empty(0)))
    target: Target | None = None
    position: Position | None = None
    guidance: Guidance | None = None
    rocking: Rocking | None = None
    first_turns: FirstTurns = field(default_factory=FirstTurns)
    met: Met | None = None
    marks_met: tuple[tuple[str, float], ...] = ()
    link: Link = field(default_factory=Link)
    reading: Reading | None = None
    replay: Replay | None = None
    received_s: float = 0.0
    heard: Heard = field(default_factory=Heard)

    def shown_at(self, now_s: float) -> Snapshot:
        """Return what may be shown at a time of the run's clock.

        Once the board is silent nothing is sure any more, and nobody is guided anywhere.
        """
        silent_s = self.heard.silent_s(now_s)
        away = self.away
        if silent_s is not None:
            # In whole seconds, so that a picture is drawn once for each.
            away = Away(float(int(silent_s)), back=False)
        if away is None:
            return self
        return replace(
            self,
            away=away,
            last=self.verdict or self.last,
            verdict=Verdict(decided=False, reason=SILENT),
            guidance=None,
            position=None,
            rocking=None,
        )

    @property
    def angle_deg(self) -> float | None:
        """Where the crank stands, unwrapped."""
        return None if self.now is None else self.now.angle_deg

    def sentence(self) -> Sentence:
        """Return the verdict sentence."""
        return sentence_for(
            self.profile,
            self.verdict,
            self.angle_deg,
            self.guidance,
            self.target,
            was_decided=self.was_decided,
            ended=self.ended,
            away=self.away,
            trouble=self.link.trouble,
            news=self.link.news,
            now_s=None if self.now is None else self.now.time_s,
            blurred=self.shown_speed_deg_s > BY_HAND_DEG_S,
            rocking=None if self.first_turns.words else self.rocking,
            replayed=self.replay is not None,
        )

    @property
    def shown_speed_deg_s(self) -> float:
        """How fast the crank turns before the eye: a replay may be slower, or stand."""
        if self.now is None or self.link.state != "running":
            return 0.0
        return abs(self.now.speed_deg_s) * (1.0 if self.replay is None else self.replay.speed)

    @property
    def rocking_words(self) -> str:
        """Whether the crank is being rocked, in two words at the most; empty where it is not."""
        if self.rocking is None or not self.rocking.under_way or self.first_turns.words:
            return ""
        return "rocked enough" if self.rocking.guidance.enough else "rocking"

    def chart(self) -> Chart:
        """Return the stroke chart."""
        target_deg = None if self.position is None else self.position.angle_deg
        label = "" if self.target is None else self.target.short
        if self.away is not None:  # as it stood last, greyed: nothing in it is true of now
            return chart_for(self.profile, self.last, None)
        chart = chart_for(self.profile, self.verdict, self.angle_deg, target_deg, label)
        verdict = self.verdict
        answered = self.before_class and verdict is not None and verdict.reason != ANSWER_HIDDEN
        return replace(chart, bare=NOT_TOLD) if answered else chart

    @property
    def half_width_deg(self) -> float:
        """How near TDC is known; 0 where there is none."""
        tdc = None if self.verdict is None else self.verdict.tdc
        return 0.0 if tdc is None else tdc.angle_deg.half_width

    def subject(self, name: str = "") -> Subject:
        """Return what the explaining figures are drawn from."""
        tdc = None if self.verdict is None else self.verdict.tdc
        sensor = None if tdc is None else sensor_in(self.profile, tdc.cylinder)
        return Subject(
            self.profile,
            self.passes,
            None if tdc is None else tdc.angle_deg.value,
            name,
            None if sensor is None else bool(sensor.points),
            self.why_no_passes(),
            self.before_class,
            self.marks_met,
        )

    @property
    def before_class(self) -> bool:
        """Whether a class looks at it: it stands, with its question or with the answer."""
        return self.link.state == "held"

    def why_no_passes(self) -> str:
        """Return why no compression can be drawn, and what to do; empty where there are some."""
        if self.passes:
            return ""
        if self.now is None:
            return "No samples yet: connect the board, or play on"
        sensors = self.profile.sensors
        if sensors and all(sensor.place == "manifold" for sensor in sensors):
            return (
                "The sensor sits in the manifold, where there is no compression to draw; "
                "key 1 shows its pressure over the strokes"
            )
        verdict = self.verdict
        if verdict is not None and verdict.tdc is not None and verdict.tdc.method == "stop":
            return "TDC was found with the piston stop: no compression was needed, none was seen"
        return "No compression yet: turn the engine through one"
