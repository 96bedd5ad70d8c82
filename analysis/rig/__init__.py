"""Is the rig fit to measure? What a board at rest, a squeeze of the hose and a slow turn tell.

A try-out is cut into rest, squeeze and turn (``rig_run``); sensor and encoder give one finding each
for what can be tried before the engine runs (``rig_sensor``, ``rig_findings``): good, odd or
missing, with its figures.
"""
