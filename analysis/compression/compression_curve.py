"""What did one compression look like, so that two can be laid over each other?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.errors import SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.trace.passes import Pass


@dataclass(frozen=True, slots=True, eq=False)
class CompressionCurve:
    """One compression of one cylinder.

    Attributes
    ----------
    number : int
        Which compression of its recording, from 1.
    after_tdc_deg : (n,) float64
        Crank degrees after the TDC that was found in its own recording.
    pressure_bar : (n,) float64
        Absolute: the sensor's own zero is taken off.
    """

    cylinder: int
    number: int
    after_tdc_deg: FloatArray
    pressure_bar: FloatArray
    speed_rpm: float

    @property
    def peak_bar(self) -> float:
        """Highest pressure of the compression."""
        return float(self.pressure_bar.max())


def curves_of(
    passes: Sequence[Pass], tdc_deg: float, zero_bar: float, cylinder: int
) -> tuple[CompressionCurve, ...]:
    """Return every compression about its own TDC.

    Parameters
    ----------
    tdc_deg : float
        Fitted, in the encoder's frame.
    zero_bar : float
        What the sensor shows at no pressure.
    """
    return tuple(
        CompressionCurve(
            cylinder,
            number,
            # The peak stands tens of degrees from TDC at the most, so it names the turn.
            one.angle_deg - tdc_deg - 360.0 * round((one.peak_angle_deg - tdc_deg) / 360.0),
            one.pressure_bar - zero_bar,
            one.speed_rpm,
        )
        for number, one in enumerate(passes, start=1)
    )


def curve_chosen(
    curves: Sequence[CompressionCurve], peak: Interval, number: int | None, field: str
) -> CompressionCurve:
    """Return the compression of that number; left out, the one whose peak is the most usual.

    Parameters
    ----------
    curves : sequence of CompressionCurve
        Of one cylinder, at least one.
    peak : Interval
        The cylinder's.
    field : str
        Which field of the question names the number.

    Raises
    ------
    SaidError
        There is none of that number.
    """
    if number is None:
        off = [abs(one.peak_bar - peak.value) for one in curves]
        return curves[int(np.argmin(off))]
    if not 1 <= number <= len(curves):
        raise SaidError(
            f"{{{field}}}: cylinder {curves[0].cylinder} has compressions 1 to {len(curves)}"
        )
    return curves[number - 1]
