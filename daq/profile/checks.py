"""Does an engine profile hold together? What no single key can tell.

Each value has been read and stands within its own limits; here they are held against each other.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import NoReturn

from strokewise.analysis.profile import Profile, Valves, ValveTiming
from strokewise.analysis.remark import Notice, notice
from strokewise.daq.profile.layers import KeyPath

Refuse = Callable[[KeyPath, str], NoReturn]
"""Raises the error for the key at a path, with what is wrong."""

INTERVAL_SUM_SLACK_DEG = 0.05  # "102.86 deg" seven times is 0.02° more than the cycle
MOST_VALVES = 6  # to a cylinder; five is the most that was ever common
SHORTEST_OPEN_DEG = 90.0  # no valve that an engine breathes through is open for less
LONGEST_OPEN_DEG = 400.0  # longer is a sign mixed up, not a racing cam

HALF_SPEED = ("cam sprocket", "distributor")


def check_profile(profile: Profile, refuse: Refuse) -> None:
    """Refuse the profile at the first key that contradicts another."""
    _check_firing(profile, refuse)
    _check_geometry(profile, refuse)
    if profile.valve_timing is not None:
        _check_valve_timing(profile.valve_timing, refuse)
    if profile.valves is not None:
        _check_valves(profile.valves, profile, refuse)
    _check_marks(profile, refuse)
    _check_sensors(profile, refuse)


def profile_notices(profile: Profile) -> tuple[Notice, ...]:
    """Return what is possible but so unusual that a person should look again."""
    notices = []
    drive = profile.cam_drive
    ratio = 2 if profile.cycle == "four-stroke" else 1
    if drive is not None and drive.cam_teeth != ratio * drive.crank_teeth:
        notices.append(
            notice(
                "cam-teeth",
                crank=drive.crank_teeth,
                cam=drive.cam_teeth,
                cycle=profile.cycle,
                ratio=ratio,
            )
        )
    if profile.cycle == "four-stroke":
        notices += [
            notice("mark-turn", mark=mark.name, on=mark.on)
            for mark in profile.marks
            if mark.turn != "both" and mark.on not in HALF_SPEED
        ]
    return tuple(notices)


def _check_firing(profile: Profile, refuse: Refuse) -> None:
    """Every cylinder fires once, and the intervals add up to the cycle."""
    count = Counter(profile.firing_order)
    twice = sorted(cylinder for cylinder, times in count.items() if times > 1)
    missing = sorted(set(range(1, profile.cylinders + 1)) - set(count))
    beyond = sorted(cylinder for cylinder in count if cylinder > profile.cylinders)
    wrong = [f"cylinder {cylinder} comes twice" for cylinder in twice]
    wrong += [f"cylinder {cylinder} is missing" for cylinder in missing]
    wrong += [f"there is no cylinder {cylinder}" for cylinder in beyond]
    if wrong:
        number = "one cylinder" if profile.cylinders == 1 else f"{profile.cylinders} cylinders"
        refuse(("firing_order",), f"{' and '.join(wrong)} (the engine has {number})")
    intervals = profile.firing_intervals_deg
    if len(intervals) != profile.cylinders:
        refuse(
            ("firing_intervals",),
            f"has {len(intervals)} intervals for {profile.cylinders} cylinders; give one for each",
        )
    if abs(sum(intervals) - profile.cycle_deg) > INTERVAL_SUM_SLACK_DEG:
        refuse(
            ("firing_intervals",),
            f"adds up to {sum(intervals):g} deg, but a {profile.cycle} cycle has "
            f"{profile.cycle_deg:g} deg",
        )


def _check_geometry(profile: Profile, refuse: Refuse) -> None:
    """The rod must let the crank go round."""
    if profile.rod_length_mm is None or profile.stroke_mm is None:
        return
    shortest = profile.stroke_mm / 2 + abs(profile.pin_offset_mm)
    if profile.rod_length_mm <= shortest:
        refuse(
            ("rod_length",),
            f"must be longer than the crank radius and the pin offset together, {shortest:g} mm; "
            "it is measured between the centres of the rod's two bores",
        )


def _check_valve_timing(timing: ValveTiming, refuse: Refuse) -> None:
    """Each valve is open for a believable part of the cycle."""
    durations = {
        "intake": (
            timing.intake_opens_btdc_deg + 180 + timing.intake_closes_abdc_deg,
            "closes_abdc",
        ),
        "exhaust": (
            timing.exhaust_opens_bbdc_deg + 180 + timing.exhaust_closes_atdc_deg,
            "opens_bbdc",
        ),
    }
    for valve, (open_deg, key) in durations.items():
        if not SHORTEST_OPEN_DEG <= open_deg <= LONGEST_OPEN_DEG:
            refuse(
                ("valve_timing", f"{valve}_{key}"),
                f"would keep the {valve} valve open for {open_deg:g} crank degrees; check the "
                "signs (an event on the other side of its dead centre is negative)",
            )


def _check_valves(valves: Valves, profile: Profile, refuse: Refuse) -> None:
    """Every cylinder has the same number of each valve."""
    if valves.order is None:
        return
    inlets, exhausts = valves.order.count("I"), valves.order.count("E")
    cylinders = profile.cylinders
    needs_inlets = profile.cycle == "four-stroke"
    if (
        inlets % cylinders
        or exhausts % cylinders
        or exhausts == 0
        or (needs_inlets and inlets == 0)
        or len(valves.order) > MOST_VALVES * cylinders
    ):
        refuse(
            ("valves", "order"),
            f"has {inlets} inlet and {exhausts} exhaust valves, which do not share out evenly "
            f"over {cylinders} cylinders",
        )


def _check_marks(profile: Profile, refuse: Refuse) -> None:
    """A name or an input means one mark."""
    names: set[str] = set()
    inputs: dict[int, str] = {}
    for number, mark in enumerate(profile.marks):
        if mark.name in names:
            refuse(("marks", number, "name"), "names two marks; give each its own name")
        names.add(mark.name)
        if mark.input is None:
            continue
        if mark.input in inputs:
            refuse(
                ("marks", number, "input"), f'is already the input of mark "{inputs[mark.input]}"'
            )
        inputs[mark.input] = mark.name


def _check_sensors(profile: Profile, refuse: Refuse) -> None:
    """A channel means one sensor, and its cylinder exists."""
    channels: set[int] = set()
    for number, sensor in enumerate(profile.sensors):
        if sensor.channel in channels:
            refuse(
                ("sensor", number, "channel"),
                f"two sensors are on channel {sensor.channel}; give each its own",
            )
        channels.add(sensor.channel)
        if sensor.cylinder is not None and sensor.cylinder > profile.cylinders:
            refuse(
                ("sensor", number, "cylinder"),
                f"the engine has {profile.cylinders} "
                f"cylinder{'s' if profile.cylinders > 1 else ''}; give cylinders and firing_order",
            )
