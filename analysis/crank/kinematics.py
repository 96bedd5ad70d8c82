"""Where does the piston stand at a crank angle? The slider-crank with a pin offset, and back.

Angles are crank degrees after top dead centre (TDC), and TDC always means the highest piston. With
a pin offset the piston is highest a little away from where rod and crank line up with the bore, so
that shift is taken out here, once, and nobody else needs to know of it.

Normalised functions work in crank radii and take ``rod_ratio`` = l/a (rod length over crank radius)
and ``pin_offset_ratio`` = d/a. The sign: a profile's pin offset is positive towards the major
thrust side, and d = -pin offset; :func:`crank_of` does that once. :class:`Crank` answers in mm.

Sources: Heywood, Internal Combustion Engine Fundamentals, ch. 2 (position and volume without
offset); with offset, piston pin at (d, y) and crank pin at a(sin θ, cos θ) are l apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile

FloatArray = NDArray[np.float64]
Side = Literal["after", "before"]


def travel(
    angle_atdc_deg: ArrayLike, *, rod_ratio: float, pin_offset_ratio: float = 0.0
) -> FloatArray:
    """Return how far the piston has come down from its highest point, in crank radii.

    Parameters
    ----------
    angle_atdc_deg : array_like
        Crank degrees after TDC, any number, any turn.
    rod_ratio : float
        Rod length over crank radius, l/a; above 1 + ``abs(pin_offset_ratio)``.
    pin_offset_ratio : float
        d/a, where d = -pin offset of the profile.

    Returns
    -------
    ndarray
        Same shape, from 0 at TDC to :func:`stroke_ratio` at BDC.

    Raises
    ------
    InputError
        When the rod is too short for the crank to turn.
    """
    _check(rod_ratio, pin_offset_ratio)
    theta = _line_up_angle(angle_atdc_deg, rod_ratio, pin_offset_ratio)
    lean = np.sin(theta) - pin_offset_ratio
    height = np.cos(theta) + np.sqrt(rod_ratio**2 - lean**2)
    return _top(rod_ratio, pin_offset_ratio) - height


def travel_slope(
    angle_atdc_deg: ArrayLike, *, rod_ratio: float, pin_offset_ratio: float = 0.0
) -> FloatArray:
    """Return the piston's way down for each crank degree, in crank radii per degree.

    Positive while the piston goes down. Times crank radius and degrees per second it is the
    piston's speed. Parameters and errors as in :func:`travel`.
    """
    _check(rod_ratio, pin_offset_ratio)
    theta = _line_up_angle(angle_atdc_deg, rod_ratio, pin_offset_ratio)
    lean = np.sin(theta) - pin_offset_ratio
    per_radian = np.sin(theta) + lean * np.cos(theta) / np.sqrt(rod_ratio**2 - lean**2)
    return np.radians(per_radian)


def stroke_ratio(*, rod_ratio: float, pin_offset_ratio: float = 0.0) -> float:
    """Return the stroke in crank radii: 2 without pin offset, a trace more with it."""
    _check(rod_ratio, pin_offset_ratio)
    bottom = np.sqrt((rod_ratio - 1) ** 2 - pin_offset_ratio**2)
    return float(_top(rod_ratio, pin_offset_ratio) - bottom)


def tdc_from_line_up_deg(*, rod_ratio: float, pin_offset_ratio: float = 0.0) -> float:
    """Return the crank angle of TDC from the crank pin pointing along the bore: asin(d/(l+a))."""
    _check(rod_ratio, pin_offset_ratio)
    return float(np.degrees(np.arcsin(pin_offset_ratio / (rod_ratio + 1))))


def bdc_atdc_deg(*, rod_ratio: float, pin_offset_ratio: float = 0.0) -> float:
    """Return the crank degrees from highest to lowest piston: 180 without offset."""
    _check(rod_ratio, pin_offset_ratio)
    bottom = 180 + np.degrees(np.arcsin(pin_offset_ratio / (rod_ratio - 1)))
    return float(
        bottom - tdc_from_line_up_deg(rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio)
    )


def angle_of_travel(
    travel_radii: ArrayLike,
    *,
    rod_ratio: float,
    pin_offset_ratio: float = 0.0,
    side: Side = "after",
) -> FloatArray:
    """Return the crank degrees after TDC at which the piston has come down so far.

    Parameters
    ----------
    travel_radii : array_like
        Way down from the highest point in crank radii, 0 to :func:`stroke_ratio`.
    side : {"after", "before"}
        After TDC (piston going down, answer 0 to about 180) or before it (0 to about -180).

    Raises
    ------
    InputError
        For a travel outside the stroke.
    """
    stroke = stroke_ratio(rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio)
    down = np.asarray(travel_radii, np.float64)
    if not np.all((down >= -_ROUNDING) & (down <= stroke + _ROUNDING)):
        raise InputError(
            f"piston travel must lie between 0 and the stroke ({stroke:.4f} crank radii)"
        )
    height = _top(rod_ratio, pin_offset_ratio) - np.clip(down, 0, stroke)
    # |crank pin - piston pin| = l gives height·cos θ + d·sin θ = half the right-hand side
    half = (1 + pin_offset_ratio**2 + height**2 - rod_ratio**2) / 2
    reach = np.hypot(height, pin_offset_ratio)
    swing = np.arccos(np.clip(half / reach, -1, 1))
    middle = np.arctan2(pin_offset_ratio, height)
    theta = np.degrees(middle + (swing if side == "after" else -swing))
    line_up_deg = tdc_from_line_up_deg(rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio)
    return np.asarray(theta - line_up_deg, np.float64)


def volume_ratio(
    angle_atdc_deg: ArrayLike,
    compression_ratio: float,
    *,
    rod_ratio: float,
    pin_offset_ratio: float = 0.0,
) -> FloatArray:
    """Return the cylinder volume over the clearance volume, V/Vc: 1 at TDC, the ratio at BDC.

    Raises
    ------
    InputError
        For a compression ratio of 1 or less, or a rod too short.
    """
    _check_ratio(compression_ratio)
    down = travel(angle_atdc_deg, rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio)
    stroke = stroke_ratio(rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio)
    return 1 + (compression_ratio - 1) * down / stroke


def volume_slope(
    angle_atdc_deg: ArrayLike,
    compression_ratio: float,
    *,
    rod_ratio: float,
    pin_offset_ratio: float = 0.0,
) -> FloatArray:
    """Return d(V/Vc) for each crank degree, the derivative of :func:`volume_ratio`."""
    _check_ratio(compression_ratio)
    slope = travel_slope(angle_atdc_deg, rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio)
    stroke = stroke_ratio(rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio)
    return (compression_ratio - 1) * slope / stroke


@dataclass(frozen=True, slots=True)
class Crank:
    """One cylinder's crank in mm; ``pin_offset_mm`` positive towards the major thrust side."""

    radius_mm: float
    rod_length_mm: float
    pin_offset_mm: float = 0.0

    def __post_init__(self) -> None:
        if not self.radius_mm > 0:
            raise InputError(f"crank radius must be above 0 mm, not {self.radius_mm:g} mm")
        _check(self.rod_ratio, self.pin_offset_ratio)

    @classmethod
    def from_stroke(
        cls, stroke_mm: float, rod_length_mm: float, pin_offset_mm: float = 0.0
    ) -> Crank:
        """Return the crank that gives this stroke; with an offset its radius is a trace under half.

        From stroke = √((l+a)² - d²) - √((l-a)² - d²), solved for a.
        """
        over = 4 * (rod_length_mm**2 - pin_offset_mm**2) - stroke_mm**2
        under = 4 * rod_length_mm**2 - stroke_mm**2
        if stroke_mm <= 0 or over <= 0 or under <= 0:
            raise InputError(
                f"a rod of {rod_length_mm:g} mm cannot turn a stroke of {stroke_mm:g} mm"
                f" with a pin offset of {pin_offset_mm:g} mm"
            )
        return cls(stroke_mm / 2 * float(np.sqrt(over / under)), rod_length_mm, pin_offset_mm)

    @property
    def rod_ratio(self) -> float:
        """Rod length over crank radius, l/a."""
        return self.rod_length_mm / self.radius_mm

    @property
    def pin_offset_ratio(self) -> float:
        """d/a of the formulas: minus the pin offset over the crank radius."""
        return -self.pin_offset_mm / self.radius_mm

    @property
    def ratios(self) -> dict[str, float]:
        """Both ratios as keyword arguments: ``travel(angle, **crank.ratios)``."""
        return {"rod_ratio": self.rod_ratio, "pin_offset_ratio": self.pin_offset_ratio}

    @property
    def stroke_mm(self) -> float:
        """Way of the piston from its highest to its lowest point."""
        return self.radius_mm * stroke_ratio(**self.ratios)

    def travel_mm(self, angle_atdc_deg: ArrayLike) -> FloatArray:
        """Return the way down from the highest point in mm, as in :func:`travel`."""
        return self.radius_mm * travel(angle_atdc_deg, **self.ratios)

    def speed_m_s(self, angle_atdc_deg: ArrayLike, speed_rpm: ArrayLike) -> FloatArray:
        """Return the piston's speed in m/s, positive going down, at a crank speed in rev/min."""
        mm_per_deg = self.radius_mm * travel_slope(angle_atdc_deg, **self.ratios)
        deg_per_s = 6 * np.asarray(speed_rpm, np.float64)  # rev/min · 360°/rev / 60 s/min
        return mm_per_deg * deg_per_s / 1000

    def angle_of_travel_deg(self, travel_mm: ArrayLike, side: Side = "after") -> FloatArray:
        """Return crank degrees after TDC for a travel in mm, as in :func:`angle_of_travel`."""
        radii = np.asarray(travel_mm, np.float64) / self.radius_mm
        rod_ratio, pin_offset_ratio = self.rod_ratio, self.pin_offset_ratio
        return angle_of_travel(
            radii, rod_ratio=rod_ratio, pin_offset_ratio=pin_offset_ratio, side=side
        )


