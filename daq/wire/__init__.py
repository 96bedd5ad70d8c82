"""How do bytes become samples? The wire format, both ways.

Binary frames (``framing``, ``binary``) or plain lines (``lines``) come out of one ``decoder``,
``assemble`` makes segments of them, one for each start of the board, and ``intake`` is both
together, the one path of live and batch. ``encoder`` goes the other way, for simulated boards.
"""
