"""How does the crank stand and move? Angles, strokes, the slider-crank, faults of the count.

Counts become a smooth angle and its speed (``angle``); an index that comes round at the wrong
count tells that counts were lost (``count_faults``). With firing order and intervals one firing
TDC gives the stroke of every cylinder (``strokes``), and the slider-crank gives piston travel and
volume, pin offset included (``kinematics``).

Examples
--------
>>> from strokewise.analysis import Profile, phase_at
>>> engine = Profile(cylinders=4, firing_order=(1, 3, 4, 2), firing_intervals_deg=(180.0,) * 4)
>>> now = phase_at(engine, firing_1_deg=80.0, angle_deg=100.0)
>>> now.on_firing_stroke, now.next_to_fire, now.rocking
((1,), (3,), ())
"""
