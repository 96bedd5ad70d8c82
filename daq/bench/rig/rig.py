"""How does the rig hang on the engine, and what is wrong with it? Settings only, all frozen.

The bench engine gives the truth (:class:`strokewise.daq.bench.engine.run.Run`). What a cheap
encoder, a hose, a sensor, a small board and a cable make of it is set here and done in
:mod:`~strokewise.daq.bench.rig.encoder_model`, :mod:`~strokewise.daq.bench.rig.sensor_model`,
:mod:`~strokewise.daq.bench.rig.board` and :mod:`~strokewise.daq.bench.rig.link`. The defaults are
a good rig without faults; ``dataclasses.replace`` makes any other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import MarkPlace

SensorPlace = Literal["plug hole", "manifold", "runner", "open air"]
WireForm = Literal["binary", "lines"]

SAMPLE_RATES_HZ = (500.0, 10_000.0)  # what boards of this kind send
ADC_BITS = (8, 16)  # a reading is a uint16 on the wire
LONGEST_DELAY_S = 0.05  # delays above it are no rig's; the models look back no further


def _not_negative(owner: object, *names: str) -> None:
    for name in names:
        if getattr(owner, name) < 0:
            raise InputError(f"{name} must not be negative, and is {getattr(owner, name):g}")
        if name == "delay_s" and getattr(owner, name) > LONGEST_DELAY_S:
            raise InputError(
                f"delay_s must not exceed {LONGEST_DELAY_S:g} s, and is {getattr(owner, name):g}"
            )


@dataclass(frozen=True, slots=True)
class Slip:
    """The clamp lets go for a moment and falls behind the crank.

    Attributes
    ----------
    by_deg : float
        Crank degrees that the encoder falls behind; negative when it jumps ahead.
    at_time_s : float or None
        When, in seconds after the board's start; or
    after_turning_deg : float or None
        once the crank stands this far beyond where it started.
    lasts_s : float
        How long the slipping takes.
    """

    by_deg: float
    at_time_s: float | None = None
    after_turning_deg: float | None = None
    lasts_s: float = 0.02

    def __post_init__(self) -> None:
        if (self.at_time_s is None) == (self.after_turning_deg is None):
            raise InputError("a slip needs either at_time_s or after_turning_deg")
        if self.lasts_s <= 0:
            raise InputError(f"lasts_s of a slip must be above 0 s, not {self.lasts_s:g}")


@dataclass(frozen=True, slots=True)
class EncoderRig:
    """The angle encoder, its clamp and its drive.

    Attributes
    ----------
    counts_per_rev : int
        Counts, all four edges, for each turn of the encoder.
    direction : {1, -1}
        +1: the count rises as the engine turns its own way.
    drive_ratio : float
        Encoder turns per crank turn; 0.5 on the camshaft.
    clamp_deg : float
        Where the encoder's shaft stands, in encoder degrees from its index, at firing TDC of
        cylinder 1: how the clamp happened to be put on.
    start_count : int or None
        The board's count when it starts. None: whatever belongs to ``clamp_deg``, as if the count
        were never cleared.
    eccentric_deg, eccentric_at_deg : float
        Amplitude of the once-a-turn error of a clamp off centre, in encoder degrees, and the
        shaft angle where it is greatest.
    line_error : float
        Root mean square misplacement of the single lines, in counts; the same every turn.
    play_deg : float
        Backlash of the coupling in crank degrees. Turned the engine's own way it is taken up and
        the encoder reads true; turned back it reads this much more.
    delay_s : float
        Between the shaft and the count.
    stray_per_s, lost_per_turn : float
        Mean number of counts that come from nowhere, in either direction, each second; and that
        are missed in each encoder turn.
    index : bool
        Whether the encoder has an index, latched as event input 0.
    index_width_counts : float
        Width of the index pulse; turned back its other side is met.
    """

    counts_per_rev: int = 2400
    direction: Literal[1, -1] = 1
    drive_ratio: float = 1.0
    clamp_deg: float = 123.4
    start_count: int | None = 0
    eccentric_deg: float = 0.0
    eccentric_at_deg: float = 90.0
    line_error: float = 0.0
    play_deg: float = 0.0
    delay_s: float = 0.0
    slips: tuple[Slip, ...] = ()
    stray_per_s: float = 0.0
    lost_per_turn: float = 0.0
    index: bool = True
    index_width_counts: float = 4.0

    def __post_init__(self) -> None:
        if self.counts_per_rev < 1:
            raise InputError(f"counts_per_rev must be 1 or more, not {self.counts_per_rev}")
        if self.direction not in (1, -1):
            raise InputError(f"direction must be 1 or -1, not {self.direction}")
        if self.drive_ratio <= 0:
            raise InputError(f"drive_ratio must be above 0, not {self.drive_ratio:g}")
        _not_negative(self, "line_error", "play_deg", "delay_s", "stray_per_s", "lost_per_turn")


@dataclass(frozen=True, slots=True)
class MarkPickup:
    """A pickup that sees a timing mark go by, and its input on the board.

    Attributes
    ----------
    input : int
        1, 2, …: the board's mark inputs.
    on : {"pulley", "flywheel", "cam sprocket", "distributor"}
        The last two turn once for two turns of the crank.
    at_deg : float
        Crank degrees after firing TDC of cylinder 1 at which the mark meets its pointer when the
        engine turns its own way.
    width_deg : float
        Crank degrees to the other side of the tooth, which is met when it is turned back.
    delay_s : float
        Between the tooth and the latch.
    missed : float
        Share of the passes that the pickup does not see.
    """

    input: int
    name: str = "pulley notch"
    on: MarkPlace = "pulley"
    at_deg: float = 0.0
    width_deg: float = 3.0
    delay_s: float = 0.0
    missed: float = 0.0

    def __post_init__(self) -> None:
        if not 1 <= self.input <= 255:
            raise InputError(f"the input of mark {self.name!r} must be 1 to 255, not {self.input}")
        if not 0 <= self.missed <= 1:
            raise InputError(f"missed of mark {self.name!r} must be 0 to 1, not {self.missed:g}")
        _not_negative(self, "width_deg", "delay_s")

    @property
    def period_deg(self) -> float:
        """Crank degrees from one pass to the next."""
        return 720.0 if self.on in ("cam sprocket", "distributor") else 360.0


@dataclass(frozen=True, slots=True)
class KeyPress:
    """A person presses a key on the laptop when a mark meets its pointer, or the crank its stop.

    Attributes
    ----------
    at_deg : float
        Crank degrees after TDC of cylinder 1, passed the engine's own way; or
    at_time_s : float or None
        a given moment, which goes before ``at_deg``.
    reaction_s, scatter_s : float
        Mean and standard deviation of the delay.
    """

    name: str
    at_deg: float = 0.0
    at_time_s: float | None = None
    reaction_s: float = 0.25
    scatter_s: float = 0.06


@dataclass(frozen=True, slots=True)
class SensorRig:
    """One pressure sensor with its hose and its channel.

    Attributes
    ----------
    place : {"plug hole", "manifold", "runner", "open air"}
        Where it is screwed in; in open air it shows the atmosphere.
    cylinder : int
        Whose plug hole (or intake runner).
    low_bar, high_bar : float
        What the sensor can show, in its own reference; beyond it the output stands still.
    low_share, high_share : float
        Where in the converter's range these two lie; most sensors leave room at either end.
    reference : {"absolute", "gauge"}
        A gauge sensor shows the difference to the atmosphere.
    lag_s : float
        First-order time constant of sensor, hose and dead space.
    hose_hz, hose_damping : float
        Natural frequency and damping ratio of the gas in the hose; 0 Hz for none.
    non_return_valve : bool
        A compression tester's hose with its valve left in: the pressure can get in but not out.
    valve_opens_bar, valve_leak_s : float
        What opens that valve, and the time constant with which it leaks back.
    delay_s : float
        From the latched count to the conversion of this channel.
    gain_error : float
        0.02 shows everything 2 % too high.
    offset_bar, drift_bar_per_s : float
        Wrong zero at the start, and how it wanders.
    wander_bar, wander_s : float
        Standard deviation of a zero that wanders smoothly to and fro, and its shortest period.
    shock_share, shock_s : float
        Thermal shock: the gas of a compression or a burn warms the sensor's face, which then shows
        too little (negative: too much) and recovers with this time constant. The error is a share
        of the pressure over the atmosphere as it was of late; pressure stands for the gas's
        temperature, which follows it.
    noise_bar : float
        Standard deviation of white noise.
    hum_bar, hum_hz : float
        Amplitude and frequency of what the mains induce.
    """

    place: SensorPlace = "plug hole"
    cylinder: int = 1
    name: str = "pressure"
    low_bar: float = 0.0
    high_bar: float = 20.0
    low_share: float = 0.1
    high_share: float = 0.9
    reference: Literal["absolute", "gauge"] = "absolute"
    lag_s: float = 0.0004
    hose_hz: float = 0.0
    hose_damping: float = 0.7
    non_return_valve: bool = False
    valve_opens_bar: float = 0.3
    valve_leak_s: float = 300.0
    delay_s: float = 0.0
    gain_error: float = 0.0
    offset_bar: float = 0.0
    drift_bar_per_s: float = 0.0
    wander_bar: float = 0.0
    wander_s: float = 0.5
    shock_share: float = 0.0
    shock_s: float = 0.02
    noise_bar: float = 0.01
    hum_bar: float = 0.0
    hum_hz: float = 50.0

    def __post_init__(self) -> None:
        if not self.low_bar < self.high_bar:
            raise InputError(
                f"the sensor's range must rise: {self.low_bar:g} bar to {self.high_bar:g} bar"
            )
        if not 0 <= self.low_share < self.high_share <= 1:
            raise InputError("low_share and high_share must rise and lie between 0 and 1")
        if self.wander_s <= 0 or self.shock_s <= 0:
            raise InputError("wander_s and shock_s must be above 0 s")
        if self.cylinder < 1:
            raise InputError(f"the sensed cylinder must be 1 or more, not {self.cylinder}")
        _not_negative(
            self, "lag_s", "hose_hz", "hose_damping", "delay_s", "noise_bar", "wander_bar"
        )


@dataclass(frozen=True, slots=True)
class BoardRig:
    """The board that counts, converts and talks.

    Attributes
    ----------
    sample_rate_hz : float
        500 to 10,000; the period is rounded to a whole microsecond, as the wire has it.
    samples_per_frame : int
        1 to 64.
    clock_ppm : float
        How much too fast the board's clock runs.
    jitter_us : float
        Standard deviation of the moment of each sample about its own time.
    starts_at_us : int
        The board's time when the run begins; near 2**32 it wraps soon.
    restarts_s : tuple of float
        Moments at which the board loses power and starts anew.
    off_s : float
        How long such a start takes.
    wire : {"binary", "lines"}
        Frames, or plain ASCII lines.
    checksum : bool
        Whether the lines carry one.
    """

    sample_rate_hz: float = 1000.0
    samples_per_frame: int = 16
    adc_bits: int = 12
    device: str = "simulated board"
    clock_ppm: float = 0.0
    jitter_us: float = 0.0
    starts_at_us: int = 1_300_000
    hello_every_s: float = 2.0
    restarts_s: tuple[float, ...] = ()
    off_s: float = 0.4
    wire: WireForm = "binary"
    checksum: bool = True

    def __post_init__(self) -> None:
        low, high = SAMPLE_RATES_HZ
        if not low <= self.sample_rate_hz <= high:
            raise InputError(
                f"the sample rate must be {low:g} to {high:g} Hz, not {self.sample_rate_hz:g} Hz"
            )
        if not 1 <= self.samples_per_frame <= 64:
            raise InputError(f"samples per frame must be 1 to 64, not {self.samples_per_frame}")
        if not ADC_BITS[0] <= self.adc_bits <= ADC_BITS[1]:
            raise InputError(f"adc_bits must be 8 to 16, not {self.adc_bits}")

    @property
    def period_us(self) -> int:
        """Whole microseconds from one sample to the next."""
        return round(1e6 / self.sample_rate_hz)


@dataclass(frozen=True, slots=True)
class LinkRig:
    """The cable and the host's driver.

    Attributes
    ----------
    lost_frames : float
        Share of the frames that never arrive.
    damaged_bytes : float
        Share of the bytes that arrive with a wrong bit.
    garbage_per_s : float
        Bursts of up to 40 bytes from nowhere, each second.
    latency_s : float
        The host sees what came in bundles, one each so many seconds.
    joins_mid_frame : bool
        Whether listening begins in the middle of a frame.
    """

    lost_frames: float = 0.0
    damaged_bytes: float = 0.0
    garbage_per_s: float = 0.0
    latency_s: float = 0.016
    joins_mid_frame: bool = False

    def __post_init__(self) -> None:
        for name in ("lost_frames", "damaged_bytes"):
            if not 0 <= getattr(self, name) <= 1:
                raise InputError(f"{name} must be a share from 0 to 1")
        if self.latency_s <= 0:
            raise InputError(f"latency_s must be above 0 s, not {self.latency_s:g}")
        _not_negative(self, "garbage_per_s")


@dataclass(frozen=True, slots=True)
class Rig:
    """Everything between the engine and the bytes.

    Attributes
    ----------
    sensors : tuple of SensorRig
        One to four, in the order of the board's channels.
    """

    encoder: EncoderRig = field(default_factory=EncoderRig)
    sensors: tuple[SensorRig, ...] = (SensorRig(),)
    marks: tuple[MarkPickup, ...] = ()
    presses: tuple[KeyPress, ...] = ()
    board: BoardRig = field(default_factory=BoardRig)
    link: LinkRig = field(default_factory=LinkRig)

    def __post_init__(self) -> None:
        if not 1 <= len(self.sensors) <= 4:
            raise InputError(f"a board has 1 to 4 channels, not {len(self.sensors)}")
        inputs = [mark.input for mark in self.marks]
        if len(set(inputs)) != len(inputs):
            raise InputError("two marks share one input of the board")
