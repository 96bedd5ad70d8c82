"""How does the simulated engine breathe, leak, burn and turn?

``settings`` say what engine stands there and how its crank is turned; ``solve`` goes from them to
a ``run``, the truth before any rig has touched it. The inner loops (``kernel``, ``gas_step``,
``cylinder``, ``heat``, ``valves``) are compiled where numba is installed.
"""
