"""How would this trace look if all were well? The same engine on the bench, without the fault."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Sensor
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import Bench, take
from strokewise.daq.bench.engine.settings import BenchEngine, Held
from strokewise.daq.bench.rig.rig import Rig, SensorRig
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.gui.models.figures.views import Subject
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.run.sources import profile_maker

HEALTHY = "healthy (simulated)"
TAKEN_OVER = ("compression_ratio", "bore_mm", "stroke_mm", "rod_length_mm")
"""What the profile's engine and the bench's share; what nobody stated is the bench's own."""
REFERENCE_CYCLES = 3.0
"""Enough for compressions with both flanks, whatever angle it begins at."""
SLOWEST_RPM = 20.0
"""A slower one takes the bench minutes."""


def bench_like(moment: Snapshot) -> Bench:
    """Return a healthy bench as the profile says, held at the speed that the trace was taken at.

    Raises
    ------
    InputError
        Where there is nothing to compare, or no compression is seen by the sensor.
    """
    profile = moment.profile
    sensor = profile.sensors[0] if profile.sensors else Sensor()
    if sensor.place != "plug hole":
        raise InputError("a healthy trace is laid behind compressions alone: sense a plug hole")
    if not moment.passes:
        raise InputError("no compression yet to lay a healthy one behind: turn the engine on")
    stated: dict[str, Any] = {
        name: value for name in TAKEN_OVER if (value := getattr(profile, name)) is not None
    }
    cylinder = sensor.cylinder or 1
    engine = BenchEngine(
        cylinders=profile.cylinders,
        firing_order=profile.firing_order,
        firing_intervals_deg=profile.firing_intervals_deg,
        cycle=profile.cycle,
        adaptor_cylinder=cylinder,
        atmosphere=profile.atmosphere,
        pin_offset_mm=profile.pin_offset_mm,
        **stated,
    )
    rpm = max(SLOWEST_RPM, _speed_rpm(moment))
    turns = REFERENCE_CYCLES * profile.cycle_deg
    return Bench(
        engine,
        turning=Held(rpm=rpm, held_s=turns / (rpm * DEG_S_PER_RPM)),
        rig=Rig(sensors=(SensorRig(cylinder=cylinder),)),
    )


def healthy_subject(bench: Bench, assumed: str = "") -> Subject:
    """Turn a bench and return its passes, as a recording's would be; some seconds of work.

    Raises
    ------
    InputError
        When the bench made no compression either.
    """
    profile = profile_maker(header={"engine": stated_profile(bench)})
    deck = Deck(take(bench).items, profile, Tracker, name=HEALTHY, simulated=True)
    subject = deck.subject_at_end(f"{HEALTHY}{assumed}")
    if not subject.passes or subject.tdc_deg is None:
        raise InputError("the healthy bench engine made no compression that could be laid behind")
    return replace(subject, evenly=isinstance(bench.turning, Held))


def what_it_is(moment: Snapshot) -> str:
    """Return how the healthy engine was turned and what of it is the bench's own, in words."""
    profile, rpm = moment.profile, max(SLOWEST_RPM, _speed_rpm(moment))
    missing = [name for name in TAKEN_OVER if getattr(profile, name) is None]
    evenly = f", turned evenly at {rpm:.0f} rev/min"
    if not missing:
        return f"{evenly}, all stated sizes the profile's"
    words = ", ".join(name.removesuffix("_mm").replace("_", " ") for name in missing)
    return f"{evenly}, {words} assumed"


def _speed_rpm(moment: Snapshot) -> float:
    last = moment.passes[-1]
    if len(last.time_s) < 2:
        return SLOWEST_RPM
    time_s = float(last.time_s[-1] - last.time_s[0])
    turned = float(np.ptp(last.angle_deg))
    return turned / time_s / DEG_S_PER_RPM if time_s > 0 else SLOWEST_RPM
