"""What arrives at the host, when a cable loses, damages and invents bytes?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from strokewise.daq.bench.rig.rig import LinkRig

GARBAGE_MOST = 40  # bytes in one burst from nowhere
CHUNK_MOST = 4096  # what a recording's chunk holds at most


class BenchLink:
    """A cable with its faults; it may be fed piece by piece for ever.

    Parameters
    ----------
    rig : LinkRig
    rng : numpy.random.Generator
    """

    def __init__(self, rig: LinkRig, rng: np.random.Generator) -> None:
        self.rig = rig
        self._rng = rng
        self._joined = not rig.joins_mid_frame
        self._last_s: float | None = None

    def carry(self, messages: Iterable[tuple[float, bytes]]) -> Iterator[tuple[float, bytes]]:
        """Yield (time_s, bytes) as they arrive, for messages sent at rising times.

        The bytes of one message may arrive damaged, or not at all; between two messages there may
        be garbage.
        """
        for sent_s, message in messages:
            garbage = self._garbage(sent_s)
            if garbage:
                yield sent_s, garbage
            if self._rng.random() < self.rig.lost_frames:
                continue
            arrived = self._damaged(message)
            if not self._joined:
                self._joined = True
                arrived = arrived[int(self._rng.integers(1, max(2, len(arrived)))) :]
            yield sent_s, arrived

    def _garbage(self, now_s: float) -> bytes:
        passed_s = 0.0 if self._last_s is None else max(0.0, now_s - self._last_s)
        self._last_s = now_s
        bursts = self._rng.poisson(self.rig.garbage_per_s * passed_s)
        lengths = self._rng.integers(1, GARBAGE_MOST + 1, bursts)
        return b"".join(self._rng.bytes(int(length)) for length in lengths)

    def _damaged(self, message: bytes) -> bytes:
        if self.rig.damaged_bytes == 0:
            return message
        out = np.frombuffer(message, np.uint8).copy()
        hit = np.flatnonzero(self._rng.random(len(out)) < self.rig.damaged_bytes)
        out[hit] ^= (1 << self._rng.integers(0, 8, len(hit))).astype(np.uint8)
        return out.tobytes()


def bundle(
    arrivals: Iterable[tuple[float, bytes]], latency_s: float
) -> Iterator[tuple[float, bytes]]:
    """Yield (host_time_s, bytes) as the host's driver hands them over, one bundle each latency.

    Bundles end where the time is up, not where a frame ends: one in two is cut in a frame.
    """
    waiting = bytearray()
    due_s: float | None = None
    for index, (sent_s, data) in enumerate(arrivals):
        if due_s is None:
            due_s = sent_s + latency_s
        if sent_s < due_s:
            waiting += data
            continue
        under_way = index % 2 and sent_s < due_s + latency_s  # half of it has arrived already
        cut = len(data) // 2 if under_way else 0
        waiting += data[:cut]
        yield from _chunks(due_s, waiting)
        waiting = bytearray(data[cut:])
        due_s += latency_s * (1 + int((sent_s - due_s) / latency_s))
    if waiting and due_s is not None:
        yield from _chunks(due_s, waiting)


def _chunks(when_s: float, data: bytearray) -> Iterator[tuple[float, bytes]]:
    for begin in range(0, len(data), CHUNK_MOST):
        yield when_s, bytes(data[begin : begin + CHUNK_MOST])
