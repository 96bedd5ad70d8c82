"""Where does the crank go when a hand, a recording or a starter turns it?

A motion is angle and speed over time. A hand's is prescribed from start to end (smooth in speed);
a starter's or a run-down's only begins here and is then left to torque and inertia.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import assert_never

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from strokewise.analysis.errors import InputError
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    Held,
    RecordedTurning,
    RockedTurning,
    RunDown,
    Spanner,
    Starter,
    Turning,
)

Floats = NDArray[np.float64]

_KNOTS_PER_MOVE = 64
#: Stillness before the first and after the last move, so that a recording shows where it began.
_LEAD_S = 0.2
#: A hand lets a crank come back within about this time.
_BACK_ROLL_S = 0.15
_LEAST_MOVE_S = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class TurningMotion:
    """Crank angle over time, as far as it is given.

    Attributes
    ----------
    duration_s : float
    angle_deg, speed_deg_s : functions of time_s (array)
        Valid from 0 to ``prescribed_s``.
    prescribed_s : float
        From here on torque drives the crank; ``duration_s`` where it never does.
    """

    duration_s: float
    angle_deg: Callable[[Floats], Floats]
    speed_deg_s: Callable[[Floats], Floats]
    prescribed_s: float


@dataclass(slots=True)
class _Path:
    """Knots of a motion that grows move by move."""

    angle_deg: float
    times: list[float] = field(default_factory=lambda: [0.0])
    angles: list[float] = field(default_factory=list)
    speeds: list[float] = field(default_factory=lambda: [0.0])

    def __post_init__(self) -> None:
        self.angles.append(self.angle_deg)

    def rest(self, duration_s: float) -> None:
        """Stand still."""
        if duration_s > 0.0:
            self.times.append(self.times[-1] + duration_s)
            self.angles.append(self.angles[-1])
            self.speeds.append(0.0)

    def move(
        self, by_deg: float, duration_s: float, jerk: float, draw: np.random.Generator
    ) -> None:
        """Move from rest to rest; ``jerk`` makes the pull uneven."""
        share = np.linspace(0.0, 1.0, _KNOTS_PER_MOVE + 1)
        pull = (share * (1.0 - share)) ** 2
        waves = np.arange(1, 5)
        phases = draw.uniform(0.0, 2.0 * np.pi, waves.size)
        weights = draw.uniform(0.0, 1.0, waves.size)
        uneven = np.sin(2.0 * np.pi * np.outer(share, waves) + phases) @ weights / weights.sum()
        pull *= 1.0 + jerk * uneven
        went = np.concatenate([[0.0], np.cumsum(0.5 * (pull[1:] + pull[:-1]) * np.diff(share))])
        begin_s, begin_deg = self.times[-1], self.angles[-1]
        self.times.extend(begin_s + duration_s * share[1:])
        self.angles.extend(begin_deg + by_deg * went[1:] / went[-1])
        self.speeds.extend(by_deg * pull[1:] / went[-1] / duration_s)

    def motion(self) -> TurningMotion:
        """Join the knots, smooth in speed."""
        curve = CubicHermiteSpline(self.times, self.angles, self.speeds)
        return TurningMotion(self.times[-1], curve, curve.derivative(), self.times[-1])


def motion_of(engine: BenchEngine, turning: Turning, seed: int) -> TurningMotion:
    """Return the motion of a turning; the same seed gives the same motion."""
    draw = np.random.default_rng([seed, 0x7475726E])
    match turning:
        case Starter():
            at_deg = _start_deg(turning.start_deg, engine, draw)
            return _from_speed(at_deg, 0.0, turning.duration_s + turning.run_down_s)
        case RunDown():
            at_deg = _start_deg(turning.start_deg, engine, draw)
            return _from_speed(at_deg, turning.start_rpm * DEG_S_PER_RPM, turning.duration_s)
        case Held():
            return _held(turning, engine, _start_deg(turning.start_deg, engine, draw))
        case Spanner():
            return _spanner(turning, _start_deg(turning.start_deg, engine, draw), draw)
        case RockedTurning():
            return _rocking(turning, engine.firing_deg(turning.cylinder), draw)
        case RecordedTurning():
            return _recorded(turning)
        case _:
            assert_never(turning)


def drive_of(turning: Turning) -> tuple[Floats, Floats]:
    """Return the starter's settings and torque curve as the kernel takes them."""
    if not isinstance(turning, Starter):
        return np.array([0.0, 0.0, 1.0, 1.0, 0.0]), np.array([[0.0, 1.0], [0.0, 0.0]])
    curve = np.array(turning.torque_curve, dtype=np.float64).T.copy()
    if curve.shape[0] != 2 or curve.shape[1] < 2 or np.any(np.diff(curve[0]) <= 0.0):
        raise InputError(
            f"torque_curve {turning.torque_curve} must be two or more (rpm, N m) pairs with "
            "speeds rising, like ((0, 180), (320, 0))"
        )
    curve[0] *= 2.0 * np.pi / 60.0
    engage_s = max(turning.engage_s, 1e-3)
    settings = [0.0, turning.duration_s, engage_s, turning.battery, turning.sag_per_s]
    return np.array(settings), curve


