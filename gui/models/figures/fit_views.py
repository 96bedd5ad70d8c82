"""Where does TDC come from? The closed-cycle fit, what it leaves over, and how sure it is."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.verdict.verdict import Tdc
from strokewise.gui.models.figures.figure import Axis, Curve, Figure, FloatArray, Line
from strokewise.gui.models.figures.units import BAR, NOT_CALIBRATED, PressureUnit
from strokewise.gui.models.figures.views import pressure_axis, weights
from strokewise.gui.pages.headline import decimals_of
from strokewise.gui.pages.words import interval_words

POSTERIOR_SPAN_SIGMA = 4.0
POSTERIOR_POINTS = 201


class RunsLike(Protocol):
    """The fitted nodes: a row a pass, angles after its nominal TDC."""

    @property
    def angle_deg(self) -> FloatArray: ...  # noqa: D102
    @property
    def pressure_bar(self) -> FloatArray: ...  # noqa: D102
    @property
    def used(self) -> NDArray[np.bool_]: ...  # noqa: D102


class FitLike(Protocol):
    """What is drawn of a joint fit: see :class:`strokewise.analysis.tdc.fit.Fit`."""

    @property
    def tdc_deg(self) -> Interval: ...  # noqa: D102
    @property
    def runs(self) -> RunsLike: ...  # noqa: D102
    @property
    def model_bar(self) -> FloatArray: ...  # noqa: D102


def fit_figure(fit: FitLike | None, unit: PressureUnit = BAR) -> Figure:
    """Return measured points and fitted line of every pass, with the residuals below."""
    x_axis = Axis("crank angle after TDC as first estimated", "°")
    title = "Closed-cycle fit"
    if fit is None:
        return Figure(
            title,
            x_axis,
            pressure_axis(unit),
            empty="No fit yet: it needs at least one whole compression",
        )
    measured, fitted, left = [], [], []
    count = len(fit.model_bar)
    for i, weight in enumerate(weights(count)):
        use = fit.runs.used[i]
        angle = fit.runs.angle_deg[i][use]
        seen = fit.runs.pressure_bar[i][use] * unit.per_bar
        model = fit.model_bar[i][use] * unit.per_bar
        name = f"pass {i + 1} of {count}"
        measured.append(Curve(f"{name} measured", angle, seen, weight, 0, "points"))
        fitted.append(Curve(f"{name} fitted", angle, model, weight, 1))
        left.append(Curve(name, angle, seen - model, weight, 1))
    spread = float(np.std(np.concatenate([curve.y for curve in left])))
    residuals = Figure(
        "Measured less fitted",
        x_axis,
        pressure_axis(unit),
        tuple(left),
        facts=(f"standard deviation {spread:.3g} {unit.name}",),
    )
    return Figure(
        title,
        x_axis,
        pressure_axis(unit),
        (*measured, *fitted),
        below=residuals,
        facts=(
            f"{count} pass{'' if count == 1 else 'es'} fitted together",
            "points measured, line fitted",
            *([] if unit.calibrated else [NOT_CALIBRATED]),
        ),
    )


INTERVAL_OF: dict[str, str] = {
    "fit": "the fit",
    "rocking": "the middle of the rocked passes",
    "stop": "the contacts with the piston stop",
}


def posterior_figure(tdc: Tdc | None) -> Figure:
    """Return how likely each TDC angle is, and the 95 % interval.

    No method gives more of the posterior's shape than its interval, so a normal curve is drawn, and
    the figure says so.
    """
    x_axis = Axis("TDC in the encoder frame", "°", decimals=2)
    y_axis = Axis("how likely", "1/°", decimals=2)
    title = "Where TDC lies"
    if tdc is None:
        return Figure(title, x_axis, y_axis, empty="No TDC yet: turn the engine through one")
    at, decimals = tdc.angle_deg, decimals_of(tdc.angle_deg)
    sigma = max(at.half_width / Z_95, 1e-6)
    x = at.value + sigma * np.linspace(
        -POSTERIOR_SPAN_SIGMA, POSTERIOR_SPAN_SIGMA, POSTERIOR_POINTS
    )
    density = np.exp(-0.5 * ((x - at.value) / sigma) ** 2) / (sigma * np.sqrt(2 * np.pi))
    return Figure(
        title,
        x_axis,
        y_axis,
        (Curve("normal curve of this interval", x, density),),
        tuple(Line(value, f"{value:.{decimals}f}°") for value in (at.low, at.value, at.high)),
        (
            interval_words(at),
            "a normal curve, drawn from the interval of "
            f"{INTERVAL_OF.get(tdc.method, tdc.method)}: nothing more is known of its shape",
        ),
    )
