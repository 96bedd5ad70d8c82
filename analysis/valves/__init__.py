"""Which valves can be set where the crank stands, and are their gaps right?

A valve may be set while its follower rides the base circle (``base_circle``); the fewest stops
that reach every valve are planned (``valve_stops``), and gaps are judged as found, as set and
after the locknut was nipped up (``clearances``, ``valve_setting``). Gaps are mm, angles crank
degrees.
"""
