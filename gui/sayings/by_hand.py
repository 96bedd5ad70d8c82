"""What is said to whoever turns the crank by hand: rocking it, and meeting a piston stop."""

from __future__ import annotations

from strokewise.gui.sayings.saying import Sayings

BY_HAND_SAYINGS: Sayings = {
    # what can hurt engine or person
    "chain-and-belt": (
        "turned back, a chain with a ratchet tensioner or a toothed belt can slacken and jump a"
        " tooth: only where the maker's manual allows it, gently, never against a resistance"
    ),
    "crank-bolt": (
        "turning back by the crank's bolt can undo it (a left-hand one comes loose turning"
        " forwards): feel that it bites, and check its torque afterwards"
    ),
    "piston-stop": (
        "a piston stop is for turning by hand only, never the starter: plugs out of the other"
        " cylinders, come up to it gently from each side, take it out before anything else is done"
    ),
    "rocking-by-hand": (
        "ignition off, battery disconnected, out of gear; a charge under compression can throw the"
        " crank back: hold the spanner so that it cannot hit you, and take it off after"
    ),
    "turning-back-unknown": (
        "nobody said whether this engine may be turned back: look it up in the maker's manual"
        " first, and say so in the profile (turning_back)"
    ),
    # the next swing
    "never-rock-this": (
        "this engine must never be turned back, so do not rock it: turn two full turns its own way"
        " by hand, brisk and without a pause near the top, or crank it in short bursts (method"
        " 'fit')"
    ),
    "rock-again": "good: the same again, {missing} more each way",
    "rock-alike": (
        "turn both ways alike: {fast_rpm:.0f} rev/min {fast} and {slow_rpm:.0f} {slow}; the next"
        " two swings at one pace"
    ),
    "rock-both-ways": (
        "rock it both ways: the middle of compressions met from both sides is TDC, and so far they"
        " were met from one side only; go 60° or more past TDC, then come back through it, three"
        " times or more (never where the engine must not be turned back: use the other methods"
        " there)"
    ),
    "rock-farther": (
        "go farther: {reached_deg:.0f}° {side} TDC so far, {goal_deg:.0f}° are wanted there"
    ),
    "rock-faster": (
        "turn {way} faster through the top, a turn in {turn_s:.0f} s or less: at {speed_rpm:.0f}"
        " rev/min the charge leaks away before it is there"
    ),
    "rock-first": (
        "turn forwards through the compression, brisk and even, until the pressure has risen and"
        " fallen and you are {reach_deg:.0f}° or more past its top"
    ),
    "rock-gently": "gently: {speed_rpm:.0f} rev/min is a jerk; {most_rpm:.0f} at most will do",
    "rock-no-peak": "no peak could be placed: a little faster, and right through to both sides",
    "rock-on": (
        "middle of the peaks ± {half_width_deg:.2f}° so far: go on, both ways alike, two more each"
        " way"
    ),
    "rock-other-way": (
        "now turn {way} through the same compression, as fast as you came, to {reach_deg:.0f}° or"
        " more on its other side"
    ),
    "rocked-enough": (
        "enough: the middle of the peaks is known to ± {half_width_deg:.2f}°, if the clamp has no"
        " play; take the spanner off"
    ),
    "rocking-no-longer-helps": (
        "more of the same no longer helps (middle of the peaks ± {half_width_deg:.2f}°): check that"
        " clamp and hose are tight, squirt a little oil into the cylinder against leaking, rock"
        " again"
    ),
    # the piston stop
    "middle-of-contacts": (
        "the middle of {before} contact(s) before TDC and {after} after it, {apart_deg:.1f}° apart"
    ),
    "no-contact": (
        "no contact with the stop seen: bring the crank gently to the stop, hold it there for a"
        " second and press the key {key!r}, then go round to it from the other side"
    ),
    "no-stop": (
        "the two ends lie {apart_deg:.0f}° apart, which no stop in the plug hole gives: bring the"
        " crank to the stop turning forwards, then all the way round backwards to its other side"
    ),
    "one-contact": (
        "the stop was met from one side only: turn {way} all the way round to its other side, hold"
        " the crank there for a second and press the key {key!r}"
    ),
    "one-contact-never-back": (
        "the stop was met from one side only, and the profile says never to turn this engine back:"
        " take the stop out and crank it instead (method 'fit')"
    ),
    "stop-met-hard": (
        "the stop was met at {speed_deg_s:.0f}° a second: creep over the last degrees; a blow can"
        " mark the piston and springs the reading"
    ),
    "stop-not-confirmed": (
        "no key {key!r} was pressed: every rest before turning back is taken for a contact"
    ),
    "stop-not-reached": "{rests} rest(s) fell short of the stop and do not count",
    "stop-without-stroke": (
        "{found}; a stop cannot tell compression from overlap: for the stroke, record a few turns"
        " with a pressure sensor in place of the stop"
    ),
}
