"""A cylinder made of Cantera's own parts, whose TDC is known exactly, and a rig that looks at it.

It knows nothing of the bench engine nor of the fit's model: an ideal-gas reactor of oxygen and
nitrogen with a wall that moves as a slider-crank without pin offset does (Heywood, Internal
Combustion Engine Fundamentals, ch. 2, from memory), a heat flux through its walls, and valves to
the atmosphere that pass what an orifice does (Heywood, app. C, eq. C.8 and C.9, from memory): the
rings' leak, and, where it breathes, one inlet and one exhaust. What is seen of it goes through a
first-order sensor, a converter and an encoder, and reaches the tests as the bytes of a board.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import cos, exp, pi, radians, sin, sqrt

import cantera
import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.signal import lfilter

from strokewise.analysis.profile import Atmosphere, Encoder, Profile, Sensor
from strokewise.analysis.samples import Board, Recording
from strokewise.analysis.verdict.find import find
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.recording.container import Chunk
from strokewise.daq.wire.encoder import FrameEncoder as Frames
from strokewise.daq.wire.frames import Hello, SampleBlock
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

BORE_M, CRANK_M, ROD_M = 0.086, 0.043, 0.146
PISTON_M2 = pi / 4 * BORE_M**2
AIR_PA, AIR_K = 1e5, 293.15
SPECIES = [s for s in cantera.Species.list_from_file("nasa_gas.yaml") if s.name in ("O2", "N2")]

EXHAUST_DEG, INLET_DEG = (134.0, 374.0), (348.0, 588.0)  # open from, to, after the firing TDC
EXHAUST_M2, INLET_M2 = 3e-4, 4e-4  # effective, fully open

CREEPING_PA = 20.0

COUNTS, BITS, FULL_BAR = 2400, 12, 25.0
RATE_HZ = 1000
NOISE_BAR = 0.008
BLOCK = 50  # samples in a frame

HeatLaw = Callable[[float, float, float, float], float]
"""W/(m² K) from pressure (Pa), temperature (K), volume (m³) and the piston's speed (m/s)."""


def air() -> cantera.Solution:
    gas = cantera.Solution(thermo="ideal-gas", species=SPECIES)
    gas.TPX = AIR_K, AIR_PA, "O2:0.21, N2:0.79"
    return gas


GAS_CONSTANT = cantera.gas_constant / air().mean_molecular_weight


def travel_m(angle: float) -> float:
    return CRANK_M + ROD_M - CRANK_M * cos(angle) - sqrt(ROD_M**2 - (CRANK_M * sin(angle)) ** 2)


def travel_rate_m(angle: float) -> float:
    slant = CRANK_M * cos(angle) / sqrt(ROD_M**2 - (CRANK_M * sin(angle)) ** 2)
    return CRANK_M * sin(angle) * (1.0 + slant)


def flow_per_m2(up_pa: float, up_k: float, down_pa: float, gamma: float) -> float:
    """Heywood C.8 (subcritical) and C.9 (choked), kg/(m² s).

    Below ``CREEPING_PA`` it falls off like creeping flow: the bare root has an infinite slope at
    equal pressures, between which an open valve would have the integrator hop for ever.
    """
    ratio = down_pa / up_pa
    front = up_pa / sqrt(GAS_CONSTANT * up_k)
    front *= sqrt((up_pa - down_pa) / (up_pa - down_pa + CREEPING_PA))
    if ratio <= (2 / (gamma + 1)) ** (gamma / (gamma - 1)):
        return front * sqrt(gamma) * (2 / (gamma + 1)) ** ((gamma + 1) / (2 * (gamma - 1)))
    bracket = 2 * gamma / (gamma - 1) * (1 - ratio ** ((gamma - 1) / gamma))
    return front * ratio ** (1 / gamma) * sqrt(max(bracket, 0.0))


def lobe(after_deg: float, opens_closes: tuple[float, float], most_m2: float) -> float:
    """A valve's area: a squared sine from opening to closing, once in two turns."""
    share = (after_deg - opens_closes[0]) % 720.0 / (opens_closes[1] - opens_closes[0])
    return most_m2 * sin(pi * share) ** 2 if share < 1.0 else 0.0


