"""What engine stands on the bench, and how is its crank turned?

Frozen values only, units in the names; the physics reads them and never changes them. Defaults are
an invented two-litre four of no maker. Angles are crank degrees; a shift is positive when later in
the engine's own direction of turning.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isclose
from typing import Literal

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Atmosphere, CycleName, ValveTiming, even_intervals_deg
from strokewise.daq.bench.engine.burn import Combustion

ValveSide = Literal["intake", "exhaust"]
Correlation = Literal["hohenberg", "woschni", "annand", "constant", "none"]


@dataclass(frozen=True, slots=True)
class ValveSet:
    """The valve of one side of a cylinder (several valves: one of the same throat area).

    Attributes
    ----------
    diameter_mm, lift_mm : float
        Head diameter, and the highest valve lift at the nominal clearance (0: never opens).
    clearance_mm : float
        Nominal clearance, the one that the timing figures belong to.
    discharge : float
        Discharge coefficient on the smaller of curtain and throat area.
    leak_area_mm2 : float
        Effective leak area of a shut valve, every cylinder.
    """

    diameter_mm: float
    lift_mm: float
    clearance_mm: float
    discharge: float = 0.65
    leak_area_mm2: float = 0.0

    def __post_init__(self) -> None:
        if self.diameter_mm <= 0.0 or self.lift_mm < 0.0 or self.clearance_mm < 0.0:
            raise InputError(
                f"a valve of {self.diameter_mm:g} mm with {self.lift_mm:g} mm lift and "
                f"{self.clearance_mm:g} mm clearance cannot be: give sizes above 0"
            )


@dataclass(frozen=True, slots=True)
class ValveFault:
    """One valve that differs from its set; what stays None is as the set has it.

    ``clearance_mm`` may be negative: the valve then never shuts.
    """

    cylinder: int
    side: ValveSide
    clearance_mm: float | None = None
    leak_area_mm2: float | None = None


@dataclass(frozen=True, slots=True)
class TwoStrokePorts:
    """Piston-controlled ports of a two-stroke: rectangular windows that the piston uncovers.

    The transfer ports are fed from the plenum (a blower or a still crankcase); the pumping of the
    crankcase below the piston is left out.
    """

    exhaust_opens_atdc_deg: float = 98.0
    transfer_opens_atdc_deg: float = 118.0
    exhaust_width_mm: float = 40.0
    transfer_width_mm: float = 60.0
    discharge: float = 0.7


@dataclass(frozen=True, slots=True)
class HeatTransfer:
    """How the gas gives heat to the walls.

    Attributes
    ----------
    correlation : str
        ``"hohenberg"``, ``"woschni"``, ``"annand"``, ``"constant"`` (``constant_w_m2k``) or
        ``"none"``; see :mod:`strokewise.daq.bench.engine.heat`.
    scale : float
        Multiplies the correlation.
    still_gas : bool
        Add free convection and conduction of gas at rest, which rule at hand speed.
    wall_temperature_c : float
        Of head and piston crown; 20 to 40 of a cold engine, some 100 to 200 of one that ran.
    liner_temperature_c : float or None
        Of the liner; None: as head and piston.
    """

    correlation: Correlation = "hohenberg"
    scale: float = 1.0
    constant_w_m2k: float = 0.0
    still_gas: bool = True
    wall_temperature_c: float = 25.0
    liner_temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class CompressionRelease:
    """A valve that lets compression go while starting: a lobe beside the cam, or a decompressor.

    Attributes
    ----------
    area_mm2 : float
        Effective area in the middle of its opening, to the atmosphere; 0: none fitted. It opens
        where compression begins, at 180° before the firing TDC.
    closes_btdc_deg : float
        Where it is shut again.
    below_rpm : float
        Faster than this flyweights keep it shut.
    """

    area_mm2: float = 0.0
    closes_btdc_deg: float = 70.0
    below_rpm: float = 100_000.0

    def __post_init__(self) -> None:
        if self.area_mm2 < 0.0 or not -90.0 <= self.closes_btdc_deg < 180.0:
            raise InputError(
                f"a compression release of {self.area_mm2:g} mm² that closes "
                f"{self.closes_btdc_deg:g}° before TDC cannot be: give an area of 0 or more, and "
                "an angle from -90° to below 180°"
            )


@dataclass(frozen=True, slots=True)
class BenchEngine:
    """The engine on the bench.

    Attributes
    ----------
    compression_ratio : float
        Of the engine itself, plug in; ``adaptor_volume_cm3`` is added to the clearance volume of
        ``adaptor_cylinder`` (None: no adaptor fitted).
    ring_leak_mm2, plugs_out
        ``ring_leak_mm2``: effective leak area past the rings, one for all or one a cylinder.
        ``plugs_out``: cylinders with an open plug hole of ``plug_hole_mm2`` effective area.
    intake_shift_deg, exhaust_shift_deg : float
        Cam late (+) or early (-), crank degrees; 360 is half a turn of the cam.
    inertia_kg_m2, reciprocating_mass_kg : float
        Of crank, flywheel and starter seen at the crank; of one piston with its share of the rod.
    friction_nm, viscous_nm_s : float
        Dry friction torque, and the part that grows with speed (per rad/s).
    throttle_area_mm2 : float
        Effective throttle area from the atmosphere to the plenum.
    """

    cylinders: int = 4
    firing_order: tuple[int, ...] = (1, 3, 4, 2)
    firing_intervals_deg: tuple[float, ...] | None = None
    cycle: CycleName = "four-stroke"
    bore_mm: float = 86.0
    stroke_mm: float = 86.0
    rod_length_mm: float = 146.0
    pin_offset_mm: float = 0.0
    compression_ratio: float = 9.0
    adaptor_volume_cm3: float = 3.0
    adaptor_cylinder: int | None = 1
    valve_timing: ValveTiming = field(default_factory=lambda: ValveTiming(12.0, 48.0, 46.0, 14.0))
    intake: ValveSet = field(default_factory=lambda: ValveSet(40.0, 9.0, 0.30))
    exhaust: ValveSet = field(default_factory=lambda: ValveSet(34.0, 9.0, 0.35))
    valve_faults: tuple[ValveFault, ...] = ()
    intake_shift_deg: float = 0.0
    exhaust_shift_deg: float = 0.0
    ports: TwoStrokePorts = field(default_factory=TwoStrokePorts)
    ring_leak_mm2: float | tuple[float, ...] = 0.4
    plugs_out: tuple[int, ...] = ()
    plug_hole_mm2: float = 90.0
    heat: HeatTransfer = field(default_factory=HeatTransfer)
    release: CompressionRelease = field(default_factory=CompressionRelease)
    combustion: Combustion = field(default_factory=Combustion)
    throttle_area_mm2: float = 120.0
    plenum_volume_cm3: float = 2500.0
    inertia_kg_m2: float = 0.18
    reciprocating_mass_kg: float = 0.5
    friction_nm: float = 28.0
    viscous_nm_s: float = 0.35
    atmosphere: Atmosphere = field(default_factory=Atmosphere)

    def __post_init__(self) -> None:
        if sorted(self.firing_order) != list(range(1, self.cylinders + 1)):
            raise InputError(
                f"firing_order {self.firing_order} must name each of the {self.cylinders} "
                "cylinders once: correct the order or the number of cylinders"
            )
        intervals = self.intervals_deg
        if len(intervals) != self.cylinders or not isclose(sum(intervals), self.cycle_deg):
            raise InputError(
                f"firing_intervals_deg {intervals} must be {self.cylinders} angles that sum to "
                f"{self.cycle_deg:g}: give the interval from each cylinder to the next"
            )
        if self.compression_ratio <= 1.0:
            raise InputError(
                f"compression_ratio {self.compression_ratio:g} must be above 1, like 9.0"
            )
        if self.rod_length_mm <= self.stroke_mm / 2 + abs(self.pin_offset_mm):
            raise InputError(
                f"rod_length_mm {self.rod_length_mm:g} is too short for a stroke of "
                f"{self.stroke_mm:g} mm: give the length between the rod's bearing centres"
            )
        if len(self.ring_leaks_mm2) != self.cylinders:
            raise InputError(
                f"ring_leak_mm2 has {len(self.ring_leaks_mm2)} values: give one, or one for each "
                f"of the {self.cylinders} cylinders"
            )
        for valve in (self.intake, self.exhaust):
            if 0.0 < valve.lift_mm <= self.valve_timing.at_lift_mm:
                raise InputError(
                    f"valve timing at {self.valve_timing.at_lift_mm:g} mm needs a valve that "
                    f"lifts higher than its {valve.lift_mm:g} mm: give lift_mm in millimetres"
                )
        named = [fault.cylinder for fault in self.valve_faults] + list(self.plugs_out)
        named += [] if self.adaptor_cylinder is None else [self.adaptor_cylinder]
        for cylinder in named:
            if not 1 <= cylinder <= self.cylinders:
                raise InputError(
                    f"there is no cylinder {cylinder}: name one of 1 to {self.cylinders}"
                )

    @property
    def cycle_deg(self) -> float:
        """Crank degrees of one working cycle."""
        return 720.0 if self.cycle == "four-stroke" else 360.0

    @property
    def intervals_deg(self) -> tuple[float, ...]:
        """Firing intervals in firing order; even unless given."""
        if self.firing_intervals_deg is not None:
            return self.firing_intervals_deg
        return even_intervals_deg(self.cylinders, self.cycle_deg)

    @property
    def ring_leaks_mm2(self) -> tuple[float, ...]:
        """Ring leak area of each cylinder, cylinder 1 first."""
        if isinstance(self.ring_leak_mm2, tuple):
            return self.ring_leak_mm2
        return (self.ring_leak_mm2,) * self.cylinders

    def firing_deg(self, cylinder: int) -> float:
        """Crank angle at which ``cylinder`` stands at its firing TDC, in [0, cycle_deg)."""
        first, place = self.firing_order.index(1), self.firing_order.index(cylinder)
        intervals = self.intervals_deg
        steps = [intervals[i % self.cylinders] for i in range(first, first + self.cylinders)]
        return float(sum(steps[: (place - first) % self.cylinders])) % self.cycle_deg


@dataclass(frozen=True, slots=True)
class Starter:
    """Cranked by the starter, then released to run down (torque-driven).

    Attributes
    ----------
    torque_curve : tuple of (rpm, N m)
        Starter torque at the crank with a full battery, speeds rising; an overrunning clutch keeps
        it from ever braking.
    battery : float
        Voltage as a share of a full battery; scales torque and free speed. ``sag_per_s`` is the
        share that it loses each second.
    duration_s, run_down_s : float
        Time with the starter engaged, and time recorded after its release.
    start_deg : float or None
        Crank angle at rest; None draws one from the seed.
    """

    duration_s: float = 3.0
    run_down_s: float = 0.0
    torque_curve: tuple[tuple[float, float], ...] = ((0.0, 180.0), (320.0, 0.0))
    battery: float = 1.0
    sag_per_s: float = 0.01
    engage_s: float = 0.06
    start_deg: float | None = None


@dataclass(frozen=True, slots=True)
class RunDown:
    """The ignition is switched off at ``start_rpm`` and the engine runs down (torque-driven)."""

    start_rpm: float = 850.0
    duration_s: float = 3.0
    start_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Held:
    """Held at a speed by a brake or its governor (prescribed), then let run down (torque-driven).

    Attributes
    ----------
    rpm : float
    ripple : float
        How far the speed falls at each firing TDC and rises between them, as a share of it; an
        engine that idles on a light flywheel does so by some hundredths.
    held_s, run_down_s : float
        Time held, and time recorded after it.
    start_deg : float or None
        Crank angle at first; None draws one from the seed.
    """

    rpm: float = 1500.0
    ripple: float = 0.01
    held_s: float = 2.0
    run_down_s: float = 0.0
    start_deg: float | None = None

    def __post_init__(self) -> None:
        if self.rpm <= 0.0 or not 0.0 <= self.ripple < 1.0:
            raise InputError(
                f"rpm {self.rpm:g} must be above 0, and ripple {self.ripple:g} from 0 to below 1"
            )


@dataclass(frozen=True, slots=True)
class Spanner:
    """Turned by hand in swings, with pauses and small back-rolls (prescribed).

    Attributes
    ----------
    total_deg : float
        Net crank angle; negative turns the engine backwards.
    swing_deg, pause_s, rpm : (low, high)
        Ranges from which each swing, pause and mean swing speed is drawn; pauses may be 0.
    back_roll_deg : (low, high)
        How far the crank comes back in a pause; 0 for a pawl or a steady hand.
    jerk : float
        Depth of the uneven pull within a swing, 0 (smooth) to below 1.
    start_deg : float or None
        Crank angle at rest; None draws one from the seed.
    """

    total_deg: float = 1440.0
    swing_deg: tuple[float, float] = (60.0, 120.0)
    pause_s: tuple[float, float] = (0.3, 1.0)
    rpm: tuple[float, float] = (10.0, 40.0)
    back_roll_deg: tuple[float, float] = (0.0, 4.0)
    jerk: float = 0.3
    start_deg: float | None = None


@dataclass(frozen=True, slots=True)
class RockedTurning:
    """Rocked both ways through the firing TDC of one cylinder (prescribed).

    Each swing goes from ``amplitude_deg`` on one side of TDC to about as much on the other;
    ``rpm`` is the range of mean swing speeds. ``spread_deg`` scatters the turning points.
    """

    cylinder: int = 1
    amplitude_deg: float = 70.0
    swings: int = 8
    rpm: tuple[float, float] = (10.0, 30.0)
    pause_s: tuple[float, float] = (0.2, 0.6)
    spread_deg: float = 4.0
    jerk: float = 0.2
    first: Literal["forwards", "backwards"] = "forwards"


@dataclass(frozen=True, slots=True)
class RecordedTurning:
    """Any motion: crank angle at given times, joined smoothly (monotone cubic, C1)."""

    time_s: tuple[float, ...]
    crank_deg: tuple[float, ...]


Turning = Starter | RunDown | Held | Spanner | RockedTurning | RecordedTurning
