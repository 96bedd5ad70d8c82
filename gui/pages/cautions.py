"""What can hurt somebody at the next step? The cautions, shown where the step is taken.

They remind, they do not teach: the engine maker's manual, local codes and licensed practice come
before every one of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from strokewise.analysis.profile import Profile
from strokewise.analysis.tdc.shut_window import RELEASE
from strokewise.analysis.trace.at_end import OVERRANGED
from strokewise.analysis.trace.burning import BURNS
from strokewise.analysis.verdict.verdict import Method


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: a stable word for programs, a heading of a few words, and what to do."""

    code: str
    heading: str
    text: str


BEFORE_TURNING = "Before the engine is turned"
"""Over the cautions of whatever listens while an engine is turned."""

MANUAL_FIRST = Caution(
    "manual-first",
    "First of all",
    "The engine maker's manual, local codes and licensed practice come before anything said here.",
)
TURNING_BY_HAND = Caution(
    "turning-by-hand",
    "Turning the engine by hand",
    "Ignition off, battery disconnected, out of gear, vehicle chocked. Take the spanner off the "
    "crank before anything else happens. Keep hands clear of belts, fan and pulleys: a cylinder "
    "under compression can turn the engine by itself.",
)
VALVE_CONTACT = Caution(
    "valve-contact",
    "Timing not proven (a rebuild, or a moved cam drive)",
    "Pistons may meet valves. Turn the engine two full turns by hand, slowly. Stop at any "
    "resistance and find its cause; never force it. Only then use the starter.",
)
WRONG_TOOTH = Caution(
    "wrong-tooth",
    "Moving the cam drive",
    "A cam on the wrong tooth bends valves. Hold the engine maker's marks, locking tools and order "
    "of work above these figures. After any change turn the engine two full turns by hand, slowly, "
    "and stop at any resistance; then record and measure again before the starter is used.",
)
STARTER = Caution(
    "starter",
    "Cranking with the starter",
    "Clear people, tools, leads and clothing of everything that turns. Secure the encoder and its "
    "cable. Crank in short bursts and let the starter cool.",
)
IGNITION_AND_FUEL = Caution(
    "ignition-and-fuel",
    "Ignition and fuel live",
    "Disable ignition and injection before cranking with a plug out: mist from the open hole "
    "catches fire from a spark, and a coil that sparks into nothing can kill or be destroyed. "
    "Ventilate, extinguisher at hand.",
)
PLUG_HOLE_PRESSURE = Caution(
    "plug-hole-pressure",
    "Pressure in the plug hole",
    "The sensor and hose must be rated above the engine's compression, screwed home, and never "
    "loosened while the engine turns. Keep your face out of line with the hole. Diesel "
    "compression needs an adapter made for it.",
)
HOSE_AND_HEAT = Caution(
    "hose-and-heat",
    "Hose and hot parts",
    "A hose that lets go under pressure whips: tie it down at both ends and keep your face out of "
    "its line. Let a warm engine cool, or lay hose and cables clear of manifold and exhaust.",
)
STILL_FIRING = Caution(
    "still-firing",
    "The charge burns: ignition and fuel off before anything else",
    "An engine that fires can run or kick on by itself. Shut off ignition and fuel, disconnect the "
    "battery, wait until it stands still and let it cool. Touch neither crank, spanner nor sensor "
    "before that.",
)
RELEASE_HELD = Caution(
    "compression-release",
    "Compression release",
    "With its release held off, a cord or starter meets the full compression and can kick back. "
    "Change it only as the engine's manual says, and turn by hand first.",
)
TURNING_BACK_ALLOWED = Caution(
    "turning-back",
    "Turning back",
    "Turn back only past the play, then come up again in the engine's own direction, so that the "
    "chain, belt and gears are taut on the side they run on.",
)
TURNING_BACK_UNKNOWN = Caution(
    "turning-back",
    "Turning back",
    "Nobody said whether this engine may be turned back: a ratchet tensioner, a belt or a "
    "left-hand bolt can jump or come loose. Until the manual says so, go round again instead.",
)
TURNING_BACK_NEVER = Caution(
    "turning-back",
    "Never turn back",
    "The profile forbids turning this engine backwards. If you have gone too far, go round again: "
    "two full turns bring the same stroke back.",
)
PISTON_STOP = Caution(
    "piston-stop",
    "Piston stop in the plug hole",
    "By hand only, never with the starter. Come up to the stop gently from both sides: it can "
    "mark a piston or bend a valve. Take it out before the engine is turned on.",
)


SENSOR_OVERRANGED = Caution(
    "sensor-overranged",
    "A sensor driven far past its range",
    "Its case or fitting can let go and throw parts: stop cranking, keep face and hands out of "
    "line with it, let the pressure out before it is unscrewed, and take one rated above the "
    "engine's compression. One made for vacuum is for turning slowly by hand, if at all.",
)

OF_WARNINGS = ((BURNS, STILL_FIRING), (OVERRANGED, SENSOR_OVERRANGED), (RELEASE, RELEASE_HELD))
"""What a warning of ``find`` adds, the most urgent first."""


def turning_back(profile: Profile | None) -> Caution:
    """Return what holds about turning back for this engine."""
    if profile is None or profile.turning_back is None:
        return TURNING_BACK_UNKNOWN
    return TURNING_BACK_NEVER if profile.turning_back == "never" else TURNING_BACK_ALLOWED


def before_recording() -> tuple[Caution, ...]:
    """Return the cautions for turning the engine with a sensor in the plug hole."""
    return (
        MANUAL_FIRST,
        VALVE_CONTACT,
        TURNING_BY_HAND,
        PLUG_HOLE_PRESSURE,
        IGNITION_AND_FUEL,
        STARTER,
    )


def before_rig_check() -> tuple[Caution, ...]:
    """Return the cautions for trying the rig: the crank is turned by hand, never cranked."""
    return (
        MANUAL_FIRST,
        VALVE_CONTACT,
        TURNING_BY_HAND,
        PLUG_HOLE_PRESSURE,
        HOSE_AND_HEAT,
        IGNITION_AND_FUEL,
    )


def after_finding(
    profile: Profile, *, decided: bool, method: Method | None, warned: Iterable[str] = ()
) -> tuple[Caution, ...]:
    """Return the cautions for what a person does next with the answer of ``find``.

    Decided, the next step is to turn the engine by hand to an angle. Undecided, it is to turn or
    crank it again with the sensor in place.

    Parameters
    ----------
    warned : iterable of str
        Codes of the answer's warnings: some bring a caution of their own.
    """
    codes = set(warned)
    own = tuple(caution for code, caution in OF_WARNINGS if code in codes)
    next_step = (
        (VALVE_CONTACT, TURNING_BY_HAND, turning_back(profile))
        if decided
        else (VALVE_CONTACT, TURNING_BY_HAND, PLUG_HOLE_PRESSURE, IGNITION_AND_FUEL, STARTER)
    )
    stop = (PISTON_STOP,) if method == "stop" else ()
    return (*own, *stop, *next_step, MANUAL_FIRST)
