"""Which pictures stand on the sheet? The screen's own figures, drawn again from the recordings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from strokewise.analysis.errors import StrokewiseError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Tdc, Verdict
from strokewise.daq.recording.read import read_recording
from strokewise.gui.drawings.chart_svg import chart_svg
from strokewise.gui.drawings.drive_svg import drive_svg
from strokewise.gui.drawings.figure_svg import figure_svg
from strokewise.gui.job.job import Job
from strokewise.gui.job.kept import Answered
from strokewise.gui.models.figures.chart import chart_for
from strokewise.gui.models.figures.figure import Figure
from strokewise.gui.models.figures.fit_views import posterior_figure
from strokewise.gui.models.figures.views import Subject, pressure_over_angle
from strokewise.gui.sayings import as_said
from strokewise.gui.sheet.engine import engine_behind
from strokewise.gui.sheet.findings import latest, leading

CHART_WORDS = (
    "Black triangle: firing TDC. Star: the sensed cylinder. Thin bars: exhaust (upper) and inlet "
    "(lower) open, by the profile's timing."
)


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture: its title, its SVG and what it says in figures."""

    title: str
    svg: str
    caption: str


def pictures(job: Job) -> tuple[Picture, ...]:
    """Return the stroke chart and TDC of the leading answer, the passes of every one, the drive."""
    drawn: list[Picture] = []
    for kept in leading(job):
        verdict = verdict_of(kept.answer)
        if verdict is None or verdict.tdc is None:
            continue
        if not drawn:
            profile = engine_behind(job, kept).profile
            chart = chart_svg(chart_for(profile, verdict, None))
            drawn.append(Picture("Strokes of every cylinder", chart, CHART_WORDS))
            drawn.append(_picture(posterior_figure(verdict.tdc)))
        passes = _passes(job, kept, verdict.tdc.angle_deg.value)
        if passes is not None:
            drawn.append(passes)
    drives = (drive_svg(kept.answer) for kept in latest(job) if kept.command == "drive")
    drawn += [Picture("Drive gear going in", svg, "") for svg in drives if svg is not None]
    return tuple(drawn)


def verdict_of(answer: Mapping[str, Any]) -> Verdict | None:
    """Return what of a verdict the figures need from the answer that was kept; None without."""
    try:
        tdc, firing = answer["tdc"], answer["firing"]
        if tdc is None:
            return None
        return Verdict(
            decided=answer["decided"] is True,
            reason=as_said(str(answer["reason"])),
            tdc=Tdc(
                Interval(float(tdc["angle"]), float(tdc["low"]), float(tdc["high"])),
                int(tdc["cylinder"]),
                tdc["method"],
                int(tdc["passes"]),
            ),
            firing_deg=None if not firing else {int(c): float(a) for c, a in firing.items()},
        )
    except (LookupError, TypeError, ValueError):
        return None


def _passes(job: Job, kept: Answered, tdc_deg: float) -> Picture | None:
    """Return the passes of a recording about the TDC that was answered; None where it is gone."""
    names = {recorded.name for recorded in job.recordings}
    if not kept.recordings or kept.recordings[0].name not in names:
        return None
    name = kept.recordings[0].name
    profile = engine_behind(job, kept).profile
    try:
        recording = read_recording(job.folder / name)
    except StrokewiseError:
        return None
    tracker = Tracker(profile)
    for segment in recording.segments:
        tracker.feed(segment)
    tracker.verdict(closing=True)
    figure = pressure_over_angle(Subject(profile, tracker.passes, tdc_deg))
    return _picture(figure, f", {name}")


def _picture(figure: Figure, of: str = "") -> Picture:
    return Picture(figure.title + of, figure_svg(figure), "; ".join(figure.facts))
