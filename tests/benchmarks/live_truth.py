"""Is anything shown as sure that the truth of the moment contradicts? Live runs with faults.

    python tests/benchmarks/live_truth.py [--runs 500] [--first 0]

Each run takes a simulated engine, cranked or turned by hand, and lets cable, board, encoder and
clamp fail at random moments: silences, restarts, ports that come back, encoders that freeze or die,
clamps that slip. The bytes go through the very run that window and ``watch`` look at, on a clock of
their own, and every 50 ms it is asked what either would show. What is sure there is held against
where the crank really stands. The bytes can tell a silence or a restart within 0.6 s, a freeze
within 1 s of the pressure having passed what a leak and a count's width explain, and a slip (or a
freeze that no pressure showed) within 1 s of the next whole compression.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.errors import PortError
from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Board, Events, Samples
from strokewise.analysis.trace.trace import pressure_of
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.bench.truth import compression_deg
from strokewise.daq.profile.known import check_table
from strokewise.daq.recording.container import Chunk, Item
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Event, Hello, SampleBlock
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.sentence import Certainty
from strokewise.gui.models.terminal import plain_line

LOOK_S = 0.05
JUDGING_S, REST_S = 0.15, 0.25
"""An opinion takes so long, and so long passes before the next."""

BLOCK = 16
LINK_S = 0.016
HELLO_S = 2.0
BOOT_US = 350_000
RETRY_S = 1.0
FRESH_S = 0.15
"""What is shown of a crank that turns lags by as much: two blocks and a picture."""

ROUGH_SHARE, LEAST_DEG = 3.0, 2.0
"""Wrong is an angle off by more than three times its ±, and by more than a clamp off centre."""

SILENT_S, FROZEN_S, SLIPPED_S = 0.6, 1.0, 1.0
WHOLE_DEG, MIDDLE_DEG = (-150.0, 120.0), 60.0
"""About its TDC, a whole compression, and the middle without which none is seen."""

AIR = (0.9, 1.12)
LIMIT_BAR = 0.2
STEEPEST_PER_DEG = 0.07

CRANKED = ("cranked", "cranked-plugs-out", "worn-rings", "tired-battery", "v-twin", "single", "six")
BY_HAND = ("hand-turned",)
KINDS = ("silence", "restart", "replug", "replug same", "freeze", "death", "slip")


@dataclass(frozen=True)
class Base:
    """A sound run: samples with the true crank angle of each."""

    name: str
    profile: Profile
    board: Board
    samples: Samples
    events: Events
    crank_deg: np.ndarray
    firing_deg: float
    cell_deg: float
    bar: np.ndarray

    @property
    def time_s(self) -> np.ndarray:
        """Seconds from the first sample."""
        return (self.samples.time_us - self.samples.time_us[0]) * 1e-6


@lru_cache(maxsize=64)
def base_of(name: str, seed: int, seconds: float) -> Base:
    """Turn a scenario and decode it."""
    more = {"turn": 90.0 * seconds} if name in BY_HAND else {"seconds": seconds}
    bench = scenario(name).build(more, seed=seed)
    taken = take(bench)
    intake = Intake()
    (segment,) = join(intake.feed(taken.items) + intake.finish())
    profile = check_table(stated_profile(bench)).profile
    s = segment.samples
    true_s = (s.time_us - s.time_us[0]) * 1e-6 / (1.0 + bench.rig.board.clock_ppm * 1e-6)
    crank = np.interp(true_s + taken.run.time_s[0], taken.run.time_s, taken.run.crank_deg)
    bits = segment.board.adc_bits or 12
    bar, _ = pressure_of(s.readings[:, 0].astype(float), profile.sensors[0], profile, bits)
    cell = 360.0 / (profile.encoder.counts_per_rev * profile.encoder.drive_ratio)
    firing = compression_deg(bench.engine, 1)
    return Base(name, profile, segment.board, s, segment.events, crank, firing, cell, bar)


@dataclass(frozen=True)
class Fault:
    """What goes wrong, when, for how long, and by how much."""

    kind: str
    at_s: float
    for_s: float = 0.0
    by_deg: float = 0.0


def faults_of(rng: np.random.Generator, length_s: float, begin_s: float) -> tuple[Fault, ...]:
    """Draw one to three faults at random moments."""
    at_s = rng.uniform(begin_s, length_s - 1.0, int(rng.integers(1, 4)))
    faults = []
    for when in np.sort(at_s).tolist():
        if faults and when < faults[-1].at_s + faults[-1].for_s + 0.5:
            continue
        kind = str(rng.choice(KINDS))
        lasts = {
            "silence": rng.uniform(0.7, 4.0),
            "restart": rng.uniform(0.3, 3.0),
            "replug": rng.uniform(0.8, 4.0),
            "replug same": rng.uniform(0.8, 4.0),
            "freeze": rng.uniform(0.05, 4.0),
        }.get(kind, 0.0)
        by = float(rng.choice([180.0, 360.0, 540.0, *rng.uniform(-300.0, 300.0, 5)]))
        faults.append(Fault(kind, when, lasts, by if kind == "slip" else 0.0))
        if kind == "death":
            break
    return tuple(faults)


Sent = tuple[float, bytes | None]
"""When something comes; None where the port goes away."""


@dataclass
class Faulty:
    """What comes of a base with faults: bytes with their times, and the count that was shown."""

    base: Base
    faults: tuple[Fault, ...]
    count: np.ndarray = field(init=False)
    sent: list[Sent] = field(init=False)

    def __post_init__(self) -> None:
        base, t = self.base, self.base.time_s
        count = base.samples.count.astype(np.int64).copy()
        event_count = base.events.count.astype(np.int64).copy()
        event_s = (base.events.time_us - base.samples.time_us[0]) * 1e-6
        sign = base.profile.encoder.direction
        for fault in self.faults:
            after, own = t >= fault.at_s, event_s >= fault.at_s
            if fault.kind == "slip":
                by = round(sign * fault.by_deg / base.cell_deg)
                count[after] -= by
                event_count[own] -= by
            elif fault.kind in ("freeze", "death"):
                end_s = fault.at_s + (fault.for_s or 1e9)
                first = int(np.flatnonzero(after)[0])
                stop = min(int(np.searchsorted(t, end_s)), len(t) - 1)
                held, lost = count[first], count[stop] - count[first]
                inside, beyond = after & (t < end_s), t >= end_s
                count[inside] = held
                count[beyond] -= lost
                event_count[own & (event_s < end_s)] = held
                event_count[event_s >= end_s] -= lost
        self.count, self._event_count, self._event_s = count, event_count, event_s
        self.sent = sorted(self._all(), key=lambda item: item[0])

    def _all(self) -> Iterator[Sent]:
        base, t = self.base, self.base.time_s
        begin_s, boot, zero, base_us, encoder = (
            0.0,
            1,
            0,
            int(base.samples.time_us[0]),
            FrameEncoder(),
        )
        stops = [f for f in self.faults if f.kind in KINDS[:4]]
        spans = [*((f.at_s, f) for f in stops), (float(t[-1]) + 1.0, None)]
        for end_s, fault in spans:
            yield from self._span(begin_s, end_s, boot, zero, base_us, encoder)
            if fault is None:
                return
            begin_s = fault.at_s + fault.for_s
            if fault.kind.startswith("replug"):
                yield fault.at_s, None
            if fault.kind in ("restart", "replug"):
                boot, encoder = boot + 1, FrameEncoder()
                again = min(int(np.searchsorted(t, begin_s)), len(t) - 1)
                zero, base_us = int(self.count[again]), BOOT_US
                self._zero_s = begin_s
                base_us -= int(t[again] * 1e6)

    def _span(
        self,
        begin_s: float,
        end_s: float,
        boot: int,
        zero: int,
        base_us: int,
        encoder: FrameEncoder,
    ) -> Iterator[Sent]:
        base, t = self.base, self.base.time_s
        period = int(np.median(np.diff(base.samples.time_us)))
        first, last = np.searchsorted(t, [begin_s, end_s]).tolist()
        due = begin_s if boot > 1 else 0.0
        due = due if begin_s == 0.0 or boot > 1 else HELLO_S * np.ceil(begin_s / HELLO_S)
        for at in range(first, last - BLOCK + 1, BLOCK):
            own = slice(at, at + BLOCK)
            now_s = float(t[own][-1]) + LINK_S
            while due <= t[at]:
                hello = Hello(replace(base.board, boot=boot))
                yield now_s, encoder.encode(hello)
                due += HELLO_S
            here = (self._event_s > t[at] - BLOCK * period * 1e-6) & (self._event_s <= t[at])
            for k in np.flatnonzero(here).tolist():
                event = Event(
                    base_us + int(self._event_s[k] * 1e6),
                    int(self._event_count[k]) - zero,
                    int(base.events.input[k]),
                )
                yield now_s, encoder.encode(event)
            block = SampleBlock.pack(
                base_us + int(t[at] * 1e6),
                period,
                self.count[own] - zero,
                base.samples.readings[own],
            )
            yield now_s, encoder.encode(block)


class Clock:
    """Seconds that pass only when told to."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class SlowJudge:
    """Forms opinions as the judge's thread does, a while after they were asked for."""

    trouble, busy = "", False

    def __init__(self, clock: Clock) -> None:
        self._clock, self._next_s = clock, 0.0
        self._answer: tuple[float, object] | None = None

    def attend(self, follower: object) -> bool:
        """Hand over an opinion that is ready, and ask for the next one when it is time."""
        now_s = self._clock()
        if self._answer is not None and now_s >= self._answer[0]:
            (_, opinion), self._answer = self._answer, None
            follower.take(opinion)
        if self._answer is None and follower.samples and follower.stale and now_s >= self._next_s:
            self._answer = (now_s + JUDGING_S, follower.question()())
            self._next_s = now_s + JUDGING_S + REST_S
        return False


