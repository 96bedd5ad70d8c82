"""Which figure belongs to a view, and why is it empty? From a moment, by the view's name."""

from __future__ import annotations

from dataclasses import replace

from strokewise.gui.models.figures.figure import Figure
from strokewise.gui.models.figures.fit_views import fit_figure, posterior_figure
from strokewise.gui.models.figures.laid import NOTHING_LAID, Laid, with_healthy
from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.figures.views import (
    OF_PASSES,
    Subject,
    overlay,
    point_now,
    pressure_over_angle,
    pressure_over_volume,
    speed_over_angle,
)
from strokewise.gui.models.keys import VIEWS
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.steps.found_now import is_hidden

HIDDEN_FIGURE = "Hidden until the class has answered"


def figure_of(
    view: str,
    snapshot: Snapshot,
    unit: PressureUnit,
    *,
    name: str = "",
    laid: Laid = NOTHING_LAID,
) -> Figure:
    """Return the figure of a view; one that is empty for a class's sake says so.

    Parameters
    ----------
    view : str
        A name of :data:`keys.VIEWS`; pressure over crank angle for any that has no figure.
    name : str
        Of the run, for the legend of recordings laid over each other.
    laid : Laid
        Those recordings, and the healthy trace behind.
    """
    if is_hidden(snapshot):
        laid = laid.without_healthy()
    figure = _figure_of(view, snapshot, unit, name, laid)
    if figure.empty and is_hidden(snapshot):
        return replace(figure, empty=HIDDEN_FIGURE)
    return figure


def _figure_of(view: str, snapshot: Snapshot, unit: PressureUnit, name: str, laid: Laid) -> Figure:
    subject = snapshot.subject(name if view == "overlay" else "")
    match view:
        case "fit":
            figure = fit_figure(getattr(snapshot.judgement, "fit", None), subject.unit(unit))
            return replace(figure, empty=why_no_fit(snapshot)) if figure.empty else figure
        case "tdc":
            tdc = None if snapshot.verdict is None else snapshot.verdict.tdc
            return posterior_figure(tdc)
        case "overlay" if laid.others:
            return overlay((subject, *laid.others), unit)
        case "overlay":
            empty = "Open a second recording to lay over this one: key O"
            figure = pressure_over_angle(subject, unit)
            title = dict(VIEWS)["overlay"]
            return replace(figure, title=title, curves=(), lines=(), facts=(), empty=empty)
        case _:
            return _passes(view, subject, unit, laid.healthy if view in OF_PASSES else None)


def _passes(view: str, subject: Subject, unit: PressureUnit, healthy: Subject | None) -> Figure:
    """Return the figure of the passes, with a healthy trace behind them where one is wanted."""

    def make(of: Subject) -> Figure:
        match view:
            case "volume":
                return pressure_over_volume(of, unit)
            case "loglog":
                return pressure_over_volume(of, unit, log=True)
            case "speed":
                return speed_over_angle(of)
        return pressure_over_angle(of, unit)

    figure = make(subject)
    return figure if healthy is None else with_healthy(figure, healthy, make)


def now_of(view: str, snapshot: Snapshot, unit: PressureUnit) -> tuple[float, float] | None:
    """Return where the engine stands now in the figure of a view, where that is drawn."""
    pressure = snapshot.trail.pressure_bar
    if view not in ("volume", "loglog") or not len(pressure) or snapshot.away is not None:
        return None
    return point_now(snapshot.subject(), unit, snapshot.angle_deg, float(pressure[-1]))


def why_no_fit(snapshot: Snapshot) -> str:
    """Return why there is no fit to draw, and what to do."""
    if why := snapshot.why_no_passes():
        return why
    verdict = snapshot.verdict
    if verdict is not None and verdict.tdc is not None:
        sure = "The answer is sure without it" if verdict.decided else "TDC is only roughly known"
        return (
            f"No fit yet. {sure}: the fit is made once the crank has gone right through a "
            "compression and on, or come to the end of it. Key 2 shows what was measured"
        )
    return "No fit yet: it needs at least one whole compression"
