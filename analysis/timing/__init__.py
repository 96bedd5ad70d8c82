"""What does one recording say of marks and cam together?

Both are asked of one value (``timing``): where every mark stands, what pressure shows of the cam,
and the causes of every part of the engine, weighed together. ``marks_answer`` and ``cam_answer``
each say their half of it, so that they cannot contradict each other.
"""
