"""A second simulated cylinder, written apart from the bench engine and from the fit's model.

What the fit takes for granted is drawn here from wider families: any power of pressure, temperature
and speed in the heat law, or none; head, piston and liner each at its own temperature, and a film
on them that lags; crevices that fill and empty; rings whose leak follows their motion and the
pressure behind them, with a volume between them; moist air, whose heat capacity comes from the
vibration of its molecules (Einstein; the temperatures N2 3,374 K, O2 2,256 K, H2O 2,295, 5,255
and 5,400 K from memory) and not from a table. Crevice and ring volumes: Heywood, Internal
Combustion Engine Fundamentals, ch. 8 (one or two hundredths of the clearance volume, from memory);
heat that leads the temperature in a gas squeezed to and fro: Kornhauser & Smith (from memory).
Every other range is our own guess, wide on purpose.

The crank's way comes from the bench engine, whose cylinder 1 is filled anew.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, replace
from math import ceil, cos, exp, pi, sin, sqrt

import numpy as np
from numba import njit

from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import BenchEngine

R_MOLAR = 8314.46  # J/(kmol K)
STEP_DEG, STEP_S = 0.15, 2e-4
OPEN_M2 = 1e-6  # a valve open wider than this fills the cylinder faster than a step


@dataclass(frozen=True)
class Second:
    """What is drawn; SI units.

    Attributes
    ----------
    heat : float
        Coefficient at 1 bar, 300 K and 0.5 m/s of mean piston speed, W/(m² K).
    p_power, t_power, speed_power : float
        Its powers.
    stirred_m_s : float
        Gas speed that does not come from the piston.
    head_k, piston_k, liner_k : float
    film_s, film_share : float
        Time constant of the film, and by how much more heat goes into it at first.
    crevice_share, ring_share : float
        Volumes above the top ring and between the rings over the clearance volume.
    leak_m2, seat_share, seat_pa, motion : float
        Leak at rest; the share of it that pressure shuts by seating the rings, and by what
        pressure (the rest is the gap at their ends, a fixed hole); its growth for each m/s of the
        piston.
    vapour : float
        Share of water vapour in the air, by volume.
    """

    heat: float
    p_power: float
    t_power: float
    speed_power: float
    stirred_m_s: float
    head_k: float
    piston_k: float
    liner_k: float
    film_s: float
    film_share: float
    crevice_share: float
    ring_share: float
    leak_m2: float
    seat_share: float
    seat_pa: float
    motion: float
    vapour: float


def drawn(rng: np.random.Generator, engine: BenchEngine, *, hot: bool = False) -> Second:
    """Draw the second physics of an engine."""
    constant = rng.random() < 0.3
    air_k = engine.atmosphere.temperature_c + 273.15
    head_k = air_k + float(rng.uniform(60.0, 180.0) if hot else rng.uniform(-3.0, 30.0))
    liner_k = air_k + float(rng.uniform(45.0, 110.0) if hot else rng.uniform(-3.0, 20.0))
    moist = 0.0061 * exp(17.27 * (air_k - 273.15) / (air_k - 35.85))  # Magnus, bar, from memory
    return Second(
        heat=float(np.exp(rng.uniform(np.log(15.0), np.log(70.0)))),
        p_power=0.0 if constant else float(rng.uniform(0.5, 1.0)),
        t_power=0.0 if constant else float(rng.uniform(-0.6, 0.1)),
        speed_power=0.0 if constant else float(rng.uniform(0.0, 1.1)),
        stirred_m_s=float(np.exp(rng.uniform(np.log(0.03), np.log(1.5)))),
        head_k=head_k,
        piston_k=head_k + float(rng.uniform(-10.0, 60.0) if hot else rng.uniform(-3.0, 5.0)),
        liner_k=liner_k,
        film_s=float(np.exp(rng.uniform(np.log(2e-3), np.log(0.1)))),
        film_share=float(rng.uniform(0.0, 0.4)),
        crevice_share=float(rng.uniform(0.003, 0.03)),
        ring_share=float(rng.uniform(0.005, 0.03)),
        leak_m2=engine.ring_leaks_mm2[0] * 1e-6,
        seat_share=float(rng.uniform(0.0, 0.5)),
        seat_pa=float(np.exp(rng.uniform(np.log(0.5e5), np.log(5e5)))),
        motion=float(rng.uniform(-0.1, 0.3)),
        vapour=float(rng.uniform(0.0, 0.9)) * moist,
    )


def filled_anew(run: EngineRun, second: Second) -> EngineRun:
    """Return the run with cylinder 1's pressure as the second physics has it."""
    e = run.engine
    radius = 0.5e-3 * e.stroke_mm  # pin offset changes the throw by under a ten-thousandth
    rod, pin = e.rod_length_mm * 1e-3, e.pin_offset_mm * 1e-3
    area = pi / 4 * (e.bore_mm * 1e-3) ** 2
    clearance = area * 2 * radius / (e.compression_ratio - 1.0)
    if e.adaptor_cylinder == 1:
        clearance += e.adaptor_volume_cm3 * 1e-6
    timing = e.valve_timing
    cams = np.array(
        [
            [360.0 - timing.intake_opens_btdc_deg, 540.0 + timing.intake_closes_abdc_deg],
            [180.0 - timing.exhaust_opens_bbdc_deg, 360.0 + timing.exhaust_closes_atdc_deg],
        ]
    ) + np.array([[e.intake_shift_deg], [e.exhaust_shift_deg]])
    widest = np.array(
        [
            0.6 * pi * valve.diameter_mm * min(valve.lift_mm, valve.diameter_mm / 4) * 1e-6
            for valve in (e.intake, e.exhaust)
        ]
    )
    shut_leak = np.array([e.intake.leak_area_mm2, e.exhaust.leak_area_mm2]) * 1e-6
    around = np.array([e.atmosphere.pressure_bar * 1e5, e.atmosphere.temperature_c + 273.15])
    release = np.array([e.release.area_mm2 * 1e-6, -e.release.closes_btdc_deg])
    pressure = np.empty(len(run.time_s))
    _fill(
        run.time_s, run.crank_deg, run.manifold_bar * 1e5,
        np.array([radius, rod, pin, area, clearance, e.bore_mm * 1e-3]),
        cams, widest, shut_leak, around, release, np.array(astuple(second)), pressure,
    )  # fmt: skip
    filled = run.pressure_bar.copy()
    filled[:, 0] = pressure * 1e-5
    return replace(run, pressure_bar=filled)


