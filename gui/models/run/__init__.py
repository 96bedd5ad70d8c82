"""What is followed, live or in a replay, and what has been found by now?

``sources`` goes from what a person named to a run; ``live`` follows a port, ``replay`` plays a
deck (``player``); ``follower`` feeds tracker, trail and guide, ``judging`` forms the verdict
aside, and a ``snapshot`` is all of it in one frozen value that any thread may read.
"""
