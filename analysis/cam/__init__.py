"""How late is the cam, and by how many teeth?

Inlet closing and exhaust opening show in the pressure of one cylinder (``valve_spans``,
``valve_flow``, ``valve_ramp``, ``valve_events``); against the profile's timing they give the
cam's shift and its teeth (``cam``), and the tooth and keyway that bring it nearest
(``cam_correction``). ``cam_seen`` is all of that for one recording, or what is in the way.
"""