@njit(cache=True)
def _einstein(theta, t):
    """Vibrational energy over R (K) and heat capacity over R of one mode."""
    x = theta / t
    grown = exp(x)
    return theta / (grown - 1.0), x * x * grown / (grown - 1.0) ** 2


@njit(cache=True)
def air(t, vapour):
    """Return the gas constant, internal energy (from 0 K) and cv of moist air, J/(kg K), J/kg."""
    n2, o2 = 0.79 * (1.0 - vapour), 0.21 * (1.0 - vapour)
    gas = R_MOLAR / (28.014 * n2 + 31.998 * o2 + 18.015 * vapour)
    u = (2.5 + 0.5 * vapour) * t
    cv = 2.5 + 0.5 * vapour
    for share, theta in (
        (n2, 3374.0), (o2, 2256.0), (vapour, 2295.0), (vapour, 5255.0), (vapour, 5400.0),
    ):  # fmt: skip
        energy, capacity = _einstein(theta, t)
        u += share * energy
        cv += share * capacity
    return gas, gas * u, gas * cv


@njit(cache=True)
def _flow(area, up, down, up_k, gas):
    """Return kg/s through an orifice and its slope by the upper pressure; smooth about zero."""
    if area <= 0.0:
        return 0.0, 0.0
    g = 1.38
    ratio = max(down / up, (2.0 / (g + 1.0)) ** (g / (g - 1.0)))
    gap = 1.0 - ratio
    base = area * up / sqrt(gas * up_k)
    if gap < 1e-3:
        edge = base * sqrt(2e-3)
        return edge * gap / 1e-3, edge / 1e-3 / up
    flow = base * sqrt(2.0 * g / (g - 1.0) * (ratio ** (2.0 / g) - ratio ** ((g + 1.0) / g)))
    return flow, flow / up * (1.0 + 0.5 / gap)