def _start_deg(given: float | None, engine: BenchEngine, draw: np.random.Generator) -> float:
    drawn = float(draw.uniform(0.0, engine.cycle_deg))
    return drawn if given is None else given


def _from_speed(at_deg: float, speed_deg_s: float, duration_s: float) -> TurningMotion:
    def angle(time_s: ArrayLike) -> Floats:
        return at_deg + speed_deg_s * np.asarray(time_s, dtype=np.float64)

    def speed(time_s: ArrayLike) -> Floats:
        return np.full(np.shape(time_s), speed_deg_s)

    return TurningMotion(duration_s, angle, speed, 0.0)


def _held(turning: Held, engine: BenchEngine, at_deg: float) -> TurningMotion:
    """Turn at a speed that ripples with the firing: slowest at firing TDC of cylinder 1."""
    speed_deg_s = turning.rpm * DEG_S_PER_RPM
    waves = engine.cylinders * 360.0 / engine.cycle_deg  # ripples in a turn
    swing_deg = turning.ripple * np.degrees(1.0) / waves

    def phase(time_s: ArrayLike) -> Floats:
        even_deg = at_deg + speed_deg_s * np.asarray(time_s, dtype=np.float64)
        return np.radians(waves * even_deg)

    def angle(time_s: ArrayLike) -> Floats:
        even_deg = at_deg + speed_deg_s * np.asarray(time_s, dtype=np.float64)
        return np.asarray(even_deg - swing_deg * np.sin(phase(time_s)))

    def speed(time_s: ArrayLike) -> Floats:
        return np.asarray(speed_deg_s * (1.0 - turning.ripple * np.cos(phase(time_s))))

    return TurningMotion(turning.held_s + turning.run_down_s, angle, speed, turning.held_s)


def _swing_s(by_deg: float, rpm: tuple[float, float], draw: np.random.Generator) -> float:
    mean_rpm = float(draw.uniform(*rpm))
    if mean_rpm <= 0.0:
        raise InputError(f"rpm {rpm} must be above 0: turn backwards with a negative total_deg")
    return max(_LEAST_MOVE_S, abs(by_deg) / (mean_rpm * DEG_S_PER_RPM))


def _spanner(turning: Spanner, at_deg: float, draw: np.random.Generator) -> TurningMotion:
    if min(turning.swing_deg) <= max(turning.back_roll_deg):
        raise InputError(
            f"swing_deg {turning.swing_deg} must be longer than back_roll_deg "
            f"{turning.back_roll_deg}, or the crank gets nowhere"
        )
    way = 1.0 if turning.total_deg >= 0.0 else -1.0
    goal = abs(turning.total_deg)
    path = _Path(at_deg)
    path.rest(_LEAD_S)
    gone = 0.0
    while gone < goal - 1e-6:
        by = min(float(draw.uniform(*turning.swing_deg)), goal - gone)
        path.move(way * by, _swing_s(by, turning.rpm, draw), turning.jerk, draw)
        gone += by
        if gone >= goal - 1e-6:
            break
        pause_s = float(draw.uniform(*turning.pause_s))
        back = float(draw.uniform(*turning.back_roll_deg))
        if back > 0.0:
            path.move(-way * back, _BACK_ROLL_S, 0.0, draw)
            gone -= back
        path.rest(pause_s)
    path.rest(_LEAD_S)
    return path.motion()


def _rocking(turning: RockedTurning, tdc_deg: float, draw: np.random.Generator) -> TurningMotion:
    way = 1.0 if turning.first == "forwards" else -1.0

    def turning_point(side: float) -> float:
        spread = float(draw.uniform(-turning.spread_deg, turning.spread_deg))
        return tdc_deg + side * (turning.amplitude_deg + spread)

    path = _Path(turning_point(-way))
    path.rest(_LEAD_S)
    for _ in range(turning.swings):
        by = turning_point(way) - path.angles[-1]
        path.move(by, _swing_s(by, turning.rpm, draw), turning.jerk, draw)
        path.rest(float(draw.uniform(*turning.pause_s)))
        way = -way
    path.rest(_LEAD_S)
    return path.motion()


def _recorded(turning: RecordedTurning) -> TurningMotion:
    times = np.asarray(turning.time_s, dtype=np.float64)
    angles = np.asarray(turning.crank_deg, dtype=np.float64)
    if times.size < 2 or times.shape != angles.shape or np.any(np.diff(times) <= 0.0):
        raise InputError(
            f"a recorded motion needs as many angles ({angles.size}) as times ({times.size}), "
            "two or more, with times rising"
        )
    curve = PchipInterpolator(times - times[0], angles)
    duration_s = float(times[-1] - times[0])
    return TurningMotion(duration_s, curve, curve.derivative(), duration_s)
