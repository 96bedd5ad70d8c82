"""What can go wrong on the bench, in the trade's words? Each fault is a key with a size.

Any of them can be set in any scenario that has the part, alone or together with others, and
changed while a live bench runs.
"""

from __future__ import annotations

from dataclasses import replace
from math import pi

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import BenchEngine, ValveFault, ValveSide
from strokewise.daq.bench.parameters import BenchParameter, setting
from strokewise.daq.bench.rig.rig import MarkPickup, Slip
from strokewise.daq.bench.scenarios.scenario_settings import (
    AREA,
    MILLISECONDS,
    VOLUME,
    change_first_sensor,
)
from strokewise.daq.bench.stated_profile import CAM_TEETH
from strokewise.daq.bench.truth import HALF_TURN_OF_CAM_DEG
from strokewise.daq.profile.quantity import ANGLE, LENGTH, PRESSURE, TIME

TOOTH_DEG = 720.0 / CAM_TEETH  # crank degrees of one tooth of the cam sprocket
HOLED_MM2 = 60.0  # ring leak of a dead cylinder: a hole of 9 mm
ADAPTOR_CM3 = 3.0  # the bench's own adaptor, see BenchEngine
MOST_LIQUID = 0.9  # share of the space at TDC; more would stop the crank
SLIP_AT_S = 2.0


def _half_turns(engine: BenchEngine) -> int:
    return round(engine.intake_shift_deg / HALF_TURN_OF_CAM_DEG)


def _shift_cam(engine: BenchEngine, by_deg: float) -> BenchEngine:
    return replace(
        engine,
        intake_shift_deg=engine.intake_shift_deg + by_deg,
        exhaust_shift_deg=engine.exhaust_shift_deg + by_deg,
    )


def cam_teeth(bench: Bench) -> int:
    """Return by how many teeth the cam is late."""
    engine = bench.engine
    shift = engine.intake_shift_deg - _half_turns(engine) * HALF_TURN_OF_CAM_DEG
    return round(shift / TOOTH_DEG)


def _set_cam_teeth(bench: Bench, teeth: int) -> Bench:
    """Mesh the cam sprocket elsewhere: the cam and the mark on its sprocket move together."""
    by_deg = (teeth - cam_teeth(bench)) * TOOTH_DEG
    marks = tuple(
        replace(mark, at_deg=mark.at_deg + by_deg) if mark.on == "cam sprocket" else mark
        for mark in bench.rig.marks
    )
    return replace(
        bench, engine=_shift_cam(bench.engine, by_deg), rig=replace(bench.rig, marks=marks)
    )


def _set_cam_half_turn(bench: Bench, out: bool) -> Bench:
    """Turn the lobes half a turn against sprocket, rotor and pump, whose marks stay."""
    by_deg = (int(out) - _half_turns(bench.engine)) * HALF_TURN_OF_CAM_DEG
    return replace(bench, engine=_shift_cam(bench.engine, by_deg))


def _mark_setting(key: str, about: str, on: str, high: float) -> BenchParameter:
    def found(bench: Bench) -> list[MarkPickup]:
        return [mark for mark in bench.rig.marks if mark.on == on]

    def write(bench: Bench, at_deg: float) -> Bench:
        marks = tuple(
            replace(mark, at_deg=at_deg) if mark.on == on else mark for mark in bench.rig.marks
        )
        return replace(bench, rig=replace(bench.rig, marks=marks))

    return BenchParameter(
        key,
        about,
        lambda bench: found(bench)[0].at_deg,
        write,
        ANGLE,
        low=-high,
        high=high,
        fault=True,
        fits=lambda bench: bool(found(bench)),
    )


