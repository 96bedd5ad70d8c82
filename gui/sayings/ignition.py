"""What is said of spark and drive gear: how to turn to a point, and how to put a drive right."""

from __future__ import annotations

from strokewise.gui.sayings.saying import Sayings

ROUND_AGAIN = {
    "allowed": "it is too far past for turning back, so go on round",
    "never": "this engine must not be turned back, so go round again",
    None: "nobody said that this engine may be turned back, so go round again",
}
"""Why it is turned all the way round, by what the profile says of turning back."""


def _turn_on_round(by_deg: float, turning_back: str | None) -> str:
    return f"turn on {by_deg:.0f}°, and stop on the mark; {ROUND_AGAIN[turning_back]}"


def _turn_body(rest_deg: float, in_reach: bool) -> str:
    more = "" if in_reach else ", more than a clamp commonly allows"
    return f"turn the distributor's body by the remaining {rest_deg:.0f}°{more}"


def _lift_drive(teeth: int, then: str | None, odd_teeth: int | None) -> str:
    by = f"{abs(teeth)} {'tooth' if abs(teeth) == 1 else 'teeth'}"
    way = "counter-clockwise" if teeth > 0 else "clockwise"
    said = f"lift the drive, turn it {by} {way} seen on the cap, and let it in again"
    if then is not None:
        said += f"; then {then}"
    if odd_teeth is not None:
        said += f" (with {odd_teeth} teeth half a turn is no whole number of them)"
    return said


IGNITION_SAYINGS: Sayings = {
    # to a point of the crank
    "come-up-again": "come up again {by_deg:.0f}°, and stop on the mark",
    "go-back": "go back {by_deg:.0f}°, past the play",
    "turn-on": "turn on {by_deg:.0f}°, and stop on the mark",
    "turn-on-round": _turn_on_round,
    # the drive of the distributor
    "drive-in-place": "nothing to move: it is where it belongs",
    "firing-not-overlap": (
        "first make sure that cylinder 1 stands on its firing TDC, not on the overlap TDC"
    ),
    "lift-drive": _lift_drive,
    "move-leads-opposite": "leave the drive, move every plug lead to the tower opposite",
    "turn-body": _turn_body,
}