@dataclass(frozen=True)
class Motion:
    """The crank's angle after a firing TDC (degrees) and its speed (degrees/s) at any time (s)."""

    angle: Callable[[float], float]
    speed: Callable[[float], float]
    lasts_s: float


@dataclass(frozen=True)
class Reactor:
    """The cylinder. ``burn_j`` is released at every firing TDC, by Wiebe's law."""

    heat: HeatLaw
    ratio: float = 9.5
    leak_mm2: float = 0.3
    wall_k: float = 298.0
    breathes: bool = True
    burn_j: float = 0.0

    @property
    def clearance_m3(self) -> float:
        return PISTON_M2 * 2 * CRANK_M / (self.ratio - 1)

    def pressure_bar(self, motion: Motion, times_s: np.ndarray) -> np.ndarray:
        """Return the gas's pressure at the times; the first of them begins it, at 1 bar, 20 °C."""
        gas, around = air(), air()
        cylinder = cantera.IdealGasReactor(gas, clone=False)
        start = radians(motion.angle(float(times_s[0])))
        cylinder.volume = self.clearance_m3 + PISTON_M2 * travel_m(start)
        cylinder.chemistry_enabled = False
        outside = cantera.Reservoir(around, clone=False)
        begin = float(times_s[0])
        parts = self._parts(motion, begin, cylinder, outside, gas)  # held while the network runs
        net = cantera.ReactorNet([cylinder])
        net.rtol, net.atol = 1e-9, 1e-15
        net.max_time_step = 1.0 / max(abs(motion.speed(float(t))) for t in times_s)  # one degree
        pressures = [gas.P]
        for time_s in times_s[1:]:
            net.advance(float(time_s) - begin)
            pressures.append(gas.P)
        assert len(parts) == 3
        return np.array(pressures) * 1e-5

    def _parts(
        self,
        motion: Motion,
        begin: float,
        cylinder: cantera.IdealGasReactor,
        outside: cantera.Reservoir,
        gas: cantera.Solution,
    ) -> tuple[cantera.Wall, cantera.Valve, cantera.Valve]:
        def heat_w(time: float) -> float:  # through a wall of 1 m²: the true area is in here
            time += begin
            volume = self.clearance_m3 + PISTON_M2 * travel_m(radians(motion.angle(time)))
            piston_m_s = abs(motion.speed(time)) / 180.0 * 2 * CRANK_M
            coefficient = self.heat(gas.P, gas.T, volume, piston_m_s)
            area = 2 * PISTON_M2 + 4 * volume / BORE_M
            burning = self.burn_j * wiebe_per_deg(motion.angle(time)) * motion.speed(time)
            return coefficient * area * (gas.T - self.wall_k) - burning

        def open_m2(time: float) -> float:
            after = motion.angle(time + begin) % 720.0
            rings = self.leak_mm2 * 1e-6
            if not self.breathes:
                return rings
            valves = lobe(after, EXHAUST_DEG, EXHAUST_M2) + lobe(after, INLET_DEG, INLET_M2)
            return rings + valves

        def out_per_m2(rise_pa: float) -> float:
            gamma = gas.cp / gas.cv
            return flow_per_m2(AIR_PA + rise_pa, gas.T, AIR_PA, gamma) if rise_pa > 0 else 0.0

        def in_per_m2(rise_pa: float) -> float:
            return flow_per_m2(AIR_PA, AIR_K, AIR_PA - rise_pa, 1.4) if rise_pa > 0 else 0.0

        piston = cantera.Wall(cylinder, outside, A=1.0)
        piston.velocity = lambda time: (
            PISTON_M2
            * travel_rate_m(radians(motion.angle(time + begin)))
            * radians(motion.speed(time + begin))
        )
        piston.heat_flux = heat_w
        valves = []
        for where, per_m2 in (
            ((cylinder, outside), out_per_m2),
            ((outside, cylinder), in_per_m2),
        ):
            valve = cantera.Valve(*where)
            valve.valve_coeff, valve.time_function, valve.pressure_function = 1.0, open_m2, per_m2
            valves.append(valve)
        return piston, valves[0], valves[1]


