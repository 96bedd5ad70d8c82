"""What the window and the terminal show, as plain values: no Qt in here, so all can be asserted.

``run`` follows a port or a recording in a thread and gives frozen snapshots; ``turn`` is the turn
guide, ``figures`` the views, ``steps`` the steps after TDC, ``setup`` the set-up page and
``classroom`` the trainer's. ``sentence`` is the verdict to be read from two metres away.
"""
