"""What can go wrong with a recording of "which TDC?": one change of the bench for each nasty.

A change is made to what really is (engine, turning, rig) or to what the tool is told of it (the
profile), before anything is turned. Those marked ``hopeless`` no tool can decide, whatever else is
sound; the rule of the labels is in :mod:`phase_draws`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.profile import Profile
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import Spanner, Starter, ValveFault
from strokewise.daq.bench.rig.rig import Slip
from strokewise.daq.bench.rig.sensor_model import calibration_points

Change = Callable[[np.random.Generator, "Case"], "Case"]


@dataclass(frozen=True)
class Case:
    """A bench, what the tool is told of it, and what is nasty about it.

    Attributes
    ----------
    hopeless : bool
        One of its nasties makes it undecidable.
    twice : bool
        One of them asks for two compressions and an overlap.
    since_s : float
        Only what comes after this counts: the last slip or restart.
    blind_from_s : float or None
        The sensor comes off at this share of the recording.
    """

    bench: Bench
    profile: Profile
    nasties: tuple[str, ...] = ()
    hopeless: bool = False
    twice: bool = False
    since_s: float = 0.0
    blind_from: float | None = None


def _sensor(case: Case, **change: object) -> Case:
    rig = case.bench.rig
    sensor = replace(rig.sensors[0], **change)  # type: ignore[arg-type]
    rig = replace(rig, sensors=(sensor, *rig.sensors[1:]))
    points = calibration_points(sensor, rig.board.adc_bits)
    told = replace(case.profile.sensors[0], points=points, reference=sensor.reference)
    profile = replace(case.profile, sensors=(told, *case.profile.sensors[1:]))
    return replace(case, bench=replace(case.bench, rig=rig), profile=profile)


def _encoder(case: Case, **change: object) -> Case:
    rig = case.bench.rig
    encoder = replace(rig.encoder, **change)  # type: ignore[arg-type]
    return replace(case, bench=replace(case.bench, rig=replace(rig, encoder=encoder)))


def _engine(case: Case, **change: object) -> Case:
    engine = replace(case.bench.engine, **change)  # type: ignore[arg-type]
    return replace(case, bench=replace(case.bench, engine=engine))


def _told(case: Case, **change: object) -> Case:
    encoder = replace(case.profile.encoder, **change)  # type: ignore[arg-type]
    return replace(case, profile=replace(case.profile, encoder=encoder))


def _longer(case: Case) -> Case:
    """Turn long enough for a second half that stands on its own."""
    turning = case.bench.turning
    if isinstance(turning, Starter):
        turning = replace(turning, duration_s=max(turning.duration_s, 6.0))
    elif isinstance(turning, Spanner):
        turning = replace(turning, total_deg=float(np.copysign(3600.0, turning.total_deg)))
    return replace(case, bench=replace(case.bench, turning=turning))


def by_hand(case: Case) -> bool:
    """Return whether the case is turned by hand."""
    return not isinstance(case.bench.turning, Starter)


def _drift(rng: np.random.Generator, case: Case) -> Case:
    most = 0.05 if by_hand(case) else 0.5
    high = case.bench.rig.sensors[0].high_bar
    return _sensor(
        case, drift_bar_per_s=float(rng.uniform(-most, most)), low_bar=-high / 4, high_bar=high
    )


def _clipped(rng: np.random.Generator, case: Case) -> Case:
    return replace(_sensor(case, high_bar=float(rng.uniform(2.0, 6.0))), twice=True)


def _vacuum(rng: np.random.Generator, case: Case) -> Case:
    return replace(_sensor(case, low_bar=0.1, high_bar=1.15, noise_bar=0.002), twice=True)


def _lag(rng: np.random.Generator, case: Case) -> Case:
    return _sensor(case, lag_s=float(rng.uniform(0.002, 0.008)))


def _noise(rng: np.random.Generator, case: Case) -> Case:
    return replace(_sensor(case, noise_bar=float(rng.uniform(0.05, 0.15))), twice=True)


def _hum(rng: np.random.Generator, case: Case) -> Case:
    hz = float(rng.choice([50.0, 60.0]))
    return replace(_sensor(case, hum_bar=float(rng.uniform(0.05, 0.3)), hum_hz=hz), twice=True)


def _gauge(rng: np.random.Generator, case: Case) -> Case:
    return _sensor(case, reference="gauge", low_bar=-1.0)


def _no_points(rng: np.random.Generator, case: Case) -> Case:
    sensors = (replace(case.profile.sensors[0], points=()), *case.profile.sensors[1:])
    return replace(case, profile=replace(case.profile, sensors=sensors), twice=True)


def _wrong_zero(rng: np.random.Generator, case: Case) -> Case:
    return _sensor(case, offset_bar=float(rng.uniform(0.0, 1.0)))


def _stray(rng: np.random.Generator, case: Case) -> Case:
    return _encoder(case, stray_per_s=float(rng.uniform(0.5, 5.0)))


def _lost(rng: np.random.Generator, case: Case) -> Case:
    return _encoder(case, lost_per_turn=float(rng.uniform(1.0, 6.0)))


def _on_cam(rng: np.random.Generator, case: Case) -> Case:
    return _told(_encoder(case, drive_ratio=0.5), drive_ratio=0.5)


def _geared(rng: np.random.Generator, case: Case) -> Case:
    ratio = float(rng.choice([2.0, 1.5, 35.0 / 24.0]))
    return _told(_encoder(case, drive_ratio=ratio), drive_ratio=ratio)


def _reversed_count(rng: np.random.Generator, case: Case) -> Case:
    return _told(_encoder(case, direction=-1), direction=-1)


def _slip(rng: np.random.Generator, case: Case) -> Case:
    case = _longer(case)
    by = float(rng.choice([-1.0, 1.0]) * rng.choice([12.0, 45.0, 90.0, 180.0, 270.0, 359.0]))
    begins = _middle_s(case)
    slip = Slip(by_deg=by, at_time_s=begins, lasts_s=float(rng.uniform(0.02, 0.2)))
    return replace(_encoder(case, slips=(slip,)), twice=True, since_s=begins + 0.3)


def _restart(rng: np.random.Generator, case: Case) -> Case:
    case = _longer(case)
    begins = _middle_s(case)
    rig = case.bench.rig
    rig = replace(rig, board=replace(rig.board, restarts_s=(begins,)))
    return replace(case, bench=replace(case.bench, rig=rig), twice=True, since_s=begins + 0.5)


def _middle_s(case: Case) -> float:
    turning = case.bench.turning
    if isinstance(turning, Starter):
        return 2.6
    assert isinstance(turning, Spanner)
    return abs(turning.total_deg) / 6.0 / float(np.mean(turning.rpm)) * 0.6


def _pauses(rng: np.random.Generator, case: Case) -> Case:
    turning = case.bench.turning
    assert isinstance(turning, Spanner)
    turning = replace(turning, pause_s=(0.5, 2.5), swing_deg=(30.0, 70.0))
    return replace(case, bench=replace(case.bench, turning=turning))


def _back_rolls(rng: np.random.Generator, case: Case) -> Case:
    turning = case.bench.turning
    assert isinstance(turning, Spanner)
    turning = replace(turning, back_roll_deg=(4.0, 20.0))
    return replace(case, bench=replace(case.bench, turning=turning))


def _backwards(rng: np.random.Generator, case: Case) -> Case:
    turning = case.bench.turning
    assert isinstance(turning, Spanner)
    turning = replace(turning, total_deg=-abs(turning.total_deg))
    return replace(case, bench=replace(case.bench, turning=turning))


def _others_open(rng: np.random.Generator, case: Case) -> Case:
    return _engine(case, plugs_out=tuple(range(2, case.bench.engine.cylinders + 1)))


def _fault(case: Case, **change: float) -> Case:
    return _engine(case, valve_faults=(ValveFault(1, "exhaust", **change),))  # type: ignore[arg-type]


def _burnt(rng: np.random.Generator, case: Case) -> Case:
    return _fault(case, leak_area_mm2=float(rng.uniform(2.0, 12.0)))


def _no_clearance(rng: np.random.Generator, case: Case) -> Case:
    return _fault(case, clearance_mm=-float(rng.uniform(0.02, 0.2)))


def _throttle_shut(rng: np.random.Generator, case: Case) -> Case:
    return _engine(case, throttle_area_mm2=float(rng.uniform(1.0, 10.0)))


def _half_turn(rng: np.random.Generator, case: Case) -> Case:
    return _engine(case, intake_shift_deg=360.0, exhaust_shift_deg=360.0)


def _cable(rng: np.random.Generator, case: Case) -> Case:
    rig = case.bench.rig
    link = replace(rig.link, lost_frames=float(rng.uniform(0.0, 0.08)), damaged_bytes=1e-4)
    return replace(case, bench=replace(case.bench, rig=replace(rig, link=link)))


def _dead(rng: np.random.Generator, case: Case) -> Case:
    return replace(_engine(case, plugs_out=(1,)), hopeless=True)


def _hose_valve(rng: np.random.Generator, case: Case) -> Case:
    return replace(_sensor(case, non_return_valve=True), hopeless=True)


def _comes_off(rng: np.random.Generator, case: Case) -> Case:
    return replace(_longer(case), blind_from=float(rng.uniform(0.35, 0.6)))


def _wrong_way(rng: np.random.Generator, case: Case) -> Case:
    return replace(_told(case, direction=-1), hopeless=True)


def _wrong_counts(rng: np.random.Generator, case: Case) -> Case:
    counts = case.bench.rig.encoder.counts_per_rev
    share = float(rng.choice([0.5, 2.0, 1.2, 0.9, 0.25, 4.0]))
    return replace(_told(_longer(case), counts_per_rev=round(counts * share)), hopeless=True)


def _wrong_ratio(rng: np.random.Generator, case: Case) -> Case:
    if rng.random() < 0.5:
        return replace(_told(_longer(case), drive_ratio=0.5), hopeless=True)
    return replace(_encoder(_longer(case), drive_ratio=0.5), hopeless=True)


def _valves_shut(rng: np.random.Generator, case: Case) -> Case:
    engine = case.bench.engine
    shut = {side: replace(getattr(engine, side), lift_mm=0.0) for side in ("intake", "exhaust")}
    return replace(_engine(case, **shut), hopeless=True)


def _wrong_order(rng: np.random.Generator, case: Case) -> Case:
    """Record a second cylinder, and state the firing order the other way round."""
    engine, rig = case.bench.engine, case.bench.rig
    offsets = {c: engine.firing_deg(c) for c in engine.firing_order}
    order = (1, *reversed(engine.firing_order[1:]))
    told_deg = {c: i * engine.cycle_deg / len(order) for i, c in enumerate(order)}
    differ = [c for c in order if abs(offsets[c] - told_deg[c]) > 100.0]
    if not differ:
        return case
    second = int(rng.choice(differ))
    sensors = (rig.sensors[0], replace(rig.sensors[0], cylinder=second, name="second"))
    told = (case.profile.sensors[0], replace(case.profile.sensors[0], channel=1, cylinder=second))
    profile = replace(case.profile, firing_order=order, sensors=told)
    bench = replace(case.bench, rig=replace(rig, sensors=sensors))
    return replace(case, bench=bench, profile=profile, hopeless=True)


def _short(rng: np.random.Generator, case: Case) -> Case:
    """Turn from after the compression to before the next."""
    begin = float(rng.uniform(90.0, 300.0))
    turning = Spanner(
        total_deg=float(rng.uniform(60.0, 580.0 - begin)), start_deg=begin, rpm=(10.0, 40.0)
    )
    return replace(case, bench=replace(case.bench, turning=turning), hopeless=True)


RIG: dict[str, Change] = {
    "drift": _drift,
    "clipped": _clipped,
    "vacuum range": _vacuum,
    "lag": _lag,
    "noise": _noise,
    "hum": _hum,
    "gauge": _gauge,
    "no points": _no_points,
    "wrong zero": _wrong_zero,
    "stray counts": _stray,
    "lost counts": _lost,
    "on camshaft": _on_cam,
    "geared": _geared,
    "counts falling": _reversed_count,
    "bad cable": _cable,
    "non-return valve": _hose_valve,
}
"""Of encoder, sensor, board and cable."""

ENGINE: dict[str, Change] = {
    "others' plugs out": _others_open,
    "burnt valve": _burnt,
    "no clearance": _no_clearance,
    "throttle shut": _throttle_shut,
    "cam half a turn out": _half_turn,
    "dead cylinder": _dead,
}
RIG_LONG: dict[str, Change] = {
    "slip": _slip,
    "sensor comes off": _comes_off,
    "wrong direction": _wrong_way,
    "wrong counts": _wrong_counts,
    "wrong ratio": _wrong_ratio,
}
"""Of the rig too, where the starter turns several cycles."""

TURNED: dict[str, Change] = {
    "slip": _slip,
    "board restart": _restart,
    "sensor comes off": _comes_off,
    "valves never open": _valves_shut,
    "wrong firing order": _wrong_order,
}
STARTER: dict[str, Change] = {
    "wrong direction": _wrong_way,
    "wrong counts": _wrong_counts,
    "wrong ratio": _wrong_ratio,
}
HAND: dict[str, Change] = {
    "pauses": _pauses,
    "back-rolls": _back_rolls,
    "turned backwards": _backwards,
    "not turned enough": _short,
}
ANY = {**RIG, **ENGINE}
WAYS = {
    "starter": {**ANY, **TURNED, **STARTER},
    "spanner": {**ANY, **TURNED, **HAND},
    "rocked": ANY,
}
BANK_WAYS = {
    "starter": {**ENGINE, "valves never open": _valves_shut},
    "spanner": {**ENGINE, **HAND, "valves never open": _valves_shut},
    "rocked": ENGINE,
}
"""What belongs to the turned engine, without its rig."""

NOT_TOGETHER = (
    {"clipped", "vacuum range", "no points", "gauge", "drift", "wrong zero"},
    {"slip", "board restart", "sensor comes off", "not turned enough"},
    {"sensor comes off", "wrong firing order"},
    {"dead cylinder", "others' plugs out"},
    {"valves never open", "no clearance"},
    {"on camshaft", "geared", "wrong counts", "wrong ratio", "counts falling", "wrong direction"},
    {"turned backwards", "not turned enough"},
    {"pauses", "not turned enough"},
    {"back-rolls", "not turned enough"},
)
"""At most one of each set: they set the same thing, or one undoes the other (a valve that never
shuts is none that never opens). A sensor that comes
off would leave the second one of a wrong firing order alone, which is *outside* once more."""