def wiebe_per_deg(after_deg: float, begins_deg: float = -5.0, lasts_deg: float = 45.0) -> float:
    """Share burned for each degree: 1 - exp(-5 x³), Heywood, ch. 9 (Wiebe, from memory)."""
    share = ((after_deg - begins_deg) % 720.0) / lasts_deg
    return 15.0 * share**2 * exp(-5.0 * share**3) / lasts_deg if share < 1.5 else 0.0


def hohenberg(pa: float, kelvin: float, m3: float, piston_m_s: float) -> float:
    """SAE 790825 (from memory)."""
    return 130 * m3**-0.06 * (pa * 1e-5) ** 0.8 * kelvin**-0.4 * (piston_m_s + 1.4) ** 0.8


def woschni(pa: float, kelvin: float, m3: float, piston_m_s: float) -> float:
    """Motored, valves shut: Heywood, ch. 12 (from memory)."""
    gas_m_s = 2.28 * max(piston_m_s, 1e-6)
    return 3.26 * BORE_M**-0.2 * (pa * 1e-3) ** 0.8 * kelvin**-0.55 * gas_m_s**0.8


def constant(w_m2k: float) -> HeatLaw:
    return lambda pa, kelvin, m3, piston_m_s: w_m2k


def wavering(rpm: float, share: float, per_turn: int, from_deg: float, to_deg: float) -> Motion:
    """One way, the speed wavering by a share so many times a turn, slowest at TDC."""
    mean = 6.0 * rpm
    swing = np.degrees(share) / per_turn

    def even(time: float) -> float:
        return from_deg + mean * time

    return Motion(
        lambda t: even(t) - swing * sin(radians(per_turn * even(t))),
        lambda t: mean * (1.0 - share * cos(radians(per_turn * even(t)))),
        (to_deg - from_deg) / mean,
    )


def rocking(amplitude_deg: float, period_s: float, swings: int) -> Motion:
    """Back and forth through one compression, from a standstill before it."""
    at = 2 * pi / period_s
    return Motion(
        lambda t: -amplitude_deg * cos(at * t),
        lambda t: amplitude_deg * at * sin(at * t),
        swings * period_s / 2,
    )


@dataclass(frozen=True)
class Rig:
    """A sensor in the plug hole, and an encoder whose zero lies ``clamp_deg`` before firing TDC."""

    clamp_deg: float = 81.37
    lag_s: float = 0.4e-3
    seed: int = 1

    @property
    def profile(self) -> Profile:
        """What a careful person would state of it: all true."""
        full = float(2**BITS - 1)
        return Profile(
            cylinders=4,
            firing_order=(1, 3, 4, 2),
            firing_intervals_deg=(180.0,) * 4,
            compression_ratio=9.5,
            bore_mm=1e3 * BORE_M,
            stroke_mm=2e3 * CRANK_M,
            rod_length_mm=1e3 * ROD_M,
            atmosphere=Atmosphere(AIR_PA * 1e-5, AIR_K - 273.15),
            encoder=Encoder(COUNTS),
            sensors=(
                Sensor(
                    cylinder=1,
                    reference="absolute",
                    response_time_s=self.lag_s,
                    points=((0.0, 0.0), (full, FULL_BAR)),
                ),
            ),
        )

    def recording(self, reactor: Reactor, motion: Motion) -> Recording:
        """Turn the crank and return what the ordinary decoder makes of the board's bytes."""
        times_s = np.arange(round(motion.lasts_s * RATE_HZ)) / RATE_HZ
        bar = through_lag(times_s, reactor.pressure_bar(motion, times_s), self.lag_s)
        bar = bar + np.random.default_rng(self.seed).normal(0.0, NOISE_BAR, bar.size)
        readings = np.clip(np.round(bar / FULL_BAR * (2**BITS - 1)), 0, 2**BITS - 1)
        angles = np.array([motion.angle(float(t)) for t in times_s])
        counts = np.floor((angles + self.clamp_deg) / 360.0 * COUNTS)
        return decoded(counts.astype(np.int64), readings.astype(np.int64))


