"""What is the answer, from all of it together? Which TDC, which stroke, how sure.

The ``tracker`` is fed samples as they arrive; ``find`` feeds it a whole recording, so live and
batch cannot differ. ``judge`` goes from humps to a fitted TDC and its phase, ``ruling`` makes the
verdict of it, ``reasons`` says why in a line. A sensor in the manifold (``manifold``), several
sensors (``several``) and what a person saw of the valves (``rocking_valves``) give evidence of
their own. Every step after TDC asks about a ``found``.

Examples
--------
>>> from strokewise.analysis import Tracker
>>> from strokewise.daq import read_with_profile
>>> bench = read_with_profile("recordings/cranked.swr")
>>> tracker = Tracker(bench.profile)
>>> for segment in bench.recording.segments:
...     tracker.feed(segment)
>>> tracker.verdict(closing=True).decided
True
"""
