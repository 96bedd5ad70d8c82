"""What does the simulated rig make of the engine? Encoder, sensor, board and link.

``rig`` holds the settings; ``encoder_model`` and ``sensor_model`` make counts and readings of the
true angle and pressure, ``board`` the messages, and ``link`` loses, damages and invents bytes.
"""
