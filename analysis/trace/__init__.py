"""What did the sensor see? Samples become a trace, nodes and passes through a compression.

Raw integers become degrees and bar once (``trace``), block by block with context on both sides,
so that it does not matter how they arrived (``blocks``). Nodes, means over some 2° or 25 ms,
carry all that a trace says (``nodes``); humps of them are passes (``passes``). What no sound
compression makes is named before anything is fitted (``oddities``, ``plateau``, ``spacing``,
``steady``).
Beside that: the marks that were met (``marks_met``) and the state of a whole recording
(``recorded``, ``check``).

Examples
--------
>>> from strokewise.analysis import trace_of
>>> from strokewise.daq import read_with_profile
>>> bench = read_with_profile("recordings/cranked.swr")
>>> trace = trace_of(bench.recording.segments[0], bench.profile)
>>> trace.pressure_bar.shape == trace.angle_deg.shape, trace.calibrated
(True, True)
"""
