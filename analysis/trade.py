"""What do several rooms take as given of engines, air and encoders? Each with its unit and reason.

What a single module takes as given stands in that module.
"""

from __future__ import annotations

DEG_S_PER_RPM = 6.0
"""Degrees a second at one turn a minute."""

ZERO_CELSIUS_K = 273.15
"""Of the ice point, K: exact, by the definition of the Celsius scale."""

AIR_GAMMA = 1.4
"""Ratio of the specific heats of cool air: of two-atomed molecules, kinetic theory."""

AIR_GAS_CONSTANT = 287.05
"""J/(kg K), of dry air: ISO 2533, the standard atmosphere (from memory)."""

WARM_AIR_K = 300.0
"""Temperatures of gas are counted from here; air breathed in by a cold engine is about so warm."""

TRAPPED_WARMER_K = 5.0
"""What a charge takes up from ports and walls before it is trapped, at cranking speed."""

USUAL_ROD_RATIO = 3.5
"""Rod over crank radius where nobody said; 2.8 to 4.5 are met (common practice, no source)."""

USUAL_RATIO = 9.0
"""Compression ratio where nobody said (common practice, no source)."""

USUAL_BORE_MM = USUAL_STROKE_MM = 85.0
"""Where nobody said: half a litre a cylinder (common practice, no source)."""

PIN_OFFSET_SIGMA = 0.012
"""Pin offset over crank radius where nobody stated one (common practice, no source)."""

BACKLASH_SIGMA_DEG = 0.05
"""Play between crank and encoder: taken up turning forwards, so half of it moves a middle between
both ways of turning."""

INDEX_SLACK_COUNTS = 4
"""Counts that two index pulses may miss a turn by: one line of the disc, four edges."""
