"""How is a recording kept and read? The container of frames and notes.

The very bytes of the port with the host's times, and what a person noted (``container``), written
so that a power cut cannot take them (``writer``, ``atomic``, ``record``) and read however much of
them is left (``read``).

Examples
--------
>>> from strokewise.daq import read_recording
>>> recording = read_recording("recordings/cranked.swr")
>>> recording.health.lost_frames, recording.header["simulated"]
(0, True)
"""
