"""What pressure should a closed cylinder show while the crank moves just so?

A trapped mass of air as an initial-value problem over the measured angle and time: it is squeezed
by the piston, loses heat to the wall and mass past the rings, and is seen through a sensor with
lag. Only ratios matter, so it works with the geometry unknown. With p, T, m, V of the gas,

    d ln T / dt = (γ-1) (-V'/V - q - λ)          q = heat lost / (p V),  λ = mass lost / m
    d ln p / dt = -γ V'/V - (γ-1) q - γ λ

from the first law and the ideal gas (Heywood, Internal Combustion Engine Fundamentals, ch. 2 and
9). Heat loss has two parts of free size, one of stirred gas and one like conduction in still gas.
Size, power of pressure and dependence on speed of the first are free within what the correlations
of Annand, Woschni and Hohenberg span, which differ several-fold at these speeds.
Leakage is an orifice to the atmosphere (Heywood, app. C), its flow function in a smooth short form,
narrower as pressure seats the rings, wider as they move, and with gas that the gap has cooled.
Crevices fill with gas that takes its heat along, and give it back as warm as the wall (Heywood,
ch. 8). Each of these is small, and moves TDC by tenths of a degree where losses are large.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, fields

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.kinematics import stroke_ratio, travel
from strokewise.analysis.median import median
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.tdc.losses import GAMMA_LESS_1, ONE, WARM_K, ZERO, HeldGas, losses, whole
from strokewise.analysis.trade import AIR_GAMMA, AIR_GAS_CONSTANT, DEG_S_PER_RPM, WARM_AIR_K

CHOKED = 0.6847  # flow function of a choked orifice, γ = 1.4
STIRRED_AT_M_S = 0.5  # piston speed at which log_heat is stated: about 180 rev/min
PASCALS_IN_BAR = 1e5  # Pa
MUCH_TAKEN = 0.15
"""A step that may take so large a share of the gas's heat or mass is a long one."""

SETTLED_M_S = 2.0
"""Past this piston speed rings move hardly more: a guess, so that what a starter shows says nothing
wild of an engine that runs."""

LEAST_LEAK = 0.3
"""However rings move, so much of the leak stays."""

LOG_HALF = float(np.log(0.5))

HALVED = np.array(0.5)
HALF_GAMMA = 0.5 * AIR_GAMMA

SENSORS_OWN = frozenset({"lag_s", "hose", "delay_s", "log_gain", "zero_bar", "drift_bar_s"})
"""Parameters that the gas itself does not know, but for what they make late."""

PISTONS_OWN = frozenset(
    {"tdc_deg", "log_clearance", "late_s", "log_rod", "pin_offset", "wobble_deg", "backlash_deg"}
)
"""Parameters that the cylinder's volume hangs on, and all that it hangs on."""


@dataclass(frozen=True, slots=True)
class Runs:
    """Several runs of nodes side by side, padded to the longest.

    Attributes
    ----------
    time_s, angle_deg, pressure_bar, sigma_bar : (runs, k) float64
        ``angle_deg`` is relative to the nominal TDC of each run. Padding repeats the last node.
    speed_deg_s : (runs, k) float64
    used : (runs, k) bool
        False for padding, for clipped nodes and for steps put in between.
    between : (runs, k) bool, optional
        Steps put in where samples lie too far apart for the march: nothing was measured there.
    """

    time_s: FloatArray
    angle_deg: FloatArray
    speed_deg_s: FloatArray
    pressure_bar: FloatArray
    sigma_bar: FloatArray
    used: BoolArray
    between: BoolArray | None = None

    @property
    def turning(self) -> FloatArray:
        """The way each run goes, (runs,): 1 the engine's own, -1 back."""
        return np.asarray(np.sign(self.angle_deg[:, -1] - self.angle_deg[:, 0]))

    @property
    def cut_off(self) -> bool:
        """Whether the top of a compression stood at the sensor's end, so that it was not used."""
        before = np.logical_or.accumulate(self.used, axis=1)
        after = np.logical_or.accumulate(self.used[:, ::-1], axis=1)[:, ::-1]
        left_out = ~self.used if self.between is None else ~self.used & ~self.between
        return bool((before & after & left_out).any())

    @property
    def speed_rpm(self) -> float:
        """Median speed over the used nodes, always positive."""
        return (
            median(np.abs(self.speed_deg_s[self.used])) / DEG_S_PER_RPM if self.used.any() else 0.0
        )

    @property
    def speeds_deg_s(self) -> FloatArray:
        """Median speed of each run over its used nodes, (runs,), always positive."""
        each = zip(self.speed_deg_s, self.used, strict=True)
        return np.array([median(np.abs(speed[used])) for speed, used in each])

    @property
    def both_ways(self) -> bool:
        """Whether TDC was met from both sides."""
        return bool((self.turning > 0).any() and (self.turning < 0).any())