def _valve_leak(key: str, about: str, side: ValveSide) -> BenchParameter:
    def read(bench: Bench) -> float:
        return _valve_fault(bench, side).leak_area_mm2 or 0.0

    def write(bench: Bench, area_mm2: float) -> Bench:
        fault = replace(_valve_fault(bench, side), leak_area_mm2=area_mm2)
        return _with_valve_fault(bench, fault)

    return BenchParameter(key, about, read, write, AREA, low=0, high=200, fault=True)


def _valve_clearance(key: str, about: str, side: ValveSide) -> BenchParameter:
    def read(bench: Bench) -> float:
        given = _valve_fault(bench, side).clearance_mm
        nominal = bench.engine.intake if side == "intake" else bench.engine.exhaust
        return nominal.clearance_mm if given is None else given

    def write(bench: Bench, clearance_mm: float) -> Bench:
        fault = replace(_valve_fault(bench, side), clearance_mm=clearance_mm)
        return _with_valve_fault(bench, fault)

    return BenchParameter(key, about, read, write, LENGTH, low=-2, high=2, fault=True)


def _valve_fault(bench: Bench, side: ValveSide) -> ValveFault:
    for fault in bench.engine.valve_faults:
        if (fault.cylinder, fault.side) == (bench.faulty_cylinder, side):
            return fault
    return ValveFault(bench.faulty_cylinder, side)


def _with_valve_fault(bench: Bench, fault: ValveFault) -> Bench:
    others = tuple(
        other
        for other in bench.engine.valve_faults
        if (other.cylinder, other.side) != (fault.cylinder, fault.side)
    )
    return replace(bench, engine=replace(bench.engine, valve_faults=(*others, fault)))


def _ring_leak(bench: Bench) -> float:
    return min(bench.engine.ring_leaks_mm2)


def _dead(bench: Bench) -> bool:
    return bench.engine.ring_leaks_mm2[bench.faulty_cylinder - 1] >= HOLED_MM2


def _set_dead(bench: Bench, dead: bool) -> Bench:
    leaks = list(bench.engine.ring_leaks_mm2)
    leaks[bench.faulty_cylinder - 1] = HOLED_MM2 if dead else min(leaks)
    return replace(bench, engine=replace(bench.engine, ring_leak_mm2=tuple(leaks)))


def _liquid(bench: Bench) -> float:
    return max(0.0, ADAPTOR_CM3 - bench.engine.adaptor_volume_cm3)


def _set_liquid(bench: Bench, liquid_cm3: float) -> Bench:
    """Fill part of the sensed cylinder's space at TDC."""
    engine = bench.engine
    swept_cm3 = pi / 4 * engine.bore_mm**2 * engine.stroke_mm * 1e-3
    most = MOST_LIQUID * (swept_cm3 / (engine.compression_ratio - 1) + ADAPTOR_CM3)
    if liquid_cm3 > most:
        raise InputError(
            f"liquid={liquid_cm3:g}cm3 would stop this crank before TDC; at most {most:.0f}cm3"
        )
    return replace(bench, engine=replace(engine, adaptor_volume_cm3=ADAPTOR_CM3 - liquid_cm3))


def _order(bench: Bench) -> str:
    stated = bench.profile_changes.get("firing_order", bench.engine.firing_order)
    return "-".join(str(cylinder) for cylinder in stated)


def _set_order(bench: Bench, text: str) -> Bench:
    try:
        order = [int(part) for part in text.split("-")]
    except ValueError:
        order = []
    if sorted(order) != list(range(1, bench.engine.cylinders + 1)):
        raise InputError(
            f"stated_order={text} must name each of the {bench.engine.cylinders} cylinders once, "
            f"like {'-'.join(map(str, bench.engine.firing_order))}"
        )
    return replace(bench, profile_changes={**bench.profile_changes, "firing_order": order})


def _slip(bench: Bench) -> float:
    return sum(slip.by_deg for slip in bench.rig.encoder.slips)


def _slip_at(bench: Bench) -> float:
    slips = bench.rig.encoder.slips
    at_s = slips[0].at_time_s if slips else None
    return SLIP_AT_S if at_s is None else at_s


