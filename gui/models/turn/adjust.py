"""Which valves may be adjusted at this crank angle? In few words."""

from __future__ import annotations

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile
from strokewise.analysis.valves.valve_setting import working_list


def adjustable_now(profile: Profile, firing_1_deg: float, angle_deg: float) -> str:
    """Return what may be adjusted now, in one line; empty for an engine without such valves."""
    if profile.cycle == "two-stroke":
        return ""
    if profile.valves is not None and profile.valves.lifters == "hydraulic":
        return "hydraulic lifters: no clearance to set"
    try:
        ready = working_list(profile, firing_1_deg, angle_deg).ready
    except InputError:  # a valve order that does not fit is the profile editor's to say
        return ""
    if not ready:
        return "no valve is safely on its base circle here"
    return "valves on their base circle: " + ", ".join(state.valve.key for state in ready)