@njit(cache=True)
def _between(own, own_k, other, other_k, area, gas):
    """Return the flow in, kg/s, the temperature it comes with, and how it falls with own p."""
    if own > other:
        flow, slope = _flow(area, own, other, own_k, gas)
        return -flow, own_k, slope
    flow, slope = _flow(area, other, own, other_k, gas)
    return flow, other_k, slope


@njit(cache=True)
def _lift(own_deg, opens, closes):
    """Return the share of full opening: a sine squared over the cam's duration."""
    share = ((own_deg - opens) % 720.0) / (closes - opens)
    return sin(pi * share) ** 2 if share < 1.0 else 0.0


@njit(cache=True)
def _rates(y, deg, rad_s, manifold, geometry, cams, widest, shut_leak, around, release, s, h, out):
    """Fill ``out`` with the rates of mass, temperature, ring pressure and film temperature.

    Returns the pressure.
    """
    radius, rod, pin, area, clearance, bore = geometry
    heat, p_power, t_power, speed_power, stirred = s[0], s[1], s[2], s[3], s[4]
    ends_k, liner_k = 0.5 * (s[5] + s[6]), s[7]
    m, t, ring, film = y
    # pin offset d: s = a cos(theta) + sqrt(l^2 - (a sin(theta) + d)^2), TDC at -asin(d/(l+a))
    theta = deg * pi / 180.0 - np.arcsin(pin / (rod + radius))
    across = radius * sin(theta) + pin
    up = sqrt(rod * rod - across * across)
    top = sqrt((rod + radius) ** 2 - pin * pin)
    down = top - radius * cos(theta) - up
    per_rad = radius * sin(theta) + across * radius * cos(theta) / up
    volume, dv = clearance + area * down, area * per_rad * rad_s
    gas, u, cv = air(t, s[16])
    p = m * gas * t / volume
    # Heat: through a film that lags, so that it leads the temperature.
    speed = 2.0 * radius * abs(rad_s) / pi
    mean = ((speed + stirred) / (0.5 + stirred)) ** speed_power
    coefficient = heat * (p / 1e5) ** p_power * (t / 300.0) ** t_power * mean
    ends_m2, liner_m2 = 2.0 * area, pi * bore * volume / area
    wall_k = (ends_m2 * ends_k + liner_m2 * liner_k) / (ends_m2 + liner_m2)
    more = 1.0 + s[9]
    warm = coefficient * (ends_m2 + liner_m2) * more * (film - t)
    out[3] = ((wall_k + s[9] * t) / more - film) / s[8]
    # Rings: cylinder to the volume between them, and on to the crankcase.
    motion = max(1.0 + s[15] * abs(dv / area), 0.3)
    seated = 1.0 - s[13] * (1.0 - exp(-max(p - around[0], 0.0) / s[14]))
    # Two equal restrictions in a row pass about what one of 1/sqrt(2) of their area would.
    seat = sqrt(2.0) * s[12] * motion * seated
    w_ring, k_ring, _ = _between(p, t, ring, liner_k, seat, gas)
    out_ring, _, _ = _between(ring, liner_k, around[0], liner_k, seat, gas)
    out[2] = (out_ring - w_ring) * gas * liner_k / (s[11] * clearance)
    w, carried = w_ring, w_ring * (air(k_ring, s[16])[1] + gas * k_ring - u)
    # Valves.
    intake = shut_leak[0] + widest[0] * _lift(deg, cams[0, 0], cams[0, 1])
    exhaust = shut_leak[1] + widest[1] * _lift(deg, cams[1, 0], cams[1, 1])
    if release[0] > 0.0:
        exhaust += release[0] * _lift(deg, -180.0, release[1])
    for outside, outside_k, opening in (
        (manifold, around[1], intake), (around[0], around[1], exhaust),
    ):  # fmt: skip
        flow, flow_k, falls = _between(p, t, outside, outside_k, opening, gas)
        if opening > OPEN_M2:
            flow /= 1.0 + h * 1.4 * gas * t / volume * falls  # linearly implicit in pressure
        w += flow
        carried += flow * (air(flow_k, s[16])[1] + gas * flow_k - u)
    # Crevice: fills with the pressure, and gives its gas back at the wall's temperature.
    crevice = s[10] * clearance / (gas * liner_k)
    push = w / m + (warm - p * dv + carried) / (m * cv * t) - dv / volume
    back = air(liner_k, s[16])[1] + gas * liner_k - u
    gives = gas * t if push > 0.0 else back
    rise = push / (1.0 / p + crevice / m + crevice * gives / (m * cv * t))
    out[0] = w - crevice * rise
    out[1] = (warm - p * dv + carried - crevice * rise * gives) / (m * cv)
    return p