def _set_slip(bench: Bench, by_deg: float, at_s: float) -> Bench:
    slips = (Slip(by_deg, at_time_s=at_s),) if by_deg else ()
    encoder = replace(bench.rig.encoder, slips=slips)
    return replace(bench, rig=replace(bench.rig, encoder=encoder))


def _set_hose_valve(bench: Bench, left_in: bool) -> Bench:
    return change_first_sensor(bench, lambda sensor: replace(sensor, non_return_valve=left_in))


def _restart_at(bench: Bench) -> float:
    restarts = bench.rig.board.restarts_s
    return restarts[0] if restarts else 0.0


def _set_restart(bench: Bench, at_s: float) -> Bench:
    board = replace(bench.rig.board, restarts_s=(at_s,) if at_s else ())
    return replace(bench, rig=replace(bench.rig, board=board))


def _set_faulty(bench: Bench, cylinder: int) -> Bench:
    if cylinder > bench.engine.cylinders:
        raise InputError(f"faulty={cylinder}: this engine has {bench.engine.cylinders} cylinders")
    return replace(bench, faulty_cylinder=cylinder)


ENGINE_FAULTS: tuple[BenchParameter, ...] = (
    BenchParameter(
        "faulty", "the cylinder that a fault of one cylinder strikes",
        lambda bench: bench.faulty_cylinder, _set_faulty, low=1, high=12, whole=True,
    ),
    BenchParameter(
        "cam_teeth", "cam late (+) or early (-) by so many teeth, mark on its sprocket and all",
        cam_teeth, _set_cam_teeth, low=-6, high=6, whole=True, fault=True,
    ),
    BenchParameter(
        "cam_half_turn", "cam half a turn out against sprocket mark, rotor and pump",
        lambda bench: _half_turns(bench.engine) % 2 == 1, _set_cam_half_turn, fault=True,
    ),
    _mark_setting("pulley_mark", "how late the mark on the pulley is", "pulley", 180),
    _mark_setting("cam_mark", "how late the mark on the cam sprocket is, crank degrees",
                  "cam sprocket", 720),
    _valve_leak("burnt_valve", "leak past a burnt exhaust valve", "exhaust"),
    _valve_leak("leaking_intake", "leak past an intake valve", "intake"),
    _valve_clearance("exhaust_clearance", "of one exhaust valve; below 0 it never shuts",
                     "exhaust"),
    _valve_clearance("intake_clearance", "of one intake valve; below 0 it never shuts", "intake"),
    BenchParameter(
        "ring_leak", "leak past the rings of every cylinder", _ring_leak,
        lambda bench, area: replace(bench, engine=replace(bench.engine, ring_leak_mm2=area)),
        AREA, low=0, high=200, fault=True,
    ),
    BenchParameter("dead", "one cylinder without any compression", _dead, _set_dead, fault=True),
    BenchParameter(
        "liquid", "oil, water or fuel standing in the sensed cylinder", _liquid, _set_liquid,
        VOLUME, low=0, high=400, fault=True,
        fits=lambda bench: bench.engine.adaptor_cylinder is not None,
    ),
    setting("throttle", "effective opening of the throttle", "engine.throttle_area_mm2", AREA,
            low=0.5, high=5000, fault=True),
    BenchParameter("stated_order", "firing order that the profile states", _order, _set_order,
              fault=True),
)  # fmt: skip

