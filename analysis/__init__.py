"""Samples to answers: pure numpy and scipy, no window, no serial port, no files.

What a notebook needs stands here by name and is loaded when first used; each sub-package's
docstring is its guide, in the order in which a recording goes through them:

==================  ===============================================================================
``crank``           how the crank stands and moves: angles, strokes, slider-crank, faults of the
                    count
``trace``           raw counts and readings become degrees and bar, nodes, passes through a
                    compression
``compression``     how well a cylinder squeezes, and how fast sensor and hose follow
``tdc``             where top dead centre is, and how sure: the joint fit, its doubts, other ways
``stroke``          which of the two TDCs is the compression's
``verdict``         all of it together, live or from a recording: which TDC, which stroke, how sure
``valves``          which valves can be set where the crank stands
``marks``           where the timing marks stand, and why they are off
``ignition``        where spark and drive gear belong
``cam``             how late the cam is, and by how many teeth
==================  ===============================================================================

Angles are crank degrees in the encoder's frame, later in the engine's own direction is larger;
pressures are absolute bar. A value that was measured is an :class:`Interval`, at 95 %.

Examples
--------
>>> from strokewise.analysis import find
>>> from strokewise.daq import read_with_profile
>>> bench = read_with_profile("recordings/cranked.swr")
>>> verdict = find(bench.recording, bench.profile)
>>> verdict.decided, list(verdict.firing_deg)
(True, [1, 3, 4, 2])
>>> tdc = verdict.tdc.angle_deg
>>> tdc.low < 81.475 < tdc.high  # the truth of this simulated engine
True
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from strokewise.analysis.public import loaded_when_used

if TYPE_CHECKING:
    from strokewise.analysis.crank.strokes import EnginePhase, firing_tdcs, phase_at
    from strokewise.analysis.errors import InputError, StrokewiseError
    from strokewise.analysis.estimate import Interval
    from strokewise.analysis.profile import Profile
    from strokewise.analysis.remark import Notice
    from strokewise.analysis.samples import Recording
    from strokewise.analysis.trace.check import Recorded
    from strokewise.analysis.trace.trace import Trace, trace_of
    from strokewise.analysis.verdict.find import find
    from strokewise.analysis.verdict.tracker import Tracker
    from strokewise.analysis.verdict.verdict import Verdict

__all__ = [
    "EnginePhase",
    "InputError",
    "Interval",
    "Notice",
    "Profile",
    "Recorded",
    "Recording",
    "StrokewiseError",
    "Trace",
    "Tracker",
    "Verdict",
    "find",
    "firing_tdcs",
    "phase_at",
    "trace_of",
]

__getattr__, __dir__ = loaded_when_used(
    __name__,
    {
        "crank.strokes": (
            "EnginePhase",
            "firing_tdcs",
            "phase_at",
        ),
        "errors": (
            "InputError",
            "StrokewiseError",
        ),
        "estimate": ("Interval",),
        "profile": ("Profile",),
        "remark": ("Notice",),
        "samples": ("Recording",),
        "trace.check": ("Recorded",),
        "trace.trace": (
            "Trace",
            "trace_of",
        ),
        "verdict.find": ("find",),
        "verdict.tracker": ("Tracker",),
        "verdict.verdict": ("Verdict",),
    },
)
