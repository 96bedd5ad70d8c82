"""The bench engine: what would a real engine and rig have sent? Truth for every figure we state.

A simulated engine (``engine``) is turned by hand or starter, a simulated rig (``rig``) makes of
it what a cheap encoder, sensor, board and cable would, and named ``scenarios`` preset both. A
recording is kept with its profile and its truth beside it (``keep``, ``truth``), or runs on as a
live port (``live``, ``serve``). Its physics are other than the fit's own model on purpose.
"""