@njit(cache=True)
def _fill(
    time_s, crank_deg, manifold, geometry, cams, widest, shut_leak, around, release, s, pressure
):
    y, first, later, trial = np.empty(4), np.empty(4), np.empty(4), np.empty(4)
    y[1], y[2], y[3] = around[1], around[0], 0.5 * (s[5] + s[6])
    y[0] = 1.0
    at_one = _rates(
        y, crank_deg[0], 0.0, manifold[0], geometry, cams, widest, shut_leak, around, release, s,
        1e-4, first,
    )  # fmt: skip
    y[0] = around[0] / at_one
    # A crank that is turning already has turned before: two cycles at its first speed.
    rad_s = (crank_deg[1] - crank_deg[0]) / (time_s[1] - time_s[0]) * pi / 180.0
    if abs(rad_s) > 0.1:
        steps = int(1440.0 / STEP_DEG)
        h = STEP_DEG * pi / 180.0 / abs(rad_s)
        for i in range(steps):
            deg = crank_deg[0] + np.sign(rad_s) * (i - steps) * STEP_DEG
            _heun(
                y, deg, rad_s, manifold[0], geometry, cams, widest, shut_leak, around, release, s,
                h, first, later, trial,
            )  # fmt: skip
    for j in range(time_s.size):
        if j > 0:
            span_s, span_deg = time_s[j] - time_s[j - 1], crank_deg[j] - crank_deg[j - 1]
            parts = max(ceil(max(abs(span_deg) / STEP_DEG, span_s / STEP_S)), 1)
            rad_s = span_deg / span_s * pi / 180.0
            for i in range(parts):
                deg = crank_deg[j - 1] + span_deg * i / parts
                _heun(
                    y, deg, rad_s, manifold[j], geometry, cams, widest, shut_leak, around, release,
                    s, span_s / parts, first, later, trial,
                )  # fmt: skip
        pressure[j] = _rates(
            y, crank_deg[j], rad_s, manifold[j], geometry, cams, widest, shut_leak, around, release,
            s, 1e-4, first,
        )  # fmt: skip


@njit(cache=True)
def _heun(
    y, deg, rad_s, manifold, geometry, cams, widest, shut_leak, around, release, s, h, first, later,
    trial,
):  # fmt: skip
    """Take one step of Heun's method."""
    _rates(y, deg, rad_s, manifold, geometry, cams, widest, shut_leak, around, release, s, h, first)
    for i in range(4):
        trial[i] = y[i] + h * first[i]
    _rates(
        trial, deg + rad_s * h * 180.0 / pi, rad_s, manifold, geometry, cams, widest, shut_leak,
        around, release, s, h, later,
    )  # fmt: skip
    for i in range(4):
        y[i] += 0.5 * h * (first[i] + later[i])
