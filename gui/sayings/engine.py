"""What is said of what is known of the engine: who contradicts whom, and what nobody stated."""

from __future__ import annotations

from strokewise.gui.sayings.saying import Sayings

ENGINE_SAYINGS: Sayings = {
    "cam-teeth": (
        "cam_drive has {crank} crank and {cam} cam teeth, but the cam of a {cycle} engine needs"
        " {ratio} to 1: count them again, unless an intermediate shaft stands between"
    ),
    "counts-contradiction": (
        "{where} gives the encoder {counts} counts a turn, the board's hello {board}: {counts} is"
        " used; turn the crank once by hand and count to be sure"
    ),
    "cylinder-assumed": (
        "nobody said which cylinder the sensor is in: cylinder 1 is taken; say so in the profile as"
        " sensor.cylinder (for one command: --set sensor.cylinder=N)"
    ),
    "cylinder-contradiction": (
        "{where} puts the sensor into cylinder {used}, the recording into cylinder {recorded}:"
        " {used} is used; if that is wrong, say --set sensor.cylinder={recorded}"
    ),
    "engine-unknown": (
        "the engine's cylinders and firing order are not given, so only the sensed cylinder can be"
        " named, as cylinder 1"
    ),
    "mark-turn": (
        'mark "{mark}" is said to come on one turn only, but a mark on the {on} comes on both'
    ),
}
