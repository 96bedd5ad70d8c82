"""Which valves may be adjusted at this crank angle? In few words."""

from __future__ import annotations

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.analysis.valves.valve_setting import working_list

TDC_SHARES = (-1.0, -0.5, 0.0, 0.5, 1.0)
"""Of TDC's ±, where a valve must be on its base circle: a ramp is wider than half of any ±."""


def adjustable_now(
    profile: Profile, firing_1_deg: float, angle_deg: float, half_width_deg: float = 0.0
) -> str:
    """Return what may be adjusted now, in one line; empty for an engine without such valves.

    Only valves that are on their base circle wherever within its ± TDC may be.
    """
    if profile.cycle == "two-stroke":
        return ""
    if profile.valves is not None and profile.valves.lifters == "hydraulic":
        return "hydraulic lifters: no clearance to set"
    try:
        ready = [
            {
                state.valve.key: None
                for state in working_list(
                    profile, firing_1_deg, angle_deg + share * half_width_deg
                ).ready
            }
            for share in TDC_SHARES
        ]
    except InputError:  # a valve order that does not fit is the profile editor's to say
        return ""
    safe = [key for key in ready[0] if all(key in others for others in ready)]
    if not safe:
        return "no valve is safely on its base circle here"
    return "valves on their base circle: " + ", ".join(safe)
