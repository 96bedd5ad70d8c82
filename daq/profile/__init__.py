"""What is known of the engine and the rig? The profile's TOML, checked, in layers.

Everyone who said something is a layer that knows the file and line of each key (``layers``); the
layers merge into one checked profile (``known``, ``checks``). Keys, their kinds and units are
tables (``keys``, ``kinds``, ``quantity``). PROFILE.md in this folder is the reference for people.

Examples
--------
>>> from strokewise.daq import known_engine
>>> known = known_engine(overrides=["cylinders=3", "firing_order=1-3-2", "bore=3 1/4 in"])
>>> known.profile.bore_mm, known.profile.firing_intervals_deg
(82.55, (240.0, 240.0, 240.0))
"""