RIG_FAULTS: tuple[BenchParameter, ...] = (
    BenchParameter(
        "slip", "how far the clamp falls behind, crank degrees", _slip,
        lambda bench, by_deg: _set_slip(bench, by_deg, _slip_at(bench)),
        ANGLE, low=-180, high=180, fault=True,
    ),
    BenchParameter(
        "slip_at", "when the clamp slips", _slip_at,
        lambda bench, at_s: _set_slip(bench, _slip(bench), at_s), TIME, low=0, high=3600,
    ),
    setting("eccentric", "once-a-turn error of a clamp off centre", "rig.encoder.eccentric_deg",
            ANGLE, low=0, high=5, fault=True),
    setting("uneven_lines", "misplacement of the encoder's lines, in counts",
            "rig.encoder.line_error", low=0, high=0.5, fault=True),
    setting("play", "backlash of the encoder's coupling", "rig.encoder.play_deg", ANGLE,
            low=0, high=10, fault=True),
    setting("encoder_delay", "between the shaft and the count", "rig.encoder.delay_s",
            MILLISECONDS, scale=1e-3, low=0, high=50, fault=True),
    setting("mark_delay", "between a mark's tooth and its latch", "rig.marks.*.delay_s",
            MILLISECONDS, scale=1e-3, low=0, high=50, fault=True,
            needs=lambda bench: bool(bench.rig.marks)),
    setting("stray_counts", "counts from nowhere, each second", "rig.encoder.stray_per_s",
            low=0, high=10_000, fault=True),
    setting("lost_counts", "counts missed in each encoder turn", "rig.encoder.lost_per_turn",
            low=0, high=1000, fault=True),
    BenchParameter("hose_valve", "non-return valve left in the compression hose",
              lambda bench: bench.rig.sensors[0].non_return_valve, _set_hose_valve, fault=True),
    setting("hose_frequency", "natural frequency of the gas in the hose, in Hz; 0 for none",
            "rig.sensors.*.hose_hz", low=0, high=2000, fault=True),
    setting("zero", "how much too high the sensor shows", "rig.sensors.*.offset_bar", PRESSURE,
            low=-100, high=100, fault=True),
    setting("drift", "how fast the sensor's zero wanders, bar a second",
            "rig.sensors.*.drift_bar_per_s", low=-50, high=50, fault=True),
    setting("wander", "how far the sensor's zero wanders to and fro", "rig.sensors.*.wander_bar",
            PRESSURE, low=0, high=100, fault=True),
    setting("wander_time", "shortest period of that wandering", "rig.sensors.*.wander_s", TIME,
            low=0.01, high=600),
    setting("shock", "thermal shock: share of the pressure of late that hot gas makes it lose",
            "rig.sensors.*.shock_share", low=-0.5, high=0.5, fault=True),
    setting("shock_time", "how long it takes to recover from hot gas", "rig.sensors.*.shock_s",
            MILLISECONDS, scale=1e-3, low=0.1, high=10_000),
    setting("gain_error", "share by which the sensor shows too much",
            "rig.sensors.*.gain_error", low=-0.5, high=0.5, fault=True),
    setting("hum", "amplitude of the mains hum", "rig.sensors.*.hum_bar", PRESSURE,
            low=0, high=20, fault=True),
    setting("hum_frequency", "of the mains, in Hz", "rig.sensors.*.hum_hz", low=40, high=70),
    setting("clock_ppm", "how much too fast the board's clock runs, in millionths",
            "rig.board.clock_ppm", low=-20_000, high=20_000, fault=True),
    setting("jitter", "scatter of the moment of each sample, in microseconds",
            "rig.board.jitter_us", low=0, high=1000, fault=True),
    BenchParameter("restart_at", "when the board starts anew; 0 for never",
                   _restart_at, _set_restart, TIME, low=0, high=3600, fault=True),
    setting("lost_frames", "share of the frames that never arrive", "rig.link.lost_frames",
            low=0, high=1, fault=True),
    setting("damaged_bytes", "share of the bytes that arrive wrong", "rig.link.damaged_bytes",
            low=0, high=1, fault=True),
    setting("garbage", "bursts of bytes from nowhere, each second", "rig.link.garbage_per_s",
            low=0, high=1000, fault=True),
    setting("joins_mid_frame", "whether listening begins in the middle of a frame",
            "rig.link.joins_mid_frame"),
)  # fmt: skip
