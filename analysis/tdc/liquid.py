"""Does liquid stand over the piston? Then compressions are those of a ratio nobody stated."""

from __future__ import annotations

import numpy as np

from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, remark
from strokewise.analysis.tdc.fit import Fit
from strokewise.analysis.trace.oddities import LIQUID

LIQUID_LEAVES = "log_clearance"
"""The fit's parameter that grows as liquid takes up the space at TDC."""

TIMES_STATED = 1.8
"""Swept volume over the space at TDC, fitted over stated: oil on the rings makes some hundredths
more, liquid in three quarters of the space four times as much. Of sound engines turned by hand
(a bench, seeds 785200 to 785215) none was over 1.1."""

KNOWN_TO = 0.2
"""Sigma, in ln, to which the fit must know it: flanks alone hardly do."""

TDC_TO_DEG = 15.0
"""And TDC: of a worn cylinder that hardly squeezes, met by hand, no more is known of its space."""


def liquid_notices(fit: Fit | None, profile: Profile) -> tuple[Notice, ...]:
    """Return a warning where the fit wants far less space at TDC than the stated ratio leaves."""
    stated = profile.compression_ratio
    if fit is None or stated is None or fit.runs.cut_off:
        return ()
    if fit.tdc_deg.half_width > TDC_TO_DEG:
        return ()
    times = float(np.exp(fit.values[LIQUID_LEAVES][0])) / (stated - 1.0)
    if times < TIMES_STATED or fit.sigmas.get(LIQUID_LEAVES, np.inf) > KNOWN_TO:
        return ()
    fitted = 1.0 + times * (stated - 1.0)
    return (Notice(LIQUID, remark("liquid-by-ratio", fitted=fitted, stated=stated)),)
