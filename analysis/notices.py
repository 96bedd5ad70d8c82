"""Which notices are there, and what does each mean? The one list of their codes.

A code once given keeps its meaning: programs go by it. ``analysis/NOTICES.md`` is this list as a
table; a test holds the two together, and mypy every code in the source to this list.
"""

from __future__ import annotations

from typing import Literal, get_args

Code = Literal[
    # the recording and the link
    "board-restarted",
    "board-silent",
    "cut",
    "frames-lost",
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

MEANINGS: dict[Code, str] = {
    "board-restarted": "the board started again; the answer is of an earlier or a later start",
    "board-silent": "no bytes come from the board any more; nothing shown is of this moment",
    "cut": "bytes of the recording are cut off or damaged",
    "frames-lost": "frames were lost or damaged on the way; nothing was filled in for them",
    "no-header": "the file's own header is missing, and with it what was known of the engine",
    "unchecked-lines": "lines came without a checksum and cannot prove themselves",
    "cam-teeth": "the cam drive's teeth do not turn the cam at half speed",
    "counts-contradiction": "two sources state different counts for a turn of the encoder",
    "cylinder-assumed": "nobody said which cylinder the sensor is in; cylinder 1 is taken",
    "cylinder-contradiction": "two sources state different sensed cylinders",
    "engine-unknown": "nobody stated cylinders and firing order",
    "mark-turn": "a mark is stated for one turn though its part turns with the crank",
    "clamp-slip": "the encoder's clamp slipped on the shaft",
    "clamp-unchecked": "the crank moved without pressure to check the clamp by",
    "counts-skipped": "the board saw states of the encoder skipped: counts are lost or made",
    "encoder-stands": "pressure moved while the count stood: the encoder did not follow the crank",
    "index-counts": "the index does not come once in the counts stated for a turn",
    "index-mismatch": "the index and the counts between do not agree",
    "lost-counts": "counts were lost on the way, or made by interference",
    "tdc-drifts": "TDC wanders from compression to compression",
    "turned-back": "the crank turned back more than forward, or a starter turned it backwards",
    "charge-burns": "the charge burned: ignition or fuel is live",
    "clipped": "readings stand at an end of the converter or of the sensor, so peaks are cut off",
    "compression-release": "a compression release, or a valve that shuts late, lets pressure go",
    "liquid-in-cylinder": "pressure rises far too steeply: liquid in the cylinder",
    "no-compression": "no compression was seen in this recording",
    "non-return-valve": "a valve in the hose holds the pressure: the trace never falls",
    "sensor-overranged": "the sensor was driven far past its range and may be harmed",
    "sensor-zero": "the sensor's zero is not what its calibration says",
    "throttle-shut": "the throttle was shut, so compressions are small and uneven",
    "uncalibrated": "the sensor has no known points: its pressures are only proportional",
    "losses-not-fitted": "a published method was used that does not fit this engine's losses",
    "piston-stop": "a piston stop is in the plug hole: by hand only",
    "second-agrees": "the sensor of a second cylinder agrees",
    "second-opinion": "the middle of compressions met from both sides contradicts the fit",
    "second-silent": "the sensor of a second cylinder says nothing that can be used",
    "stop-met-hard": "the piston stop was met too fast",
    "stop-not-confirmed": "no key was pressed at the stop; rests are taken for contacts",
    "stop-not-reached": "some rests fell short of the stop and do not count",
    "tdc-moved": "a compression puts TDC elsewhere than those before it",
    "valves-rock": "presses of rocking valves contradict each other",
    "withdrawn": "an answer that was given before is taken back",
    "chain-and-belt": "turned back, a chain or belt can slacken and jump a tooth",
    "crank-bolt": "turned back by its bolt, the crank's bolt can come loose",
    "rocking-by-hand": "rocking is done by hand, never with the starter",
    "turning-back-unknown": "nobody said whether the engine may be turned back",
    "mark-backward": "a mark was met turning back only: the other side of its tooth",
    "mark-not-seen": "a mark was not met",
    "mark-several": "a mark's input comes at several places: more than one mark under one pickup",
    "mark-stepped": "a mark jumped to another place",
    "mark-strays": "edges of a mark came elsewhere and are left out",
    "press-backward": "a mark's key was pressed while the crank turned back",
    "press-few": "a mark's key was pressed too few times to know the scatter",
    "clearance": "inlet and exhaust disagree as a tight clearance would make them",
    "inlet-not-read": "the inlet's closing is not given: the throttle was shut",
    "clearance-unknown": "no clearance is stated to hold the gaps to",
    "cold-hot": "the clearances hold for another state of warmth, or for this one only",
    "hydraulic": "hydraulic lifters have no gap to set",
    "no-base-circle": "with this timing some valve cannot be set at any crank angle",
    "rule-disagrees": "a rule of thumb of the trade does not hold for this cam",
    "timing-assumed": "the valve timing is common practice, as nobody stated it",
    "alike-only": "compressions are compared with each other only, not with a figure",
    "condition-poor": "a condition for comparing compressions was not kept",
    "condition-unknown": "nobody said whether a condition for comparing was kept",
    "conditions-differ": "the cylinders were measured under different conditions",
    "hand-speed": "turned too slowly to compare compressions",
    "speeds-differ": "the cylinders were measured at different speeds",
    "job": "something in the job's folder is damaged, gone or changed",
}


def table() -> str:
    """Return the list as a table in Markdown."""
    rows = [f"| `{code}` | {MEANINGS[code]} |" for code in sorted(CODES)]
    return "\n".join(["| code | what it means |", "| --- | --- |", *rows])
