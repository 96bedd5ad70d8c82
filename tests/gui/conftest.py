"""A toy engine with exactly known phase, and a stand-in for the tracker that knows it too.

The window is tested against these: whatever is wrong then is the window's own fault.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from strokewise.analysis.crank.kinematics import volume_ratio
from strokewise.analysis.crank.strokes import firing_tdcs
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, Sensor, even_intervals_deg
from strokewise.analysis.samples import Board, Samples, Segment
from strokewise.analysis.verdict.verdict import Tdc, Verdict
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, SampleBlock
from strokewise.gui.sayings import as_said

COUNTS = 2400
ADC_BITS = 12
POINTS = ((100.0, 0.0), (4000.0, 20.0))
FIRING_1 = 100.0


def toy_profile(cylinders=4, order=(1, 3, 4, 2), **more):
    more.setdefault("sensors", (Sensor(cylinder=1, points=POINTS),))
    more.setdefault("turning_back", "allowed")
    more.setdefault("compression_ratio", 9.0)
    return Profile(
        cylinders=cylinders,
        firing_order=tuple(order),
        firing_intervals_deg=even_intervals_deg(cylinders, 720.0),
        **more,
    )


def toy_pressure(angle_deg, firing_1=FIRING_1):
    """Absolute bar in cylinder 1: a polytrope about firing TDC, the air outside elsewhere."""
    after = (angle_deg - firing_1 + 360) % 720 - 360
    volume = volume_ratio(after, 9.0, rod_ratio=3.3)
    closed = np.abs(after) < 150
    at_close = volume_ratio(150.0, 9.0, rod_ratio=3.3)
    return np.where(closed, (at_close / volume) ** 1.3, 1.0)


def toy_segment(angles, rate_hz=2000.0, start_us=0, number=0, gap_us=0):
    """A segment that passes through the given crank angles at an even rate."""
    angles = np.asarray(angles, float)
    count = np.floor(angles * COUNTS / 360).astype(np.int64)
    reading = 100 + toy_pressure(angles) / 20.0 * 3900
    time_us = start_us + np.round(np.arange(len(angles)) * 1e6 / rate_hz).astype(np.int64)
    samples = Samples(
        time_us, count, np.round(reading).astype(np.uint16)[:, None], np.zeros(len(angles), bool)
    )
    board = Board("toy", COUNTS, ADC_BITS, ("cylinder 1",), boot=number)
    return Segment(number, board, samples)


def in_blocks(segment, size=20):
    s = segment.samples
    for i in range(0, len(s), size):
        part = slice(i, i + size)
        yield replace(
            segment,
            samples=Samples(s.time_us[part], s.count[part], s.readings[part], s.after_gap[part]),
        )


@dataclass(frozen=True)
class ToyNow:
    time_s: float
    angle_deg: float
    speed_deg_s: float
    pressure_bar: tuple
    segment: int
    standing: bool


@dataclass(frozen=True)
class ToyPass:
    time_s: np.ndarray
    angle_deg: np.ndarray
    pressure_bar: np.ndarray
    peak_angle_deg: float
    forward: bool = True
    sensor: int = 0


class ToyTracker:
    """Knows the truth; says TDC after one compression, and the phase after two."""

    KEEPS = 6

    def __init__(self, profile, firing_1=FIRING_1):
        self.profile, self.firing_1 = profile, firing_1
        self._restart(None)

    def _restart(self, segment):
        self.segment = segment
        self.ended = False
        self.now = None
        self.passes = ()
        self._rows = []
        self._furthest = None

    @property
    def hold(self):
        return (self.segment, 0)

    @property
    def state(self):
        return "decided" if len(self.passes) > 1 else "looking"

    def feed(self, block):
        if block.number != self.segment:
            self._restart(block.number)
        if not len(block.samples):
            return
        time = block.samples.time_us * 1e-6
        angle = (block.samples.count + 0.5) * 360 / COUNTS
        pressure = (block.samples.readings[:, 0] - 100.0) / 3900 * 20
        speed = 0.0
        if self.now is not None and time[-1] > self.now.time_s:
            speed = (angle[-1] - self.now.angle_deg) / (time[-1] - self.now.time_s)
        self.now = ToyNow(
            float(time[-1]),
            float(angle[-1]),
            float(speed),
            (float(pressure[-1]),),
            block.number,
            abs(speed) < 1.0,
        )
        self._rows.append(np.stack([time, angle, pressure]))
        self._look_for_pass()

    def _look_for_pass(self):
        rows = np.concatenate(self._rows, axis=1)
        start, end = rows[1][0], rows[1][-1]
        turn = np.ceil((start + 150 - self.firing_1) / 720)
        tdc = self.firing_1 + 720 * turn
        if end > tdc + 120 and start < tdc - 100:
            use = (rows[1] > tdc - 150) & (rows[1] < tdc + 120)
            time, angle, pressure = rows[:, use]
            item = ToyPass(time, angle, pressure, float(angle[np.argmax(pressure)]))
            self.passes = (*self.passes, item)[-self.KEEPS :]
            self._rows = [rows[:, rows[1] > tdc + 120]]
        elif end - start > 1500:
            self._rows = [rows[:, rows[1] > end - 700]]

    def adopt(self, judged):
        """Nothing that it found out is remembered."""

    def verdict(self, *, closing=False):
        if not self.passes:
            return Verdict(decided=False, reason=as_said("No compression yet: turn on."))
        tdc = Tdc(
            Interval(self.firing_1 % 360, self.firing_1 % 360 - 0.1, self.firing_1 % 360 + 0.1),
            1,
            "fit",
            len(self.passes),
        )
        if len(self.passes) < 2:
            return Verdict(
                decided=False,
                reason=as_said("One compression seen: turn on for one more."),
                tdc=tdc,
                probability=0.9,
            )
        return Verdict(
            decided=True,
            reason=as_said(f"{len(self.passes)} compressions agree, and nothing at overlap."),
            tdc=tdc,
            firing_deg=firing_tdcs(self.profile, self.firing_1),
            probability=0.99999,
        )


def toy_bytes(angles, rate_hz=2000.0, boot=1, size=20):
    """What a board that goes through these angles sends: a hello, then a chunk for each block."""
    segment = toy_segment(angles, rate_hz)
    encoder = FrameEncoder()
    board = replace(segment.board, boot=boot)
    period_us = round(1e6 / rate_hz)
    chunks = [encoder.encode(Hello(board))]
    for block in in_blocks(segment, size):
        s = block.samples
        frame = SampleBlock.pack(int(s.time_us[0]), period_us, s.count, s.readings)
        chunks.append(encoder.encode(frame))
    return chunks


@pytest.fixture
def toy():
    """The toys, as one namespace."""
    from types import SimpleNamespace

    return SimpleNamespace(
        profile=toy_profile,
        bytes=toy_bytes,
        segment=toy_segment,
        blocks=in_blocks,
        Tracker=ToyTracker,
        pressure=toy_pressure,
        firing_1=FIRING_1,
        counts=COUNTS,
    )
