"""Is the rig on this port fit to measure? Asks for three small things and says what came of them.

Nothing but the crank under a spanner has to move. On a terminal a person is asked for one thing
after the other; elsewhere, or with ``--seconds``, they are all done while it listens.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from typing import Any, TextIO

from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import remark
from strokewise.analysis.rig.rig_finding import RigFinding, odd
from strokewise.analysis.rig.rig_findings import rig_findings
from strokewise.analysis.rig.rig_run import RigRun, run_at, run_of
from strokewise.analysis.samples import Segment
from strokewise.daq import sources
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.container import Chunk
from strokewise.daq.sources import Source
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.gui.models.run.aside import aside
from strokewise.gui.options import EXIT_DECIDED, EXIT_UNDECIDED, known_from
from strokewise.gui.pages.answers import as_line, base_answer
from strokewise.gui.pages.cautions import before_rig_check
from strokewise.gui.pages.text import caution_words, fact, paragraph
from strokewise.gui.pages.words import counted, sentence
from strokewise.gui.safe_text import bare
from strokewise.gui.sayings import say, say_any

LISTEN_S = 20.0
"""Without a person to ask: time for a squeeze and a slow turn."""

RIG_REST_S = 3.0  # a hello comes every two seconds, and noise wants some thousand samples
RIG_SHOW_EVERY_S = 0.2
HEADING = "Before the crank is turned"
COUNTS_CONTRADICTION = "counts-contradiction"  # the one notice about a profile that is the rig's

SQUEEZE = (
    "Squeeze: put a little pressure on the hose with a hand pump or by mouth, let it go again, and "
    "press Enter."
)
TO_THE_MARK = "Turn the crank until its mark meets the pointer, and press Enter."
ONE_TURN = (
    "Turn it {turns}, the engine's own way, until the mark meets the pointer again. Take the "
    "spanner off, and press Enter."
)
ALL_AT_ONCE = (
    "Listening for {seconds:g} s. Leave the rig at rest for {rest:g} s, squeeze the hose and let "
    "it go, then turn the crank {turns} from a mark to the mark, the engine's own way."
)


@dataclass(slots=True)
class RigHeard:
    """What came from the port so far."""

    blocks: list[Segment] = field(default_factory=list)
    bytes_came: int = 0

    @property
    def place(self) -> tuple[int, int]:
        """Which start of the board it is, and its time at the last sample, µs."""
        for block in reversed(self.blocks):
            if len(block.samples):
                return block.number, int(block.samples.time_us[-1])
        return 0, 0

    def words(self) -> str:
        """What moves, on one line."""
        for block in reversed(self.blocks):
            if len(block.samples):
                readings = ", ".join(str(int(reading)) for reading in block.samples.readings[-1])
                return f"  count {int(block.samples.count[-1]):>8,}   reading {readings}   "
        return "  nothing from the board yet"


def run(args: argparse.Namespace) -> int:
    """Listen to the port, judge, and print; 0 when all is good, 3 when not."""
    known_from(args)  # a wrong profile is refused now, not after the turning
    asking = args.seconds is None and sys.stdin is not None and sys.stdin.isatty()
    with closing(sources.SerialSource(args.file, args.baud)) as source:
        print(caution_words(before_rig_check(), heading=HEADING), end="\n\n", file=sys.stderr)
        if asking:
            tried = ask(source, args.turns, sys.stderr)
        else:
            tried = listen(source, args.seconds or LISTEN_S, args.turns, sys.stderr)
    profile, notices = _profile(args, tried)
    findings = (*notices, *rig_findings(tried, profile))
    print(json_lines(findings) if args.json else words(args.file, findings))
    good = all(finding.state == "good" for finding in findings)
    return EXIT_DECIDED if good else EXIT_UNDECIDED


def listen(source: Source, seconds: float, turns: float, screen: TextIO) -> RigRun:
    """Listen for so long and find out from the samples what was done when."""
    said = ALL_AT_ONCE.format(seconds=seconds, rest=RIG_REST_S, turns=turn_words(turns))
    print(said, file=screen, flush=True)
    heard, health = _follow(source, iter([lambda: source.now_us() >= seconds * 1e6]), screen, [])
    return run_of(_last(heard), health, came=heard.bytes_came > 0, turns=turns)


def ask(source: Source, turns: float, screen: TextIO) -> RigRun:
    """Ask for one thing after the other, each until Enter is pressed."""
    places: list[tuple[int, int]] = []
    heard, health = _follow(source, _steps(source, turns, screen), screen, places)
    segment = _last(heard)
    told = [at_us for number, at_us in places if number == segment.number]
    if len(told) < 4 or not len(segment.samples):  # the board started anew meanwhile
        return run_of(segment, health, came=heard.bytes_came > 0, turns=turns)
    return run_at(
        segment,
        health,
        rest_until_us=told[0],
        squeezed_until_us=told[1],
        turned_from_us=told[2],
        turns=turns,
    )


Done = Callable[[], bool]


def _steps(source: Source, turns: float, screen: TextIO) -> Iterator[Done]:
    """Yield, for each thing asked for, what tells that it is done."""
    print("Leave everything at rest, the hose open.", file=screen, flush=True)
    ends_us = source.now_us() + RIG_REST_S * 1e6
    yield lambda: source.now_us() >= ends_us
    for text in (SQUEEZE, TO_THE_MARK, ONE_TURN.format(turns=turn_words(turns))):
        print(f"\n{text}", file=screen, flush=True)
        yield _enter()


def _enter() -> Done:
    """Tell once Enter is pressed; the reading waits in a thread, on every system."""
    return aside(sys.stdin.readline, "enter").done


def _follow(
    source: Source, steps: Iterator[Done], screen: TextIO, places: list[tuple[int, int]]
) -> tuple[RigHeard, Any]:
    """Run the source until the last step is done, noting where the board was after each."""
    intake, heard = Intake(), RigHeard()
    done, shown_s = next(steps), 0.0
    for item in source:
        heard.bytes_came += len(item.data) if isinstance(item, Chunk) else 0
        heard.blocks += intake.feed([item])
        if screen.isatty() and time.monotonic() - shown_s > RIG_SHOW_EVERY_S:
            shown_s = time.monotonic()
            print(f"\r{heard.words()}", end="", file=bare(screen), flush=True)
        if not done():
            continue
        places.append(heard.place)
        following = next(steps, None)
        if following is None:
            source.stop()
            break
        done = following
    heard.blocks += intake.finish()
    return heard, intake.health


def _last(heard: RigHeard) -> Segment:
    """Return all of the board's last start that has samples."""
    segments = join(heard.blocks)
    with_samples = [segment for segment in segments if len(segment.samples)]
    return (with_samples or [*segments] or [Segment()])[-1]


