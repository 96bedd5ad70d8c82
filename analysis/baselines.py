"""Where would a published method put TDC? The simple ones, pass by pass, for comparison.

All of them were made for an engine that is motored its own way, so passes the other way are left
out where there are any the engine's own way. Each method gives one angle a pass; their spread gives
the interval, so what all passes have wrong alike (loss angle, sensor lag) is *not* in it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.stats import t as student

from strokewise.analysis.angle import FloatArray
from strokewise.analysis.estimate import Interval
from strokewise.analysis.nodes import NODE_DEG
from strokewise.analysis.passes import Pass

PEAK_WINDOW_DEG = 30.0
"""The Fourier fit spans so much on both sides of the highest node."""

PEAK_PERIOD_DEG = 180.0
"""Fundamental of that fit: longer than the window, so that its ends need not meet."""

PEAK_ORDER = 3
"""Harmonics, as Tunestål has it."""

PEAK_NODES = 9
"""Fewer nodes in the window than this do not carry seven coefficients."""

FIXED_LOSS_DEG = 0.7
"""Customary loss angle: the published range at running speed is 0.4° to 1.3°, by engine and
condition (a thesis with a microwave probe, KAIST); workshops take one figure for all."""

ONE_PASS_DEG = NODE_DEG
"""Half width of a single pass, which has no spread: a node's width."""


def peak(passes: tuple[Pass, ...]) -> Interval | None:
    """Return the angle of the highest pressure, from a third-order Fourier fit around it.

    The peak stands before TDC by the loss angle, and after it by the sensor's lag: neither is
    taken out. Third-order Fourier fit: P. Tunestål, "TDC Offset Estimation from Motored Cylinder
    Pressure Data based on Heat Release Shaping" (0.005° for the peak itself).

    Returns
    -------
    Interval or None
        In the encoder frame beside the passes' nominal TDC; None where no pass has a peak inside.
    """
    return over_passes(passes, peak_after_deg)


def fixed_loss(passes: tuple[Pass, ...]) -> Interval | None:
    """Return the peak moved on by ``FIXED_LOSS_DEG`` in the direction of turning.

    Common practice with a motored engine; see ``FIXED_LOSS_DEG`` for the source of the figure.
    """

    def moved(item: Pass) -> float | None:
        after = peak_after_deg(item)
        return None if after is None else after + FIXED_LOSS_DEG * (1 if item.forward else -1)

    return over_passes(passes, moved)


def peak_after_deg(item: Pass) -> float | None:
    """Return where one pass peaks, degrees after its nominal TDC; None at its end or cut off."""
    nodes = item.nodes
    after = nodes.angle_deg - item.tdc_deg
    top = int(np.argmax(nodes.pressure_bar))
    near = np.abs(after - after[top]) <= PEAK_WINDOW_DEG
    if nodes.clipped[near].any() or near.sum() < PEAK_NODES:
        return None
    x = after[near] - after[top]
    if x.min() > -PEAK_WINDOW_DEG / 2 or x.max() < PEAK_WINDOW_DEG / 2:
        return None
    weight = np.sqrt(nodes.count[near])
    basis = _fourier(x)
    fitted = np.linalg.lstsq(basis * weight[:, None], nodes.pressure_bar[near] * weight, rcond=None)
    fine = np.linspace(-PEAK_WINDOW_DEG / 3, PEAK_WINDOW_DEG / 3, 401)
    curve = _fourier(fine) @ fitted[0]
    best = int(np.argmax(curve))
    if best in (0, len(fine) - 1):
        return None
    below, at, above = curve[best - 1 : best + 2]
    step = 0.5 * (below - above) / (below - 2.0 * at + above)
    return float(after[top] + fine[best] + step * (fine[1] - fine[0]))


def _fourier(x_deg: FloatArray) -> FloatArray:
    phase = 2.0 * np.pi / PEAK_PERIOD_DEG * x_deg
    waves = [f(k * phase) for k in range(1, PEAK_ORDER + 1) for f in (np.cos, np.sin)]
    return np.stack([np.ones_like(phase), *waves], axis=1)


def own_way(passes: tuple[Pass, ...]) -> tuple[Pass, ...]:
    """Return the passes the engine's own way, as motoring makes them; all where there are none."""
    forward = tuple(p for p in passes if p.forward)
    return forward or passes


def over_passes(
    passes: tuple[Pass, ...], after_deg: Callable[[Pass], float | None]
) -> Interval | None:
    """Return the mean over the passes of what ``after_deg`` finds, its 95 % interval by spread.

    Parameters
    ----------
    after_deg : callable
        Gives TDC in degrees after a pass's nominal one, or None where the pass does not tell.
    """
    known = [(p, after) for p in own_way(passes) if (after := after_deg(p)) is not None]
    if not known:
        return None
    found = np.array([after for _, after in known])
    first = known[0][0]
    value = first.tdc_deg + float(found.mean())
    if len(found) == 1:
        half = ONE_PASS_DEG
    else:
        error = float(found.std(ddof=1)) / np.sqrt(len(found))
        # Passes that agree by chance are no surer than the width of a count allows.
        error = float(np.hypot(error, first.nodes.cell_deg / np.sqrt(12.0 * len(found))))
        half = float(student.ppf(0.975, len(found) - 1)) * error
    return Interval(value, value - half, value + half)
