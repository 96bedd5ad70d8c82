"""Does the pressure sensor live, is it quiet, and does it come back?"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import remark
from strokewise.analysis.rig.rig_finding import RigFinding, good, missing, odd
from strokewise.analysis.rig.rig_run import RigRun
from strokewise.analysis.trace.trace import DEFAULT_ADC_BITS, pressure_of

END_SHARE = 0.01
"""A ratiometric sensor leaves a tenth of the range at either end; within a hundredth of one stands
no sensor, but a broken or shorted wire."""

QUIET_SHARE = 0.004
"""Standard deviation at rest, of the converter's range, beyond which the wiring wants a look: four
steps of ten bits, a tenth of a bar with a sensor to 20 bar."""

WINDOW = 50
"""Samples over which noise is taken: a few periods of the mains at 1 kHz, one at 2 kHz."""

REST_SHARE = 0.03
"""How far from the atmosphere a sensor may stand at rest, of the range of its known points: what
data sheets of cheap ones allow over temperature (common practice, no source)."""
REST_LEAST_BAR = 0.1
"""Nor need it be nearer than what the weather does to the atmosphere."""

SQUEEZE_SHARE = 0.01
"""A squeeze moves the reading by this much of the range at least: a fifth of a bar of 20."""
NOISES = 8.0
"""And by so many standard deviations of its noise."""

BACK_SHARE = 0.25
"""Let go, no more than a quarter of the squeeze may be left."""

LAST_SHARE = 0.1
"""What is taken for "in the end": the last tenth of the part."""


def sensor_findings(run: RigRun, profile: Profile) -> tuple[RigFinding, ...]:
    """Return what is to be said of every sensor, or of channel 0 where none is stated."""
    sensors = profile.sensors or (Sensor(),)
    held = run.samples.readings.shape[1]
    found: list[RigFinding] = []
    for sensor in sensors:
        name = "" if len(sensors) == 1 else f" {sensor.channel}"
        if sensor.channel >= held:
            found.append(_absent(sensor, held, name))
        elif len(run.samples.time_us[run.rest]):
            found += _tried(run, profile, sensor, name)
    return tuple(found)


def _absent(sensor: Sensor, held: int, name: str) -> RigFinding:
    return missing(
        f"rest{name}",
        remark("rig-no-channel", channel=sensor.channel, channels=held),
        remark("rig-say-channel", most=held - 1),
    )


def _tried(run: RigRun, profile: Profile, sensor: Sensor, name: str) -> list[RigFinding]:
    bits = (run.board.adc_bits if run.board is not None else None) or DEFAULT_ADC_BITS
    full = float(1 << bits)
    reading = run.samples.readings[:, sensor.channel].astype(np.float64)
    rest = reading[run.rest]
    level, noise = float(np.median(rest)), _spread(rest)
    figures = {"reading": level, "share": round(level / full, 4)}
    if level <= END_SHARE * full or level >= (1 - END_SHARE) * full:
        said = remark("rig-at-an-end", reading=level, end="bottom" if level < full / 2 else "top")
        return [missing(f"rest{name}", said, remark("rig-look-at-sensor"), figures)]
    return [
        _at_rest(level, full, profile, sensor, name, figures),
        _noise(noise, full, name),
        _squeeze(reading[run.squeezed], level, noise, full, name),
    ]


def _spread(reading: FloatArray) -> float:
    """Return the usual standard deviation within ``WINDOW`` samples; a squeeze among them is not.

    Mains hum is in it, what creeps is not.
    """
    whole = len(reading) // WINDOW
    if not whole:
        return float(np.std(reading))
    return float(np.median(np.std(reading[: whole * WINDOW].reshape(whole, WINDOW), axis=1)))


def _at_rest(
    level: float,
    full: float,
    profile: Profile,
    sensor: Sensor,
    name: str,
    figures: dict[str, float],
) -> RigFinding:
    check = f"rest{name}"
    reads = remark("rig-reads", reading=level, most=full - 1, share=level / full)
    if not sensor.points:
        return good(check, remark("rig-reads-no-points", reads=reads), figures=figures)
    at = np.array([level])
    bar = float(pressure_of(at, sensor, profile, round(np.log2(full)))[0][0])
    pressures = [pressure for _, pressure in sensor.points]
    allowed = max(REST_LEAST_BAR, REST_SHARE * (max(pressures) - min(pressures)))
    air = profile.atmosphere.pressure_bar
    figures = {**figures, "bar": round(bar, 3), "atmosphere_bar": air}
    said = remark("rig-reads-bar", reads=reads, shown_bar=bar, air_bar=air)
    if abs(bar - air) <= allowed:
        return good(check, said, figures=figures)
    return odd(check, said, remark("rig-must-show-air"), figures)


def _noise(noise: float, full: float, name: str) -> RigFinding:
    share = noise / full
    figures = {"noise": round(noise, 2), "share": round(share, 5)}
    if share <= QUIET_SHARE:
        said = remark("rig-quiet", noise_steps=noise, share=share)
        return good(f"noise{name}", said, figures=figures)
    said = remark("rig-noisy", noise_steps=noise, share=share)
    return odd(f"noise{name}", said, remark("rig-quieten"), figures)


def _squeeze(reading: FloatArray, level: float, noise: float, full: float, name: str) -> RigFinding:
    check = f"squeeze{name}"
    if not len(reading):
        return missing(check, remark("rig-not-squeezed"), remark("rig-squeeze"))
    away = reading - level
    most = float(away[np.argmax(np.abs(away))])
    figures = {"moved": most, "share": round(most / full, 4)}
    if abs(most) < max(SQUEEZE_SHARE * full, NOISES * noise):
        said = remark("rig-hardly-moved", steps=abs(most))
        return missing(check, said, remark("rig-hose-blocked"), figures)
    last = away[-max(1, round(LAST_SHARE * len(away))) :]
    left = float(np.median(last))
    if abs(left) > BACK_SHARE * abs(most):
        stays = remark("rig-squeeze-stays", steps=most, share=most / full, left_steps=left)
        return odd(check, stays, remark("rig-let-go"), figures)
    came_back = remark("rig-squeezed", steps=most, share=most / full)
    return good(check, came_back, figures=figures)
