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

from dataclasses import dataclass, field

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.kinematics import stroke_ratio, travel
from strokewise.analysis.median import median
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.trade import AIR_GAMMA, AIR_GAS_CONSTANT, DEG_S_PER_RPM, WARM_AIR_K

CHOKED = 0.6847  # flow function of a choked orifice, γ = 1.4
FLOW_STEEPNESS = 5.3  # of the flow function's approach to choking, see _losses
STIRRED_AT_M_S = 0.5  # piston speed at which log_heat is stated: about 180 rev/min
PASCALS_IN_BAR = 1e5  # Pa
GAMMA_LESS_1 = 0.4  # as AIR_GAMMA only to hold losses to a step's equilibrium
MUCH_TAKEN = 0.15
"""A step that may take so large a share of the gas's heat or mass is a long one."""

SEATED_BAR = 1.5
"""Above the pressure outside, at which rings are seated for the greater part: a guess."""

SETTLED_M_S = 2.0
"""Past this piston speed rings move hardly more: a guess, so that what a starter shows says nothing
wild of an engine that runs."""

LEAST_LEAK = 0.3
"""However rings move, so much of the leak stays."""

LOG_HALF = float(np.log(0.5))


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
    lag_s : first-order time constant of sensor and hose.
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
    seating: FloatArray = field(default_factory=_none)
    cooled: FloatArray = field(default_factory=_none)
    ring_motion: FloatArray = field(default_factory=_none)
    crevice: FloatArray = field(default_factory=_none)
    log_outside: FloatArray = field(default_factory=_none)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the cylinder is surrounded by, taken as known."""

    atmosphere_bar: float = 1.013
    atmosphere_k: float = 293.15
    stroke_m: float = 0.085
    bore_over_stroke: float = 1.0


def gamma_of(temperature_k: FloatArray) -> FloatArray:
    """Return the heat-capacity ratio of dry air: a cubic through tabled values, within 0.001.

    The table is the usual one of ideal-gas heat capacities (from memory: 1.0049 kJ/(kg K) at 300 K,
    1.0987 at 800 K).
    """
    t = 1e-3 * temperature_k
    return np.asarray(1.3898 + t * (0.1181 + t * (-0.3283 + t * 0.1558)))


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
        - runs.speed_deg_s[None] * gas.delay_s[..., None]
        + gas.wobble_deg[..., None] * (1.0 - np.cos(np.radians(seen)))
        + play_taken * gas.backlash_deg[..., None]
    )


def pressures(runs: Runs, gas: Gas, around: Surroundings) -> FloatArray:
    """Return what the sensor should read at each node, bar, (variants, runs, k)."""
    true_bar = gas_pressures(runs, gas, around)
    seen = _through_lag(true_bar, np.diff(runs.time_s, axis=1), gas.lag_s)
    elapsed_s = (runs.time_s - runs.time_s[:, :1])[None]
    zero = gas.zero_bar[..., None] + gas.drift_bar_s[..., None] * elapsed_s
    return np.asarray(np.exp(gas.log_gain)[..., None] * seen + zero)


def gas_pressures(runs: Runs, gas: Gas, around: Surroundings) -> FloatArray:
    """Return the gas's own pressure at each node, before sensor and hose, (variants, runs, k)."""
    return _march(runs, gas, around, *_volumes(runs, gas, around))


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
    runs: Runs, gas: Gas, around: Surroundings, log_volume: FloatArray, wall: FloatArray
) -> FloatArray:
    """March ln p and ln T from node to node: the squeezing exactly, the losses by Heun's rule.

    A step begins with the losses that the last one ended with, which were those of its guess; only
    where a step takes much of the gas's heat or mass are they looked up anew.
    """
    shape = log_volume.shape[:2]
    # Node first, so that each step of the march works on contiguous (variants, runs) blocks.
    step_s = np.ascontiguousarray(np.diff(runs.time_s, axis=1).T)[:, None, :]
    log_gap = np.moveaxis(log_volume, 2, 0)  # volume over displacement is the gap over the stroke
    squeeze = np.ascontiguousarray(np.diff(log_gap, axis=0))
    wall_first = np.moveaxis(wall, 2, 0) / PASCALS_IN_BAR
    swirl = np.exp(gas.log_swirl)
    piston = (np.abs(runs.speed_deg_s) / 180.0 * around.stroke_m).T[:, None, :]
    stirring = ((piston + swirl) / (STIRRED_AT_M_S + swirl)) ** 0.75
    stirred = wall_first * np.exp(gas.log_heat) * stirring
    still = wall_first * np.exp(gas.log_still - gas.gap_power * (log_gap - LOG_HALF))
    leak = np.exp(gas.log_leak - log_gap) * CHOKED * np.sqrt(AIR_GAS_CONSTANT * WARM_AIR_K)
    gap = np.exp(log_gap)
    moving = np.abs(np.diff(gap, axis=0)) * around.stroke_m / np.maximum(step_s, 1e-9)
    moving /= 1.0 + moving / SETTLED_M_S
    leak[1:] *= np.maximum(1.0 + gas.ring_motion * moving, LEAST_LEAK)
    # Crevices hold gas at the wall's temperature: over the cylinder's own it is this times T.
    crevices = gas.crevice * np.exp(-gas.log_clearance) / gas.wall_k / gap
    log_p = np.empty((len(squeeze) + 1, *shape))
    log_p[0] = gas.log_start
    log_warm = np.broadcast_to(gas.log_warm, shape)
    held = _Held.of(gas, around)
    taken = GAMMA_LESS_1 * WARM_AIR_K * (stirred + still) + AIR_GAMMA * leak
    much = (step_s * taken[1:]).max(axis=(1, 2)) > MUCH_TAKEN
    warm = WARM_AIR_K * np.exp(log_warm)
    first = log_p[0], log_warm, warm
    q, loss, gamma = _losses(*first, stirred[0], still[0], leak[0], held, step_s[0])
    # Pressing the piston down by give times dp takes this share off a change of ln p.
    give = AIR_GAMMA * gas.give / gap
    for k, dt in enumerate(step_s):
        here = log_p[k]
        volume = squeeze[k] / (1.0 + give[k] * np.exp(here - 0.5 * AIR_GAMMA * squeeze[k]))
        all_lost = volume + dt * (q + loss)
        guess_p = here - gamma * all_lost + dt * q
        guess_warm = log_warm - (gamma - 1.0) * all_lost
        before = q, loss, gamma
        warm = WARM_AIR_K * np.exp(guess_warm)
        q, loss, gamma = _losses(
            guess_p, guess_warm, warm, stirred[k + 1], still[k + 1], leak[k + 1], held, dt
        )
        middle = 0.5 * (before[2] + gamma)
        lost_heat = 0.5 * dt * (before[0] + q)
        all_lost = volume + lost_heat + 0.5 * dt * (before[1] + loss)
        rise = lost_heat - middle * all_lost
        # What goes into crevices takes its heat along, what comes back is as warm as the wall.
        share = crevices[k + 1] * warm
        back = np.where(rise > 0.0, 1.0, gas.wall_k / warm)
        rise = rise / (1.0 + middle * share * back)
        log_p[k + 1] = here + rise
        log_warm = log_warm - (middle - 1.0) * all_lost - share * (middle * back - 1.0) * rise
        if much[k]:
            q, loss, gamma = _losses(
                log_p[k + 1], log_warm, WARM_AIR_K * np.exp(log_warm),
                stirred[k + 1], still[k + 1], leak[k + 1], held, dt,
            )  # fmt: skip
    return np.asarray(np.moveaxis(np.exp(log_p), 0, 2))