def _none() -> FloatArray:
    return np.zeros((1, 1))


@dataclass(frozen=True, slots=True)
class Gas:
    """The parameters, as arrays that broadcast to (variants, runs).

    Attributes
    ----------
    tdc_deg : TDC after the nominal one.
    log_clearance : ln(compression ratio - 1).
    log_leak : ln of the leak's effective area over the displacement, 1/m.
    log_heat : ln of the stirred heat transfer coefficient at 1 bar, 300 K and ``STIRRED_AT_M_S``.
    heat_power : its power of pressure, 0.7 (Annand) to 0.8 (Hohenberg, Woschni).
    log_swirl : ln of the stirring, m/s, that does not come from the piston's speed.
    wall_k : temperature of the wall.
    log_still : ln of the still-gas heat transfer coefficient half way down the stroke, W/(m² K).
    gap_power : how it rises as the gap between piston and head narrows.
    lag_s : response time of sensor and hose, all in all.
    hose : share of the response time by which pressure only comes late, its shape kept; the rest is
        a first-order lag.
    delay_s : the angle's delay behind the pressure.
    log_rod : ln(rod length / crank radius).
    pin_offset : d/a, pin offset over crank radius.
    wobble_deg : once-a-turn error of an eccentric clamp, the part even about TDC.
    backlash_deg : by how much more the encoder reads turned back: play between encoder and crank.
    log_gain : ln of the sensor's gain.
    log_start : ln of the true pressure at the run's first node, bar.
    log_warm : ln(gas temperature at the first node / 300 K).
    zero_bar : the sensor's zero error at the run's first node.
    drift_bar_s : how it wanders on from there.
    give : share of the displacement by which each bar presses piston, rod and bearings down.
    seating : share of the leak that pressure shuts as it presses the rings on to the wall.
    cooled : how far gas in the leak takes the wall's temperature: 0 not at all, 1 wholly.
    ring_motion : share by which each m/s of the piston widens the leak, at low speed.
    crevice : volume of the crevices over the clearance volume.
    log_outside : ln of the pressure outside over the one stated.
    """

    tdc_deg: FloatArray
    log_clearance: FloatArray
    log_leak: FloatArray
    log_heat: FloatArray
    heat_power: FloatArray
    log_swirl: FloatArray
    wall_k: FloatArray
    log_still: FloatArray
    gap_power: FloatArray
    lag_s: FloatArray
    delay_s: FloatArray
    log_rod: FloatArray
    pin_offset: FloatArray
    wobble_deg: FloatArray
    backlash_deg: FloatArray
    log_gain: FloatArray
    log_start: FloatArray
    log_warm: FloatArray
    zero_bar: FloatArray
    drift_bar_s: FloatArray
    give: FloatArray = field(default_factory=_none)
    hose: FloatArray = field(default_factory=_none)
    seating: FloatArray = field(default_factory=_none)
    cooled: FloatArray = field(default_factory=_none)
    ring_motion: FloatArray = field(default_factory=_none)
    crevice: FloatArray = field(default_factory=_none)
    log_outside: FloatArray = field(default_factory=_none)

    @property
    def late_s(self) -> FloatArray:
        """By how much pressure comes late, its shape kept."""
        return np.asarray(self.delay_s + self.hose * self.lag_s)

    @property
    def choked_s(self) -> FloatArray:
        """Time constant of what blunts it as well."""
        return np.asarray((1.0 - self.hose) * self.lag_s)

    def alike(self, names: Collection[str], runs: int) -> tuple[list[int], list[int]]:
        """Return variants of which no two are alike in these parameters, and which of them each is.

        Most variants of a fit differ from the first in one parameter, which most of the work does
        not hang on.
        """
        taken = [getattr(self, name) for name in names]
        shape = max(map(len, taken)), runs
        rows = np.hstack([np.broadcast_to(values, shape) for values in taken])
        seen: dict[bytes, int] = {}
        which = [seen.setdefault(row.tobytes(), len(seen)) for row in rows]
        return [which.index(kind) for kind in range(len(seen))], which

    def only(self, variants: Sequence[int]) -> Gas:
        """Return some of the variants."""
        values = {each.name: getattr(self, each.name) for each in fields(self)}
        return Gas(**{k: v[variants] if len(v) > 1 else v for k, v in values.items()})


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the cylinder is surrounded by, taken as known."""

    atmosphere_bar: float = 1.013
    atmosphere_k: float = 293.15
    stroke_m: float = 0.085
    bore_over_stroke: float = 1.0


def crank_after_tdc_deg(runs: Runs, gas: Gas) -> FloatArray:
    """Return each node's true crank angle after TDC, (variants, runs, k).

    Met from both sides TDC is counted from the middle. What the model of the losses falls short of
    looks like play many times the clamp's own; counted from the passes forth, half of it would be
    taken for TDC.
    """
    angle = runs.angle_deg[None]
    seen = angle - gas.tdc_deg[..., None]
    turning = runs.turning[None, :, None]
    play_taken = 0.5 * turning if runs.both_ways else np.minimum(turning, 0.0)
    return np.asarray(
        seen
        - runs.speed_deg_s[None] * gas.late_s[..., None]
        + gas.wobble_deg[..., None] * (1.0 - np.cos(np.radians(seen)))
        + play_taken * gas.backlash_deg[..., None]
    )


def pressures(runs: Runs, gas: Gas, around: Surroundings) -> FloatArray:
    """Return what the sensor should read at each node, bar, (variants, runs, k)."""
    true_bar = gas_pressures(runs, gas, around)
    seen = _through_lag(true_bar, np.diff(runs.time_s, axis=1), gas.choked_s)
    elapsed_s = (runs.time_s - runs.time_s[:, :1])[None]
    zero = gas.zero_bar[..., None] + gas.drift_bar_s[..., None] * elapsed_s
    return np.asarray(np.exp(gas.log_gain)[..., None] * seen + zero)


def gas_pressures(runs: Runs, gas: Gas, around: Surroundings) -> FloatArray:
    """Return the gas's own pressure at each node, before sensor and hose, (variants, runs, k)."""
    of_gas = {each.name for each in fields(gas)} - SENSORS_OWN | PISTONS_OWN
    unlike, which = gas.alike(sorted(of_gas), len(runs.time_s))
    gas = gas.only(unlike)
    unlike, sizes = gas.alike(sorted(PISTONS_OWN), len(runs.time_s))
    return _march(runs, gas, around, *_volumes(runs, gas.only(unlike), around), sizes)[which]