def through_lag(times_s: np.ndarray, bar: np.ndarray, lag_s: float, finer: int = 20) -> np.ndarray:
    """Pass pressure through a first-order lag, in steps far finer than the samples'."""
    fine_s = np.linspace(times_s[0], times_s[-1], finer * (times_s.size - 1) + 1)
    keep = exp(-(fine_s[1] - fine_s[0]) / lag_s)
    fine = CubicSpline(times_s, bar)(fine_s)
    # Between two steps a straight line's middle drives the lag.
    driven = np.concatenate([[0.0], 0.5 * (fine[1:] + fine[:-1]) - fine[0]])
    return (fine[0] + lfilter([1.0 - keep], [1.0, -keep], driven))[::finer]


def decoded(counts: np.ndarray, readings: np.ndarray) -> Recording:
    """Send samples as a board's frames and decode them the ordinary way."""
    frames, step_us = Frames(), 1_000_000 // RATE_HZ
    sent = [frames.encode(Hello(Board("reactor", COUNTS, BITS, ("plug",), 1)))]
    for at in range(0, counts.size, BLOCK):
        block = slice(at, at + BLOCK)
        packed = SampleBlock.pack(at * step_us, step_us, counts[block], readings[block])
        sent.append(frames.encode(packed))
    intake = Intake()
    blocks = intake.feed([Chunk(0, b"".join(sent))]) + intake.finish()
    return Recording(join(blocks), intake.health)


HEAT_LAWS: dict[str, HeatLaw] = {
    "hohenberg": hohenberg,
    "woschni": woschni,
    "constant": constant(40.0),
}

MOTIONS: dict[str, Motion] = {
    "starter": wavering(190.0, 0.12, 2, -200.0, 1640.0),
    "rocked": rocking(85.0, 5.0, 4),
    "by hand": wavering(20.0, 0.3, 2, -200.0, 1640.0),
}


@dataclass(frozen=True)
class Turned:
    """What ``find`` says of a reactor, and where its TDC truly is."""

    tdc_deg: float
    verdict: Verdict

    @property
    def off_deg(self) -> float:
        """How much too late TDC was found."""
        assert self.verdict.tdc is not None
        return (self.verdict.tdc.angle_deg.value - self.tdc_deg + 180.0) % 360.0 - 180.0

    @property
    def half_width_deg(self) -> float:
        assert self.verdict.tdc is not None
        return self.verdict.tdc.angle_deg.half_width


@cache
def _found(motion: str, law: str) -> Turned:
    rig = Rig()
    recording = rig.recording(Reactor(HEAT_LAWS[law]), MOTIONS[motion])
    return Turned(rig.clamp_deg, find(recording, rig.profile))


@pytest.fixture(scope="session")
def found() -> Callable[[str, str], Turned]:
    """Return the answer for a way of turning and a law of heat loss; each is found only once."""
    return _found


@pytest.fixture(scope="session")
def reactor() -> type[Reactor]:
    return Reactor


@pytest.fixture(scope="session")
def rig() -> type[Rig]:
    return Rig


@pytest.fixture(scope="session")
def motion() -> type[Motion]:
    return Motion


@pytest.fixture(scope="session")
def one_way() -> Callable[..., Motion]:
    """Return :func:`wavering`."""
    return wavering


@pytest.fixture(scope="session")
def heat_laws() -> dict[str, HeatLaw]:
    return HEAT_LAWS


@pytest.fixture(scope="session")
def constant_law() -> Callable[[float], HeatLaw]:
    """Return :func:`constant`."""
    return constant


@pytest.fixture(scope="session")
def sensed() -> Callable[..., np.ndarray]:
    """Return :func:`through_lag`."""
    return through_lag