def _profile(args: argparse.Namespace, tried: RigRun) -> tuple[Profile, tuple[RigFinding, ...]]:
    """Return the profile that counts with this board, and what of the two does not go together.

    Only marks that a person named must be seen: a board names inputs that nobody has wired.
    """
    said = known_from(args).profile
    known = known_engine(overrides=args.settings, engine=args.engine, board=tried.board)
    remedy = remark("rig-mend-profile-or-board")
    notices = [notice for notice in known.notices if notice.code == COUNTS_CONTRADICTION]
    findings = tuple(odd("profile", each.remark, remedy) for each in notices)
    return replace(known.profile, marks=said.marks), findings


def turn_words(turns: float) -> str:
    """Return how far to turn."""
    return "exactly one turn" if turns == 1 else f"exactly {turns:g} turns"


def json_lines(findings: tuple[RigFinding, ...]) -> str:
    """Return one JSON object a line, one for each finding."""
    return "\n".join(
        as_line(
            {
                **base_answer(finding.state == "good", say(finding.said)),
                "check": finding.check,
                "state": finding.state,
                "remedy": say_any(finding.remedy) or None,
                "figures": dict(finding.figures),
            }
        )
        for finding in findings
    )


def words(port: str, findings: tuple[RigFinding, ...]) -> str:
    """Return the findings, each with what to do about it."""
    bad = [finding for finding in findings if finding.state != "good"]
    if bad:
        head = (
            f"{port}: NOT FIT YET: {counted(len(bad), 'thing')} to look at. Begin with the first."
        )
    else:
        head = f"{port}: FIT TO MEASURE: all that can be tried without the engine is good."
    lines: list[str] = []
    for finding in findings:
        text = sentence(say(finding.said))
        if finding.remedy is not None:
            text = f"{text} To do: {say(finding.remedy)}."
        lines += fact(f"{finding.state:<8} {finding.check}", text)
    return f"{paragraph(head)}\n\n" + "\n".join(lines)