class Port:
    """Delivers what is sent as the clock goes on, which it moves itself."""

    def __init__(self, sent: list[Sent], clock: Clock, look: Callable[[], None]) -> None:
        self._sent, self._clock, self._look = sent, clock, look

    def __iter__(self) -> Iterator[Item]:
        while self._sent:
            when, data = self._sent[0]
            while when > self._clock.now_s + LOOK_S:
                self._clock.now_s += LOOK_S
                yield Chunk(self.now_us(), b"")
                self._look()
            self._clock.now_s = max(self._clock.now_s, when)
            self._sent.pop(0)
            if data is None:
                raise PortError("the port went away")
            yield Chunk(self.now_us(), data)
            self._look()

    def now_us(self) -> int:
        """Return the time of the clock."""
        return round(self._clock.now_s * 1e6)

    def stop(self) -> None:
        """Nothing runs by itself."""

    def close(self) -> None:
        """Nothing is held open."""


@dataclass(frozen=True)
class Look:
    """What was shown at a moment, and how far off it was; ``off_deg`` is None where unsure."""

    at_s: float
    off_deg: float | None
    allowed_deg: float
    line: str

    @property
    def wrong(self) -> bool:
        """Something sure stood there that the truth contradicts."""
        return self.off_deg is not None and abs(self.off_deg) > self.allowed_deg


