"""Where does the piston stand, and are its valves open? One moment as plain values, to be drawn."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sin

from strokewise.analysis.crank.kinematics import crank_of, stroke_ratio, travel
from strokewise.analysis.crank.strokes import stroke_at, within
from strokewise.analysis.profile import Profile
from strokewise.gui.models.figures.chart import STROKE_DEG, TURN_DEG, WORDS
from strokewise.gui.models.figures.views import ASSUMED_ROD_RATIO
from strokewise.gui.models.run.snapshot import Snapshot

DRAWN_DEG = 0.5
"""A smaller step is not seen: the picture stays as it is."""
CRACKED_OPEN = 0.02
"""Share of its lift above which a valve is called open."""


@dataclass(frozen=True, slots=True)
class Piston:
    """One cylinder at a moment.

    Attributes
    ----------
    after_tdc_deg : float
        Of the crank, 0 to 360.
    down : float
        How far the piston has come down, of its stroke.
    rod_ratio : float
        Rod over crank radius.
    inlet, exhaust : float or None
        How far each valve is open, of its lift; None where the strokes are not told apart, or
        where there are ports.
    stroke : str
        The word for it; empty where it is not known.
    notes : tuple of str
        What was assumed.
    """

    cylinder: int
    after_tdc_deg: float
    down: float
    rod_ratio: float
    inlet: float | None = None
    exhaust: float | None = None
    stroke: str = ""
    notes: tuple[str, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """What is drawn, in words, a line each."""
        going = "going down" if self.after_tdc_deg < STROKE_DEG else "going up"
        lines = [
            f"cylinder {self.cylinder}",
            self.stroke or going,
            f"{self.after_tdc_deg:.0f}° after TDC",
        ]
        for name, lift in (("inlet", self.inlet), ("exhaust", self.exhaust)):
            if lift is not None:
                lines.append(f"{name} {'open' if lift > CRACKED_OPEN else 'shut'}")
        return tuple(lines)


def piston_now(snapshot: Snapshot) -> Piston | None:
    """Return the piston of the sensed cylinder; None where nobody knows where it stands.

    While a question stands it shows no more than the class may know: the moment's own verdict has
    nothing else.
    """
    verdict, angle, profile = snapshot.verdict, snapshot.angle_deg, snapshot.profile
    tdc = None if verdict is None else verdict.tdc
    if verdict is None or tdc is None or angle is None or snapshot.away is not None:
        return None
    firing = verdict.firing_deg if verdict.decided else None
    known = None if firing is None else firing.get(tdc.cylinder)
    period = TURN_DEG if known is None else profile.cycle_deg
    after = within(angle - (tdc.angle_deg.value if known is None else known), period)
    after = within(round(after / DRAWN_DEG) * DRAWN_DEG, period)
    crank = crank_of(profile)
    rod = ASSUMED_ROD_RATIO if crank is None else crank.rod_ratio
    pin = 0.0 if crank is None else crank.pin_offset_ratio
    way = float(travel(after, rod_ratio=rod, pin_offset_ratio=pin))
    notes = [] if crank is not None else [f"rod ratio {ASSUMED_ROD_RATIO:g} assumed"]
    inlet = exhaust = None
    stroke = ""
    if known is not None:
        named = stroke_at(after, profile.cycle_deg)
        stroke = WORDS.get(named, named)
    if known is not None and profile.cycle != "two-stroke":
        exhaust, inlet = (_lift(after, *span) for span in _spans(profile))
        if profile.valve_timing is None:
            notes.append("valve timing not stated: drawn open for their strokes")
    return Piston(
        tdc.cylinder,
        within(after, TURN_DEG),
        way / stroke_ratio(rod_ratio=rod, pin_offset_ratio=pin),
        rod,
        inlet,
        exhaust,
        stroke,
        tuple(notes),
    )


def _spans(profile: Profile) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where exhaust and inlet open and shut, after firing TDC."""
    timing = profile.valve_timing
    if timing is None:
        return (STROKE_DEG, 2 * STROKE_DEG), (2 * STROKE_DEG, 3 * STROKE_DEG)
    return (
        STROKE_DEG - timing.exhaust_opens_bbdc_deg,
        2 * STROKE_DEG + timing.exhaust_closes_atdc_deg,
    ), (
        2 * STROKE_DEG - timing.intake_opens_btdc_deg,
        3 * STROKE_DEG + timing.intake_closes_abdc_deg,
    )


def _lift(after_deg: float, opens_deg: float, shuts_deg: float) -> float:
    """Return the share of the lift, as a smooth cam would have it: for the eye alone."""
    share = (after_deg - opens_deg) / (shuts_deg - opens_deg)
    return sin(pi * share) ** 2 if 0.0 < share < 1.0 else 0.0
