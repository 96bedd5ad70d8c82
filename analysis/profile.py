"""What is known of the engine and the rig? Plain frozen values, units in the names.

:mod:`strokewise.daq.profile.known` reads these from TOML; here they are only data. ``None`` means
that nobody said, which is a common and allowed state of a rebuild with parts of unknown history.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

CycleName = Literal["four-stroke", "two-stroke"]
Turn = Literal["both", "firing", "overlap"]
MarkPlace = Literal["pulley", "flywheel", "cam sprocket", "distributor"]


@dataclass(frozen=True, slots=True)
class Atmosphere:
    """The air around the engine; ``stated`` tells a measured value from the default."""

    pressure_bar: float = 1.013
    temperature_c: float = 20.0
    stated: bool = False


@dataclass(frozen=True, slots=True)
class ValveTiming:
    """Valve events in crank degrees, as a workshop manual prints them."""

    intake_opens_btdc_deg: float
    intake_closes_abdc_deg: float
    exhaust_opens_bbdc_deg: float
    exhaust_closes_atdc_deg: float
    at_lift_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Valves:
    """The valve train as far as setting clearances needs it.

    ``order`` runs along the head from the pulley end, ``"E"`` and ``"I"``.
    """

    order: str | None = None
    clearance_inlet_mm: float | None = None
    clearance_exhaust_mm: float | None = None
    state: Literal["cold", "hot", "either"] = "cold"
    lifters: Literal["solid", "hydraulic"] = "solid"
    adjust: Literal["screw", "shim"] = "screw"


@dataclass(frozen=True, slots=True)
class CamDrive:
    """Chain or belt drive of the cam. ``keyway_offsets_deg`` are cam degrees later, marked one
    first."""

    crank_teeth: int
    cam_teeth: int
    keyway_offsets_deg: tuple[float, ...] = (0.0,)


@dataclass(frozen=True, slots=True)
class DriveGear:
    """Helical gear on the distributor's shaft; ``helix_angle_deg`` from the gear's own axis.

    Attributes
    ----------
    slot_angle_deg : float or None
        The oil pump's slot with the gear home, clockwise from the keyed end that carries the
        rotor, both seen from above.
    slot_depth_mm : float or None
        How deep the tongue lies in the slot then.
    slot : str or None
        Whether the slot can be turned before the gear goes in.
    """

    teeth: int
    helix_angle_deg: float
    pitch_diameter_mm: float
    engagement_mm: float
    hand: Literal["right", "left"]
    slot_angle_deg: float | None = None
    slot_depth_mm: float | None = None
    slot: Literal["turns", "fixed"] | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """What a timing mark is meant to show.

    Attributes
    ----------
    input : int or None
        The board's mark input (1, 2, …); None for one pressed on the screen by its name.
    stated_atdc_deg : float or None
        Crank degrees after TDC of cylinder 1 that the mark claims; negative is before.
    """

    name: str
    input: int | None = None
    on: MarkPlace = "pulley"
    stated_atdc_deg: float | None = None
    turn: Turn = "both"


@dataclass(frozen=True, slots=True)
class Encoder:
    """The angle encoder and how it hangs on the engine."""

    counts_per_rev: int | None = None
    drive_ratio: float = 1.0
    direction: Literal[1, -1] = 1


@dataclass(frozen=True, slots=True)
class Sensor:
    """One pressure sensor.

    Attributes
    ----------
    points : tuple of (reading, pressure_bar)
        Two or more known pairs, readings rising; empty when nobody calibrated it.
    response_time_s : float or None
        First-order time constant of sensor and hose.
    """

    channel: int = 0
    place: Literal["plug hole", "manifold"] = "plug hole"
    cylinder: int | None = None
    reference: Literal["absolute", "gauge"] | None = None
    response_time_s: float | None = None
    points: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Profile:
    """The engine and the rig; names end in their unit, and None is what nobody said.

    Attributes
    ----------
    cylinders : int
        1 to 12.
    firing_order : tuple of int
        Every cylinder once, in firing order.
    firing_intervals_deg : tuple of float
        Interval i runs from ``firing_order[i]`` to the next; the sum is the cycle.
    pin_offset_mm : float
        Positive towards the major thrust side.
    turning_back : {"allowed", "never"} or None
        Whether the crank may be turned against its own direction.

    Examples
    --------
    >>> from strokewise.analysis import Profile
    >>> vee = Profile(2, (1, 2), (315.0, 405.0), bore_mm=88.0, stroke_mm=70.0)
    >>> vee.cycle_deg, vee.cycle
    (720.0, 'four-stroke')
    """

    cylinders: int
    firing_order: tuple[int, ...]
    firing_intervals_deg: tuple[float, ...]
    name: str = ""
    cycle: CycleName = "four-stroke"
    rotation: Literal["clockwise", "counter-clockwise"] | None = None
    turning_back: Literal["allowed", "never"] | None = None
    compression_ratio: float | None = None
    bore_mm: float | None = None
    stroke_mm: float | None = None
    rod_length_mm: float | None = None
    pin_offset_mm: float = 0.0
    atmosphere: Atmosphere = field(default_factory=Atmosphere)
    valve_timing: ValveTiming | None = None
    valves: Valves | None = None
    cam_drive: CamDrive | None = None
    drive_gear: DriveGear | None = None
    distributor_rotation: Literal["clockwise", "counter-clockwise"] | None = None
    static_advance_btdc_deg: float | None = None
    pulley_radius_mm: float | None = None
    flywheel_teeth: int | None = None
    marks: tuple[Mark, ...] = ()
    encoder: Encoder = field(default_factory=Encoder)
    sensors: tuple[Sensor, ...] = ()

    @property
    def cycle_deg(self) -> float:
        """Crank degrees of one working cycle: 720, or 360 for a two-stroke."""
        return 720.0 if self.cycle == "four-stroke" else 360.0

    @property
    def rod_ratio(self) -> float | None:
        """Rod length over crank radius, or None where the geometry is unknown."""
        if self.rod_length_mm is None or self.stroke_mm is None:
            return None
        return self.rod_length_mm / (self.stroke_mm / 2)


def even_intervals_deg(cylinders: int, cycle_deg: float) -> tuple[float, ...]:
    """Return the firing intervals of an even-firing engine, in crank degrees."""
    return (cycle_deg / cylinders,) * cylinders