def looks_of(faulty: Faulty) -> list[Look]:
    """Run it live and look at what window and ``watch`` would show."""
    base, clock, looks = faulty.base, Clock(), []
    t, sent = base.time_s, list(faulty.sent)
    last_s = [-1.0]

    def look() -> None:
        if clock.now_s - last_s[0] < LOOK_S:
            return
        last_s[0] = clock.now_s
        looks.append(_look(run.look(), base, t, clock.now_s))

    run = LiveRun(
        "a port", lambda: Port(sent, clock, look), lambda board: base.profile, Tracker, clock=clock
    )
    run._judge = SlowJudge(clock)
    while sent:
        run._follow_port()
        while sent and run._link.state == "lost" and sent[0][0] > clock.now_s + LOOK_S:
            clock.now_s += LOOK_S
            run._publish(None)
            look()
    for _ in range(20):
        clock.now_s += LOOK_S
        look()
    return looks


def _look(snapshot: Snapshot, base: Base, t: np.ndarray, now_s: float) -> Look:
    sentence, line = snapshot.sentence(), plain_line(snapshot)
    sure = [
        sentence.certainty is Certainty.SURE,
        line.startswith(("SURE", "STROKE SURE")),
        snapshot.chart().decided and snapshot.away is None,
    ]
    assert len(set(sure)) == 1, f"window, watch and chart contradict each other: {line}"
    if not sure[0]:
        return Look(now_s, None, 0.0, line)
    verdict, angle = snapshot.verdict, snapshot.angle_deg
    heard_s = now_s if snapshot.heard.at_s is None else snapshot.heard.at_s
    fresh = now_s - heard_s < FRESH_S
    seen_s = heard_s - LINK_S if fresh else now_s
    crank = float(np.interp(seen_s, t, base.crank_deg))
    true = angle - (crank - base.firing_deg)
    off = nearest(verdict.firing_deg[1] - true, base.profile.cycle_deg)
    half = verdict.tdc.angle_deg.half_width
    # A crank that turns fast goes on while a block is on its way.
    speed = abs(float(np.interp(seen_s + 0.01, t, base.crank_deg)) - crank) / 0.01
    return Look(now_s, off, max(ROUGH_SHARE * half, LEAST_DEG) + 0.004 * speed, line)


def told_by_s(faulty: Faulty, fault: Fault) -> float:
    """Return until when the bytes could tell of a fault."""
    base = faulty.base
    if fault.kind in ("silence", "restart", "replug", "replug same"):
        return fault.at_s + SILENT_S
    gaps = [(f.at_s, f.at_s + f.for_s) for f in faulty.faults if f.kind in KINDS[:4]]
    compression_s = _next_compression_s(base, fault.at_s + fault.for_s, gaps)
    if fault.kind == "slip":
        return compression_s + SLIPPED_S
    end_s = fault.at_s + (fault.for_s or 1e9)
    limit_s = _limit_s(base, fault.at_s, end_s)
    return (compression_s if limit_s is None else limit_s) + FROZEN_S


