"""Where do spark and drive gear belong? Static timing, the strobe, the distributor's drive.

Degrees before TDC in whatever can be measured, millimetres on the rim or teeth of the flywheel
(``static_timing``); a strobe's readings against them (``strobe``); and how a helical drive turns
as it slides into mesh, so that the rotor ends where it belongs (``drive_gear``).

Examples
--------
>>> from strokewise.analysis import Profile
>>> from strokewise.analysis.ignition.static_timing import timing_point
>>> engine = Profile(1, (1,), firing_intervals_deg=(720.0,), pulley_radius_mm=78.0)
>>> round(timing_point(engine, 6.0).rim_arc_mm, 2)
8.17
"""