def _volumes(runs: Runs, gas: Gas, around: Surroundings) -> tuple[FloatArray, FloatArray]:
    """Return ln(V/V_displaced) and wall area over volume (1/m), both (variants, runs, k)."""
    theta = crank_after_tdc_deg(runs, gas)
    log_rod = np.broadcast_to(gas.log_rod, theta.shape[:2])
    offset = np.broadcast_to(gas.pin_offset, theta.shape[:2])
    down = np.empty_like(theta)
    for variant in range(len(theta)):  # rod and offset belong to the engine: one pair a variant
        shape = {
            "rod_ratio": float(np.exp(log_rod[variant, 0])),
            "pin_offset_ratio": float(offset[variant, 0]),
        }
        down[variant] = travel(theta[variant], **shape) / stroke_ratio(**shape)
    filled = down + np.exp(-gas.log_clearance)[..., None]
    # A flat cylinder of this height: two end faces and the wall between, over its volume.
    wall = (2.0 + 4.0 / around.bore_over_stroke * filled) / (around.stroke_m * filled)
    return np.log(filled), wall


def _march(
    runs: Runs,
    gas: Gas,
    around: Surroundings,
    log_volume: FloatArray,
    wall: FloatArray,
    sizes: Sequence[int],
) -> FloatArray:
    """March ln p and ln T from node to node: the squeezing exactly, the losses by Heun's rule.

    A step begins with the losses that the last one ended with, which were those of its guess; only
    where a step takes much of the gas's heat or mass are they looked up anew.

    Parameters
    ----------
    log_volume, wall : (volumes, runs, k) float64
    sizes : sequence of int
        Which of the volumes each variant has.
    """
    shape = len(sizes), len(runs.time_s)

    def each(value: FloatArray) -> FloatArray:
        return whole(value, shape)

    # Node first, so that each step of the march works on contiguous (variants, runs) blocks.
    log_gap = np.ascontiguousarray(np.moveaxis(log_volume, 2, 0))  # the gap over the stroke
    gap, wall_first = np.exp(log_gap), np.moveaxis(wall, 2, 0) / PASCALS_IN_BAR
    step_s = np.diff(runs.time_s, axis=1).T[:, None, :]
    moving = np.abs(np.diff(gap, axis=0)) * around.stroke_m / np.maximum(step_s, 1e-9)
    moving /= 1.0 + moving / SETTLED_M_S
    squeeze = np.diff(log_gap, axis=0)
    of_each = gap, log_gap, log_gap - LOG_HALF, wall_first, moving, squeeze, squeeze * HALF_GAMMA
    gap, log_gap, narrow, wall_first, moving, squeeze, half_squeeze = (
        value.take(sizes, axis=1) for value in of_each
    )
    step_s = whole(step_s, squeeze.shape)
    swirl = np.exp(gas.log_swirl)
    piston = (np.abs(runs.speed_deg_s) / 180.0 * around.stroke_m).T[:, None, :]
    stirring = whole(((piston + swirl) / (STIRRED_AT_M_S + swirl)) ** 0.75, log_gap.shape)
    stirred = wall_first * each(np.exp(gas.log_heat)) * stirring
    still = wall_first * np.exp(each(gas.log_still) - each(gas.gap_power) * narrow)
    leak = np.exp(each(gas.log_leak) - log_gap) * CHOKED * np.sqrt(AIR_GAS_CONSTANT * WARM_AIR_K)
    leak[1:] *= np.maximum(1.0 + each(gas.ring_motion) * moving, LEAST_LEAK)
    # Crevices hold gas at the wall's temperature: over the cylinder's own it is this times T.
    crevices = each(gas.crevice * np.exp(-gas.log_clearance) / gas.wall_k) / gap
    log_p = np.empty((len(squeeze) + 1, *shape))
    log_p[0] = gas.log_start
    held = HeldGas.of(
        shape,
        wall_k=gas.wall_k,
        heat_power=gas.heat_power,
        log_outside=np.log(around.atmosphere_bar) + gas.log_outside,
        seating=gas.seating,
        cooled=gas.cooled,
    )
    taken = GAMMA_LESS_1 * WARM_AIR_K * (stirred + still) + AIR_GAMMA * leak
    much = (step_s * taken[1:]).max(axis=(1, 2)) > MUCH_TAKEN
    # Pressing the piston down by give times dp takes this share off a change of ln p.
    give = each(AIR_GAMMA * gas.give) / gap
    half_s = 0.5 * step_s
    steps = list(zip(GAMMA_LESS_1 * step_s, AIR_GAMMA * step_s, strict=True))
    ways = list(zip(stirred, still, leak, strict=True))
    here, log_warm = log_p[0], each(gas.log_warm)
    q, loss, gamma = losses(here, log_warm, WARM_K * np.exp(log_warm), ways[0], steps[0], held)
    for k, dt in enumerate(step_s):
        volume = squeeze[k] / (ONE + give[k] * np.exp(here - half_squeeze[k]))
        all_lost = volume + dt * (q + loss)
        guess_p = here - gamma * all_lost + dt * q
        guess_warm = log_warm - (gamma - ONE) * all_lost
        before = q, loss, gamma
        warm = WARM_K * np.exp(guess_warm)
        q, loss, gamma = losses(guess_p, guess_warm, warm, ways[k + 1], steps[k], held)
        middle = HALVED * (before[2] + gamma)
        lost_heat = half_s[k] * (before[0] + q)
        all_lost = volume + lost_heat + half_s[k] * (before[1] + loss)
        rise = lost_heat - middle * all_lost
        # What goes into crevices takes its heat along, what comes back is as warm as the wall.
        share = crevices[k + 1] * warm
        back = held.wall_k / warm
        np.putmask(back, rise > ZERO, ONE)
        rise /= ONE + middle * share * back
        log_warm = log_warm - (middle - ONE) * all_lost - share * (middle * back - ONE) * rise
        here = np.add(here, rise, out=log_p[k + 1])
        if much[k]:
            warm = WARM_K * np.exp(log_warm)
            q, loss, gamma = losses(here, log_warm, warm, ways[k + 1], steps[k], held)
    return np.asarray(np.moveaxis(np.exp(log_p), 0, 2))


def _through_lag(true_bar: FloatArray, step_s: FloatArray, lag_s: FloatArray) -> FloatArray:
    """Pass pressure through a first-order lag, exactly for pressure that is straight between
    nodes."""
    lag = np.maximum(np.broadcast_to(lag_s, true_bar.shape[:2]), 1e-6)
    ratio = step_s[None] / lag[..., None]
    keep = np.exp(-ratio)
    share = np.where(ratio > 1e-9, (1.0 - keep) / np.maximum(ratio, 1e-9), 1.0)
    # The sensor is taken to have followed the slope of the first step for long.
    first = (true_bar[..., 1] - true_bar[..., 0]) / np.maximum(step_s[None, :, 0], 1e-9)
    old = (share - keep) * true_bar[..., :-1] + (1.0 - share) * true_bar[..., 1:]
    old, kept = (np.ascontiguousarray(np.moveaxis(each, 2, 0)) for each in (old, keep))
    seen = np.empty((len(kept) + 1, *lag.shape))
    seen[0] = true_bar[..., 0] - lag * first
    for k in range(len(kept)):
        seen[k + 1] = kept[k] * seen[k] + old[k]
    return np.asarray(np.moveaxis(seen, 0, 2))