def _next_compression_s(base: Base, after_s: float, gaps: list[tuple[float, float]]) -> float:
    """Return when the next compression that begins after a moment is over, and its bytes are here.

    One whose middle fell into a gap is not seen; where its end did, the bytes come after the gap.
    """
    t = base.time_s
    cycle = base.profile.cycle_deg
    sensed = base.profile.sensors[0].cylinder or 1
    assert sensed == 1
    begin = float(np.interp(after_s, t, base.crank_deg))
    tdc = base.firing_deg + cycle * np.ceil((begin - WHOLE_DEG[0] - base.firing_deg) / cycle)
    while True:
        over = np.flatnonzero((base.crank_deg >= tdc + WHOLE_DEG[1]) & (t > after_s))
        if not len(over):
            return float("inf")
        middle = t[(np.abs(base.crank_deg - tdc) < MIDDLE_DEG) & (t > after_s)]
        if not any(((middle > begin_s) & (middle < end_s)).any() for begin_s, end_s in gaps):
            over_s = float(t[over[0]])
            return max((end for begin, end in gaps if begin <= over_s < end), default=over_s)
        tdc += cycle


def _limit_s(base: Base, begin_s: float, end_s: float) -> float | None:
    """Return when the pressure passed what a leak and a count's width explain; None if never."""
    t = base.time_s
    inside = np.flatnonzero((t >= begin_s) & (t < end_s))
    factor = np.exp(STEEPEST_PER_DEG * (2.0 * base.cell_deg + 1.0))
    bar = base.bar[inside]
    most = np.maximum(np.minimum.accumulate(bar), AIR[1]) * factor + LIMIT_BAR
    least = np.minimum(np.maximum.accumulate(bar), AIR[0]) / factor - LIMIT_BAR
    beyond = np.flatnonzero((bar > most) | (bar < least))
    return float(t[inside[beyond[0]]]) if len(beyond) else None


@dataclass(frozen=True)
class Wrong:
    """A stretch in which something wrong stood as sure."""

    kind: str
    begin_s: float
    end_s: float
    late_s: float
    line: str


def wrongs_of(faulty: Faulty, looks: list[Look]) -> list[Wrong]:
    """Return every stretch shown wrong, with how much longer than the bytes could tell it."""
    wrongs: list[Wrong] = []
    begin: Look | None = None
    for look in [*looks, Look(looks[-1].at_s + LOOK_S, None, 0.0, "")]:
        if look.wrong and begin is None:
            begin = look
        elif not look.wrong and begin is not None:
            end = Fault("silence", float(faulty.base.time_s[-1]))  # nothing comes any more
            known = (*faulty.faults, end)
            earlier = [f for f in known if f.at_s <= begin.at_s + LOOK_S]
            told = max((told_by_s(faulty, f) for f in earlier), default=begin.at_s)
            kind = earlier[-1].kind if earlier else "no fault"
            late_s = max(0.0, look.at_s - LOOK_S - told)
            wrongs.append(Wrong(kind, begin.at_s, look.at_s, late_s, begin.line))
            begin = None
    return wrongs


def drawn(number: int) -> Faulty:
    """Return one run of the draw; engines are few, faults are its own."""
    rng = np.random.default_rng((20_261, number))
    by_hand = number % 4 == 3
    names = BY_HAND if by_hand else CRANKED
    name = names[number // 4 % len(names)]
    base = base_of(name, 700 + number % 3, 30.0 if by_hand else 9.0)
    length = float(base.time_s[-1])
    return Faulty(base, faults_of(rng, length, 0.3 * length))


def main() -> None:
    """Print how long anything wrong stood as sure, by fault."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    args = parser.parse_args()
    begun, faults, wrongs, sure = time.monotonic(), defaultdict(int), [], 0
    for number in range(args.first, args.first + args.runs):
        faulty = drawn(number)
        looks = looks_of(faulty)
        sure += sum(look.off_deg is not None for look in looks)
        for fault in faulty.faults:
            faults[fault.kind] += 1
        for wrong in wrongs_of(faulty, looks):
            wrongs.append((number, wrong))
            if wrong.late_s > 0:
                print(f"run {number} {faulty.base.name} {faulty.faults}: {wrong}", flush=True)
    print(
        f"{args.runs} runs from {args.first}, {time.monotonic() - begun:.0f} s; {sure} sure looks"
    )
    print("fault         count  shown wrong  median s  longest s  too long  latest by s")
    for kind in (*KINDS, "no fault"):
        own = [w for _, w in wrongs if w.kind == kind]
        lasted = [w.end_s - w.begin_s for w in own] or [0.0]
        late = [w.late_s for w in own if w.late_s > 0]
        print(
            f"{kind:12s} {faults[kind]:6d} {len(own):12d} {np.median(lasted):9.2f}"
            f" {max(lasted):10.2f} {len(late):9d} {max(late, default=0.0):12.2f}"
        )


if __name__ == "__main__":
    main()
