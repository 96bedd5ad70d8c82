"""Which notices are there? The one list of their codes.

A code once given keeps its meaning: programs go by it. What each means stands in
``analysis/NOTICES.md``; a test holds the two together, and mypy every code in the source to this
list. What is said of a notice stands in ``strokewise.gui.sayings``.
"""

from __future__ import annotations

from typing import Literal, get_args

Code = Literal[
    # the recording and the link
    "board-restarted",
    "board-silent",
    "cut",
    "frames-lost",
    "left-out",
    "no-header",
    "unchecked-lines",
    # what is known of the engine
    "cam-teeth",
    "counts-contradiction",
    "cylinder-assumed",
    "cylinder-contradiction",
    "engine-unknown",
    "mark-turn",
    # encoder and clamp
    "clamp-slip",
    "clamp-unchecked",
    "counts-skipped",
    "encoder-stands",
    "index-counts",
    "index-mismatch",
    "lost-counts",
    "tdc-drifts",
    "turned-back",
    # sensor and pressure
    "charge-burns",
    "clipped",
    "compression-release",
    "liquid-in-cylinder",
    "no-compression",
    "non-return-valve",
    "sensor-overranged",
    "sensor-zero",
    "throttle-shut",
    "uncalibrated",
    # TDC and stroke
    "losses-not-fitted",
    "piston-stop",
    "second-agrees",
    "second-opinion",
    "second-silent",
    "stop-met-hard",
    "stop-not-confirmed",
    "stop-not-reached",
    "tdc-moved",
    "valves-rock",
    "withdrawn",
    # rocking
    "chain-and-belt",
    "crank-bolt",
    "rocking-by-hand",
    "turning-back-unknown",
    # marks
    "mark-backward",
    "mark-not-seen",
    "mark-several",
    "mark-stepped",
    "mark-strays",
    "press-backward",
    "press-few",
    # cam
    "clearance",
    "inlet-not-read",
    # valves
    "clearance-unknown",
    "cold-hot",
    "hydraulic",
    "no-base-circle",
    "rule-disagrees",
    "timing-assumed",
    # compressions
    "alike-only",
    "condition-poor",
    "condition-unknown",
    "conditions-differ",
    "hand-speed",
    "speeds-differ",
    # the job
    "job",
]

CODES: tuple[Code, ...] = get_args(Code)