@dataclass(frozen=True, slots=True)
class _Held:
    """What stays the same from step to step of a march, worked out once.

    Attributes
    ----------
    less_power : power of pressure of the stirred heat transfer, less 1.
    outside_over : pressure outside over that at which rings seat, negative.
    root, root_wall : the leak goes with T to the power of a half, and the more the cooler the gap
        leaves the gas: this power in all, and what is to be taken off its ln for the wall's.
    """

    wall_k: FloatArray
    less_power: FloatArray
    log_outside: FloatArray
    outside_over: FloatArray
    seating: FloatArray
    root: FloatArray
    root_wall: FloatArray

    @classmethod
    def of(cls, gas: Gas, around: Surroundings) -> _Held:
        log_outside = np.log(around.atmosphere_bar) + gas.log_outside
        return cls(
            wall_k=gas.wall_k,
            less_power=gas.heat_power - 1.0,
            log_outside=log_outside,
            outside_over=-np.exp(log_outside) / SEATED_BAR,
            seating=gas.seating,
            # Gas is denser by the root of how much cooler it is in the gap.
            root=0.5 + 0.5 * gas.cooled,
            root_wall=0.5 * gas.cooled * np.log(gas.wall_k / WARM_AIR_K),
        )


def _losses(
    log_p: FloatArray,
    log_warm: FloatArray,
    temperature: FloatArray,
    stirred: FloatArray,
    still: FloatArray,
    leak: FloatArray,
    held: _Held,
    dt: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return heat lost over p V (1/s), mass lost over m (1/s), and the heat-capacity ratio.

    Both are held to what brings the gas to the wall's temperature or to the pressure outside within
    a step ``dt``: a fast loss in a long step would overshoot its own equilibrium.
    """
    # h of stirred gas goes with p^a T^-0.45 over p, that of still gas as its conductivity, T^0.75.
    coefficient = stirred * np.exp(held.less_power * log_p - 0.45 * log_warm)
    coefficient += still * np.exp(0.75 * log_warm - log_p)
    coefficient /= np.sqrt(1.0 + np.square(GAMMA_LESS_1 * dt * temperature * coefficient))
    q = coefficient * (temperature - held.wall_k)
    drop = log_p - held.log_outside
    size = np.abs(drop)
    # sqrt(1 - exp(-5.3 x)), x = ln of the pressure ratio, follows the orifice's flow function from
    # no flow to choking within 3 %; y/√(y+ε) takes away its infinite slope where the flow turns.
    open_part = -np.expm1(-FLOW_STEEPNESS * size)
    flow = np.copysign(open_part, drop) / np.sqrt(open_part + 0.01)
    below = np.minimum(drop, 0.0)
    # Rings are pressed on to the wall by what the pressure is above that outside.
    seated = 1.0 + held.seating * np.expm1(held.outside_over * np.expm1(drop - below))
    loss = leak * seated * np.exp(held.root * log_warm - below - held.root_wall) * flow
    loss /= np.sqrt(1.0 + np.square(AIR_GAMMA * dt * loss / (size + 1e-9)))
    return q, loss, gamma_of(temperature)


def _through_lag(true_bar: FloatArray, step_s: FloatArray, lag_s: FloatArray) -> FloatArray:
    """Pass pressure through a first-order lag, exactly for pressure that is straight between
    nodes."""
    lag = np.maximum(np.broadcast_to(lag_s, true_bar.shape[:2]), 1e-6)
    ratio = step_s[None] / lag[..., None]
    keep = np.exp(-ratio)
    share = np.where(ratio > 1e-9, (1.0 - keep) / np.maximum(ratio, 1e-9), 1.0)
    # The sensor is taken to have followed the slope of the first step for long.
    first = (true_bar[..., 1] - true_bar[..., 0]) / np.maximum(step_s[None, :, 0], 1e-9)
    old = np.moveaxis((share - keep) * true_bar[..., :-1] + (1.0 - share) * true_bar[..., 1:], 2, 0)
    kept = np.moveaxis(keep, 2, 0)
    seen = np.empty((len(kept) + 1, *lag.shape))
    seen[0] = true_bar[..., 0] - lag * first
    for k in range(len(kept)):
        seen[k + 1] = kept[k] * seen[k] + old[k]
    return np.asarray(np.moveaxis(seen, 0, 2))
