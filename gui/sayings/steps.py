"""What is said of the steps after TDC: marks, cam, valves, and compressions side by side."""

from __future__ import annotations

from strokewise.gui.sayings.saying import Sayings, signed

CONDITIONS = {
    "throttle_open": "throttle held open",
    "plugs_out": "all plugs out",
    "decompressor_off": "decompressor off",
    "battery_good": "battery good",
    "warm": "engine warm",
}
"""What makes compressions comparable, by its name among them."""

LET_GO = (
    "with the engine at rest put a few bar into the hose at its plug end (a hand pump, well below"
    " what hose and sensor are rated for, the end held away from faces), keep it shut for a second"
    " and let it go at once, three times or more"
)


def _differ(condition: str) -> str:
    return f"not the same for every cylinder, or not always said: {CONDITIONS[condition]}"


def _unknown(condition: str) -> str:
    return f"nobody said: {CONDITIONS[condition]}?"


def _poor(condition: str) -> str:
    return f"measured without: {CONDITIONS[condition]}"


def _stepped(mark: str, step_deg: float) -> str:
    return (
        f"{mark}: came at one place and then {abs(step_deg):.1f}°"
        f" {'later' if step_deg > 0 else 'earlier'}: something slipped meanwhile; its place is that"
        " of the last passes"
    )


def _several(mark: str, places_deg: tuple[float, ...]) -> str:
    places = ", ".join(f"{place:.1f}°" for place in places_deg)
    return (
        f"{mark}: its input comes at {len(places_deg)} places ({places}): two marks under one"
        " pickup, or noise; cover all but one and turn again"
    )


def _few(mark: str, presses: int) -> str:
    return (
        f"{mark}: pressed {presses} time{'s' if presses > 1 else ''}; creep up from the same side"
        " and press three times or more"
    )


def _clearance(inlet_deg: float, exhaust_deg: float) -> str:
    gap = "wide" if exhaust_deg > inlet_deg else "tight"
    return (
        f"inlet closing says {signed(f'{inlet_deg:+.1f}')}°, exhaust opening"
        f" {signed(f'{exhaust_deg:+.1f}')}°: {gap}"
        " clearance of one or both valves moves them apart like that, and so do separate cams; set"
        " the clearances and record again, or say --separate-cams"
    )


def _out_of_reach(valves: tuple[str, ...]) -> str:
    return (
        f"With this timing no crank angle leaves enough to spare for {', '.join(valves)}: check the"
        " timing"
    )


def _step(
    steps: int, from_bar: float, to_bar: float, bound_s: float, sample_s: float | None
) -> str:
    which = {1: "one step", 2: "the quicker of two steps"}.get(
        steps, f"the quickest of {steps} steps"
    )
    said = (
        f"{which}, from {from_bar:.2f} to {to_bar:.2f} bar, fell in no more than"
        f" {bound_s * 1e3:.2g} ms"
    )
    if sample_s is None:
        return said
    return (
        f"{said}; sampled every {sample_s * 1e3:.2g} ms that is too quick, or not of the form, to"
        " be told more closely"
    )


def _no_step(moved_bar: float, within_s: float) -> str:
    return (
        f"no step: pressure moved by {moved_bar:.2f} bar, but never fell within"
        f" {within_s * 1e3:.0f} ms from one standing level to another; {LET_GO}"
    )


def _not_allowed(agrees: bool) -> str:
    return "" if agrees else "; the cam's figures do NOT allow it on this engine"


def _rocks_set(pairs: tuple[tuple[str, str], ...], agrees: bool) -> str:
    listed = ", ".join(f"{watch} rocks: set {valve}" for watch, valve in pairs)
    return listed + _not_allowed(agrees)


def _add_up(total: int, agrees: bool) -> str:
    return f"valve fully open and valve to set add up to {total}{_not_allowed(agrees)}"


def _cold_hot(state: str, engine_is: str | None) -> str:
    if engine_is is None:
        return f"The figures hold for a {state} engine."
    return (
        f"The figures hold for a {state} engine and this one is {engine_is}: gaps set now are"
        f" provisional, set them again {state}. No rule converts one into the other."
    )


STEP_SAYINGS: Sayings = {
    # how fast sensor and hose follow
    "response-clipped": "no step within the sensor's range: put in less pressure; " + LET_GO,
    "response-crank-turned": (
        "no step: the crank turned {turned_deg:.0f}°, and only pressure let go by hand tells; "
        + LET_GO
    ),
    "response-no-samples": "no samples to speak of: " + LET_GO,
    "response-no-step": _no_step,
    "response-step": _step,
    # marks
    "mark-backward": (
        "{mark}: met only turning back, which is the other side of its tooth; turn the engine's own"
        " way past it"
    ),
    "mark-not-seen": (
        "{mark}: not met; turn the crank right past it, or press its key at the pointer"
    ),
    "mark-several": _several,
    "mark-stepped": _stepped,
    "mark-strays": "{mark}: {edges} of {of} edges came elsewhere; left out",
    "press-backward": "{mark}: {presses} presses made turning back are left out",
    "press-few": _few,
    # cam
    "clearance": _clearance,
    "inlet-not-read": (
        "the pressure falls by {fall_bar:.2f} bar across the overlap: the throttle is shut, or"
        " nearly, and the manifold moves while the inlet shuts, so its closing is not given; record"
        " again with the throttle wide open"
    ),
    # valves
    "add-up-to": _add_up,
    "clearance-unknown": (
        "Clearances are not in the profile: take them from the engine maker's manual"
    ),
    "cold-hot": _cold_hot,
    "hydraulic": (
        "Hydraulic lifters: there is no gap to set. They need preload: with the follower on the"
        " base circle take up the play, then give the turn of the screw (or the length of rod) that"
        " the engine maker states; often half a turn to one turn (common practice, no source)."
    ),
    "no-base-circle": _out_of_reach,
    "no-companion": "some cylinder has no companion a turn away: go by the crank angle instead",
    "not-alike-from-both-ends": (
        "it needs valves numbered along a head that is alike from both ends"
    ),
    "rocks-set": _rocks_set,
    "rule-disagrees": "{rule}: {said}",
    "timing-assumed": (
        "No valve timing in the profile: base circles are taken from a rather long road cam (common"
        " practice). A competition cam may be longer: watch that the follower is free before you"
        " measure"
    ),
    # compressions side by side
    "alike-only": (
        "alike is not the same as good: a late cam or a shut throttle lowers all of them together;"
        " the engine maker's figure tells"
    ),
    "condition-poor": _poor,
    "condition-unknown": _unknown,
    "conditions-differ": _differ,
    "hand-speed": (
        "turned at {speed_rpm:.0f} rev/min: so slowly a sound cylinder leaks and cools much of its"
        " pressure away, and peaks say little; crank with the starter"
    ),
    "speeds-differ": (
        "speeds from {low_rpm:.0f} to {high_rpm:.0f} rev/min are brought to {common_rpm:.0f} by an"
        " assumed loss; crank all cylinders alike for a closer answer"
    ),
}