def crank_of(profile: Profile) -> Crank | None:
    """Return the crank that a profile describes, or None where stroke or rod is unknown."""
    if profile.stroke_mm is None or profile.rod_length_mm is None:
        return None
    return Crank.from_stroke(profile.stroke_mm, profile.rod_length_mm, profile.pin_offset_mm)


_ROUNDING = 1e-9  # crank radii: what a sum of doubles may overshoot the stroke by


def _top(rod_ratio: float, pin_offset_ratio: float) -> float:
    """Height of the piston pin at TDC over the crank's centre, in crank radii."""
    return float(np.sqrt((rod_ratio + 1) ** 2 - pin_offset_ratio**2))


def _line_up_angle(
    angle_atdc_deg: ArrayLike, rod_ratio: float, pin_offset_ratio: float
) -> FloatArray:
    """Radians from the crank pin pointing along the bore."""
    turned = np.radians(np.asarray(angle_atdc_deg, np.float64))
    return np.asarray(turned + np.arcsin(pin_offset_ratio / (rod_ratio + 1)), np.float64)


def _check(rod_ratio: float, pin_offset_ratio: float) -> None:
    if not rod_ratio > 1 + abs(pin_offset_ratio):
        raise InputError(
            f"the rod is too short for the crank to turn: rod over crank radius is {rod_ratio:.3g},"
            f" it must be above {1 + abs(pin_offset_ratio):.3g}"
        )


def _check_ratio(compression_ratio: float) -> None:
    if not compression_ratio > 1:
        raise InputError(f"compression ratio must be above 1, not {compression_ratio:g}")
