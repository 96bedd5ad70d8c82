"""Which named scenarios does the bench have, healthy and faulty, and what can be set in each?

A scenario is a bench with some of its parameters preset; every parameter of any scenario is a key
that can be set in the others too, so that faults combine. For random benches take
:attr:`Scenario.base` and ``dataclasses.replace`` its engine, turning and rig.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import Held, RockedTurning, RunDown, Spanner, Starter
from strokewise.daq.bench.parameters import BenchParameter, Value, apply_all
from strokewise.daq.bench.rig.rig import BoardRig, EncoderRig, MarkPickup, Rig, SensorRig
from strokewise.daq.bench.scenarios.scenario_engines import FOUR, SINGLE, starter_for
from strokewise.daq.bench.scenarios.scenario_faults import ENGINE_FAULTS, RIG_FAULTS
from strokewise.daq.bench.scenarios.scenario_marks import MARK_SETTINGS, marks_by_key
from strokewise.daq.bench.scenarios.scenario_running import (
    AT_SPEED,
    CORD,
    DIESEL,
    HELD_SETTINGS,
    HOT_WALLS,
    IDLING,
    PETROL,
    RUNNING_SETTINGS,
)
from strokewise.daq.bench.scenarios.scenario_settings import (
    ENGINE_SETTINGS,
    RIG_SETTINGS,
    TURNING_SETTINGS,
)
from strokewise.daq.bench.scenarios.scenario_stop import STOP_SETTINGS, stop_bench

Group = Literal["healthy", "running", "engine fault", "marks and cam", "rig fault"]

PARAMETERS: tuple[BenchParameter, ...] = (
    *ENGINE_SETTINGS,
    *RUNNING_SETTINGS,
    *STOP_SETTINGS,
    *MARK_SETTINGS,
    *TURNING_SETTINGS,
    *HELD_SETTINGS,
    *RIG_SETTINGS,
    *ENGINE_FAULTS,
    *RIG_FAULTS,
)
"""Everything that can be set, in the order in which it is applied."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """A bench to teach or test with.

    Attributes
    ----------
    name : str
        As on the command line.
    about : str
        One line in the trade's words.
    base : Bench
        Before the presets.
    presets : mapping
        Parameters that make the scenario what it is, in their own units.
    """

    name: str
    about: str
    group: Group
    base: Bench
    presets: Mapping[str, Value] = field(default_factory=dict)

    @property
    def parameters(self) -> tuple[BenchParameter, ...]:
        """Everything that can be set in this scenario."""
        return tuple(parameter for parameter in PARAMETERS if parameter.fits(self.base))

    @property
    def faults(self) -> tuple[BenchParameter, ...]:
        """Of those, what can go wrong."""
        return tuple(parameter for parameter in self.parameters if parameter.fault)

    def build(
        self, settings: Mapping[str, str | Value] | None = None, seed: int | None = None
    ) -> Bench:
        """Return the bench with the presets, and the settings over them.

        Parameters
        ----------
        settings : mapping of key to value
            Texts as a person writes them (``"2 deg"``), or numbers in the parameter's own unit.
        seed : int, optional
            The base's own when left out.

        Raises
        ------
        InputError
            For an unknown key, with the nearest known one, or a value that is not allowed.
        """
        bench = self.base if seed is None else replace(self.base, seed=seed)
        return apply_all(bench, {**self.presets, **(settings or {})}, PARAMETERS)


MARKS = (
    MarkPickup(1, "pulley notch", "pulley", 0.0),
    MarkPickup(2, "cam dot", "cam sprocket", 0.0, width_deg=8.0),
)

RIG = Rig(
    EncoderRig(clamp_deg=141.3, eccentric_deg=0.04, line_error=0.06, delay_s=5e-6),
    sensors=(SensorRig(delay_s=15e-6),),
    marks=MARKS,
    board=BoardRig(clock_ppm=35.0, jitter_us=3.0),
)
"""A good cheap rig: a clamp a little off centre, lines not quite even, a converter that holds its
input some microseconds after the count was latched."""

CRANKED = Bench(FOUR, "four", starter_for(FOUR, duration_s=4.0), RIG, seed=11)
HAND_TURNED = Bench(FOUR, "four", Spanner(total_deg=1620.0, start_deg=200.0), RIG, seed=12)
ROCKED = Bench(FOUR, "four", RockedTurning(), RIG, seed=13)
RUN_DOWN = Bench(FOUR, "four", RunDown(duration_s=4.0), RIG, seed=14)
HOT_RUN_DOWN = Bench(
    FOUR, "four", RunDown(start_rpm=2500.0, duration_s=3.0), replace(RIG, marks=()), seed=17
)
HELD = Bench(FOUR, "four", Held(held_s=1.5), replace(RIG, marks=()), seed=18)
PULLED = Bench(
    SINGLE,
    "single",
    Starter(duration_s=0.5, run_down_s=1.5, torque_curve=((0.0, 130.0), (1000.0, 0.0))),
    replace(RIG, marks=()),
    seed=19,
)
"""A cord that is pulled hard through some turns and let go."""

STOP = stop_bench(
    Bench(
        FOUR, "four", RockedTurning(), replace(RIG, sensors=(SensorRig(place="open air"),)), seed=15
    )
)

BY_KEY = marks_by_key(Bench(FOUR, "four", Spanner(), RIG, seed=16))

VACUUM_RANGE: dict[str, Value] = {"sensor_range": (0.1, 1.15), "noise": 0.002}
MANIFOLD: dict[str, Value] = {**VACUUM_RANGE, "place": "manifold", "throttle": 25.0}
TWO_SENSORS = replace(
    RIG, sensors=(SensorRig(name="cylinder 1"), SensorRig(cylinder=3, name="cylinder 3"))
)

_ALL = (
    Scenario("cranked", "Starter, four compressions or more in cylinder 1, all well", "healthy",
             CRANKED),
    Scenario("hand-turned", "Turned with a spanner, with pauses and a little rolling back",
             "healthy", HAND_TURNED),
    Scenario("rocked", "Rocked by hand back and forth through compression TDC",
             "healthy", ROCKED),
    Scenario("stop-both-sides", "Piston stop in cylinder 1, crank brought to it from both sides",
             "healthy", STOP),
    Scenario("run-down", "Ignition off at idle, the engine runs down", "healthy", RUN_DOWN),
    Scenario("cranked-plugs-out", "Starter, the other cylinders' plugs out: fast and even",
             "healthy", CRANKED, {"plugs": "out"}),
    Scenario("manifold", "Starter, vacuum sensor in the manifold, throttle nearly shut",
             "healthy", CRANKED, MANIFOLD),
    Scenario("runner", "Starter, vacuum sensor in the intake runner of cylinder 1", "healthy",
             CRANKED, {**MANIFOLD, "place": "runner"}),
    Scenario("vacuum-sensor", "Vacuum-range sensor in the plug hole: compression is cut off",
             "healthy", CRANKED, VACUUM_RANGE),
    Scenario("camshaft-encoder", "Encoder on the camshaft: half a turn for each of the crank",
             "healthy", CRANKED, {"drive_ratio": 0.5, "counts": 4096}),
    Scenario("turned-backwards", "Turned with a spanner, but the wrong way round", "healthy",
             HAND_TURNED, {"turn": -1620.0}),
    Scenario("unknown-rebuild", "Starter, an engine of which hardly anything is known", "healthy",
             CRANKED, {"profile": "little"}),
    Scenario("diesel", "Starter, a diesel with its sensor in the glow-plug hole", "healthy",
             CRANKED, {"engine": "diesel", "sensor_range": (0.0, 60.0), "noise": 0.03}),
    Scenario("single", "Starter, a single-cylinder engine", "healthy", CRANKED,
             {"engine": "single"}),
    Scenario("v-twin", "Starter, a twin that fires unevenly", "healthy", CRANKED,
             {"engine": "v-twin"}),
    Scenario("six", "Starter, six cylinders in line", "healthy", CRANKED, {"engine": "six"}),
    Scenario("eight", "Starter, a V8", "healthy", CRANKED, {"engine": "eight"}),
    Scenario("two-stroke", "Starter, a two-stroke single: compression at every TDC", "healthy",
             replace(CRANKED, rig=replace(RIG, marks=MARKS[:1])), {"engine": "two-stroke"}),
    Scenario("plain-lines", "A simple board that sends plain lines", "healthy", CRANKED,
             {"wire": "lines"}),
    Scenario("run-down-hot", "Ignition off at 2,500 rev/min, a hot engine runs down", "running",
             HOT_RUN_DOWN, AT_SPEED),
    Scenario("burning-petrol", "Held at 1,500 rev/min, firing: no pressure is compression "
             "alone", "running", HELD, PETROL),
    Scenario("burning-diesel", "A diesel held at 1,500 rev/min and still firing", "running", HELD,
             DIESEL),
    Scenario("idling-misfires", "Idling unevenly: some cycles burn weakly, some do not", "running",
             HELD, {**IDLING, "seconds": 3.0}),
    Scenario("cut-after-running", "Four cycles burn, then the ignition is cut", "running",
             HOT_RUN_DOWN, {**PETROL, "speed": 1600.0, "burn_cycles": 4}),
    Scenario("catches-while-cranking", "Ignition left on: it fires from the third cycle on",
             "running", CRANKED, {"burn": 0.7, "burn_start": 5.0, "burn_after": 2,
                                  "burn_cycles": 3, "sensor_range": (0.0, 100.0)}),
    Scenario("compression-release", "Pulled by a cord, a compression release shuts late",
             "running", PULLED, {**CORD, "rate": 5000.0}),
    Scenario("thermal-shock", "Cut after running, with a sensor that hot gas throws off",
             "running", HOT_RUN_DOWN, {**PETROL, "speed": 1600.0, "burn_cycles": 4,
                                       "shock": 0.03}),
    Scenario("wandering-zero", "Run down hot, with a sensor whose zero wanders by bars", "running",
             HOT_RUN_DOWN, {**AT_SPEED, "wander": 1.5, "sensor_range": (-10.0, 40.0)}),
    Scenario("hot-cranked", "Starter, an engine still hot from running", "running", CRANKED,
             HOT_WALLS),
    Scenario("burnt-valve", "An exhaust valve of cylinder 1 is burnt and leaks", "engine fault",
             CRANKED, {"burnt_valve": 8.0}),
    Scenario("worn-rings", "Rings worn all round", "engine fault", CRANKED, {"ring_leak": 3.0}),
    Scenario("valve-without-clearance", "One exhaust valve has no clearance and never shuts",
             "engine fault", CRANKED, {"exhaust_clearance": -0.15}),
    Scenario("dead-cylinder", "Cylinder 1 has no compression at all", "engine fault", CRANKED,
             {"dead": True}),
    Scenario("throttle-shut", "Throttle left shut while cranking", "engine fault", CRANKED,
             {"throttle": 2.0}),
    Scenario("tired-battery", "Starter drags on a tired battery", "engine fault", CRANKED,
             {"battery": 0.72, "sag": 0.03}),
    Scenario("liquid-in-cylinder", "Liquid in cylinder 1: pressure rises far too steeply; by hand",
             "engine fault", HAND_TURNED, {"liquid": 52.0}),
    Scenario("cam-tooth-late", "Cam one tooth late", "marks and cam", CRANKED, {"cam_teeth": 1}),
    Scenario("cam-tooth-early", "Cam one tooth early", "marks and cam", CRANKED,
             {"cam_teeth": -1}),
    Scenario("cam-half-turn", "Cam half a turn out: seen against the cam mark alone",
             "marks and cam", CRANKED, {"cam_half_turn": True}),
    Scenario("cam-mark-at-overlap", "The mark on the cam sprocket meets its pointer at overlap",
             "marks and cam", CRANKED, {"cam_mark": 360.0}),
    Scenario("pulley-ring-slipped", "Outer ring of the pulley has slipped on its rubber",
             "marks and cam", CRANKED, {"pulley_mark": 17.0}),
    Scenario("pulley-mark-wrong", "Pulley or pointer belongs to another engine", "marks and cam",
             CRANKED, {"pulley_mark": -9.0}),
    Scenario("marks-by-key", "No pickup: the mark is crept up to by hand and a key pressed",
             "marks and cam", BY_KEY, {"mark_late": 6.0}),
    Scenario("wrong-firing-order", "Profile states a firing order that is not this engine's",
             "marks and cam", replace(CRANKED, rig=TWO_SENSORS), {"stated_order": "1-2-4-3"}),
    Scenario("hose-valve-left-in", "Non-return valve left in the hose: the trace never falls",
             "rig fault", CRANKED, {"hose_valve": True}),
    Scenario("clamp-slipped", "The encoder's clamp slips while cranking", "rig fault", CRANKED,
             {"seconds": 6.0, "slip": 12.0, "slip_at": 3.0}),
    Scenario("clamp-off-centre", "The encoder's clamp runs badly off centre", "rig fault", CRANKED,
             {"eccentric": 0.6}),
    Scenario("counts-lost", "Counts are lost on the way: TDC wanders", "rig fault", CRANKED,
             {"lost_counts": 6.0}),
    Scenario("sensor-drifts", "The sensor's zero wanders as it warms up", "rig fault", CRANKED,
             {"drift": 0.6, "zero": -0.8, "sensor_range": (-5.0, 25.0)}),
    Scenario("hum-and-noise", "Mains hum and noise on the sensor's wire", "rig fault", CRANKED,
             {"hum": 0.3, "noise": 0.1}),
    Scenario("bad-cable", "The cable loses, damages and invents bytes", "rig fault", CRANKED,
             {"lost_frames": 0.03, "damaged_bytes": 2e-4, "garbage": 2.0,
              "joins_mid_frame": True}),
    Scenario("board-restarts", "The board loses power for a moment and starts anew", "rig fault",
             CRANKED, {"seconds": 6.0, "restart_at": 2.5}),
)  # fmt: skip

SCENARIOS: Mapping[str, Scenario] = {scenario.name: scenario for scenario in _ALL}
"""Every scenario by its name, in the order of a list for a person."""


def scenario(name: str) -> Scenario:
    """Return the scenario of a name.

    Raises
    ------
    InputError
        When there is none, with the nearest names.
    """
    found = SCENARIOS.get(name)
    if found is None:
        near = difflib.get_close_matches(name, SCENARIOS, 3)
        hint = f"did you mean {' or '.join(near)}?" if near else "--list shows them all"
        raise InputError(f"there is no scenario {name!r}; {hint}")
    return found
